package packing

import (
	"bytes"
	"encoding/csv"
	"strconv"
	"strings"

	"swathe/cmd/internal/lab"
	"swathe/report"
)

// residueCSV writes a row for each crossing of each patch; nil if no run has any.
func residueCSV(l *lab.Lab, ids []string) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write(names(tables["residue.csv"]))
	num := func(v float64) string {
		if !report.Measured(v) {
			return ""
		}
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	why := func(s *string) string {
		if s == nil {
			return ""
		}
		return *s
	}
	any := false
	for _, id := range ids {
		layout, name, _ := strings.Cut(id, "/")
		run, err := report.ReadRun(l.ResultDir(layout, name))
		if err != nil {
			continue // it was read before, when the runs were gathered
		}
		for _, p := range run.Residue {
			any = true
			row := []string{id, p.Patch, p.Kind, num(p.BeforeM2), num(p.BeforeLengthM)}
			if len(p.Cycles) == 0 {
				_ = w.Write(append(row, "", "", "", "", "", "", "", "", why(p.Reason)))
			}
			for _, c := range p.Cycles {
				_ = w.Write(append(row[:5:5], strconv.Itoa(c.Cycle), num(c.TS), num(c.LeftShare), num(c.LeftInterval95[0]), num(c.LeftInterval95[1]),
					num(c.AfterM2), num(c.AfterLengthM), num(c.DifferenceMean), why(c.Reason)))
			}
		}
	}
	w.Flush()
	if !any {
		return nil
	}
	return b.Bytes()
}
