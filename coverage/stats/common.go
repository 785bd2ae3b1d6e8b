package stats

import "math"

// Part is a standard uncertainty with its degrees of freedom, infinite where it
// is taken as known exactly. The zero Part contributes nothing.
type Part struct{ U, DF float64 }

// known tells whether the part contributes anything.
func (p Part) known() bool { return p.U > 0 }

// Estimate is the mean of some values with what is known of it. NaN: so few
// values do not give it.
type Estimate struct {
	Mean, SD float64
	SE, DF   float64 // of the mean, what the values have in common included
	Interval Interval
}

// Mean returns the mean of v, whose scatter averages out (s^2/n, n - 1 degrees
// of freedom) and what they have in common does not; the two add in squares,
// with the effective degrees of freedom of JCGM 100:2008, G.4. No interval for
// fewer than MinInterval values.
func Mean(v []float64, common Part, level float64) Estimate {
	n := math.NaN()
	e := Estimate{n, n, n, n, NoInterval}
	e.Mean, e.SD = MeanSD(v)
	if len(v) < MinInterval {
		return e
	}
	e.SE, e.DF = sum(Part{e.SD / math.Sqrt(float64(len(v))), float64(len(v) - 1)}, common)
	h := TQuantile((1+level)/2, e.DF) * e.SE
	e.Interval = Interval{e.Mean - h, e.Mean + h}
	return e
}

// MeanInterval is the interval of the mean of values that have nothing in common.
func MeanInterval(v []float64, level float64) Interval { return Mean(v, Part{}, level).Interval }

// sum adds independent parts in squares.
func sum(parts ...Part) (u, df float64) {
	var us, nu []float64
	for _, p := range parts {
		if p.known() {
			us, nu = append(us, p.U), append(nu, p.DF)
			u = math.Hypot(u, p.U)
		}
	}
	return u, EffectiveDF(us, nu)
}

// ShareInterval returns the interval of a mean share m with standard error se
// and df degrees of freedom by the angular transform: 2 asin sqrt(m), on which
// a share's scatter does not depend on the share, plus and minus t se / sqrt(m (1-m)),
// cut off at its ends and turned back. So it stays within 0 and 1 and holds m.
// Where m is 0 or 1 every share was: there is no interval.
// (F. J. Anscombe, "The transformation of Poisson, binomial and negative-binomial
// data", Biometrika 35, 1948.)
func ShareInterval(m, se, df, level float64) Interval {
	if !(m > 0 && m < 1) || !(se >= 0) {
		return NoInterval
	}
	at := 2 * math.Asin(math.Sqrt(m))
	h := TQuantile((1+level)/2, df) * se / math.Sqrt(m*(1-m))
	back := func(a float64) float64 {
		s := math.Sin(math.Min(math.Pi, math.Max(0, a)) / 2)
		return s * s
	}
	return Interval{math.Min(m, back(at-h)), math.Max(m, back(at+h))}
}
