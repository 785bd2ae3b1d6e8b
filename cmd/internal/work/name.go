package work

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"

	"swathe/cmd/internal/lab"
	"swathe/report/compared"
)

var notInName = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`[^A-Za-z0-9_-]+`) })

// FreeComparisonName is ComparisonName with a number after it where a comparison of
// other runs has the name.
func FreeComparisonName(l *lab.Lab, ids []string) string {
	base := ComparisonName(ids)
	name := base
	for n := 2; OtherComparison(l, name, ids); n++ {
		name = fmt.Sprintf("%s-%d", base, n)
	}
	return name
}

// OtherComparison tells whether a comparison of other runs has that name. One that
// cannot be read is taken for another's.
func OtherComparison(l *lab.Lab, name string, ids []string) bool {
	raw, err := os.ReadFile(filepath.Join(l.ComparisonsDir(), name, compared.ComparisonFile))
	if err != nil {
		_, gone := os.Stat(filepath.Join(l.ComparisonsDir(), name))
		return gone == nil
	}
	type named struct {
		Run string `json:"run"`
	}
	var doc struct {
		Runs    []named `json:"runs"`
		Refused []named `json:"refused"`
	}
	if json.Unmarshal(raw, &doc) != nil {
		return true
	}
	var of []string
	for _, r := range append(doc.Runs, doc.Refused...) {
		of = append(of, r.Run)
	}
	ids = slices.Clone(ids)
	slices.Sort(of)
	slices.Sort(ids)
	return !slices.Equal(of, ids)
}

// ComparisonName names a comparison after the layouts and robots of its runs, in
// whatever order they were chosen.
func ComparisonName(ids []string) string {
	var parts []string
	add := func(p string) {
		if !slices.Contains(parts, p) {
			parts = append(parts, p)
		}
	}
	for _, id := range slices.Sorted(slices.Values(ids)) {
		layout, run, _ := strings.Cut(id, "/")
		add(layout)
		if n, err := lab.ParseRunName(run); err == nil {
			add(n.Robot)
		}
	}
	name := notInName().ReplaceAllString(strings.Join(parts, "-"), "-")
	return name[:min(len(name), 60)]
}
