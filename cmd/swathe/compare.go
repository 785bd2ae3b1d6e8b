package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
	"swathe/coverage/compare"
	"swathe/report"
	"swathe/report/compared"
)

var compareVerb = verb{
	name:  "compare",
	args:  "LAB RUN RUN...",
	brief: "compare runs of one layout",
	about: `Compares two or more runs of one layout. RUN is
<layout>/<robot>_<phase>_<trial>, with * and ? as wildcards.

Runs of one robot in one phase form a group, unless they differ in sample,
firmware, mode, start place or set-up: then they are grouped apart, or pooled
over what --pool names. A group of one run is given with the interval of its
measurement, two runs with both values, three and more with mean, standard
deviation and a 95 % interval that joins how the runs scatter and what they
share (brush, survey, camera). Each pair of groups gets a verdict on the primary
figure (--primary): one is better, no difference shown, or too
few runs, with how many would settle it. All other figures are exploratory, with
Holm's correction. Groups are compared in pairs only where the notes declare a
block or a date. swathe help comparing says more.

Left out, each with its reason: runs of another layout, or with other obstacles,
areas or test objects than the first; of another definition of the figures; with
another tool or width than the same robot's first run; or with the robot lost
for more than 5 % of the recording. A run that did not finish gives lower
bounds, which are not averaged.

The folder LAB/comparisons/<name>/ gets:
  index.html           one page that needs no server and no network
  comparison.json      everything
  runs.csv, figures.csv, differences.csv, counts.csv
  together.csv         share covered after one, two, three ... runs together
  never_covered.csv    floor that no run covered
  curves.png, maps.png, agreement.png, together.png, difference-N.png`,
	examples: `swathe compare my-lab 'cluttered/*'
swathe compare my-lab 'den/linden_*' 'den/wren_*' --primary time_to_s.90
swathe compare my-lab 'den/*' --pool firmware --name all-firmware`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		name := fs.String("name", "", "`NAME` of the folder under comparisons, instead of one made from the runs")
		side := sideOptions(fs)
		return func(c *call) (any, error) {
			if len(c.args) < 2 {
				return nil, usage("compare needs the lab's folder and runs")
			}
			opt, unit, err := side()
			if err != nil {
				return nil, err
			}
			l, err := lab.Open(c.args[0])
			if err != nil {
				return nil, err
			}
			ids, err := work.Pick(l, c.args[1:])
			if err != nil {
				return nil, err
			}
			if *name == "" {
				*name = work.FreeComparisonName(l, ids)
			}
			in, err := work.Compare(l, *name, ids, opt)
			if errors.Is(err, compare.ErrNothing) {
				var why []string
				for _, r := range in.Doc.Refused {
					why = append(why, fmt.Sprintf("\n  %s: %s", r.Run, r.Reason))
				}
				return nil, fmt.Errorf("%w.%s", err, strings.Join(why, ""))
			}
			if err != nil {
				return nil, err
			}
			in.Unit = unit
			dir, err := l.WriteComparison(*name, func(dir string) error { return compared.WriteComparison(dir, *in) })
			if err != nil {
				return nil, err
			}
			if !c.json {
				in.Doc.Text(c.out, in.Unit)
			}
			c.say("Written: %s", l.Rel(dir))
			return report.JSON{Value: in.Doc}, nil
		}
	},
}
