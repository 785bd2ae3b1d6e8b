package scene

import (
	"math"

	"swathe/geom"
)

// Sweep is what a cleaning line sweeps, found the slow and obvious way: the
// path is cut into steps of at most a millimetre, and every cell whose middle
// lies in the strip between the line before a step and the line after it is
// touched. It shares no code with the program that measures coverage.
type Sweep struct {
	Cell       float64 // m
	Nx, Ny     int
	X0, Y0     float64  // lower left corner of the grid
	Open       []bool   // floor of the room less its obstacles
	Passes     []uint16 // per cell
	OpenM2     float64
	CoveredM2  float64
	SweptM2    float64
	DistanceM  float64
	Curve      []CurveTruth // share covered, whenever it changed by 1/20000 or more
	lastTravel []float32
}

// CurveTruth is a point of the coverage curve.
type CurveTruth struct{ T, Share float64 }

// CoveredShare is the covered share of the open floor.
func (s *Sweep) CoveredShare() float64 { return s.CoveredM2 / s.OpenM2 }

// Redundancy is swept over covered, less 1.
func (s *Sweep) Redundancy() float64 { return s.SweptM2/s.CoveredM2 - 1 }

// NewSweep sweeps the tool along the scene's path within run, on cells of the
// given size. What is driven while a person holds the robot sweeps nothing.
func NewSweep(s *Scene, tool geom.Tool, run geom.Span, cell float64) *Sweep {
	g := NewGround(s.Plan, 0)
	g.blocks = g.blocks[:len(s.Plan.Obstacles)]
	w := &Sweep{Cell: cell, X0: g.lo.X, Y0: g.lo.Y}
	w.Nx, w.Ny = int(math.Ceil((g.hi.X-g.lo.X)/cell-1e-9)), int(math.Ceil((g.hi.Y-g.lo.Y)/cell-1e-9))
	n := w.Nx * w.Ny
	w.Open, w.Passes, w.lastTravel = make([]bool, n), make([]uint16, n), make([]float32, n)
	for j := range w.Ny {
		for i := range w.Nx {
			p := geom.Point2{X: w.X0 + (float64(i)+0.5)*cell, Y: w.Y0 + (float64(j)+0.5)*cell}
			open := ringHolds(g.room, p)
			for _, b := range g.blocks {
				open = open && !ringHolds(b, p)
			}
			if open {
				w.Open[j*w.Nx+i] = true
				w.OpenM2 += cell * cell
			}
		}
	}
	ends := func(p TimedPose) (l, r geom.Point2) {
		return p.At(geom.Point2{X: tool.Ahead, Y: tool.Left + tool.Width/2}), p.At(geom.Point2{X: tool.Ahead, Y: tool.Left - tool.Width/2})
	}
	travel, last := 0.0, 0.0
	radius := s.Robot.Radius()
	for i := 0; i+1 < len(s.Path); i++ {
		a, b := s.Path[i], s.Path[i+1]
		if a.Held || b.T < run.From || a.T > run.To {
			continue
		}
		if a.T < run.From {
			a = s.Path.At(run.From)
		}
		if b.T > run.To {
			b = s.Path.At(run.To)
		}
		al, ar := ends(a)
		bl, br := ends(b)
		far := max(max(al.Dist(bl), ar.Dist(br)), math.Abs(b.Heading-a.Heading)*tool.Width)
		steps := int(math.Ceil(far / 0.001))
		way := hypot(b.X-a.X, b.Y-a.Y)
		for k := 0; k < steps; k++ {
			u0, u1 := float64(k)/float64(steps), float64(k+1)/float64(steps)
			l0, r0 := ends(between(a, b, u0))
			l1, r1 := ends(between(a, b, u1))
			w.strip([4]geom.Point2{l0, r0, r1, l1}, travel+way*(u0+u1)/2, radius)
		}
		travel += way
		if w.CoveredM2-last > w.OpenM2/20000 {
			last = w.CoveredM2
			w.Curve = append(w.Curve, CurveTruth{b.T, w.CoveredShare()})
		}
	}
	w.DistanceM = travel
	return w
}

func between(a, b TimedPose, u float64) TimedPose {
	return TimedPose{Pose: geom.Pose{X: a.X + u*(b.X-a.X), Y: a.Y + u*(b.Y-a.Y), Heading: a.Heading + u*(b.Heading-a.Heading)}}
}

// strip touches the cells whose middle lies in the quadrilateral, which may
// cross itself (the line turned about a point of its own).
func (w *Sweep) strip(q [4]geom.Point2, travel, radius float64) {
	lo, hi := q[0], q[0]
	for _, p := range q[1:] {
		lo = geom.Point2{X: min(lo.X, p.X), Y: min(lo.Y, p.Y)}
		hi = geom.Point2{X: max(hi.X, p.X), Y: max(hi.Y, p.Y)}
	}
	i0, i1 := w.index(lo.X-w.X0, w.Nx), w.index(hi.X-w.X0, w.Nx)
	j0, j1 := w.index(lo.Y-w.Y0, w.Ny), w.index(hi.Y-w.Y0, w.Ny)
	for j := j0; j <= j1; j++ {
		y := w.Y0 + (float64(j)+0.5)*w.Cell
		// The columns that the quadrilateral crosses at this height, in pairs.
		var xs [4]float64
		n := 0
		a := q[3]
		for _, b := range q {
			if (a.Y > y) != (b.Y > y) {
				xs[n] = a.X + (y-a.Y)/(b.Y-a.Y)*(b.X-a.X)
				for m := n; m > 0 && xs[m] < xs[m-1]; m-- {
					xs[m], xs[m-1] = xs[m-1], xs[m]
				}
				n++
			}
			a = b
		}
		for m := 0; m+1 < n; m += 2 {
			for i := max(i0, w.index(xs[m]-w.X0, w.Nx)); i <= i1; i++ {
				x := w.X0 + (float64(i)+0.5)*w.Cell
				if x >= xs[m+1] {
					break
				}
				if x >= xs[m] {
					w.touch(j*w.Nx+i, travel, radius)
				}
			}
		}
	}
}

func (w *Sweep) index(d float64, n int) int {
	return max(0, min(n-1, int(math.Floor(d/w.Cell))))
}

func (w *Sweep) touch(k int, travel, radius float64) {
	if !w.Open[k] {
		return
	}
	area := w.Cell * w.Cell
	switch {
	case w.Passes[k] == 0:
		w.CoveredM2 += area
	case travel-float64(w.lastTravel[k]) <= radius:
		w.lastTravel[k] = float32(travel)
		return
	}
	w.Passes[k]++
	w.SweptM2 += area
	w.lastTravel[k] = float32(travel)
}

// TimeTo returns when the covered share first reached the given one, s from
// the run's start; NaN if never.
func (s *Sweep) TimeTo(share, start float64) float64 {
	for _, c := range s.Curve {
		if c.Share >= share {
			return c.T - start
		}
	}
	return math.NaN()
}
