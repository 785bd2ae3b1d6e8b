package figure

import (
	"math"
	"math/rand"
	"sync"
	"testing"

	"swathe/coverage"
	"swathe/geom"
)

// setRing sets the ring at r to the polygon of the given corners, x and y in turn.
func setRing[R ~[]P, P ~[2]float64](r *R, xy ...float64) {
	for i := 0; i+1 < len(xy); i += 2 {
		*r = append(*r, P{xy[i], xy[i+1]})
	}
	*r = append(*r, (*r)[0])
}

// fixture is a run made by hand, so that the pictures depend on nothing but
// this package: a serpentine in a cluttered room, its cells stamped with discs.
// The figures are plausible, not measured.
//
// It is made once; a caller that changes it must copy what it changes.
func fixture(testing.TB) Run {
	r := made()
	cover := *r.Cover
	r.Cover = &cover
	return r
}

var made = sync.OnceValue(func() Run {
	plan := &geom.Plan{
		Name:      "parlour",
		Obstacles: []geom.Piece{{Name: "sofa", Height: 0.4}, {Name: "stool", Height: 0.4}},
		Overhead:  []geom.Piece{{Name: "table", Height: 0.7}},
	}
	setRing(&plan.Room, 0, 0, 4.2, 0, 4.2, 2.1, 3.4, 2.1, 3.4, 3.1, 0, 3.1)
	setRing(&plan.Obstacles[0].Outline, 1, 2.3, 2.6, 2.3, 2.6, 3.1, 1, 3.1)
	setRing(&plan.Obstacles[1].Outline, 3.2, 0.8, 3.5, 0.8, 3.5, 1.1, 3.2, 1.1)
	setRing(&plan.Overhead[0].Outline, 1.2, 0.7, 2.2, 0.7, 2.2, 1.4, 1.2, 1.4)
	body := geom.Robot{Name: "wren", Diameter: 0.34, Height: 0.09, Tools: []geom.Tool{{Name: "brush", Width: 0.2}}}
	tr := &geom.Trace{Run: geom.Span{From: 4, To: 0}, Started: geom.StartedAtRest, Ended: geom.EndedStood}
	rng := rand.New(rand.NewSource(7))
	t := 4.0
	x, y := 0.2, 0.2
	add := func(state geom.State) {
		tr.Samples = append(tr.Samples, geom.Sample{T: t, X: x, Y: y, Speed: 0.25, State: state, Sigma: 0.002})
		t += 0.2
	}
	drive := func(tx, ty float64) {
		for math.Hypot(tx-x, ty-y) > 0.05 {
			d := math.Hypot(tx-x, ty-y)
			x += (tx-x)/d*0.05 + rng.NormFloat64()*0.003
			y += (ty-y)/d*0.05 + rng.NormFloat64()*0.003
			state := geom.Seen
			if x > 1.3 && x < 2.1 && y > 0.75 && y < 1.35 {
				state = geom.Bridged
			}
			add(state)
		}
	}
	for i := 0; i < 10; i++ {
		ly := 0.2 + 0.19*float64(i)
		if i%2 == 0 {
			drive(0.2, ly)
			if ly > 0.6 && ly < 1.3 {
				drive(3.0, ly)
			} else {
				drive(4.0, ly)
			}
		} else {
			if ly > 0.6 && ly < 1.3 {
				drive(3.0, ly)
			} else {
				drive(4.0, ly)
			}
			drive(0.2, ly)
		}
	}
	for _, p := range [][2]float64{{0.8, 2.1}, {0.8, 2.9}, {0.2, 2.9}, {0.4, 2.2}, {2.9, 1.9}, {2.9, 2.9}, {3.2, 2.9}, {3.1, 2.2}, {0.3, 0.3}, {3.9, 0.3}, {0.4, 1.8}} {
		drive(p[0], p[1])
	}
	tr.Run.To, tr.Length = t-0.2, t+3
	return Run{Layout: "parlour", Robot: "wren", Phase: "mapping", Trial: 1, Plan: plan, Body: body, Trace: tr, Cover: stamp(plan, tr)}
})

// stamp fills a result from discs of 0.1 m radius.
func stamp(plan *geom.Plan, tr *geom.Trace) *coverage.Result {
	const cell, rad = 0.01, 0.1
	g := &coverage.Grid{Cell: cell, Nx: 420, Ny: 310}
	n := g.Nx * g.Ny
	g.Flags, g.Passes = make([]uint8, n), make([]uint16, n)
	g.First, g.Dwell = make([]float32, n), make([]float32, n)
	in := func(r []pt, p geom.Point2) bool { return inside(r, pt{p.X, p.Y}) }
	flat := view{k: 1, cos: 1}
	room, sofa, stool := flat.ring(corners(plan.Room)), flat.ring(corners(plan.Obstacles[0].Outline)), flat.ring(corners(plan.Obstacles[1].Outline))
	near := func(p geom.Point2, d float64) bool {
		for a := 0.0; a < 2*math.Pi; a += math.Pi / 8 {
			q := geom.Point2{X: p.X + d*math.Cos(a), Y: p.Y + d*math.Sin(a)}
			if !in(room, q) || in(sofa, q) || in(stool, q) {
				return true
			}
		}
		return false
	}
	for k := range g.Flags {
		p := g.Centre(k)
		g.First[k] = float32(math.NaN())
		if !in(room, p) || in(sofa, p) || in(stool, p) {
			continue
		}
		g.Flags[k] = coverage.FlagOpen
		if !near(p, 0.07) {
			g.Flags[k] |= coverage.FlagReachable
		}
		if p.X > 3.7 && p.Y > 1.5 && p.Y < 1.8 {
			g.Flags[k] |= coverage.FlagUnknown
		}
	}
	res := &coverage.Result{Tool: "brush", Grid: g}
	last := make([]int, n)
	var open, reach, covered, coveredReach, swept, dist float64
	for k := range g.Flags {
		if g.Flags[k]&coverage.FlagOpen != 0 {
			open += cell * cell
		}
		if g.Flags[k]&coverage.FlagReachable != 0 {
			reach += cell * cell
		}
	}
	for i, s := range tr.Samples {
		if i > 0 {
			dist += math.Hypot(s.X-tr.Samples[i-1].X, s.Y-tr.Samples[i-1].Y)
		}
		for dy := -rad; dy <= rad; dy += cell {
			for dx := -rad; dx <= rad; dx += cell {
				k := g.Index(geom.Point2{X: s.X + dx, Y: s.Y + dy})
				if k < 0 || dx*dx+dy*dy > rad*rad || g.Flags[k]&coverage.FlagOpen == 0 {
					continue
				}
				g.Dwell[k] += 0.2
				if g.Passes[k] == 0 {
					g.First[k] = float32(s.T)
					covered += cell * cell
					if g.Flags[k]&coverage.FlagReachable != 0 {
						coveredReach += cell * cell
					}
				}
				if g.Passes[k] == 0 || i-last[k] > 12 {
					g.Passes[k]++
					swept += cell * cell
				}
				last[k] = i
			}
		}
		if i%5 == 0 || i == len(tr.Samples)-1 {
			c := swept / reach
			res.Curve = append(res.Curve, coverage.CurvePoint{T: s.T, CoveredShare: covered / open, ReachableShare: coveredReach / reach,
				SweptM2: swept, DistanceM: dist, Effort: c, Perfect: math.Min(1, c), Random: 1 - math.Exp(-c)})
		}
	}
	nan := math.NaN()
	b := coverage.Block{CellM: cell, CoveredM2: covered, CoveredShare: covered / open, ReachableShare: coveredReach / reach,
		SweptM2: swept, MeanPasses: swept / covered, Redundancy: swept/covered - 1, RasterShare: 0.0006}
	for i, l := range coverage.Levels {
		b.TimeTo[i], b.TimeToReachable[i] = nan, nan
		for _, p := range res.Curve {
			if p.ReachableShare*100 >= float64(l) && math.IsNaN(b.TimeToReachable[i]) {
				b.TimeToReachable[i] = p.T - tr.Run.From
			}
			if p.CoveredShare*100 >= float64(l) && math.IsNaN(b.TimeTo[i]) {
				b.TimeTo[i] = p.T - tr.Run.From
			}
		}
	}
	res.Coverage = b
	res.Floor = coverage.Floor{OpenM2: open, ReachableM2: reach}
	d := tr.Run.To - tr.Run.From
	res.Motion = coverage.Motion{DurationS: d, KnownS: d, DistanceM: dist, MovingShare: 0.96, MeanSpeedMPS: dist / d / 0.96, StartX: 0.2, StartY: 0.2}
	return res
}
