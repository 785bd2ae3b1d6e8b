package doubt

import (
	"fmt"
	"math"
	"slices"

	"swathe/coverage"
	"swathe/coverage/stats"
)

// bins is how finely a curve is cut to find a time.
const bins = coverage.CurveBins

// curve is the covered share (of the open or of the reachable floor) at the end
// of each bin.
type curve []float64

// curveOf turns counts of cells into shares; a cell is this share of the floor.
func curveOf(cells []int32, share float64) curve {
	c := make(curve, bins)
	for i, n := range cells {
		c[i] = float64(n) * share
	}
	return c
}

// cross returns the time at which f first reaches the level, +Inf if never.
func cross(dur, level float64, f func(i int) float64) float64 {
	before := 0.0
	for i := 0; i < bins; i++ {
		v := f(i)
		if v >= level {
			u := 1.0
			if v > before {
				u = (level - before) / (v - before)
			}
			return dur * (float64(i) + math.Min(1, math.Max(0, u))) / bins
		}
		before = v
	}
	return math.Inf(1)
}

// LaneEfficiency is the name of Economy.LaneEfficiency.
const LaneEfficiency = "economy.lane_efficiency"

// values are the simple figures of a block, a run or a floor.
type values struct {
	names []string
	v     []float64
}

func (l *values) add(name string, v float64) {
	l.names, l.v = append(l.names, name), append(l.v, v)
}

func blockValues(b coverage.Block) values {
	var l values
	l.add("covered_m2", b.CoveredM2)
	l.add("covered_share", b.CoveredShare)
	l.add("reachable_share", b.ReachableShare)
	l.add("reachable_m2", b.ReachableM2)
	l.add("swept_m2", b.SweptM2)
	l.add("mean_passes", b.MeanPasses)
	l.add("redundancy", b.Redundancy)
	for i, m2 := range b.PassesM2 {
		l.add("passes_m2."+[]string{"0", "1", "2", "3", "4+"}[i], m2)
	}
	l.add(LaneEfficiency, b.Economy.LaneEfficiency)
	l.add("plateau_s", b.PlateauS)
	l.add("tail_s", b.TailS)
	l.add("rate_m2_per_min", b.RateM2PerMin)
	return l
}

func runValues(m coverage.Motion) values {
	var l values
	l.add("duration_s", m.DurationS)
	l.add("distance_m", m.DistanceM)
	l.add("moving_share", m.MovingShare)
	l.add("mean_speed_mps", m.MeanSpeedMPS)
	return l
}

func floorValues(f coverage.Floor) values {
	var l values
	l.add("open_m2", f.OpenM2)
	l.add("reachable_m2", f.ReachableM2)
	return l
}

// most is the largest value that a figure can truly have.
func most(name string, measured float64) float64 {
	switch name {
	case "covered_share", "reachable_share", "moving_share":
		return math.Max(1, measured)
	}
	return math.Inf(1)
}

// block turns a draw into a possible truth for every figure of one tool.
type block struct {
	pub    coverage.Block // as published
	zero   values         // undrawn, on the drawn runs' cells
	own    curve          // the undrawn curve of the open floor, cells
	open   curve          // the same as shares
	reach  curve          // and of the reachable floor; nil if that is not known
	dur    float64
	raster float64 // relative standard uncertainty of the covered area by its cells
	cell   float64
	zeroB  coverage.Block
}

func newBlock(pub, zero coverage.Block, cells coverage.Curves, dur, openM2 float64) *block {
	b := &block{pub: pub, zero: blockValues(zero), dur: dur, cell: zero.CellM, zeroB: zero}
	a := zero.CellM * zero.CellM
	b.own = curveOf(cells.Open, 1)
	b.open = curveOf(cells.Open, a/openM2)
	if zero.ReachableM2 > 0 {
		b.reach = curveOf(cells.Reach, a/zero.ReachableM2)
	}
	if pub.RasterShare > 0 && pub.CoveredShare > 0 {
		b.raster = pub.RasterShare / pub.CoveredShare
	}
	return b
}

// times appends the possible true times of a draw: to the levels of the open
// floor, then of the reachable floor. drawn nil: the undrawn run itself.
func (b *block) times(out []float64, drawn *coverage.Block, cells coverage.Curves, openM2 float64) []float64 {
	a := b.cell * b.cell
	one := func(zero curve, cells []int32, pubShare, zeroShare, area float64, pub [5]float64) {
		if zero == nil || !(area > 0) {
			for range coverage.Levels {
				out = append(out, math.NaN())
			}
			return
		}
		// What the coarser cells get wrong in the end they are taken to get
		// wrong all along.
		coarse := 0.0
		if zeroShare > 0 {
			coarse = pubShare / zeroShare
		}
		d := zero
		if drawn != nil {
			d = curveOf(cells, a/area)
		}
		for i, lv := range coverage.Levels {
			level := float64(lv) / 100
			own := cross(b.dur, level, func(k int) float64 { return coarse * zero[k] })
			t := own
			if drawn != nil {
				t = cross(b.dur, level, func(k int) float64 { return coarse * (2*zero[k] - d[k]) })
			}
			if !math.IsInf(t, 1) && !math.IsInf(own, 1) && !math.IsNaN(pub[i]) {
				t += pub[i] - own
			}
			out = append(out, math.Max(0, t))
		}
	}
	open, reachable := openM2, b.zeroB.ReachableM2
	if drawn != nil {
		reachable = drawn.ReachableM2
	}
	one(b.open, cells.Open, b.pub.CoveredShare, b.zeroB.CoveredShare, open, b.pub.TimeTo)
	one(b.reach, cells.Reach, b.pub.ReachableShare, b.zeroB.ReachableShare, reachable, b.pub.TimeToReachable)
	return out
}

// plateau replaces the plateau and the tail of v, which jump where a curve is
// flat, by those found along the curve, as the times are.
func (b *block) plateau(v []float64, cells []int32) {
	if math.IsNaN(b.pub.PlateauS) || len(cells) == 0 {
		return
	}
	d := curveOf(cells, 1)
	last := len(v) - 1 // the rate
	at := func(c func(k int) float64) float64 { return cross(b.dur, 0.99*c(bins-1), c) }
	moved := at(func(k int) float64 { return 2*b.own[k] - d[k] }) - at(func(k int) float64 { return b.own[k] })
	v[last-2] = math.Min(b.dur, math.Max(0, b.pub.PlateauS+moved))
	v[last-1] = math.Max(0, b.pub.TailS-moved)
}

var timeNames = func() []string {
	var out []string
	for _, what := range []string{"time_to_s", "time_to_reachable_s"} {
		for _, lv := range coverage.Levels {
			out = append(out, fmt.Sprintf("%s.%d", what, lv))
		}
	}
	return out
}()

// truth returns measured less the change that the draw made, for each figure.
func truth(pub, zero, drawn values) []float64 {
	out := make([]float64, len(pub.v))
	for i := range out {
		v := pub.v[i] - (drawn.v[i] - zero.v[i])
		if pub.names[i] == LaneEfficiency { // worse than random search is below 0
			out[i] = v
			continue
		}
		out[i] = math.Min(most(pub.names[i], pub.v[i]), math.Max(0, v))
		if math.IsNaN(v) {
			out[i] = v
		}
	}
	return out
}

// addRaster adds z standard uncertainties of the raster to the figures that the
// covered area enters, and y to those that count passes. The border of what was
// swept, every pass for itself, is much longer than that of what was covered,
// and its lanes run with the cells: there the difference between the published
// figure and the one on askew cells stands for the standard uncertainty.
func (b *block) addRaster(v []float64, pub values, z, y float64) {
	e := z * b.raster
	for i, n := range pub.names {
		switch n {
		case "covered_m2", "covered_share", "reachable_share", "rate_m2_per_min":
			v[i] = math.Min(most(n, pub.v[i]), v[i]+e*v[i])
		case LaneEfficiency:
			v[i] += e * b.pub.Economy.Share / (b.pub.Economy.Perfect - b.pub.Economy.Random)
		case "passes_m2.0":
			v[i] = math.Max(0, v[i]-e*b.pub.CoveredM2)
		case "swept_m2", "mean_passes", "redundancy", "passes_m2.1", "passes_m2.2", "passes_m2.3", "passes_m2.4+":
			v[i] = math.Max(0, v[i]+y*(pub.v[i]-b.zero.v[i]))
		}
	}
}

// figureOf sums up the possible truths of one figure. Draws without a value
// ("the robot does not fit at its start") are left out; if they are more than
// the interval leaves out anyway, nothing can be said.
func figureOf(draws []float64, level, published float64) Figure {
	var ok []float64
	never := 0
	for _, v := range draws {
		if !math.IsNaN(v) {
			ok = append(ok, v)
		}
		if math.IsInf(v, 1) {
			never++
		}
	}
	n := math.NaN()
	if len(ok) < 2 || float64(len(draws)-len(ok)) > (1-level)*float64(len(draws)) {
		return Figure{n, n, n, n}
	}
	iv := stats.Symmetric(ok, level)
	f := Figure{n, iv.Lo, iv.Hi, n}
	if math.IsInf(f.Lo, 1) {
		f.Lo = n
	}
	if math.IsInf(f.Hi, 1) {
		f.Hi = n
	}
	if never == 0 {
		mean, sd := stats.MeanSD(ok)
		f.U, f.Bias = sd, published-mean
	}
	return f
}

// columns are the draws of several figures.
type columns struct {
	names []string
	pub   []float64   // the published figures
	v     [][]float64 // by draw, then figure
}

func (c columns) figures(level float64) map[string]Figure {
	out := make(map[string]Figure, len(c.names))
	draws := make([]float64, len(c.v))
	for k, name := range c.names {
		for i := range c.v {
			draws[i] = c.v[i][k]
		}
		out[name] = figureOf(draws, level, c.pub[k])
	}
	// The contract's time to full is the time to 99 % of the reachable floor.
	if f, ok := out["time_to_reachable_s.99"]; ok {
		out["time_to_full_s"] = f
	}
	return out
}

func sortedNames[V any](m map[string]V) []string {
	var out []string
	for n := range m {
		out = append(out, n)
	}
	slices.Sort(out)
	return out
}
