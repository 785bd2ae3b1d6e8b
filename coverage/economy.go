package coverage

import (
	"math"
	"slices"
)

// leastGap is how far apart the two laws of search must be for a run's place
// between them to mean anything: half a percent of the floor, which the tool's
// width alone may cost.
const leastGap = 0.005

// RandomSearch returns the share that random search covers with effort c, the
// swept area over the floor's: 1 - exp(-c). PerfectLanes returns min(1, c).
// B. O. Koopman, "Search and Screening", 1946: the year as later books on search
// cite it (E. Kagan and I. Ben-Gal), the formula also in open lecture notes.
func RandomSearch(c float64) float64 { return -math.Expm1(-c) }

// PerfectLanes returns the share that lanes without overlap cover with effort c.
func PerfectLanes(c float64) float64 { return math.Min(1, c) }

// economyOf places a run between the two laws.
func economyOf(sweptM2, reachM2, share float64) Economy {
	c := ratio(sweptM2, reachM2)
	e := Economy{Effort: c, Perfect: PerfectLanes(c), Random: RandomSearch(c), Share: share, LaneEfficiency: math.NaN()}
	if gap := e.Perfect - e.Random; gap > leastGap {
		e.LaneEfficiency = (share - e.Random) / gap
	}
	return e
}

// curve returns the coverage over time: swept and covered floor from what each
// interval swept, within which they grow in proportion to the time, and the
// reachable share from when each cell of the mask was first touched.
func (m *measurer) curve(steps []Step, mask []bool, reachM2 float64) []CurvePoint {
	run := m.trace.Run
	if !(run.To > run.From) {
		return []CurvePoint{}
	}
	n := int(math.Ceil((run.To-run.From)/m.opt.CurveStep - 1e-9))
	out := make([]CurvePoint, 0, n+1)
	ss := m.trace.Samples
	size := 0
	for k, in := range mask {
		if in && m.grid.Passes[k] > 0 {
			size++
		}
	}
	within := make([]float32, 0, size) // when reachable cells were first touched
	for k, in := range mask {
		if in && m.grid.Passes[k] > 0 {
			within = append(within, m.grid.First[k])
		}
	}
	slices.Sort(within)
	touched, cell := 0, m.grid.Cell*m.grid.Cell
	var done Step // all of the intervals before i
	i := 0
	prevCovered, prevT := 0.0, run.From
	for k := 0; k <= n; k++ {
		t := math.Min(run.From+float64(k)*m.opt.CurveStep, run.To)
		for i < len(steps) && ss[i+1].T <= t {
			done.NewM2 += steps[i].NewM2
			done.PassM2 += steps[i].PassM2
			done.DistanceM += steps[i].DistanceM
			i++
		}
		at := done
		if i < len(steps) && ss[i].T < t {
			from := math.Max(ss[i].T, run.From)
			u := (t - from) / (math.Min(ss[i+1].T, run.To) - from)
			at.NewM2 += u * steps[i].NewM2
			at.PassM2 += u * steps[i].PassM2
			at.DistanceM += u * steps[i].DistanceM
		}
		for touched < len(within) && (float64(within[touched]) <= t || k == n) {
			touched++
		}
		p := CurvePoint{
			T: t, CoveredShare: math.Min(1, ratio(at.NewM2, m.openM2)), ReachableShare: ratio(math.Min(float64(touched)*cell, reachM2), reachM2),
			SweptM2: at.PassM2, DistanceM: at.DistanceM,
			NewM2PerMin: math.NaN(), Effort: ratio(at.PassM2, reachM2),
		}
		p.Perfect, p.Random = PerfectLanes(p.Effort), RandomSearch(p.Effort)
		if t > prevT {
			p.NewM2PerMin = (at.NewM2 - prevCovered) / (t - prevT) * 60
		}
		prevCovered, prevT = at.NewM2, t
		out = append(out, p)
	}
	return out
}
