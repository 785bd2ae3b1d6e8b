package compared

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"swathe/coverage/compare"
	"swathe/report"
	"swathe/report/sheet"
	"swathe/report/words"
)

// RobotScore is the groups of one layout and phase in the order of a score, with the
// weights that it rests on and whether the order survives each of them being a quarter
// less or more.
type RobotScore struct {
	Layout      string                  `json:"layout"`
	Arrangement int                     `json:"arrangement"`
	Phase       string                  `json:"phase"`
	Weights     map[string]report.Exact `json:"weights"`
	Groups      []ScoredRobot           `json:"groups"`
	Left        []compare.Refusal       `json:"left_out"`
	Survives    bool                    `json:"order_survives_25_percent"`
	Changes     []ScoreChange           `json:"changes"` // weights that turn the order
}

// ScoredRobot is one group's score.
type ScoredRobot struct {
	Group string       `json:"group"`
	Score report.Exact `json:"score"`
}

// ScoreChange is a weight that, a quarter less or more, turns the order.
type ScoreChange struct {
	Figure string   `json:"figure"`
	Factor float64  `json:"factor"`
	Order  []string `json:"order"`
}

// NewScores turns scores into their document.
func NewScores(all []compare.Scored, weights []compare.Weight) []RobotScore {
	out := []RobotScore{}
	for _, s := range all {
		d := RobotScore{Layout: s.Layout, Arrangement: s.Room, Phase: s.Phase, Weights: map[string]report.Exact{}, Groups: []ScoredRobot{}, Left: append([]compare.Refusal{}, s.Left...), Survives: s.Holds(), Changes: []ScoreChange{}}
		for _, w := range weights {
			d.Weights[w.Figure.Name] = report.Exact(w.Weight)
		}
		for _, g := range s.Order {
			d.Groups = append(d.Groups, ScoredRobot{g.Name, report.Exact(g.Score)})
		}
		for _, x := range s.Shifts {
			if !x.Holds {
				d.Changes = append(d.Changes, ScoreChange{x.Figure, x.Factor, x.Order})
			}
		}
		out = append(out, d)
	}
	return out
}

// scoreSections are the scores with their weights.
func (d *Robots) scoreSections() (out []sheet.Section) {
	for _, s := range d.Score {
		if len(s.Groups) < 2 {
			continue // nothing to order
		}
		var weights []string
		for _, name := range slices.Sorted(maps.Keys(s.Weights)) {
			weights = append(weights, fmt.Sprintf("%s %g", name, s.Weights[name]))
		}
		t := sheet.Table{Name: "Score", Head: []string{"robot", "score"}}
		for _, g := range s.Groups {
			t.Rows = append(t.Rows, []string{g.Group, words.Number(float64(g.Score), math.NaN(), 2)})
		}
		part := sheet.Section{Heading: "Score, " + s.Layout + ", " + s.Phase, Tables: []sheet.Table{t}, List: []string{
			"Weights: " + strings.Join(weights, ", ") + ". The score is their weighted mean of standard deviations between the robots; other weights give another score. It leaves out how much runs scatter; the ranks do not.",
		}}
		if s.Survives {
			part.List = append(part.List, "The order stays the same with each weight 25"+words.NB+"% less or more.")
		}
		for _, c := range s.Changes {
			change := "less"
			if c.Factor > 1 {
				change = "more"
			}
			part.List = append(part.List, fmt.Sprintf("With the weight of %s 25%s%% %s the order is %s.", c.Figure, words.NB, change, strings.Join(c.Order, ", ")))
		}
		for _, r := range s.Left {
			part.List = append(part.List, r.Run+": no score: "+r.Reason+".")
		}
		out = append(out, part)
	}
	return out
}
