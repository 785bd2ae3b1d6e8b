package dossier

import (
	"math"

	"swathe/cmd/internal/bench"
	"swathe/cmd/internal/lab"
	"swathe/coverage/compare"
	"swathe/report"
	"swathe/report/compared"
)

// Robots sets every robot of a lab that has a result against all others, the
// bench included; weights asks for a score too, nil for none.
func Robots(l *lab.Lab, opt compare.Options, weights []compare.Weight) (*compared.Robots, error) {
	opt.OutlineSigma = l.Settings.Uncertainty.OutlineSigma
	ids, err := report.RequireResults(l.ResultsDir())
	if err != nil {
		return nil, err
	}
	runs, unread := report.Indexed(l.ResultsDir(), ids)
	unread = append(unread, report.AddShared(l.ResultsDir(), runs)...)
	standings, refused, err := compare.Standings(runs, opt)
	if err != nil {
		return nil, err
	}
	doc := compared.NewRobots(standings, refused, opt.Primary, unread, l.ConditionUnit)
	if weights != nil {
		doc.Score = compared.NewScores(compare.Score(standings, weights), weights)
	}
	doc.Bench, err = benchOfRobots(l, runs)
	return doc, err
}

// shown is a value of a quantity in the unit that tables show it in.
func shown(q bench.Quantity, si float64) float64 { return q.Unit.FromSI(si) }

// benchOfRobots is every robot's bench beside those of the others.
func benchOfRobots(l *lab.Lab, runs []compare.Run) ([]compared.RobotBench, error) {
	rs, err := bench.All(l, "")
	if err != nil {
		return nil, err
	}
	var out []compared.RobotBench
	for _, s := range bench.Standings(bench.Quantities(l), bench.Finished(rs, runs)) {
		b := compared.RobotBench{Robot: s.Robot, Group: s.Name(), Quantity: s.Of.Name, Name: s.Of.Words + s.Where, Value: s.Words(), Ranked: s.Rank.Of, Of: s.OtherNum,
			Unit: s.Of.Unit.Name, N: len(s.Values), Mean: shown(s.Of, s.Mean.SI), SD: s.Mean.SD / s.Of.Unit.Factor, Interval: [2]float64{shown(s.Of, s.Mean.Interval.Lo), shown(s.Of, s.Mean.Interval.Hi)}, OthersMean: shown(s.Of, s.Others)}
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
