package main

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/disk"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/plan"
	"swathe/coverage/compare"
	"swathe/report/sheet"
)

var planVerb = verb{
	name:  "plan",
	args:  "LAB",
	brief: "show which runs are due, done, failed or not as planned",
	about: `Compares LAB/plan.yaml with the recordings and results: which runs are due, and
in which order; which are recorded, done or failed; which deviate from the plan
and how. The order is random within blocks (a layout and a trial), drawn from
the seed in the plan.

--new writes a plan to start from. --sheet writes a page for the wall,
LAB/reports/plan/index.html, with the names of the recordings and boxes to fill.

--power S D shows how many trials of each of two robots are needed to detect a
difference D of their means, where S is the standard deviation between runs of
one robot, in the same unit: Student's two-sided test at 5 %. It needs no plan:
swathe plan LAB --power 0.02 0.03`,
	examples: `swathe plan my-lab --new
swathe plan my-lab --sheet
swathe plan my-lab --power 0.02 0.03`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		fresh := fs.Bool("new", false, "write a plan.yaml to start from")
		sheet := fs.Bool("sheet", false, "write the page for the wall")
		power := fs.String("power", "", "show how many trials detect a difference D, where `S` is the standard deviation between runs")
		return func(c *call) (any, error) {
			if *power != "" {
				return planPower(c, *power)
			}
			if len(c.args) != 1 {
				return nil, usage("plan needs the lab's folder and nothing else")
			}
			l, err := lab.Open(c.args[0])
			if err != nil {
				return nil, err
			}
			if *fresh {
				return newPlan(c, l)
			}
			p, err := l.Plan(compare.Names())
			if err != nil {
				return nil, err
			}
			in, err := plan.Gather(l, p)
			if err != nil {
				return nil, err
			}
			doc, err := plan.New(in)
			if err != nil {
				return nil, err
			}
			l.SaveHashes()
			if *sheet {
				if err := writeSheet(c, l, plan.SheetDir(l), doc.Sheet()); err != nil {
					return nil, err
				}
			}
			doc.Text(c.print)
			return doc, nil
		}
	},
}

func newPlan(c *call, l *lab.Lab) (any, error) {
	file := filepath.Join(l.Dir, lab.PlanFile)
	if _, err := os.Stat(file); err == nil {
		return nil, fmt.Errorf("%s exists. Edit it; do not change a plan after the first run", lab.PlanFile)
	}
	seed := rand.Int64N(1e6)
	if err := disk.WriteWhole(file, plan.Template(l, seed, 3, "mapping, mapped")); err != nil {
		return nil, err
	}
	c.print("%s written, its order drawn from seed %d. Edit it, then run: swathe plan %s --sheet", lab.PlanFile, seed, c.args[0])
	return struct {
		Verb string `json:"verb"`
		File string `json:"file"`
		Seed int64  `json:"seed"`
	}{"plan", lab.PlanFile, seed}, nil
}

func planPower(c *call, scatter string) (any, error) {
	if len(c.args) < 1 || len(c.args) > 2 {
		return nil, usage("--power takes the standard deviation between runs and the difference: swathe plan LAB --power 0.02 0.03")
	}
	s, err1 := strconv.ParseFloat(scatter, 64)
	d, err2 := strconv.ParseFloat(c.args[len(c.args)-1], 64)
	if err1 != nil || err2 != nil {
		return nil, usage("--power takes two numbers, the standard deviation between runs and the difference, in the same unit; got %q and %q", scatter, c.args[len(c.args)-1])
	}
	p, err := plan.NewPower(s, d)
	if err != nil {
		return nil, usageError{err}
	}
	c.print("Standard deviation %g, difference %g: by Student's two-sided test at 5 %%,", s, d)
	for _, r := range p.Rows {
		c.print("  %3d trials of each detect it in %.0f %% of cases", r.Trials, 100*r.Power)
	}
	for _, r := range [][2]int{{80, p.Trials80}, {90, p.Trials90}} {
		if r[1] == 0 {
			c.print("For %d %%: more than 10,000 trials of each.", r[0])
		} else {
			c.print("For %d %%: %d trials of each.", r[0], r[1])
		}
	}
	c.print("This assumes equal, roughly normal scatter and one comparison; several robots or figures need more trials.")
	return p, nil
}

// writeSheet writes a page into a folder of the lab and says where.
func writeSheet(c *call, l *lab.Lab, dir string, s sheet.Sheet) error {
	if err := l.WriteReport(dir, func(dir string) error { return sheet.WriteFile(filepath.Join(dir, "index.html"), s) }); err != nil {
		return err
	}
	c.say("Written: %s", l.Rel(filepath.Join(dir, "index.html")))
	return nil
}
