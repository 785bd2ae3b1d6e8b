package conduct

import (
	"math"
	"slices"

	"swathe/geom"
)

// Ways of driving, as Rows.Pattern spells them.
const (
	PatternRows   = "rows"              // half of the way or more in rows
	PatternPartly = "partly in rows"    // less of it
	PatternRandom = "random"            // no rows, straight stretches in all directions
	PatternNone   = "neither"           // no rows, and no sign of chance either
	PatternShort  = "too short to tell" // too little way to tell
)

// Rows are the parallel lanes that a run drove.
type Rows struct {
	Pattern   string
	Lanes     []Lane   // every straight stretch long enough, in order; those of rows have a Block
	Blocks    []Block  // rows of one direction, in order
	Changes   []Change // of direction from one block to the next
	RowsM     float64  // way in lanes of rows
	StraightM float64  // way in all lanes
	Spread    float64  // of the straight stretches' directions: 0 all at right angles or parallel, 1 all over; NaN for fewer than 5
}

// Block is a group of neighbouring parallel lanes.
type Block struct {
	Start, End  float64 // s from the first frame
	Direction   float64 // rad, of half a turn: lanes run both ways
	Lanes       int
	LengthM     float64 // of its lanes
	SpacingM    float64 // median between neighbouring lanes; NaN if none overlap
	SpacingSD   float64 // m, standard deviation; NaN for fewer than two
	Spacings    []float64
	OverlapM    float64 // width of the tool less SpacingM; negative: strips left between
	RMSM        float64 // m, of the lanes about their straight lines
	NewShare    float64 // of what its lanes swept; NaN if nothing
	SecondLayer bool    // a later layer across floor that was clean
}

// Change is one from a direction of rows to another.
type Change struct {
	T        float64 // s from the first frame: start of the first lane in the new direction
	From, To float64 // rad
}

// Neighbouring lanes lie this share of the tool's width apart: nearer is the
// same lane again, farther leaves a strip as wide as the tool.
const (
	nearRow = 0.3
	farRow  = 2.0
)

// chainLanes is how many lanes later the neighbour of a lane may come: short
// hops round an obstacle stand between two lanes of a row.
const chainLanes = 3

// neighbours tells whether two lanes lie beside each other as rows do: parallel,
// a row apart all along, and abreast over a third of the shorter.
func (r *run) neighbours(a, b Lane) bool {
	w := r.robot.Tools[0].Width
	turn := geom.WrapAngle(2*(a.Direction-b.Direction)) / 2
	if math.Abs(turn) > r.opt.RowAngle {
		return false
	}
	o1, u1 := a.offset(b.From)
	o2, u2 := a.offset(b.To)
	if u1 > u2 {
		o1, u1, o2, u2 = o2, u2, o1, u1
	}
	lo, hi := math.Max(0, u1), math.Min(a.LengthM, u2)
	if hi-lo < math.Min(a.LengthM, b.LengthM)/3 {
		return false
	}
	ok := func(o float64) bool {
		return math.Abs(o) >= nearRow*w && math.Abs(o) <= farRow*w
	}
	at := func(u float64) float64 { return o1 + (o2-o1)*(u-u1)/(u2-u1) }
	return ok(at(lo)) && ok(at(hi)) && at(lo)*at(hi) > 0
}

// rows finds the lanes and which of them are rows.
func (r *run) rows() Rows {
	res := Rows{Lanes: r.straights(r.opt.LaneLength), Blocks: []Block{}, Changes: []Change{}, Spread: math.NaN()}
	ls := res.Lanes
	if ls == nil {
		res.Lanes = []Lane{}
	}
	// Chains of lanes, each the neighbour of one shortly before.
	group := make([]int, len(ls))
	for i := range group {
		group[i] = i
	}
	var root func(int) int
	root = func(i int) int {
		if group[i] != i {
			group[i] = root(group[i])
		}
		return group[i]
	}
	for i := range ls {
		for k := i + 1; k < len(ls) && k <= i+chainLanes; k++ {
			if r.neighbours(ls[i], ls[k]) {
				group[root(k)] = root(i)
			}
		}
	}
	members := map[int][]int{}
	for i := range ls {
		members[root(i)] = append(members[root(i)], i)
	}
	var blocks [][]int
	for i := range ls {
		if m := members[i]; float64(len(m)) >= r.opt.RowLanes {
			blocks = append(blocks, m)
		}
	}
	r.join(ls, blocks)
	blocks = r.layers(ls, blocks)
	for k, m := range blocks {
		b := r.block(ls, m)
		for _, i := range m {
			ls[i].Block = k
			res.RowsM += ls[i].LengthM
		}
		res.Blocks = append(res.Blocks, b)
	}
	for k := 1; k < len(res.Blocks); k++ {
		a, b := res.Blocks[k-1], res.Blocks[k]
		if math.Abs(geom.WrapAngle(2*(a.Direction-b.Direction)))/2 > geom.Radians(20) {
			res.Changes = append(res.Changes, Change{b.Start, a.Direction, b.Direction})
		}
	}
	for _, l := range ls {
		res.StraightM += l.LengthM
	}
	res.Spread = spread(ls)
	res.Pattern = r.pattern(res)
	return res
}

// join adds to each block the other lanes that run with it: pieces of lanes that
// an obstacle cut, and neighbours that the robot came to only later, but before
// it went over to other rows.
func (r *run) join(ls []Lane, blocks [][]int) {
	taken := make([]bool, len(ls))
	for _, m := range blocks {
		for _, i := range m {
			taken[i] = true
		}
	}
	for k := range blocks {
		direction := r.block(ls, blocks[k]).Direction
		until := len(ls) - 1
		if k+1 < len(blocks) {
			until = blocks[k+1][0] - 1
		}
		for grown := true; grown; {
			grown = false
			m := blocks[k]
			for i := max(0, m[0]-1); i <= until; i++ {
				if !taken[i] && math.Abs(geom.WrapAngle(2*(ls[i].Direction-direction)))/2 <= r.opt.RowAngle && r.runsWith(ls, m, i) {
					blocks[k] = append(blocks[k], i)
					taken[i], grown = true, true
				}
			}
			slices.Sort(blocks[k])
		}
	}
}

// runsWith tells whether lane i is a neighbour of one of lanes m, or a piece
// between them in time that lies near one of them.
func (r *run) runsWith(ls []Lane, m []int, i int) bool {
	for _, o := range m {
		off, _ := ls[o].offset(ls[i].From)
		near := math.Abs(off) <= farRow*r.robot.Tools[0].Width && i > m[0] && i < m[len(m)-1]
		if near || r.neighbours(ls[o], ls[i]) {
			return true
		}
	}
	return false
}

// layers cuts a block where it comes back over a lane of its own: that begins
// another layer, or is only the way along a lane already driven, which is left
// out.
func (r *run) layers(ls []Lane, blocks [][]int) [][]int {
	var out [][]int
	for _, m := range blocks {
		var now []int
		end := func() {
			if float64(len(now)) >= r.opt.RowLanes {
				out = append(out, now)
			}
			now = nil
		}
		for _, i := range m {
			for _, o := range now {
				if r.retraces(ls[o], ls[i]) {
					end()
					break
				}
			}
			now = append(now, i)
		}
		end()
	}
	return out
}

// retraces tells whether b runs along a's line over half of its length.
func (r *run) retraces(a, b Lane) bool {
	if math.Abs(geom.WrapAngle(2*(a.Direction-b.Direction)))/2 > r.opt.RowAngle {
		return false
	}
	near := nearRow * r.robot.Tools[0].Width
	o1, u1 := a.offset(b.From)
	o2, u2 := a.offset(b.To)
	return math.Abs(o1) < near && math.Abs(o2) < near &&
		math.Min(a.LengthM, math.Max(u1, u2))-math.Max(0, math.Min(u1, u2)) > b.LengthM/2
}

// block sums up lanes m.
func (r *run) block(ls []Lane, m []int) Block {
	b := Block{Start: ls[m[0]].Start, End: ls[m[len(m)-1]].End, Lanes: len(m), SpacingM: math.NaN(), SpacingSD: math.NaN(), OverlapM: math.NaN(), NewShare: math.NaN()}
	var s, c, sq float64
	var swept, fresh float64
	for _, i := range m {
		l := ls[i]
		sn, cs := math.Sincos(2 * l.Direction)
		s, c = s+l.LengthM*sn, c+l.LengthM*cs
		b.LengthM += l.LengthM
		sq += l.LengthM * l.RMSM * l.RMSM
		d := r.between(l.Start, l.End)
		swept, fresh = swept+d.swept, fresh+d.new
	}
	b.Direction = math.Atan2(s, c) / 2
	// From -half a degree on, so that lanes along x read 0 and not now 0, now 180.
	if b.Direction < -geom.Radians(0.5) {
		b.Direction += math.Pi
	}
	b.RMSM = math.Sqrt(sq / b.LengthM)
	if swept > 0 {
		b.NewShare = fresh / swept
		b.SecondLayer = b.NewShare < r.opt.SecondLayerShare
	}
	b.Spacings = r.spacings(ls, m, b.Direction)
	if len(b.Spacings) > 0 {
		b.SpacingM = geom.Median(b.Spacings)
		b.OverlapM = r.robot.Tools[0].Width - b.SpacingM
	}
	if n := float64(len(b.Spacings)); n > 1 {
		mean, v := 0.0, 0.0
		for _, x := range b.Spacings {
			mean += x / n
		}
		for _, x := range b.Spacings {
			v += (x - mean) * (x - mean)
		}
		b.SpacingSD = math.Sqrt(v / (n - 1))
	}
	return b
}

// spacings returns from each lane the distance to the next one across, where
// the two are abreast.
func (r *run) spacings(ls []Lane, m []int, direction float64) []float64 {
	s, c := math.Sincos(direction)
	type strip struct{ v, lo, hi float64 }
	var st []strip
	for _, i := range m {
		l := ls[i]
		u1, u2 := l.From.X*c+l.From.Y*s, l.To.X*c+l.To.Y*s
		v1, v2 := -l.From.X*s+l.From.Y*c, -l.To.X*s+l.To.Y*c
		st = append(st, strip{(v1 + v2) / 2, math.Min(u1, u2), math.Max(u1, u2)})
	}
	slices.SortFunc(st, func(a, b strip) int {
		switch {
		case a.v < b.v:
			return -1
		case a.v > b.v:
			return 1
		}
		return 0
	})
	w := r.robot.Tools[0].Width
	var out []float64
	for i, a := range st {
		for _, b := range st[i+1:] {
			d := b.v - a.v
			if d > farRow*w {
				break
			}
			if d < nearRow*w || math.Min(a.hi, b.hi)-math.Max(a.lo, b.lo) < math.Min(a.hi-a.lo, b.hi-b.lo)/3 {
				continue
			}
			out = append(out, d)
			break
		}
	}
	return out
}

// spread is 1 less the resultant length of the directions taken four times, by
// length: lanes along and across a room have a spread of 0 (K. V. Mardia and
// P. E. Jupp, "Directional Statistics": from memory).
func spread(ls []Lane) float64 {
	if len(ls) < 5 {
		return math.NaN()
	}
	var s, c, all float64
	for _, l := range ls {
		sn, cs := math.Sincos(4 * l.Direction)
		s, c, all = s+l.LengthM*sn, c+l.LengthM*cs, all+l.LengthM
	}
	return 1 - math.Hypot(s, c)/all
}

// randomSpread is the spread above which the directions of randomLanes or more
// straight stretches count as chance: of n directions by chance the resultant is
// about 1/sqrt(n), so that of 20 the spread is rarely below a half.
const (
	randomSpread = 0.5
	randomLanes  = 10
)

// pattern classes the way that the run drove.
func (r *run) pattern(s Rows) string {
	way := r.between(r.trace.Run.From, r.trace.Run.To).dist
	switch {
	case s.RowsM >= way/2 && s.RowsM > 0:
		return PatternRows
	case s.RowsM > 0:
		return PatternPartly
	case len(s.Lanes) < randomLanes || way < 10*r.diameter():
		return PatternShort
	case s.Spread >= randomSpread:
		return PatternRandom
	}
	return PatternNone
}

// Erratic is how much a stretch of the run turned for each metre.
type Erratic struct {
	Start        float64 `json:"start_s"` // from the first frame
	End          float64 `json:"end_s"`
	DistanceM    float64 `json:"distance_m"`
	TurnDeg      float64 `json:"turn_deg"`       // sum of all turning, whichever the sense
	TurnPerMetre float64 `json:"turn_deg_per_m"` // degrees per metre; NaN where it hardly moved
}

// erraticStep is the time over which a turn is taken, s, and erraticLeast the
// least one that counts, rad: less is the heading's own noise.
const (
	erraticStep  = 0.5
	erraticLeast = 2 * math.Pi / 180
)

// erratic returns the turning per metre, every Options.ErraticTime.
func (r *run) erratic() []Erratic {
	out := []Erratic{}
	run := r.trace.Run
	n := max(1, int(math.Round((run.To-run.From)/r.opt.ErraticTime)))
	hop := ticksIn(erraticStep)
	for k := 0; k < n; k++ {
		e := Erratic{Start: run.From + float64(k)*(run.To-run.From)/float64(n), End: run.From + float64(k+1)*(run.To-run.From)/float64(n), TurnPerMetre: math.NaN()}
		e.DistanceM = r.between(e.Start, e.End).dist
		for i := r.tickAt(e.Start); i+hop <= r.tickAt(e.End); i += hop {
			a, b := r.ticks[i], r.ticks[i+hop]
			if !a.known || !b.known {
				continue
			}
			if d := math.Abs(r.meanHeading(b.t) - r.meanHeading(a.t)); d > erraticLeast {
				e.TurnDeg += geom.Degrees(d)
			}
		}
		if e.DistanceM > r.diameter() {
			e.TurnPerMetre = e.TurnDeg / e.DistanceM
		}
		out = append(out, e)
	}
	return out
}
