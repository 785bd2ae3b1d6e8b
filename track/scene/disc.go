package scene

import "math"

// The round robot on clear floor is nearly all that moves in nearly every
// frame, so its rays are followed here without the generality of painter.ray.
// The two must agree: TestQuickRaysAgree.

// discRays returns the mean colour of the pixel's rays where nothing but the
// round robot (actor number 0) and clear floor can be met.
func (p *painter) discRays(pat *pattern, c *cell, under BGR) BGR {
	var sum BGR
	n := len(p.bodies)
	r := p.bodies[0].r
	k1, k0 := 1-p.bodies[0].z1/p.H, 1-p.bodies[0].z0/p.H
	half := float64(p.topN) / 2
	scale := half / p.s.Robot.Reach()
	gloss := p.s.Look.Robot.Gloss > 0
	misses := float32(0)
	for q := range pat.u {
		x, y := c.at(pat.u[q], pat.v[q])
		b := &p.bodies[q%n]
		x, y = x-p.cx, y-p.cy
		ox, oy := p.cx-b.x, p.cy-b.y
		ax, ay := ox+x*k1, oy+y*k1
		rho := ax*ax + ay*ay
		if rho <= r*r {
			i, j := int((b.c*ax+b.s*ay)*scale+half), int((b.c*ay-b.s*ax)*scale+half)
			t := p.top[max(0, min(p.topN-1, j))*p.topN+max(0, min(p.topN-1, i))]
			var g float32
			if gloss {
				g = p.gloss(ax, ay)
			}
			sum[0] += float32(t&255) + g
			sum[1] += float32(t>>8&255) + g
			sum[2] += float32(t>>16) + g
			continue
		}
		dx, dy := x*(k0-k1), y*(k0-k1)
		qa, qb := dx*dx+dy*dy, ax*dx+ay*dy
		disc := qb*qb - qa*(rho-r*r)
		if disc <= 0 || qb >= 0 {
			misses++
			continue
		}
		t := (-qb - math.Sqrt(disc)) / qa
		if t > 1 {
			misses++
			continue
		}
		h := hit{z: b.z1 + t*(b.z0-b.z1), nx: (ax + t*dx) / r, ny: (ay + t*dy) / r}
		col := p.robotColor(h, p.robot.Lift)
		sum[0] += col[0]
		sum[1] += col[1]
		sum[2] += col[2]
	}
	return BGR{sum[0] + misses*under[0], sum[1] + misses*under[1], sum[2] + misses*under[2]}.Scale(1 / float32(len(pat.u)))
}
