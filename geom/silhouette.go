package geom

import (
	"math"
	"slices"
)

// OutlinePoint is one point of an Outline.
type OutlinePoint struct {
	Px     Point2 // pixel frame
	Normal Point2 // unit length, pixel frame, out of the body
	Source Point3 // floor frame, m: the point of the body that shows here
	Body   Point2 // body frame, m: the same point, without its height
	Top    bool   // it belongs to the rim of the top; false: to the base or the side

	// Corner marks a corner of the body, where Normal is only the middle of
	// two directions. A fit that weighs distances along the normal does better
	// without these points; areas need them.
	Corner bool

	// Jac is d(Px)/d(x, y, heading) with the body point held: pixels per metre
	// and per radian. Along the normal it is also the movement of the outline
	// itself, for an outline is the envelope of the body's points (the
	// material point moves along its line of sight or along the rim, which
	// does not shift the outline).
	Jac [2][3]float64
}

// Outline is a closed curve in the picture, in the order in which it goes
// counter-clockwise round the body on the floor. It has no points where a part
// of the body lies outside the lens's field or the lens is not above the body.
// It can be filled again and again by SetSilhouette and SetTopRim without
// allocating; the zero value is ready to use.
type Outline struct {
	Points []OutlinePoint
	hull   []Point2
	sorted []Point2
}

// sideSteps is the number of steps along each of the two upright edges of a
// silhouette: under lens distortion such an edge is a curve. Its sagitta is
// below 0.02 px for a 0.1 m high body in all the lenses of the tests, so two
// steps would do; four keep the points' spacing even.
const sideSteps = 4

// Silhouette returns the outline that a robot of this body and height (to its shoulder) shows
// in the picture when it stands at pose on a floor of the given height (m):
// that of all between its base and its displaced top, lens distortion and all.
// It has about n points, evenly spread on the body. The points' polygon is
// inscribed in a round body: its area is short by (2 pi/n)^2/6 of itself.
//
// Of a body with notches only those edges are outline that nothing of the body
// stands before or behind. Nothing is clipped to the frame, and nothing
// else that may stand before the robot is considered.
func Silhouette(cam *Camera, robot Robot, pose Pose, floorHeight float64, n int) Outline {
	var o Outline
	o.SetSilhouette(cam, robot, pose, floorHeight, n)
	return o
}

// TopRim returns the rim of the robot's top in the picture, about n points.
func TopRim(cam *Camera, robot Robot, pose Pose, floorHeight float64, n int) Outline {
	var o Outline
	o.SetTopRim(cam, robot, pose, floorHeight, n)
	return o
}

// pen adds points of one robot at one pose to an Outline.
type pen struct {
	o      *Outline
	cam    *Camera
	pose   Pose
	s, c   float64 // sine and cosine of the heading
	round  bool
	bad    bool
	mirror float64 // +1 where floor to pixel keeps its sense, -1 where it turns it

	// Of a body with notches: its outline, the lens in the body frame and its
	// height, the heights of base and top. See alone.
	notches []Point2
	lens    Point2
	lensZ   float64
	z0, z1  float64
}

// add appends body point b at height z. tx, ty, tz is the direction of the
// curve there (floor frame axes, body turned already).
func (p *pen) add(b Point2, z float64, t Point3, top, corner bool) {
	src := Point3{p.pose.X + p.c*b.X - p.s*b.Y, p.pose.Y + p.s*b.X + p.c*b.Y, z}
	px, j, ok := p.cam.ProjectJac(src)
	if !ok {
		p.bad = true
		return
	}
	if p.mirror == 0 {
		p.mirror = math.Copysign(1, j[0][0]*j[1][1]-j[0][1]*j[1][0])
	}
	tu := j[0][0]*t.X + j[0][1]*t.Y + j[0][2]*t.Z
	tv := j[1][0]*t.X + j[1][1]*t.Y + j[1][2]*t.Z
	k := p.mirror / math.Sqrt(tu*tu+tv*tv)
	pt := OutlinePoint{Px: px, Normal: Point2{tv * k, -tu * k}, Source: src, Body: b, Top: top, Corner: corner}
	pt.Jac[0][0], pt.Jac[0][1] = j[0][0], j[0][1]
	pt.Jac[1][0], pt.Jac[1][1] = j[1][0], j[1][1]
	if !p.round {
		// d(source)/d(heading), across the arm from the turning centre.
		ax, ay := -(src.Y - p.pose.Y), src.X-p.pose.X
		pt.Jac[0][2] = j[0][0]*ax + j[0][1]*ay
		pt.Jac[1][2] = j[1][0]*ax + j[1][1]*ay
	}
	p.o.Points = append(p.o.Points, pt)
}

// rim adds the arc of a round robot from floor angle a to a+span, the first
// point but not the last, in m steps.
func (p *pen) rim(radius, z, a, span float64, m int, top bool) {
	step := span / float64(m)
	ss, cs := math.Sincos(step)
	s, c := math.Sincos(a)
	for i := 0; i < m && !p.bad; i++ {
		// Body frame: the floor direction turned back by the heading.
		b := Point2{radius * (c*p.c + s*p.s), radius * (s*p.c - c*p.s)}
		p.add(b, z, Point3{-s, c, 0}, top, false)
		s, c = s*cs+c*ss, c*cs-s*ss
	}
}

// side adds the upright edge at body point b from height z0 to z1, both
// without their ends.
func (p *pen) side(b Point2, z0, z1 float64) {
	at := func(u float64) float64 { return z0 + (z1-z0)*u/sideSteps }
	p.bare(1, sideSteps, func(u float64) bool { return p.aloneBeside(b, at(u)) },
		func(u float64) { p.add(b, at(u), Point3{0, 0, z1 - z0}, false, false) })
}

// edge adds the straight edge from body point a to b at height z, the first
// point (a corner) but not the last, in m steps.
func (p *pen) edge(a, b Point2, z float64, m int, top bool) {
	d := b.Sub(a)
	t := Point3{p.c*d.X - p.s*d.Y, p.s*d.X + p.c*d.Y, 0}
	out := Point2{d.Y, -d.X}.Scale(1 / math.Max(d.Norm(), 1e-12))
	at := func(u float64) Point2 { return a.Add(d.Scale(u / float64(m))) }
	p.bare(0, m, func(u float64) bool { return p.alone(at(u), z, out) },
		func(u float64) { p.add(at(u), z, t, top, u == 0) })
}

// bare hands on the steps from the first to the last but one, of a body with
// notches only those that are alone, and where it vanishes behind another or
// comes out.
func (p *pen) bare(first, last int, alone func(step float64) bool, add func(step float64)) {
	if p.notches == nil {
		for i := first; i < last && !p.bad; i++ {
			add(float64(i))
		}
		return
	}
	was := alone(float64(first))
	for i := first; i < last && !p.bad; i++ {
		if was {
			add(float64(i))
		}
		now := alone(float64(i + 1))
		if now != was {
			shown, hid := float64(i), float64(i+1)
			if now {
				shown, hid = hid, shown
			}
			for range 8 {
				if mid := (shown + hid) / 2; alone(mid) {
					shown = mid
				} else {
					hid = mid
				}
			}
			if shown != float64(i) && shown != float64(i+1) {
				add(shown)
			}
		}
		was = now
	}
}

// hair is how far beside a point of a notched body it is asked whether the line
// of sight passes, m: more than rounding, less than shows.
const hair = 1e-5

// alone tells whether a line of sight that passes point b of the body, at height
// z, a hair to the side out, meets nothing of the body: then b is outline. Seen
// from above that line is a segment from where it is as high as the base to
// where it is as high as the top, and meets the body if it meets the polygon.
func (p *pen) alone(b Point2, z float64, out Point2) bool {
	if p.notches == nil {
		return true
	}
	q := b.Add(out.Scale(hair))
	toLens := p.lens.Sub(q).Scale(1 / (p.lensZ - z))
	u, v := q.Add(toLens.Scale(p.z0-z)), q.Add(toLens.Scale(p.z1-z))
	dx, dy := v.X-u.X, v.Y-u.Y
	inside := false
	a := p.notches[len(p.notches)-1]
	for _, c := range p.notches {
		if (a.Y > u.Y) != (c.Y > u.Y) && u.X < a.X+(u.Y-a.Y)/(c.Y-a.Y)*(c.X-a.X) {
			inside = !inside
		}
		su, sv := (c.X-a.X)*(u.Y-a.Y)-(c.Y-a.Y)*(u.X-a.X), (c.X-a.X)*(v.Y-a.Y)-(c.Y-a.Y)*(v.X-a.X)
		sa, sc := dx*(a.Y-u.Y)-dy*(a.X-u.X), dx*(c.Y-u.Y)-dy*(c.X-u.X)
		if su*sv < 0 && sa*sc < 0 {
			return false
		}
		a = c
	}
	return !inside
}

// aloneBeside is alone for an upright edge, of which the outline lies on one
// side or the other of the line of sight.
func (p *pen) aloneBeside(b Point2, z float64) bool {
	if p.notches == nil {
		return true
	}
	// At either end the line of sight has no more than a point in common with
	// the body, so it is asked a little within.
	in := 0.02 * (p.z1 - p.z0)
	z = math.Max(p.z0+in, math.Min(p.z1-in, z))
	d := p.lens.Sub(b)
	side := Point2{-d.Y, d.X}.Scale(1 / math.Max(d.Norm(), 1e-12))
	return p.alone(b, z, side) != p.alone(b, z, side.Scale(-1))
}

// notched tells whether an outline encloses less than its hull.
func notched(outline, hull []Point2) bool {
	return math.Abs(signedArea(outline)) < (1-1e-6)*math.Abs(signedArea(hull))
}

// SetSilhouette fills o as Silhouette does, reusing its memory; false if the
// robot cannot be shown (then o has no points).
func (o *Outline) SetSilhouette(cam *Camera, robot Robot, pose Pose, floorHeight float64, n int) bool {
	o.Points = o.Points[:0]
	top := floorHeight + robot.OutlineHeight()
	if cam.Centre.Z <= top || n < 3 || !finitePose(pose, robot) {
		return false
	}
	p := o.pen(cam, robot, pose)
	lens := Point2{cam.Centre.X - p.pose.X, cam.Centre.Y - p.pose.Y}
	if robot.Round() {
		p.disc(robot.Diameter/2, floorHeight, top, lens, n)
	} else {
		// The lens seen from the body frame.
		lb := Point2{p.c*lens.X + p.s*lens.Y, p.c*lens.Y - p.s*lens.X}
		o.convex(robot.Outline)
		if len(o.hull) < 3 {
			return false
		}
		body := o.hull
		if notched(robot.Outline, o.hull) {
			body = robot.Outline
			p.notches, p.lens, p.lensZ = body, lb, cam.Centre.Z
			p.z0, p.z1 = floorHeight, top
		}
		p.prism(body, floorHeight, top, lb, n)
	}
	return p.done()
}

// SetTopRim fills o as TopRim does, reusing its memory; false if the robot
// cannot be shown (then o has no points).
func (o *Outline) SetTopRim(cam *Camera, robot Robot, pose Pose, floorHeight float64, n int) bool {
	o.Points = o.Points[:0]
	top := floorHeight + robot.Height
	if cam.Centre.Z <= top || n < 3 || !finitePose(pose, robot) {
		return false
	}
	p := o.pen(cam, robot, pose)
	if robot.Round() {
		p.rim(robot.Diameter/2, top, 0, 2*math.Pi, n, true)
		return p.done()
	}
	per := perimeter(robot.Outline)
	for i, a := range robot.Outline {
		b := robot.Outline[(i+1)%len(robot.Outline)]
		p.edge(a, b, top, steps(a.Dist(b), per, n), true)
	}
	return p.done()
}

// finitePose keeps NaN and infinity out. A round robot needs no heading.
func finitePose(p Pose, r Robot) bool {
	s := p.X + p.Y
	if !r.Round() {
		s += p.Heading
	}
	return !math.IsNaN(s) && !math.IsInf(s, 0)
}

func (o *Outline) pen(cam *Camera, robot Robot, pose Pose) pen {
	if robot.Round() && math.IsNaN(pose.Heading) {
		pose.Heading = 0
	}
	p := pen{o: o, cam: cam, pose: pose, round: robot.Round()}
	p.s, p.c = math.Sincos(pose.Heading)
	return p
}

func (p *pen) done() bool {
	if p.bad {
		p.o.Points = p.o.Points[:0]
		return false
	}
	p.o.cornerNormals()
	return true
}

// disc adds the silhouette of a cylinder. A side of the body that faces the
// lens, where n.(lens - p) > 0, hides nothing of the base: the base's rim is
// the outline there; elsewhere the top's rim is. Between them run two upright
// edges, where the line of sight is tangent. That is the hull of the two rims
// in the picture of a lens without distortion, and the outline of the solid in
// any.
func (p *pen) disc(radius, z0, z1 float64, lens Point2, n int) {
	d := lens.Norm()
	if d <= radius || z1 <= z0 {
		p.rim(radius, z1, 0, 2*math.Pi, n, true)
		return
	}
	mid := math.Atan2(lens.Y, lens.X)
	half := math.Acos(radius / d)
	m := max(3, n-2*sideSteps)
	near := max(1, int(math.Round(float64(m)*half/math.Pi)))
	far := max(2, m-near)
	p.rim(radius, z0, mid-half, 2*half, near, false)
	p.upright(radius, mid+half, z0, z1)
	p.rim(radius, z1, mid+half, 2*(math.Pi-half), far, true)
	p.upright(radius, mid-half, z1, z0)
}

// upright adds the edge at floor angle a from height z0 to z1: its lower end
// if it goes up from the base (the rim before it stops short of it) or its
// upper end if it goes down, and the points between.
func (p *pen) upright(radius, a, z0, z1 float64) {
	s, c := math.Sincos(a)
	b := Point2{radius * (c*p.c + s*p.s), radius * (s*p.c - c*p.s)}
	p.add(b, z0, Point3{0, 0, z1 - z0}, z1 < z0, false)
	p.side(b, z0, z1)
}

// prism adds the silhouette of a body with straight edges; lens is the lens's
// place in the body frame. See disc for the rule, and alone for what of a body
// with notches is left out.
func (p *pen) prism(hull []Point2, z0, z1 float64, lens Point2, n int) {
	per := perimeter(hull)
	k := len(hull)
	facing := func(i int) bool {
		a, b := hull[i%k], hull[(i+1)%k]
		// Outward normal of a counter-clockwise edge: (dy, -dx).
		return z1 > z0 && (b.Y-a.Y)*(lens.X-a.X)-(b.X-a.X)*(lens.Y-a.Y) > 0
	}
	m := max(k, n-2*sideSteps)
	for i := 0; i < k && !p.bad; i++ {
		a, b := hull[i], hull[(i+1)%k]
		now, before := facing(i), facing(i+k-1)
		if now != before {
			from, to := z0, z1
			if now {
				from, to = z1, z0
			}
			if p.aloneBeside(a, from) {
				p.add(a, from, Point3{0, 0, to - from}, from == z1, true)
			}
			p.side(a, from, to)
		}
		z := z1
		if now {
			z = z0
		}
		p.edge(a, b, z, steps(a.Dist(b), per, m), !now)
	}
}

// cornerNormals gives each corner the middle of its neighbours' normals.
func (o *Outline) cornerNormals() {
	k := len(o.Points)
	for i := range o.Points {
		if !o.Points[i].Corner {
			continue
		}
		a, b := o.Points[(i+k-1)%k].Normal, o.Points[i].Normal
		if m := a.Add(b); m.Norm() > 1e-6 {
			o.Points[i].Normal = m.Scale(1 / m.Norm())
		}
	}
}

// steps shares n steps out among the edges of a polygon by their length.
func steps(length, perimeter float64, n int) int {
	return max(1, int(math.Round(float64(n)*length/perimeter)))
}

func perimeter(poly []Point2) float64 {
	sum := 0.0
	for i, a := range poly {
		sum += a.Dist(poly[(i+1)%len(poly)])
	}
	return sum
}

// convex puts the convex hull of the points into o.hull, counter-clockwise
// (Andrew's monotone chain).
func (o *Outline) convex(pts []Point2) {
	o.sorted = append(o.sorted[:0], pts...)
	slices.SortFunc(o.sorted, func(a, b Point2) int {
		switch {
		case a.X < b.X || a.X == b.X && a.Y < b.Y:
			return -1
		case a == b:
			return 0
		}
		return 1
	})
	turn := func(a, b, c Point2) float64 { return (b.X-a.X)*(c.Y-a.Y) - (b.Y-a.Y)*(c.X-a.X) }
	h := o.hull[:0]
	for _, q := range o.sorted {
		for len(h) >= 2 && turn(h[len(h)-2], h[len(h)-1], q) <= 0 {
			h = h[:len(h)-1]
		}
		h = append(h, q)
	}
	low := len(h) + 1
	for i := len(o.sorted) - 2; i >= 0; i-- {
		q := o.sorted[i]
		for len(h) >= low && turn(h[len(h)-2], h[len(h)-1], q) <= 0 {
			h = h[:len(h)-1]
		}
		h = append(h, q)
	}
	if len(h) > 1 {
		h = h[:len(h)-1]
	}
	o.hull = h
}

// Area returns the area that the outline's polygon encloses, pixels squared; 0
// if it has no points.
func (o *Outline) Area() float64 {
	_, a := o.moments()
	return a
}

// Centroid returns the centroid of the area that the outline encloses, pixel
// frame; NaN if it has no points.
func (o *Outline) Centroid() Point2 {
	c, a := o.moments()
	if a == 0 {
		return Point2{math.NaN(), math.NaN()}
	}
	return c
}

func (o *Outline) moments() (Point2, float64) {
	if len(o.Points) < 3 {
		return Point2{}, 0
	}
	// Relative to the first point, or the products lose digits.
	z := o.Points[0].Px
	var a, cx, cy float64
	for i := 1; i+1 < len(o.Points); i++ {
		u, v := o.Points[i].Px.Sub(z), o.Points[i+1].Px.Sub(z)
		w := u.X*v.Y - u.Y*v.X
		a += w
		cx += w * (u.X + v.X)
		cy += w * (u.Y + v.Y)
	}
	if a == 0 {
		return Point2{}, 0
	}
	return Point2{z.X + cx/(3*a), z.Y + cy/(3*a)}, math.Abs(a) / 2
}
