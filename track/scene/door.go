package scene

import (
	"math"

	"swathe/geom"
)

// door lays the door's shadow over the picture.
func (p *painter) door(d *Door, t float64) {
	a := angleAt(d.Angles, t)
	r := p.box(1, drum{d.Hinge.X, d.Hinge.Y, d.Reach, 0, 0})
	for j := r.Min.Y; j < r.Max.Y; j++ {
		for i := r.Min.X; i < r.Max.X; i++ {
			k := j*(p.w+1) + i
			x, y := float64(p.fx[k])-d.Hinge.X, float64(p.fy[k])-d.Hinge.Y
			rho := hypot(x, y)
			if math.IsNaN(rho) || rho > d.Reach+d.Softness || rho == 0 {
				continue
			}
			turn := geom.WrapAngle(math.Atan2(y, x) - a)
			// Distance inside the sector from its two edges and its rim.
			in := min(rho*math.Sin(clamp(turn, -1.5, 1.5)), rho*math.Sin(clamp(d.Width-turn, -1.5, 1.5)))
			in = min(in, d.Reach-rho)
			dark := d.Dark * smoothstep(-d.Softness/2, d.Softness/2, in)
			if dark <= 0 {
				continue
			}
			f := uint32((1 - dark) * 65536)
			q := p.buf[3*(j*p.w+i) : 3*(j*p.w+i)+3]
			for c := range q {
				q[c] = uint16(uint32(q[c]) * f >> 16)
			}
		}
	}
	p.dirty = append(p.dirty, r)
}

func angleAt(a []TimedAngle, t float64) float64 {
	if len(a) == 0 {
		return 0
	}
	for i := 1; i < len(a); i++ {
		if t < a[i].T {
			k := clamp((t-a[i-1].T)/(a[i].T-a[i-1].T), 0, 1)
			return a[i-1].Angle + k*(a[i].Angle-a[i-1].Angle)
		}
	}
	return a[len(a)-1].Angle
}
