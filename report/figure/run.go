package figure

import (
	"fmt"
	"math"
	"strings"

	"swathe/coverage"
	"swathe/geom"
	"swathe/report/words"
)

// Run is what the pictures of one run are drawn from. Nothing in it is changed.
type Run struct {
	Layout, Robot, Phase string
	Trial                int
	Plan                 *geom.Plan
	Body                 geom.Robot
	Trace                *geom.Trace
	Cover                *coverage.Result
	Mark                 string  // a reservation that every picture of the run bears; empty: none
	ShareSigma           float64 // standard uncertainty of the shares; 0 or NaN: unknown, they get one decimal
}

// Title names the run for a reader: "siskin, mapped run 1, cluttered".
func (r Run) Title() string {
	return fmt.Sprintf("%s, %s, %s", r.Robot, PhaseWords(r.Phase, r.Trial), r.Layout)
}

// PhaseWords says "mapping run 1", "mapped run 2" or, for a robot that keeps no
// map, "run 1".
func PhaseWords(phase string, trial int) string {
	if phase == "single" || phase == "" {
		return fmt.Sprintf("run"+words.NB+"%d", trial)
	}
	return fmt.Sprintf("%s run"+words.NB+"%d", phase, trial)
}

// marks puts the reservations about runs into one line.
func marks(rs []Run) string {
	var out []string
	for _, r := range rs {
		switch {
		case r.Mark != "" && len(rs) > 1:
			out = append(out, r.Title()+": "+r.Mark)
		case r.Mark != "":
			out = append(out, r.Mark)
		}
	}
	return strings.Join(out, "; ")
}

// share writes one of the run's shares with at most one decimal, so that runs
// beside each other read alike, and with fewer where its uncertainty asks for
// it.
func (r Run) share(v float64) string {
	u := r.ShareSigma
	if words.Decimals(u*100, 1) > 1 {
		u = math.NaN()
	}
	return words.Share(v, u)
}

// Headline is the share of the reachable floor, in a sentence.
func (r Run) Headline() string {
	b := r.Cover.Coverage
	if math.IsNaN(b.ReachableShare) {
		return "Share of the reachable floor: " + words.NotMeasured
	}
	return "Cleaned " + r.share(b.ReachableShare) + " of the reachable floor"
}

// Reached is the share of the reachable floor as the headline has it; "" where it
// could not be measured.
func (r Run) Reached() string {
	if v := r.Cover.Coverage.ReachableShare; !math.IsNaN(v) {
		return r.share(v)
	}
	return ""
}

// Details are the figures that stand beside the headline.
func (r Run) Details(unit words.Unit) string {
	b, m := r.Cover.Coverage, r.Cover.Motion
	parts := []string{
		r.share(b.CoveredShare) + " of all open floor",
		"in " + words.Duration(m.DurationS),
		words.Length(m.DistanceM, math.NaN(), unit) + " driven",
	}
	if !math.IsNaN(b.MeanPasses) {
		parts = append(parts, "each cleaned spot "+words.Times(b.MeanPasses, math.NaN())+" on average")
	}
	if r.Trace != nil && r.Trace.Ended == geom.EndedRecording {
		parts = append(parts, "the recording ended before the run")
	}
	if r.Trace != nil && r.Trace.Ended == geom.EndedLost {
		parts = append(parts, "lost from view before the run ended")
	}
	return strings.Join(parts, " \u00b7 ")
}

// Method says how the figures were measured, for the foot of a picture.
func (r Run) Method(unit words.Unit) string {
	b := r.Cover.Coverage
	width := math.NaN()
	for _, t := range r.Body.Tools {
		if t.Name == r.Cover.Tool {
			width = t.Width
		}
	}
	return fmt.Sprintf("Tool: %s, %s wide \u00b7 grid cell size %s \u00b7 reachable floor %s, open floor %s",
		r.Cover.Tool, words.Length(width, math.NaN(), unit), words.Length(b.CellM, math.NaN(), unit),
		words.Area(r.Cover.Floor.ReachableM2, math.NaN(), unit), words.Area(r.Cover.Floor.OpenM2, math.NaN(), unit))
}

// check returns what is missing to draw a run.
func (r Run) check() error {
	switch {
	case r.Plan == nil || len(r.Plan.Room) < 4:
		return fmt.Errorf("%s: the picture needs the room's plan", r.Title())
	case r.Cover == nil || r.Cover.Grid == nil:
		return fmt.Errorf("%s: the picture needs the coverage result with its raster", r.Title())
	case r.Trace == nil || len(r.Trace.Samples) == 0:
		return fmt.Errorf("%s: the picture needs the path", r.Title())
	}
	return nil
}
