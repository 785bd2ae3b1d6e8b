package main

import (
	"errors"
	"math"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/bench"
	"swathe/cmd/internal/lab"
	"swathe/coverage/compare"
	"swathe/report"
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
			opt.OutlineSigma = l.Settings.Uncertainty.OutlineSigma
			ids, err := report.ResultIDs(l.ResultsDir())
			if err != nil {
				return nil, err
			}
			if len(ids) == 0 {
				return nil, errors.New("there is no result in this lab yet; run swathe measure first")
			}
			runs, unread := report.Indexed(l.ResultsDir(), ids)
			unread = append(unread, report.AddShared(l.ResultsDir(), runs)...)
			standings, refused, err := compare.Standings(runs, opt)
			if err != nil {
				return nil, err
			}
			doc := report.NewRobots(standings, refused, opt.Primary, unread, l.ConditionUnit)
			if weights != nil {
				doc.Score = report.NewScores(compare.Score(standings, weights), weights)
			}
			if doc.Bench, err = benchOfRobots(l, runs); err != nil {
				return nil, err
			}
			dir, err := l.WriteComparison("robots", func(dir string) error { return report.WriteRobots(dir, doc, unit) })
			if err != nil {
				return nil, err
			}
			if !c.json {
				doc.Text(c.out, unit)
			}
			c.say("Written: %s", l.Rel(dir))
			return doc, nil
		}
	},
}

// shown is a value of a quantity in the unit that tables show it in.
func shown(q bench.Quantity, si float64) report.Float { return report.Float(q.Unit.FromSI(si)) }

// benchOfRobots is every robot's bench beside those of the others.
func benchOfRobots(l *lab.Lab, runs []compare.Run) ([]report.RobotBench, error) {
	rs, err := bench.All(l, "")
	if err != nil {
		return nil, err
	}
	var out []report.RobotBench
	for _, s := range bench.Standings(bench.Quantities(l), bench.Finished(rs, runs)) {
		b := report.RobotBench{Robot: s.Robot, Group: s.Name(), Quantity: s.Of.Name, Name: s.Of.Words + s.Where, Value: s.Words(), Ranked: s.Rank.Of, Of: s.OtherNum,
			Unit: s.Of.Unit.Name, N: len(s.Values), Mean: shown(s.Of, s.Mean.SI), SD: report.Float(s.Mean.SD / s.Of.Unit.Factor), Interval: [2]report.Float{shown(s.Of, s.Mean.Interval.Lo), shown(s.Of, s.Mean.Interval.Hi)}, OthersMean: shown(s.Of, s.Others)}
		if s.Rank.First > 0 {
			b.Rank = &[2]int{s.Rank.First, s.Rank.Last}
		}
		if s.OtherNum > 0 {
			b.Others = bench.InWords(s.Of, s.Others, math.NaN())
		}
		out = append(out, b)
	}
	return out, nil
}
