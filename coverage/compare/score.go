package compare

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Weight is what a figure counts in a score, more than 0.
type Weight struct {
	Figure Figure
	Weight float64
}

// Scored is the groups of one layout, arrangement and phase in the order of a score.
type Scored struct {
	Layout, Phase string
	Room          int
	Order         []ScoredGroup // the best first
	Left          []Refusal     // groups without a score: Run holds the group's name
	// Shifts tell for each weight, a quarter less and a quarter more, the order that
	// it would give.
	Shifts []Shift
}

// ScoredGroup is a group with its score: the weighted mean, over the figures, of how
// many standard deviations between groups it is better than their mean.
type ScoredGroup struct {
	Name  string
	Score float64
}

// Shift is the order under another weight.
type Shift struct {
	Figure string
	Factor float64 // of its weight
	Order  []string
	Holds  bool // the order is the same
}

// Holds tells whether the order survives every shift.
func (s Scored) Holds() bool {
	return !slices.ContainsFunc(s.Shifts, func(x Shift) bool { return !x.Holds })
}

// weightShift is by how much each weight is tried less and more.
const weightShift = 0.25

// ParseWeights reads NAME=WEIGHT[,NAME=WEIGHT...] of figures of which one end is
// better.
func ParseWeights(text string) ([]Weight, error) {
	var out []Weight
	for _, part := range strings.Split(text, ",") {
		name, value, ok := strings.Cut(strings.TrimSpace(part), "=")
		w, err := strconv.ParseFloat(value, 64)
		if !ok || err != nil || !(w > 0) || math.IsInf(w, 1) {
			return nil, fmt.Errorf("a score takes NAME=WEIGHT[,NAME=WEIGHT...] with weights above 0, such as covered_share=3,redundancy=1; got %q", part)
		}
		i := slices.IndexFunc(Figures, func(f Figure) bool { return f.Name == name })
		switch {
		case i < 0:
			return nil, fmt.Errorf("there is no figure %q for a score", name)
		case Figures[i].Better == 0:
			return nil, fmt.Errorf("%s has no better end, so it cannot count in a score", name)
		case slices.ContainsFunc(out, func(w Weight) bool { return w.Figure.Name == name }):
			return nil, fmt.Errorf("%s appears twice in the score", name)
		}
		out = append(out, Weight{Figures[i], w})
	}
	return out, nil
}

// Score orders the groups of each layout, arrangement and phase by a weighted mean.
// A group that lacks one of the figures has no score, for it would stand on other
// ground than the others.
func Score(st []Standing, weights []Weight) (out []Scored) {
	for len(st) > 0 {
		n := 1
		for n < len(st) && st[n].Layout == st[0].Layout && st[n].Phase == st[0].Phase && st[n].Room == st[0].Room {
			n++
		}
		out = append(out, scoreOf(st[:n], weights))
		st = st[n:]
	}
	return out
}

func scoreOf(st []Standing, weights []Weight) Scored {
	s := Scored{Layout: st[0].Layout, Phase: st[0].Phase, Room: st[0].Room}
	var names []string
	var mean [][]float64 // by group and figure
	for _, g := range st {
		row := make([]float64, len(weights))
		lacks := ""
		for i, w := range weights {
			row[i] = math.NaN()
			for _, p := range g.Figures {
				if p.Figure.Name == w.Figure.Name {
					row[i] = p.Mean
				}
			}
			if math.IsNaN(row[i]) && lacks == "" {
				lacks = w.Figure.Name
			}
		}
		if lacks != "" {
			s.Left = append(s.Left, Refusal{Run: g.Name, Reason: "it has no mean of " + lacks})
			continue
		}
		names, mean = append(names, g.Name), append(mean, row)
	}
	// In standard deviations between these groups, the better end positive.
	for i, w := range weights {
		m, square := 0.0, 0.0
		for _, row := range mean {
			m += row[i] / float64(len(mean))
		}
		for _, row := range mean {
			square += (row[i] - m) * (row[i] - m) / float64(max(len(mean)-1, 1))
		}
		for _, row := range mean {
			if row[i] -= m; square > 0 {
				row[i] *= float64(w.Figure.Better) / math.Sqrt(square)
			}
		}
	}
	order := func(shifted int, factor float64) []ScoredGroup {
		var list []ScoredGroup
		for k, row := range mean {
			sum, all := 0.0, 0.0
			for i, w := range weights {
				v := w.Weight
				if i == shifted {
					v *= factor
				}
				sum, all = sum+v*row[i], all+v
			}
			list = append(list, ScoredGroup{names[k], sum / all})
		}
		slices.SortStableFunc(list, func(a, b ScoredGroup) int {
			switch {
			case a.Score > b.Score:
				return -1
			case a.Score < b.Score:
				return 1
			}
			return strings.Compare(a.Name, b.Name)
		})
		return list
	}
	s.Order = order(-1, 1)
	for i, w := range weights {
		for _, factor := range []float64{1 - weightShift, 1 + weightShift} {
			x := Shift{Figure: w.Figure.Name, Factor: factor, Holds: true}
			for k, g := range order(i, factor) {
				x.Order = append(x.Order, g.Name)
				x.Holds = x.Holds && g.Name == s.Order[k].Name
			}
			s.Shifts = append(s.Shifts, x)
		}
	}
	return s
}
