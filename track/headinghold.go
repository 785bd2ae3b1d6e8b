package track

import (
	"math"

	"swathe/geom"
)

// turnWindow is half the time over which it is asked whether a robot that stands
// turns on the spot, s, and turnLeast the least turn within it that is one, rad:
// anything on wheels turns faster than 3 degrees a second.
const (
	turnWindow = 0.6
	turnLeast  = 3 * deg
)

// holdTurns makes the measured headings of a robot whose centre stands, and
// which does not turn on the spot either, one heading: noise would have it turn
// to and fro. It returns that heading at those looks, NaN at all others.
func holdTurns(l []linked, z []angleFix, opt Options) []float64 {
	held := make([]float64, len(l))
	for i := range held {
		held[i] = math.NaN()
	}
	for i := 0; i < len(l); {
		if !l[i].still {
			i++
			continue
		}
		j := i
		var at []int
		for j < len(l) && l[j].still && l[j].rest == l[i].rest {
			if z[j].ok {
				at = append(at, j)
			}
			j++
		}
		for _, s := range steadyTurns(z, at) {
			holdOne(z, held, s, opt)
		}
		i = j
	}
	return held
}

// steadyTurns cuts the measured headings of a standing robot into the stretches
// in which it does not turn: where the middle heading of the moment before and
// of the moment behind are the same.
func steadyTurns(z []angleFix, at []int) (out [][]int) {
	begin := -1
	for k := 0; k <= len(at); k++ {
		steady := false
		if k < len(at) {
			a := aroundTurn(z, at, k, -1)
			b := aroundTurn(z, at, k, 1)
			steady = math.Abs(a-b) < math.Max(turnLeast, 3*math.Sqrt(z[at[k]].r))
		}
		switch {
		case steady && begin < 0:
			begin = k
		case !steady && begin >= 0:
			out = append(out, at[begin:k])
			begin = -1
		}
	}
	return out
}

// aroundTurn is the median of the headings within turnWindow before (dir -1) or
// behind (dir 1) look at[k], that one among them.
func aroundTurn(z []angleFix, at []int, k, dir int) float64 {
	var v []float64
	for m := k; m >= 0 && m < len(at) && math.Abs(z[at[m]].t-z[at[k]].t) <= turnWindow; m += dir {
		v = append(v, z[at[m]].a)
	}
	return geom.Median(v)
}

// holdOne makes the headings of some looks one, and leaves out those of them
// that are far from it: at either end it may be turning already.
func holdOne(z []angleFix, held []float64, s []int, opt Options) {
	n := len(s)
	if n < 4 || z[s[n-1]].t-z[s[0]].t < opt.StillTime {
		return
	}
	var v []float64
	for _, i := range s {
		v = append(v, z[i].a)
	}
	m := geom.Median(v)
	for k := range v {
		v[k] = math.Abs(v[k] - m)
	}
	// 1.4826 sigmas to a median deviation, of a normal distribution.
	tight := math.Max(0.5*deg, 2.5*1.4826*geom.Median(v))
	a, b := 0, n
	for a < b && math.Abs(z[s[a]].a-m) > tight {
		a++
	}
	for b > a && math.Abs(z[s[b-1]].a-m) > tight {
		b--
	}
	if a == b {
		return
	}
	for i := s[a]; i <= s[b-1]; i++ {
		held[i] = m
	}
	for _, i := range s[a:b] {
		z[i].a = m
	}
}

// sameWay is the difference of two directions of travel below which a robot that
// stood between them did not turn, rad, beside what they are uncertain by;
// pivotTime is how long a turn on the spot from one to the other may take, s, and
// oneSide the difference up to which it is taken to have gone the shorter way, rad.
const (
	sameWay   = 10 * deg
	pivotTime = 3.0
	oneSide   = 120 * deg
)

// unseenTurns takes back the headings that were filled in where a robot without a
// picture of its top stood: before it first drives nothing tells its heading;
// between two directions of travel that are one it keeps it; between others it
// turned on the spot, and unless it stood no longer than that takes, nobody
// knows when, nor, where they differ by much, by which side. After the last
// drive the direction of travel is held.
func unseenTurns(l []linked, z []angleFix) {
	for i := 0; i < len(l); {
		if !l[i].still {
			i++
			continue
		}
		j := i
		told := false
		for j < len(l) && l[j].still && l[j].rest == l[i].rest {
			told = told || z[j].ok
			j++
		}
		if !told {
			standsUnseen(l, z, i, j)
		}
		i = j
	}
}

// standsUnseen is unseenTurns for one stand, looks [i, j).
func standsUnseen(l []linked, z []angleFix, i, j int) {
	before, after := i-1, j
	for before >= 0 && !z[before].ok && !cut(l[before].state) {
		before--
	}
	for after < len(l) && !z[after].ok && !cut(l[after].state) {
		after++
	}
	hasBefore := before >= 0 && z[before].ok && !cut(l[before].state)
	hasAfter := after < len(l) && z[after].ok && !cut(l[after].state)
	set := func(h, sigma float64) {
		for k := i; k < j; k++ {
			l[k].pose.Heading, l[k].sigmaH = h, sigma
		}
	}
	if !hasBefore {
		for k := max(before+1, 0); k < j; k++ {
			l[k].pose.Heading = math.NaN()
		}
		return
	}
	sb := math.Sqrt(z[before].r)
	if !hasAfter {
		set(z[before].a, sb)
		return
	}
	d := math.Abs(geom.WrapAngle(z[after].a - z[before].a))
	switch sa := math.Sqrt(z[after].r); {
	case d < sameWay+2*math.Hypot(sb, sa):
		set(z[before].a+geom.WrapAngle(z[after].a-z[before].a)/2, math.Hypot(sb, sa)/2+d/4)
	case z[after].t-z[before].t <= pivotTime && d < oneSide:
		// An even distribution between the two.
		for k := i; k < j; k++ {
			l[k].sigmaH = math.Max(l[k].sigmaH, d/math.Sqrt(12))
		}
	default:
		set(math.NaN(), math.NaN())
		// On either side of the stand it may have been followed as it crept, or as
		// its outline slid: only close to a drive it has the drive's heading.
		for k := before + 1; k < after; k++ {
			if k >= i && k < j || l[k].still {
				continue
			}
			near := before
			if k >= j {
				near = after
			}
			h, sigma := z[near].a, math.Sqrt(z[near].r)
			if math.Abs(l[k].T-l[near].T) > 2*travelSpan {
				h, sigma = math.NaN(), math.NaN()
			}
			l[k].pose.Heading, l[k].sigmaH = h, sigma
		}
	}
}
