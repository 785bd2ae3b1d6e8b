package track

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"swathe/geom"
)

// fix is a measured position with its covariance; still adds that the robot
// does not move. A fix without Ok is a moment that only wants a position.
type fix struct {
	t     float64
	x, y  float64
	r     [3]float64 // var x, cov xy, var y
	ok    bool
	still bool
	from  bool // no motion links this moment to the one before
}

// stillVar is the variance of the speed of a robot that stands, (m/s)^2.
const stillVar = 1e-8

// smoothFixes returns states of x, y and their speeds at moments in increasing
// time, under white acceleration of spectral density q (m^2/s^3) on both axes.
func smoothFixes(z []fix, q float64) []geom.Motion {
	pred, filt, dt := make([]geom.Motion, len(z)), make([]geom.Motion, len(z)), make([]float64, len(z))
	stands := mat.NewDiagDense(2, []float64{stillVar, stillVar})
	for i, f := range z {
		if i == 0 || f.from {
			pred[i] = diffuse(z[i:])
		} else {
			dt[i] = f.t - z[i-1].t
			pred[i] = filt[i-1].Predict(dt[i], q)
		}
		filt[i] = pred[i]
		if f.ok {
			filt[i] = filt[i].Update(0, []float64{f.x, f.y}, mat.NewSymDense(2, []float64{f.r[0], f.r[1], f.r[1], f.r[2]}))
		}
		if f.still {
			filt[i] = filt[i].Update(2, []float64{0, 0}, stands)
		}
	}
	geom.Smooth(filt, pred, dt)
	return filt
}

// diffuse starts at the first measured position, with a speed of 0 +- 1 m/s.
func diffuse(z []fix) geom.Motion {
	x := make([]float64, 4)
	for _, f := range z {
		if f.ok {
			x[0], x[1] = f.x, f.y
			break
		}
	}
	return geom.NewMotion(x, []float64{100, 100, 1, 1})
}

// angleFix is a measured heading for the smoother.
type angleFix struct {
	t, a, r float64
	ok      bool
	cut     bool // nothing links this moment to the one before
	still   bool // the centre stands (it may turn all the same)
}

// smoothAngles returns states of the heading and its rate, under white angular
// acceleration of spectral density q. A heading without any measurement in its
// stretch is NaN.
func smoothAngles(z []angleFix, q float64) []geom.Motion {
	pred, filt, dt := make([]geom.Motion, len(z)), make([]geom.Motion, len(z)), make([]float64, len(z))
	for i, f := range z {
		if i == 0 || f.cut {
			start := math.NaN()
			for k := i; k < len(z) && (k == i || !z[k].cut); k++ {
				if z[k].ok {
					start = z[k].a
					break
				}
			}
			pred[i] = geom.NewMotion([]float64{start, 0}, []float64{1e4, 4})
		} else {
			dt[i] = f.t - z[i-1].t
			from := filt[i-1]
			// Without a measurement the rate dies out within a second or so:
			// a robot that is not seen to turn is not made to spin.
			if !f.ok && !z[i-1].ok {
				from.X = []float64{from.X[0], from.X[1] * math.Exp(-dt[i]/0.5)}
			}
			pred[i] = from.Predict(dt[i], q)
			pred[i].P.SetSym(1, 1, math.Min(pred[i].P.At(1, 1), 40))
		}
		filt[i] = pred[i]
		if f.ok {
			// One wild angle must not swing the rest.
			r, e := f.r, f.a-pred[i].X[0]
			if s := pred[i].P.At(0, 0) + r; math.Abs(e) > 6*math.Sqrt(s)+0.1 {
				r += e * e
			}
			filt[i] = pred[i].Update(0, []float64{f.a}, mat.NewSymDense(1, []float64{r}))
		}
	}
	geom.Smooth(filt, pred, dt)
	return filt
}
