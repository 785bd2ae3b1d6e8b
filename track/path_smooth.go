package track

import (
	"math"

	"swathe/geom"
	"swathe/track/sight"
)

// smoothPath fills positions, speeds and sigmas of all looks.
func smoothPath(l []linked, job Job, opt Options) {
	markStill(l, opt)
	restBeyond(l)
	z := make([]fix, len(l))
	for i := range l {
		s := &l[i]
		z[i] = fix{t: s.T, x: s.X, y: s.Y, r: s.Cov, ok: s.Found && s.state == geom.Seen, still: s.still}
		z[i].r[0] += 1e-8
		z[i].r[2] += 1e-8
		z[i].from = i == 0 || cut(l[i-1].state) != cut(s.state) || cut(s.state)
	}
	out := smoothFixes(z, opt.Accel*opt.Accel)
	for i := range l {
		s := &l[i]
		if cut(s.state) && !s.Found {
			s.pose = geom.Pose{X: math.NaN(), Y: math.NaN(), Heading: math.NaN()}
			s.sigma = math.NaN()
			continue
		}
		s.pose = geom.Pose{X: out[i].X[0], Y: out[i].X[1], Heading: math.NaN()}
		s.vx, s.vy = out[i].X[2], out[i].X[3]
		v := (out[i].P.At(0, 0) + out[i].P.At(1, 1)) / 2
		b := pixels(job, s.pose) * bend(s)
		c := 0.0
		if job.CameraSigma != nil {
			if c = job.CameraSigma(geom.Point3{X: s.pose.X, Y: s.pose.Y, Z: job.Robot.Height}); math.IsNaN(c) {
				c = 0
			}
		}
		s.slip = (1 - s.byTop) * pixels(job, s.pose) * sight.Slip(s.RMS)
		s.hop = math.Sqrt(v + c*c + s.slip*s.slip)
		late := rowSigma * math.Hypot(s.vx, s.vy)
		s.sigma = math.Sqrt(v + b*b + c*c + late*late/2) // half of it along each axis
		if s.still {
			s.vx, s.vy = 0, 0
		}
	}
	holdStill(l)
	widenBridges(l, opt)
}

func cut(s geom.State) bool { return s == geom.Lost || s == geom.Carried }

// rowSigma is when a frame's rows may have been exposed, s, about the frame's
// time: a rolling shutter of 8 ms from the first row to the last (common
// practice: 5 to 20 ms), the robot's row being any of them, 8 ms/sqrt(12). The
// tester cannot know it, it shows in no fit, and at 0.3 m/s it is 0.7 mm.
const rowSigma = 0.0023

// What bends all fits near one place alike, px of each coordinate. A shade, a
// reflection or compression that changes by bendShade grey levels a pixel
// across an edge of E grey levels a pixel moves it by their ratio. Edges that lie
// badly on the outline are partly others' edges, the more the worse: bendGrows
// times the sixth power of their scatter, px, up to bendMost (edges strewn by
// chance lie 0.58 px off). From the errors on eight encoded labs of another hand,
// twelve rooms by chance and all drawn traits (trial/ACCURACY.md).
const (
	bendShade  = 0.5
	bendGrows  = 30
	bendMost   = 0.6
	bendMarker = 0.14 // of a place that is from a marker alone
	bendTop    = 0.07 // of a place that is from the picture of the top
)

// bend is what the scatter of one look cannot show, px of each coordinate.
func bend(s *linked) float64 {
	outline := bendMarker
	if s.Edge > 0 {
		outline = math.Hypot(bendShade/s.Edge, bendGrows*math.Pow(math.Min(s.RMS, bendMost), 6))
	}
	return math.Hypot((1-s.byTop)*outline, s.byTop*bendTop)
}

// pixels is the size of a pixel at the robot's top, m; 0 where nothing tells it.
func pixels(job Job, p geom.Pose) float64 {
	if job.Camera == nil {
		return 0
	}
	m := job.Camera.PixelSize(geom.Point3{X: p.X, Y: p.Y, Z: job.Robot.Height})
	if math.IsNaN(m) {
		return 0
	}
	return m
}

// markStill finds the stretches in which the robot stands: all its sightings
// within opt.Still of their mean and no trend, for opt.StillTime or longer.
// Noise of a standing robot would otherwise add up to metres of travel.
func markStill(l []linked, opt Options) {
	n := len(l)
	stretch := 0
	for i := 0; i < n; {
		if !l[i].Found || l[i].state != geom.Seen {
			i++
			continue
		}
		var sx, sy float64
		j, c := i, 0
		lim := opt.Still + 3*noise(&l[i])
		for j < n && (l[j].state == geom.Seen || l[j].state == geom.Bridged) {
			if l[j].Found {
				if c > 0 && math.Hypot(l[j].X-sx/float64(c), l[j].Y-sy/float64(c)) > lim {
					break
				}
				sx += l[j].X
				sy += l[j].Y
				c++
			}
			j++
		}
		end := j - 1
		for end > i && !l[end].Found {
			end--
		}
		if l[end].T-l[i].T < opt.StillTime || c < 4 {
			i++
			continue
		}
		a, b := trim(l, i, end, sx/float64(c), sy/float64(c), lim)
		if l[b].T-l[a].T < opt.StillTime {
			i++
			continue
		}
		stretch++
		for k := a; k <= b; k++ {
			l[k].still, l[k].rest = true, stretch
		}
		i = b + 1
	}
}

func noise(s *linked) float64 { return math.Sqrt((s.Cov[0] + s.Cov[2]) / 2) }

// trim drops from both ends of a still stretch what is already, or still, on
// the move: samples that leave the middle of the rest steadily.
func trim(l []linked, i, j int, mx, my, lim float64) (a, b int) {
	// The middle half gives the place.
	var xs, ys []float64
	for k := i + (j-i)/4; k <= j-(j-i)/4; k++ {
		if l[k].Found {
			xs = append(xs, l[k].X)
			ys = append(ys, l[k].Y)
		}
	}
	if len(xs) > 0 {
		mx, my = geom.Median(xs), geom.Median(ys)
	}
	a, b = i, j
	tight := 0.6 * lim
	for a < b && (!l[a].Found || math.Hypot(l[a].X-mx, l[a].Y-my) > tight) {
		a++
	}
	for b > a && (!l[b].Found || math.Hypot(l[b].X-mx, l[b].Y-my) > tight) {
		b--
	}
	return a, b
}

// holdStill puts all looks of one still stretch on their mean place.
func holdStill(l []linked) {
	for i := 0; i < len(l); {
		if !l[i].still {
			i++
			continue
		}
		j := i
		var sx, sy, n float64
		for j < len(l) && l[j].still && l[j].rest == l[i].rest {
			if l[j].Found {
				sx += l[j].X
				sy += l[j].Y
				n++
			}
			j++
		}
		for k := i; k < j && n > 0; k++ {
			l[k].pose.X, l[k].pose.Y = sx/n, sy/n
			l[k].vx, l[k].vy = 0, 0
		}
		i = j
	}
}

// widenBridges makes sigma grow, in a gap, with what the robot could have done
// meanwhile: from where it vanished and to where it came back at its own speed
// it can have been anywhere within a lens-shaped region, whose half-width is
// taken for two sigma.
func widenBridges(l []linked, opt Options) {
	v := usualSpeed(l)
	i := 1
	for i < len(l) && l[i-1].state == geom.Bridged {
		i++ // it stood there
	}
	for i < len(l) {
		if l[i].state != geom.Bridged {
			i++
			continue
		}
		j := i
		for j < len(l) && l[j].state == geom.Bridged {
			j++
		}
		if j == len(l) {
			break
		}
		a, b := &l[i-1], &l[j]
		t := b.T - a.T
		d := math.Hypot(b.pose.X-a.pose.X, b.pose.Y-a.pose.Y)
		sp := math.Max(v, d/t)
		half := math.Sqrt(math.Max(0, sp*sp*t*t-d*d)) / 2
		for k := i; k < j; k++ {
			m := math.Min(half, sp*math.Min(l[k].T-a.T, b.T-l[k].T))
			l[k].sigma = math.Hypot(l[k].sigma, math.Max(m/2, 0.02*sp*t*4*(l[k].T-a.T)*(b.T-l[k].T)/(t*t)))
		}
		i = j
	}
}

// usualSpeed is the speed that the robot keeps for nine tenths of its way.
func usualSpeed(l []linked) float64 {
	var v []float64
	for i := range l {
		if l[i].state == geom.Seen {
			if s := math.Hypot(l[i].vx, l[i].vy); s > 0.03 {
				v = append(v, s)
			}
		}
	}
	if len(v) == 0 {
		return 0.3
	}
	return geom.Quantile(v, 0.9)
}
