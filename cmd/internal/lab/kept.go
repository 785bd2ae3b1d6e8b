package lab

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
)

// Kept reads the set-up that the result in dir was measured with: a lab of one
// layout and one robot, whose folder is this lab's.
func (l *Lab) Kept(dir string) (*Lab, error) {
	file := filepath.Join(dir, SetupName)
	data, err := os.ReadFile(file)
	if err != nil {
		return nil, fmt.Errorf("the result's set-up can't be read: %w. Measure the recording again with --again", err)
	}
	k := &Lab{Dir: l.Dir, Cameras: map[string]*Camera{}, Layouts: map[string]*Layout{}, Robots: map[string]*Robot{}, Settings: DefaultSettings(), hashes: l.hashes}
	var problems Problems
	k.read(data, &problems)
	if len(problems.List) == 0 {
		k.solveKnown(context.Background(), &problems)
	}
	if len(problems.List) > 0 {
		for i := range problems.List {
			problems.List[i].File = l.Rel(file)
		}
		return nil, &problems
	}
	return k, nil
}
