package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/dossier"
	"swathe/cmd/internal/lab"
	"swathe/report"
	"swathe/report/compared"
	"swathe/report/words"
)

var dossierVerb = verb{
	name:  "dossier",
	args:  "LAB ROBOT...",
	brief: "one page on one robot against all others",
	about: `Writes one page on a robot: its main figures with their intervals, each beside
the average of the other robots, a map of each layout, mapping beside mapped,
its test objects trial by trial, its bench, how its runs ended, in what it ranks
first or last, what was not tested, and the cautions. Nothing on it is judged
except by a figure shown beside it.

LAB/reports/dossiers/<robot>/ gets index.html, which needs no server and no
network, dossier.md with its pictures for an editor, and dossier.json.

--final refuses while anything that a test report must contain is missing, and
lists it.`,
	examples: `swathe dossier my-lab linden
swathe dossier my-lab linden --final`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		unit := fs.String("unit", "m", "`UNIT` of lengths: m or ft")
		final := fs.Bool("final", false, "refuse while anything that a test report must contain is missing")
		return func(c *call) (any, error) {
			if len(c.args) < 2 {
				return nil, usage("dossier needs the lab's folder and a robot")
			}
			u := words.Unit(*unit)
			if !u.Valid() {
				return nil, usage("--unit is %q; it should be m or ft", *unit)
			}
			l, err := lab.Open(c.args[0])
			if err != nil {
				return nil, err
			}
			d, err := dossier.Read(l)
			if err != nil {
				return nil, err
			}
			docs := []compared.DossierDoc{}
			for _, robot := range c.args[1:] {
				doc, err := writeDossier(c, d, robot, u, *final)
				if err != nil {
					return nil, err
				}
				docs = append(docs, doc)
			}
			return report.JSON{Value: docs}, nil
		}
	},
}

func writeDossier(c *call, d *dossier.Lab, robot string, unit words.Unit, final bool) (compared.DossierDoc, error) {
	in, err := d.Of(c.ctx, robot, newEye(), unit)
	if err != nil {
		return compared.DossierDoc{}, err
	}
	if final && len(in.Missing) > 0 {
		return compared.DossierDoc{}, fmt.Errorf("the dossier of %s is not final. Missing:\n  %s", robot, strings.Join(in.Missing, "\n  "))
	}
	dir := filepath.Join(d.Dir, "reports", "dossiers", robot)
	if err := d.WriteReport(dir, func(dir string) error { return compared.WriteDossier(dir, in) }); err != nil {
		return compared.DossierDoc{}, err
	}
	c.print("%s: %s", robot, strings.ReplaceAll(compared.Dossier(in).Lead, words.NB, " "))
	c.say("Written: %s", d.Rel(filepath.Join(dir, "index.html")))
	return compared.NewDossierDoc(in), nil
}
