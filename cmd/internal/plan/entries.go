// Package plan holds a laboratory's trial plan against what has been recorded
// and measured: the order in which runs are to be made, drawn at random within
// blocks, what of it is due, done, failed or deviates and why, and how many
// trials a difference needs.
package plan

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"swathe/cmd/internal/lab"
)

// Entry is a run that is meant to be made.
type Entry struct {
	Number int    `json:"number"` // in the order in which they are to be made, from 1
	Block  string `json:"block"`
	Layout string `json:"layout"`
	Robot  string `json:"robot"`
	Phase  string `json:"phase"`
	Trial  int    `json:"trial"`
}

// Run is its name, <layout>/<robot>_<phase>_<trial>.
func (e Entry) Run() string {
	return e.Layout + "/" + lab.RunName{Robot: e.Robot, Phase: e.Phase, Trial: e.Trial}.String()
}

// group is what trials are repetitions of.
func (e Entry) group() string { return e.Layout + "/" + e.Robot + "_" + e.Phase }

// Entries lists the runs of a plan in their order. A layout is set up once, so
// layouts follow each other as written; within a layout each trial is a block
// that holds every robot once, in an order drawn from the seed, so that what
// changes from day to day meets all robots alike. A robot's phases follow each
// other within its turn, for it must learn a room before it knows it.
//
// The order is that of SHA-256("seed/layout/trial/robot"), so that anybody can
// draw it again with other tools, and a robot that joins later leaves the order
// of the others as it was.
//
// trials gives the number of trials of a layout, robot and phase; what exceeds
// the plan's own number makes blocks after the others.
func Entries(p *lab.TrialPlan, trials func(group string) int) []Entry {
	var out []Entry
	for _, layout := range p.Layouts {
		for trial := 1; ; trial++ {
			robots := slices.Clone(p.Robots)
			key := map[string]string{}
			for _, r := range robots {
				h := sha256.Sum256(fmt.Appendf(nil, "%d/%s/%d/%s", p.Seed, layout, trial, r.Name))
				key[r.Name] = hex.EncodeToString(h[:])
			}
			slices.SortStableFunc(robots, func(a, b lab.PlannedRobot) int { return strings.Compare(key[a.Name], key[b.Name]) })
			before := len(out)
			for _, r := range robots {
				for _, phase := range r.Phases {
					e := Entry{Block: fmt.Sprintf("%s, trial %d", layout, trial), Layout: layout, Robot: r.Name, Phase: phase, Trial: trial}
					if trial <= trials(e.group()) {
						e.Number = len(out) + 1
						out = append(out, e)
					}
				}
			}
			if len(out) == before {
				break
			}
		}
	}
	return out
}
