package main

import (
	"github.com/spf13/pflag"

	"swathe/cmd/internal/dossier"
	"swathe/cmd/internal/lab"
	"swathe/coverage/compare"
	"swathe/report"
	"swathe/report/compared"
)

var robotsVerb = verb{
	name:  "robots",
	args:  "LAB",
	brief: "rank every robot measured so far against the others",
	about: `Compares every robot measured so far with all others of the same layout and
phase, the best by the primary figure first: for each figure its mean, number of
runs and rank. Robots whose intervals overlap share ranks; one with fewer than
three complete runs has none. Runs of one robot that differ in sample, firmware,
mode, start place or set-up are listed separately, or pooled over what --pool
names. Runs that can't be compared are left out, each with its reason. Readings
of the bench have their own table.

--score orders the robots by the weighted mean of the figures that you name, each
in standard deviations between the robots, prints the weights, and tells whether
the order stays the same with each weight 25 % less or more.

Writes LAB/comparisons/robots/ with robots.json, robots.csv, bench.csv and
index.html. The conditions of the runs stand under each table.

An index of the results is kept in LAB/results/.index.json, so that the next
call is quick; you may delete it at any time.`,
	examples: `swathe robots my-lab
swathe robots my-lab --primary time_to_s.90 --pool firmware`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		side := sideOptions(fs)
		score := fs.String("score", "", "order the robots by a weighted score as well, `NAME=WEIGHT[,NAME=WEIGHT...]`")
		return func(c *call) (any, error) {
			if len(c.args) != 1 {
				return nil, usage("robots needs the lab's folder and nothing else")
			}
			var weights []compare.Weight
			if *score != "" {
				var err error
				if weights, err = compare.ParseWeights(*score); err != nil {
					return nil, usageError{err}
				}
			}
			opt, unit, err := side()
			if err != nil {
				return nil, err
			}
			l, err := lab.Open(c.args[0])
			if err != nil {
				return nil, err
			}
			doc, err := dossier.Robots(l, opt, weights)
			if err != nil {
				return nil, err
			}
			dir, err := l.WriteComparison("robots", func(dir string) error { return compared.WriteRobots(dir, doc, unit) })
			if err != nil {
				return nil, err
			}
			if !c.json {
				doc.Text(c.out, unit)
			}
			c.say("Written: %s", l.Rel(dir))
			return report.JSON{Value: doc}, nil
		}
	},
}
