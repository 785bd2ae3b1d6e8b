package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"sync"

	"swathe/coverage/compare"
	"swathe/coverage/doubt"
)

// SharedFile is the name of the file with what of a run's uncertainty other runs
// may share: one row a draw of the robot's tools, the survey or the camera, with
// what it changes in each figure that runs are compared by. key is the same
// where the cause is, and rows of one key and number belong together. An empty
// cell: with that draw the figure is not there.
const SharedFile = "shared.csv"

// sharedDigits is how precisely a change is kept: of what is itself an
// uncertainty, two would do.
const sharedDigits = 4

func writeShared(w io.Writer, causes []doubt.Cause) error {
	c := csv.NewWriter(w)
	head := []string{"cause", "key", "draw"}
	var names []string
	for _, f := range compare.Figures {
		for _, x := range causes {
			if x.Change[f.Name] != nil {
				names = append(names, f.Name)
				break
			}
		}
	}
	if err := c.Write(append(head, names...)); err != nil {
		return err
	}
	for _, x := range causes {
		n := 0
		for _, v := range x.Change {
			n = max(n, len(v))
		}
		for i := range n {
			row := []string{x.Input, x.Key, strconv.Itoa(i + 1)}
			for _, name := range names {
				cell := ""
				if v := x.Change[name]; i < len(v) && !math.IsNaN(v[i]) && !math.IsInf(v[i], 0) {
					cell = strconv.FormatFloat(v[i], 'g', sharedDigits, 64)
				}
				row = append(row, cell)
			}
			if err := c.Write(row); err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}

// ReadShared reads SharedFile of a result's folder; nil without an error if the
// result has none.
func ReadShared(dir string) ([]doubt.Cause, error) {
	f, err := os.Open(filepath.Join(dir, SharedFile))
	if os.IsNotExist(err) {
		return nil, nil
	} else if err != nil {
		return nil, err
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.ReuseRecord = true
	var names []string
	out := []doubt.Cause{}
	for line := 1; ; line++ {
		row, err := r.Read()
		if err == io.EOF {
			return out, nil
		} else if err == nil && len(row) < 3 {
			err = fmt.Errorf("%d fields; at least 3 are needed", len(row))
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w: measure the recording again with --again", f.Name(), err)
		}
		if line == 1 {
			names = append(names, row[3:]...)
			continue
		}
		k := len(out) - 1
		if k < 0 || out[k].Input != row[0] || out[k].Key != row[1] {
			out = append(out, doubt.Cause{Input: row[0], Key: row[1], Change: map[string][]float64{}})
			k++
		}
		for i, name := range names {
			v := math.NaN()
			if row[3+i] != "" {
				if v, err = strconv.ParseFloat(row[3+i], 64); err != nil {
					return nil, fmt.Errorf("%s: line %d has %q in place of a number; measure the recording again with --again", f.Name(), line, row[3+i])
				}
			}
			out[k].Change[name] = append(out[k].Change[name], v)
		}
	}
}

// AddShared fills in what runs share of their uncertainty, which the index leaves
// out. A run whose file can't be read goes without and is told.
func AddShared(results string, runs []compare.Run) (unread []Unread) {
	errs := make([]error, len(runs))
	inTurn(len(runs), func(i int) {
		runs[i].Common, errs[i] = ReadShared(filepath.Join(results, filepath.FromSlash(runs[i].ID)))
	})
	for i, err := range errs {
		if err != nil {
			unread = append(unread, Unread{runs[i].ID, err})
		}
	}
	return unread
}

// inTurn calls f(0) ... f(n-1), as many at once as there are processors.
func inTurn(n int, f func(i int)) {
	var group sync.WaitGroup
	next := make(chan int, 64)
	for range max(2, runtime.NumCPU()) {
		group.Add(1)
		go func() {
			defer group.Done()
			for i := range next {
				f(i)
			}
		}()
	}
	for i := range n {
		next <- i
	}
	close(next)
	group.Wait()
}
