package scene

import (
	"math"

	"swathe/geom"
)

// Carry is what a person does with the robot: grip it, lift it, walk with it
// and put it down at a place, in the given time in all.
func (p *Pilot) Carry(to geom.Pose, lift, seconds float64) {
	from, t0 := p.pose, p.t
	turn := geom.WrapAngle(to.Heading - from.Heading)
	n := int(math.Ceil(seconds / p.opt.Step))
	p.path[len(p.path)-1].Held = true
	for i := 1; i <= n; i++ {
		u := float64(i) / float64(n)
		// Held still at either end, up in the first third, down in the last.
		k := smoothstep(0.15, 0.85, u)
		z := lift * smoothstep(0.1, 0.35, u) * (1 - smoothstep(0.65, 0.9, u))
		p.t = t0 + seconds*u
		p.pose = geom.Pose{X: from.X + k*(to.X-from.X), Y: from.Y + k*(to.Y-from.Y), Heading: from.Heading + k*turn}
		p.path = append(p.path, TimedPose{T: p.t, Pose: p.pose, Lift: z, Held: i < n})
	}
}

// Stuck turns, jerks and reverses on the spot for so many seconds.
func (p *Pilot) Stuck(seconds float64) {
	began := p.t
	for p.t < began+seconds {
		p.Turn(geom.Radians(15 + 40*p.r.Float()))
		p.Straight(-0.03)
		p.Turn(geom.Radians(-20 - 40*p.r.Float()))
		p.Straight(0.03)
		p.Pause(0.3)
	}
	p.Note("stuck", began, p.t-began, "s")
}

// Bump drives straight until the body is within gap, m, of something, is stopped
// there as by a bumper, without braking, backs off and turns by a, rad.
func (p *Pilot) Bump(gap, a float64) {
	s, c := math.Sincos(p.pose.Heading)
	d := 0.0
	for p.g.Clear(geom.Point2{X: p.pose.X + (d+0.0005)*c, Y: p.pose.Y + (d+0.0005)*s}) >= p.reach+gap && d < 20 {
		d += 0.0005
	}
	p.Into(d)
	began := p.t
	p.Pause(0.5)
	p.Straight(-0.08)
	p.Turn(a)
	p.Note("contact", began, gap, "m")
}

// Swerve drives on, then turns aside by a, rad, where nothing stands, and goes
// on for ahead, m.
func (p *Pilot) Swerve(a, ahead float64) {
	began := p.t
	p.Arc(0.15, a)
	p.Note("swerve", began, geom.Degrees(a), "deg")
	p.Straight(ahead)
}

// Again drives along a line that was driven before, there and back.
func (p *Pilot) Again(line ...geom.Point2) {
	began, from := p.t, p.path.travel(p.t)
	p.Follow(line)
	p.Note("revisit", began, p.path.travel(p.t)-from, "m")
}

// OnAreas returns the path with the robot raised to the height of the areas
// that it stands on, rising and sinking as its middle crosses their edges.
func OnAreas(path Path, plan *geom.Plan) Path {
	out := append(Path(nil), path...)
	for _, a := range plan.Areas {
		if a.Height <= 0 {
			continue
		}
		r := ring(a.Outline)
		for i := range out {
			q := geom.Point2{X: out[i].X, Y: out[i].Y}
			d := ringDist(r, q)
			if ringHolds(r, q) {
				d = -d
			}
			// The wheels climb over some centimetres.
			out[i].Lift += a.Height * (1 - smoothstep(-0.03, 0.03, d))
		}
	}
	return out
}

// Escort returns a person who walks in from a place, carries the robot as path
// holds it from one time to another, and walks off. The person stands behind
// the robot as seen from the side they come from.
func Escort(path Path, from, to float64, entry geom.Point2) Person {
	a, b := path.At(from), path.At(to)
	h := math.Atan2(a.Y-entry.Y, a.X-entry.X)
	stand := func(p TimedPose) geom.Pose {
		return geom.Pose{X: p.X - 0.5*math.Cos(h), Y: p.Y - 0.5*math.Sin(h), Heading: h}
	}
	way := hypot(a.X-entry.X, a.Y-entry.Y)
	walk := Path{{T: from - 0.8 - way/1.1, Pose: geom.Pose{X: entry.X, Y: entry.Y, Heading: h}}, {T: from - 0.7, Pose: stand(a)}}
	for i := 0; i <= 20; i++ {
		t := from + (to-from)*float64(i)/20
		walk = append(walk, TimedPose{T: t, Pose: stand(path.At(t))})
	}
	off := stand(b)
	out := hypot(off.X-entry.X, off.Y-entry.Y)
	back := h + math.Pi
	if out > 0.1 {
		back = math.Atan2(entry.Y-off.Y, entry.X-off.X)
	}
	back = h + geom.WrapAngle(back-h)
	walk = append(walk,
		TimedPose{T: to + 0.7, Pose: off},
		TimedPose{T: to + 1.3, Pose: geom.Pose{X: off.X, Y: off.Y, Heading: back}},
		TimedPose{T: to + 1.3 + max(out, 0.2)/1.1, Pose: geom.Pose{X: entry.X, Y: entry.Y, Heading: back}})
	p := NewPerson(walk)
	p.Touch = []Touching{{Span: geom.Span{From: from, To: to}, Grip: true}}
	return p
}

// Push returns the path of a thing that lies on the floor and gives way to the
// robot: whenever the body would overlap it, it slides out of the way by the
// shortest move. Its outline is about its own middle; at is where it lies.
func Push(path Path, robot geom.Robot, outline []geom.Point2, at geom.Pose) Path {
	out := Path{{Pose: at}}
	body := robot.Body(96)
	for _, q := range path {
		if q.Lift > 0.05 {
			continue
		}
		moved := false
		for range 8 {
			dx, dy := overlap(body, q.Pose, outline, at)
			if dx == 0 && dy == 0 {
				break
			}
			if !moved && q.T > out[len(out)-1].T {
				// It lay still until now.
				out = append(out, TimedPose{T: q.T - min(0.001, (q.T-out[len(out)-1].T)/2), Pose: at})
			}
			at.X, at.Y = at.X+dx, at.Y+dy
			moved = true
		}
		if moved && q.T > out[len(out)-1].T {
			out = append(out, TimedPose{T: q.T, Pose: at})
		}
	}
	return out
}

// overlap returns the shortest move of outline that frees it from the body, by
// separating axes over both outlines' edges; zero if they do not overlap.
// Both are convex.
func overlap(body []geom.Point2, pose geom.Pose, outline []geom.Point2, at geom.Pose) (dx, dy float64) {
	if hypot(pose.X-at.X, pose.Y-at.Y) > 3 {
		return 0, 0
	}
	a, b := make([]geom.Point2, len(body)), make([]geom.Point2, len(outline))
	for i := range body {
		a[i] = pose.At(body[i])
	}
	for i := range outline {
		b[i] = at.At(outline[i])
	}
	best := math.Inf(1)
	for pass, r := range [][]geom.Point2{a, b} {
		for i := range r {
			n := normal(r[i], r[(i+1)%len(r)])
			if pass == 1 {
				n = n.Scale(-1)
			}
			// n points from the body towards the thing.
			far, near := math.Inf(-1), math.Inf(1)
			for _, p := range a {
				far = max(far, p.X*n.X+p.Y*n.Y)
			}
			for _, p := range b {
				near = min(near, p.X*n.X+p.Y*n.Y)
			}
			d := far - near
			if d <= 1e-9 {
				return 0, 0
			}
			if d < best {
				best, dx, dy = d, n.X*d, n.Y*d
			}
		}
	}
	return dx, dy
}
