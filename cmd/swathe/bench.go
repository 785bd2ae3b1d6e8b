package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/bench"
	"swathe/cmd/internal/disk"
	"swathe/cmd/internal/lab"
	"swathe/report/words"
)

var benchVerb = verb{
	name:  "bench",
	args:  "LAB [ROBOT QUANTITY VALUE UNIT]",
	brief: "enter and list the readings of the test bench",
	about: `Keeps readings of the bench in LAB/bench.sqlite: mass laid out and picked up,
air flow and suction, sound, energy, time, and quantities of the lab's own, each
with its unit, uncertainty and trial.

With the lab alone it lists the readings and what is calculated from them. With
a robot, a quantity, a value and a unit it enters one:
  swathe bench LAB linden mass_picked_up 41.3 g --trial 2 --surface carpet

--import reads a CSV, all of it or none; --export writes one that --import reads
back without loss ("-": standard input or output). --quantities lists what can
be entered and what is calculated. A reading that contradicts another, or
exceeds the mass laid out, is refused with its line. Readings that --replace
replaces are kept in the store.`,
	examples: `swathe bench my-lab linden mass_picked_up 41.3 g --trial 2 --surface carpet
swathe bench my-lab --import readings.csv
swathe bench my-lab --quantities`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		in := fs.String("import", "", "read the readings in `FILE`.csv")
		out := fs.String("export", "", "write all readings to `FILE`.csv")
		list := fs.Bool("quantities", false, "list the quantities with their units")
		replace := fs.Bool("replace", false, "accept readings that differ from earlier ones of the same trial; the earlier ones are kept aside")
		var r bench.Reading
		fs.IntVar(&r.Trial, "trial", 1, "trial `N` of the reading")
		fs.IntVar(&r.Pass, "pass", 0, "pass `N` of the reading; 0: all passes together")
		fs.StringVar(&r.Surface, "surface", "", "`NAME` of the surface, such as carpet")
		fs.StringVar(&r.Layout, "layout", "", "`NAME` of the layout; with --phase, of the recorded run")
		fs.StringVar(&r.Phase, "phase", "", "`PHASE`: mapping, mapped or single")
		fs.StringVar(&r.Uncertainty, "uncertainty", "", "standard uncertainty `U`, in the unit of the value")
		fs.StringVar(&r.Sample, "sample", "", "`NAME` of the sample of the robot")
		fs.StringVar(&r.Firmware, "firmware", "", "`VERSION` of its firmware")
		fs.StringVar(&r.Date, "date", "", "`DATE`: 2026-03-02 or '2026-03-02 14:30'")
		fs.StringVar(&r.Operator, "operator", "", "`NAME` of the operator")
		fs.StringVar(&r.Note, "note", "", "`TEXT`: a remark")
		return func(c *call) (any, error) {
			if len(c.args) != 1 && len(c.args) != 5 {
				return nil, usage("bench needs the lab's folder, or the folder, a robot, a quantity, a value and a unit")
			}
			l, err := lab.Open(c.args[0])
			if err != nil {
				return nil, err
			}
			switch {
			case len(c.args) == 5:
				r.Robot, r.Quantity, r.Value, r.Unit = c.args[1], c.args[2], c.args[3], c.args[4]
				return benchEnter(c, l, r, *replace)
			case *list:
				return benchQuantities(c, l)
			case *in != "":
				return benchImport(c, l, *in, *replace)
			case *out != "":
				return benchExport(c, l, *out)
			}
			return benchList(c, l)
		}
	},
}

// benchEnter takes one reading by the way that a CSV takes, so that it is held
// to the same rules.
func benchEnter(c *call, l *lab.Lab, r bench.Reading, replace bool) (any, error) {
	taken, err := bench.Enter(l, r, replace)
	if err != nil {
		return nil, err
	}
	return benchSaid(c, taken), nil
}

func benchImport(c *call, l *lab.Lab, file string, replace bool) (any, error) {
	var from io.Reader = os.Stdin
	name := "standard input"
	if file != "-" {
		f, err := os.Open(file)
		if err != nil {
			return nil, fmt.Errorf("the readings can't be read: %w", err)
		}
		defer f.Close()
		from, name = f, filepath.Base(file)
	}
	rs, err := bench.ReadCSV(l, name, from)
	if err != nil {
		return nil, err
	}
	taken, err := benchPut(c, l, name, rs, replace)
	if err != nil {
		return nil, err
	}
	return taken, nil
}

func benchPut(c *call, l *lab.Lab, name string, rs []bench.Reading, replace bool) (bench.Taken, error) {
	s, err := bench.Open(l)
	if err != nil {
		return bench.Taken{}, err
	}
	defer s.Close()
	taken, err := s.Put(name, rs, replace)
	if err != nil {
		return taken, err
	}
	return benchSaid(c, taken), nil
}

func benchSaid(c *call, t bench.Taken) bench.Taken {
	c.print("%d readings added, %d replaced, %d already there.", t.Added, t.Replaced, t.Same)
	return t
}

func benchExport(c *call, l *lab.Lab, file string) (any, error) {
	rs, err := bench.Load(l, "")
	if err != nil {
		return nil, err
	}
	if file == "-" {
		if c.json {
			return nil, usage("--export - and --json both need standard output; name a file")
		}
		return nil, bench.WriteCSV(c.out, rs)
	}
	if err := disk.WriteWholeBy(file, func(w io.Writer) error { return bench.WriteCSV(w, rs) }); err != nil {
		return nil, fmt.Errorf("%s can't be written: %w", file, err)
	}
	c.print("%d readings written to %s.", len(rs), file)
	return struct {
		Readings int    `json:"readings"`
		File     string `json:"file"`
	}{len(rs), file}, nil
}

type quantityDoc struct {
	Name    string `json:"name"`
	Words   string `json:"words"`
	Unit    string `json:"unit"`
	Kind    string `json:"kind"`
	Follows string `json:"follows_from,omitempty"`
}

func benchQuantities(c *call, l *lab.Lab) (any, error) {
	docs := []quantityDoc{}
	for _, q := range bench.Quantities(l) {
		docs = append(docs, quantityDoc{q.Name, q.Words, q.Unit.Name, string(q.Unit.Kind), q.Follows})
		if q.Follows != "" {
			c.print("%-20s %-8s %s; from %s", q.Name, q.Unit.Name, q.Words, q.Follows)
		} else {
			c.print("%-20s %-8s %s", q.Name, q.Unit.Name, q.Words)
		}
	}
	return docs, nil
}

func benchList(c *call, l *lab.Lab) (any, error) {
	rs, err := bench.All(l, "")
	if err != nil {
		return nil, err
	}
	type valueDoc struct {
		Robot    string   `json:"robot"`
		Sample   string   `json:"sample"`
		Firmware string   `json:"firmware"`
		Layout   string   `json:"layout"`
		Phase    string   `json:"phase"`
		Trial    int      `json:"trial"`
		Surface  string   `json:"surface"`
		Quantity string   `json:"quantity"`
		Value    *float64 `json:"value"`
		Unit     string   `json:"unit"`
		U        *float64 `json:"standard_uncertainty"`
		Reason   string   `json:"reason,omitempty"`
	}
	docs := []valueDoc{}
	for _, v := range bench.Values(bench.Quantities(l), rs) {
		d := valueDoc{v.Robot, v.Sample, v.Firmware, v.Layout, v.Phase, v.Trial, v.Surface, v.Quantity, nil, v.Of.Unit.Name, nil, v.Reason}
		if v.Reason == "" {
			x := v.Of.Unit.FromSI(v.SI)
			d.Value = &x
			if u := v.U / v.Of.Unit.Factor; u == u {
				d.U = &u
			}
		}
		docs = append(docs, d)
		c.print("%s: %s", v.Key, strings.ReplaceAll(v.Words(), words.NB, " "))
	}
	if len(docs) == 0 {
		c.print("No readings yet. See: swathe bench --help")
	}
	return docs, nil
}
