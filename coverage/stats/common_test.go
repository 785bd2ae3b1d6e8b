package stats

import (
	"math"
	"math/rand"
	"testing"
)

// Welch's test on published data: the worked example in the documentation of the
// aggregate function welchTTest (clickhouse.com/docs), 3 against 3 values with
// t, p and the ends of the 95 % interval to 16 digits.
func TestWelchPublished(t *testing.T) {
	d := Welch([]float64{18.9, 20.3, 19}, []float64{20.3, 22.1, 21.9}, Part{}, 0.95)
	near(t, "t", d.Value/d.SE, 2.7988719532211235, 1e-9)
	near(t, "p", d.P, 0.051807360348581945, 1e-9)
	near(t, "low", d.Interval.Lo, -0.026294346671631885, 1e-9)
	near(t, "high", d.Interval.Hi, 4.092961013338302, 1e-9)
}

// What runs have in common does not average out: with more and more of them
// the interval narrows to it and no further.
func TestCommonStays(t *testing.T) {
	const seed = 4
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	v := make([]float64, 400)
	for i := range v {
		v[i] = rng.NormFloat64()
	}
	half := func(i Interval) float64 { return (i.Hi - i.Lo) / 2 }
	common := Part{0.5, math.Inf(1)}
	few, many := Mean(v[:3], common, 0.95), Mean(v, common, 0.95)
	near(t, "half-width of 400", half(many.Interval), 1.959964*math.Hypot(many.SD/20, 0.5), 1e-3)
	// G.4 by hand: s^2/3 with 2, 0.25 with infinitely many degrees of freedom.
	a := few.SD * few.SD / 3
	near(t, "degrees of freedom of 3", few.DF, (a+0.25)*(a+0.25)/(a*a/2), 1e-9)
	if alone := Mean(v[:3], Part{}, 0.95); alone.DF != 2 {
		t.Errorf("without a common part %g degrees of freedom", alone.DF)
	}
	d := Welch(v[:200], v[200:], common, 0.95)
	near(t, "half-width of a difference", half(d.Interval), 1.96*math.Hypot(math.Sqrt2/math.Sqrt(200), 0.5), 0.02)
}

// Groups whose runs share an error of which only the size is known: 95 % of the
// intervals hold the truth, which without the common part they do not.
func TestCommonHolds(t *testing.T) {
	const seed, trials = 12, 4000
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	with, without := 0, 0
	for range trials {
		shift := 0.8 * rng.NormFloat64()
		v := make([]float64, 5)
		for i := range v {
			v[i] = shift + rng.NormFloat64()
		}
		if Mean(v, Part{0.8, math.Inf(1)}, 0.95).Interval.Contains(0) {
			with++
		}
		if Mean(v, Part{}, 0.95).Interval.Contains(0) {
			without++
		}
	}
	near(t, "with the common part", float64(with)/trials, 0.95, 0.025) // G.4 is an approximation
	if float64(without)/trials > 0.85 {
		t.Errorf("without it %g hold the truth: the test shows nothing", float64(without)/trials)
	}
}

// Intervals of shares lie within 0 and 1 and hold the mean; of drawn shares
// about 95 % hold the truth, of which Student's own reach beyond 100 %.
func TestShareInterval(t *testing.T) {
	v := []float64{0.985, 0.9995, 0.9865}
	plain := Mean(v, Part{}, 0.95)
	in := ShareInterval(plain.Mean, plain.SE, plain.DF, 0.95)
	t.Logf("three shares, mean %.4f: plain %.4f to %.4f, transformed %.4f to %.4f", plain.Mean, plain.Interval.Lo, plain.Interval.Hi, in.Lo, in.Hi)
	if plain.Interval.Hi <= 1 || in.Hi > 1 || !in.Contains(plain.Mean) {
		t.Errorf("plain %v, transformed %v", plain.Interval, in)
	}
	const seed, trials = 13, 2000
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	gamma := func(k float64) float64 { // Marsaglia and Tsang, k >= 1
		for {
			z, d := rng.NormFloat64(), k-1./3
			c := 1 + z/math.Sqrt(9*d)
			if c > 0 {
				c = c * c * c
				if math.Log(rng.Float64()) < z*z/2+d-d*c+d*math.Log(c) {
					return d * c
				}
			}
		}
	}
	for _, c := range []struct{ mean, sd float64 }{{0.6, 0.1}, {0.9, 0.03}, {0.97, 0.01}, {0.985, 0.01}} {
		k := c.mean*(1-c.mean)/(c.sd*c.sd) - 1
		for _, n := range []int{3, 5, 10} {
			holds, student := 0, 0
			for range trials {
				v := make([]float64, n)
				for i := range v {
					x, y := gamma(c.mean*k), gamma((1-c.mean)*k)
					v[i] = x / (x + y)
				}
				e := Mean(v, Part{}, 0.95)
				iv := ShareInterval(e.Mean, e.SE, e.DF, 0.95)
				if iv.Lo < 0 || iv.Hi > 1 || !iv.Contains(e.Mean) {
					t.Fatalf("%v: %v", v, iv)
				}
				if iv.Contains(c.mean) {
					holds++
				}
				if e.Interval.Contains(c.mean) {
					student++
				}
			}
			got := float64(holds) / trials
			t.Logf("beta %.3f +- %.3f, n %d: %.3f hold it (Student's own: %.3f)", c.mean, c.sd, n, got, float64(student)/trials)
			if got < 0.92 || got > 0.985 {
				t.Errorf("beta %.3f +- %.3f, n %d: %.3f of the intervals hold the mean", c.mean, c.sd, n, got)
			}
		}
	}
}
