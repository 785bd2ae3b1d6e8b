package residue

import (
	"math"

	"swathe/geom"
)

// Shots are pictures of a patch laid out on the floor, seen from above at one
// scale, x to the right and y up: RGB, 8 bits, and the colour difference.
type Shots struct {
	W        int     `json:"w"`
	H        int     `json:"h"`
	X0       float64 `json:"x0"`      // m, left edge
	Y0       float64 `json:"y0"`      // m, lower edge
	PixelM   float64 `json:"pixel_m"` // side of one of its pixels
	Before   []byte  `json:"before"`
	After    []byte  `json:"after"`
	DeltaBef []byte  `json:"difference_before"` // CIEDE2000 times 4, cut at 255
	DeltaAft []byte  `json:"difference_after"`
}

// mostShot is the widest a shot is made, px.
const mostShot = 600

func newShots(g Ground, outline []geom.Point2, b, a *light, cb, ca *change) *Shots {
	r := cb.roi
	low, high := outline[0], outline[0]
	for _, p := range outline {
		low.X, low.Y, high.X, high.Y = min(low.X, p.X), min(low.Y, p.Y), max(high.X, p.X), max(high.Y, p.Y)
	}
	side := math.Max(r.side/1.5, math.Max(high.X-low.X, high.Y-low.Y)/mostShot)
	s := &Shots{W: int(math.Ceil((high.X - low.X) / side)), H: int(math.Ceil((high.Y - low.Y) / side)), X0: low.X, Y0: low.Y, PixelM: side}
	n := s.W * s.H
	s.Before, s.After, s.DeltaBef, s.DeltaAft = make([]byte, 3*n), make([]byte, 3*n), make([]byte, n), make([]byte, n)
	sb, sa := cb.smoothed(0.7), ca.smoothed(0.7)
	at := func(l []float32, x, y float64) float64 {
		i, j := min(max(int(x), 0), r.w-2), min(max(int(y), 0), r.h-2)
		fx, fy := float32(x-float64(i)), float32(y-float64(j))
		p, q := l[j*r.w+i:], l[(j+1)*r.w+i:]
		return float64((p[0]*(1-fx)+p[1]*fx)*(1-fy) + (q[0]*(1-fx)+q[1]*fx)*fy)
	}
	for v := range s.H {
		for u := range s.W {
			p := geom.Point2{X: low.X + (float64(u)+0.5)*side, Y: high.Y - (float64(v)+0.5)*side}
			px, ok := g.Pixel(p)
			if !ok {
				continue
			}
			x, y := px.X-float64(r.x0), px.Y-float64(r.y0)
			i := v*s.W + u
			for c := range 3 {
				s.Before[3*i+c] = byte(min(max(at(b.c[c], x, y)+0.5, 0), 255))
				s.After[3*i+c] = byte(min(max(at(a.c[c], x, y)+0.5, 0), 255))
			}
			k := min(max(int(y+0.5), 0), r.h-1)*r.w + min(max(int(x+0.5), 0), r.w-1)
			s.DeltaBef[i] = byte(min(4*cb.differs(sb, k), 255))
			s.DeltaAft[i] = byte(min(4*ca.differs(sa, k), 255))
		}
	}
	return s
}
