package bench

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"swathe/cmd/internal/lab"
	"swathe/coverage/compare"
	"swathe/coverage/stats"
)

// Standing is a quantity of one robot among all robots that have it, measured in
// the same place (surface; layout and phase).
type Standing struct {
	Robot    string
	Firmware string // set where the robot was measured with several: each stands for itself
	Of       Quantity
	Where    string // ", carpet"; empty: nowhere in particular
	Mean     Mean
	U        float64 // standard uncertainty that the mean is written with; 0: not known
	Values   []float64
	Reasons  []string      // of trials in which it could not be worked out
	Rank     compare.Place // its ranks alone: as of the floor, robots that cannot be told apart share them
	Others   float64       // mean of the other robots' means, SI; NaN: there is none
	OtherNum int
}

// Standings sets every robot against all others, quantity by quantity.
func Standings(qs []Quantity, rs []Reading) []Standing {
	type at struct{ quantity, where string }
	groups := map[at]map[string]*Standing{}
	var order []at
	values := Values(qs, rs)
	type ofRobot struct {
		at
		robot string
	}
	versions := map[ofRobot]map[string]bool{} // firmware
	whereOf := func(v Value) string {
		where := ""
		for _, w := range []string{v.Surface, v.Layout, v.Phase} {
			if w != "" {
				where += ", " + w
			}
		}
		return where
	}
	for _, v := range values {
		k := ofRobot{at{v.Quantity, whereOf(v)}, v.Robot}
		if versions[k] == nil {
			versions[k] = map[string]bool{}
		}
		versions[k][v.Firmware] = true
	}
	for _, v := range values {
		where := whereOf(v)
		k := at{v.Quantity, where}
		if groups[k] == nil {
			groups[k] = map[string]*Standing{}
			order = append(order, k)
		}
		own := Standing{Robot: v.Robot, Of: v.Of, Where: where}
		if len(versions[ofRobot{k, v.Robot}]) > 1 {
			own.Firmware = v.Firmware
			if own.Firmware == "" {
				own.Firmware = "not stated"
			}
		}
		s := groups[k][own.Name()]
		if s == nil {
			s = &own
			groups[k][own.Name()] = s
		}
		if v.Reason != "" {
			s.Reasons = append(s.Reasons, v.Reason)
			continue
		}
		s.Values = append(s.Values, v.SI)
		if !math.IsNaN(v.U) {
			s.U = math.Max(s.U, v.U)
		}
	}
	index := func(name string) int { return slices.IndexFunc(qs, func(q Quantity) bool { return q.Name == name }) }
	slices.SortStableFunc(order, func(a, b at) int {
		if d := index(a.quantity) - index(b.quantity); d != 0 {
			return d
		}
		return strings.Compare(a.where, b.where)
	})
	var out []Standing
	for _, k := range order {
		var names []string
		for n := range groups[k] {
			names = append(names, n)
		}
		slices.Sort(names)
		means := make([]float64, len(names))
		for i, n := range names {
			s := groups[k][n]
			s.Mean = Mean{SI: math.NaN(), SD: math.NaN(), Interval: stats.NoInterval}
			means[i] = math.NaN()
			if len(s.Values) > 0 {
				s.Mean = MeanOf(s.Of.Unit.Kind, s.Values, s.U)
				means[i] = s.Mean.SI
				if iv := s.Mean.Interval; iv.Known() {
					s.U = (iv.Hi - iv.Lo) / 4 // the digits that its interval supports
				}
			}
		}
		cells := make([]compare.Cell, len(names))
		for i, n := range names {
			s := groups[k][n]
			cells[i] = compare.Cell{N: len(s.Values), Of: len(s.Values), Values: s.Values, Mean: s.Mean.SI, SD: s.Mean.SD, Interval: s.Mean.Interval}
		}
		for i, n := range names {
			s := groups[k][n]
			byRobot := map[string][]float64{} // each robot counts once
			for j, m := range means {
				if o := groups[k][names[j]].Robot; o != s.Robot && !math.IsNaN(m) {
					byRobot[o] = append(byRobot[o], m)
				}
			}
			var others []float64
			for _, o := range slices.Sorted(maps.Keys(byRobot)) {
				others = append(others, MeanOf(s.Of.Unit.Kind, byRobot[o], 0).SI)
			}
			s.Others, s.OtherNum = math.NaN(), len(others)
			rivals := []compare.Cell{cells[i]} // its own other firmware is none
			for j, n := range names {
				if groups[k][n].Robot != s.Robot {
					rivals = append(rivals, cells[j])
				}
			}
			s.Rank = compare.RankOf(rivals, 0, compare.Figure{Name: s.Of.Name, Better: s.Of.Better}, 0.95)
			if len(others) > 0 {
				s.Others = MeanOf(s.Of.Unit.Kind, others, 0).SI
			}
			out = append(out, *s)
		}
	}
	return out
}

// Name is the robot, with its firmware where it was measured with several.
func (s Standing) Name() string {
	if s.Firmware == "" {
		return s.Robot
	}
	return s.Robot + " (firmware " + s.Firmware + ")"
}

// Finished leaves out the readings of recorded runs that did not finish: what a run
// that was cut short drew, or left on the floor, is in no mean.
func Finished(rs []Reading, runs []compare.Run) []Reading {
	cut := map[string]bool{}
	for _, r := range runs {
		if r.Unfinished() != "" {
			cut[r.ID] = true
		}
	}
	return slices.DeleteFunc(slices.Clone(rs), func(x Reading) bool {
		return x.Layout != "" && cut[x.Layout+"/"+lab.RunName{Robot: x.Robot, Phase: x.Phase, Trial: x.Trial}.String()]
	})
}

// Words writes the mean with its interval, or the values, or why there is none.
func (s Standing) Words() string {
	switch len(s.Values) {
	case 0:
		return "not measured: " + s.Reasons[0]
	case 1:
		return InWords(s.Of, s.Values[0], s.U)
	case 2:
		return InWords(s.Of, s.Values[0], math.NaN()) + " and " + InWords(s.Of, s.Values[1], math.NaN())
	}
	out := InWords(s.Of, s.Mean.SI, s.U)
	if iv := s.Mean.Interval; iv.Known() {
		out += " (" + InWords(s.Of, iv.Lo, s.U) + " to " + InWords(s.Of, iv.Hi, s.U) + ")"
	}
	return out + fmt.Sprintf(", %d trials", len(s.Values))
}
