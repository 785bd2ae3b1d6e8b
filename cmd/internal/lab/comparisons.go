package lab

import (
	"fmt"
	"path/filepath"
	"strings"

	"swathe/cmd/internal/disk"
)

// ComparisonsDir is the folder of comparisons.
func (l *Lab) ComparisonsDir() string { return filepath.Join(l.Dir, "comparisons") }

// WriteComparison makes comparisons/<name>: fill writes its files into an empty
// folder that then takes the place of an earlier one. It returns the folder.
func (l *Lab) WriteComparison(name string, fill func(dir string) error) (string, error) {
	if why := badName(name); why != "" || strings.HasPrefix(name, ".") {
		return "", fmt.Errorf("%q can't be the name of a comparison: use letters, digits, - and _", name)
	}
	target := filepath.Join(l.ComparisonsDir(), name)
	if err := disk.ReplaceDir(target, fill); err != nil {
		return "", disk.Explain(l.rel(target), err)
	}
	return target, nil
}

// WriteReport makes a folder of reports: fill writes its files into an empty
// folder that then takes the place of an earlier one.
func (l *Lab) WriteReport(dir string, fill func(dir string) error) error {
	return disk.Explain(l.rel(dir), disk.ReplaceDir(dir, fill))
}
