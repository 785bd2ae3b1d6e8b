package conduct

import (
	"math"

	"swathe/geom"
)

// Lane is a straight stretch of the path.
type Lane struct {
	Start, End float64     // s from the first frame
	From, To   geom.Point2 // floor, m
	LengthM    float64
	Direction  float64 // rad, direction of travel
	RMSM       float64 // m, of the path about its straight line
	NewShare   float64 // of what it swept, floor that was new; NaN if it swept nothing
	Block      int     // index in Rows.Blocks; -1 if it is no part of rows

	first, last int // ticks
}

// offset returns how far p lies to the left of the lane's line, and how far
// along it, m.
func (l Lane) offset(p geom.Point2) (left, along float64) {
	s, c := math.Sincos(l.Direction)
	d := p.Sub(l.From)
	return c*d.Y - s*d.X, c*d.X + s*d.Y
}

// laneTurn is how far travel or heading may lean from a lane's direction, rad:
// what turns by more than a few degrees has left it.
const laneTurn = 12 * math.Pi / 180

// straights finds the stretches of the path of at least the given length that
// stay within LaneBend of a straight line.
func (r *run) straights(length float64) []Lane {
	var out []Lane
	n := len(r.ticks)
	moves := func(k tick) bool { return k.known && k.v > 1.5*r.opt.StandSpeed }
	for i := 0; i < n; {
		if !moves(r.ticks[i]) {
			i++
			continue
		}
		j := r.grow(i, moves)
		l, ok := r.lane(i, j)
		if !ok || l.LengthM < length {
			i++
			// Beginnings within a turn give nothing: the next tick may.
			continue
		}
		out = append(out, l)
		i = j + 1
	}
	return out
}

// grow returns the last tick of the straight stretch that begins at tick i.
func (r *run) grow(i int, moves func(tick) bool) int {
	n := len(r.ticks)
	a := r.ticks[i]
	j := i
	for j+1 < n {
		k := r.ticks[j+1]
		if !moves(k) || math.Abs(k.turning) > 4*r.opt.StandTurn {
			break
		}
		d := k.dist(a)
		dir := a.course
		if d > 0.1 {
			dir = math.Atan2(k.y-a.y, k.x-a.x)
		}
		// The course of a slow tick is uncertain; a fast one that leans has left.
		if math.Abs(geom.WrapAngle(k.course-dir)) > laneTurn || d > 0.1 && math.Abs(geom.WrapAngle(a.course-dir)) > laneTurn {
			break
		}
		if d > 0.1 && (j-i)%5 == 4 && r.bends(i, j+1) {
			break
		}
		j++
	}
	for j > i && r.bends(i, j) {
		j--
	}
	return j
}

// bends tells whether the path from tick i to j leaves the line between its
// ends by more than LaneBend.
func (r *run) bends(i, j int) bool {
	a, b := r.ticks[i].at(), r.ticks[j].at()
	d := b.Sub(a)
	l := d.Norm()
	if l == 0 {
		return false
	}
	for k := i + 1; k < j; k++ {
		u := r.ticks[k].at().Sub(a)
		if math.Abs(d.X*u.Y-d.Y*u.X)/l > r.opt.LaneBend {
			return true
		}
	}
	return false
}

// lane fits a straight line to ticks i to j, by least squares of the distances
// to it.
func (r *run) lane(i, j int) (Lane, bool) {
	if j-i < 3 {
		return Lane{}, false
	}
	n := float64(j - i + 1)
	var mx, my, xx, xy, yy float64
	for k := i; k <= j; k++ {
		mx, my = mx+r.ticks[k].x/n, my+r.ticks[k].y/n
	}
	for k := i; k <= j; k++ {
		x, y := r.ticks[k].x-mx, r.ticks[k].y-my
		xx, xy, yy = xx+x*x, xy+x*y, yy+y*y
	}
	dir := math.Atan2(2*xy, xx-yy) / 2
	s, c := math.Sincos(dir)
	a, b := r.ticks[i], r.ticks[j]
	if (b.x-a.x)*c+(b.y-a.y)*s < 0 {
		dir = geom.WrapAngle(dir + math.Pi)
		s, c = -s, -c
	}
	on := func(k tick) geom.Point2 {
		u := (k.x-mx)*c + (k.y-my)*s
		return geom.Point2{X: mx + u*c, Y: my + u*s}
	}
	rest := (xx+yy)/2 - math.Hypot((xx-yy)/2, xy)
	l := Lane{Start: a.t, End: b.t, From: on(a), To: on(b), Direction: dir, RMSM: math.Sqrt(math.Max(0, rest) / n), Block: -1, first: i, last: j}
	l.LengthM = l.From.Dist(l.To)
	d := r.between(a.t, b.t)
	l.NewShare = math.NaN()
	if d.swept > 0 {
		l.NewShare = d.new / d.swept
	}
	return l, true
}
