package coverage

import (
	"math"

	"swathe/geom"
)

// discSlack keeps centres that lie on a disc's rim inside it although the
// squares are rounded: a billionth of a cell.
const discSlack = 1e-9

// disc sweeps a side brush, a disc about a body point, from pose p to pose q:
// the cells within its reach of the segment between its two places. A cell that
// stays under it is touched until the step's end.
func (s *sweeper) disc(b geom.SideBrush, p, q point) {
	body := geom.Point2{X: b.Ahead, Y: b.Left}
	from := s.toGrid(geom.Pose{X: p.x, Y: p.y, Heading: p.h}.At(body))
	to := s.toGrid(geom.Pose{X: q.x, Y: q.y, Heading: q.h}.At(body))
	rad := b.Reach*s.inv + discSlack
	dx, dy := to.x-from.x, to.y-from.y
	len2 := dx*dx + dy*dy
	j0 := max(0, ceil(math.Min(from.y, to.y)-rad))
	j1 := min(s.ny-1, int(math.Floor(math.Max(from.y, to.y)+rad)))
	for j := j0; j <= j1; j++ {
		y := float64(j)
		xl, xr := capsuleRow(from, to, rad, y)
		i0, i1 := max(0, ceil(xl)), min(s.nx-1, int(math.Floor(xr)))
		for i := i0; i <= i1; i++ {
			// The disc is over the cell between the two roots of
			// |from + u d - c|^2 = rad^2.
			ux, uy := float64(i)-from.x, y-from.y
			in, out := 0.0, 1.0
			if len2 > 0 {
				m := (ux*dx + uy*dy) / len2
				w := math.Sqrt(math.Max(0, m*m-(ux*ux+uy*uy-rad*rad)/len2))
				in, out = clamp01(m-w), clamp01(m+w)
			}
			s.touch(j*s.nx+i, int64((p.s+in*(q.s-p.s))*s.perMetre), int64((p.s+out*(q.s-p.s))*s.perMetre), p.t+in*(q.t-p.t))
		}
	}
}

func clamp01(x float64) float64 { return math.Max(0, math.Min(1, x)) }

// capsuleRow returns the extent in row y of the points within rad of the segment
// p-q; the first is greater than the second if there are none.
func capsuleRow(p, q spot, rad, y float64) (xl, xr float64) {
	xl, xr = math.Inf(1), math.Inf(-1)
	for _, c := range [2]spot{p, q} {
		if h := rad*rad - (y-c.y)*(y-c.y); h >= 0 {
			w := math.Sqrt(h)
			xl, xr = math.Min(xl, c.x-w), math.Max(xr, c.x+w)
		}
	}
	// The two long sides, offset by rad to either side of the segment.
	if d := math.Hypot(q.x-p.x, q.y-p.y); d > 0 {
		nx, ny := -(q.y-p.y)/d*rad, (q.x-p.x)/d*rad
		for _, sgn := range [2]float64{1, -1} {
			a, b := p.y+sgn*ny, q.y+sgn*ny
			if a != b && (a <= y) != (b <= y) {
				x := p.x + sgn*nx + (y-a)*(q.x-p.x)/(b-a)
				xl, xr = math.Min(xl, x), math.Max(xr, x)
			}
		}
	}
	return xl, xr
}
