package geom

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// WallTolerance, m: how far an obstacle may reach into a wall. Plans are typed
// to the millimetre at best, so an obstacle that stands against a wall may be
// written up to one beyond it.
const WallTolerance = 0.001

// minArea, m2: a square millimetre, the least that an outline may enclose.
// What is smaller is a typing error or a line.
const minArea = 1e-6

// maxPlan, m: coordinates beyond it are typed in another unit. It also keeps
// the arithmetic of areas exact to a square micrometre.
const maxPlan = 10000

// PlanError is a plan that cannot be used: which piece of it (its name, or
// "room" or "dock"), why, and how to mend it.
type PlanError struct {
	Piece  string
	Reason string
}

func (e *PlanError) Error() string { return fmt.Sprintf("%s: %s", e.Piece, e.Reason) }

// PlanSpec is a room as entered: its corners, and what is in it.
type PlanSpec struct {
	Name        string
	Room        []Point2
	Obstacles   []Piece // stand on the floor
	Overhead    []Piece // the robot passes beneath
	Areas       []Piece
	TestObjects []Piece
	Dock        *Pose // nil: none
}

// NewPlan checks a room and what is in it and returns it with every outline
// closed, counter-clockwise and free of repeated corners. Outlines may come
// closed or open, in either sense. It errs with a *PlanError if an outline
// crosses or touches itself or has no area, if an obstacle or a test object reaches
// out of the room by more than WallTolerance, if an overhead or an area lies
// wholly outside it, if a height or a kind is impossible, if two pieces of a
// group share a name, or if the dock is outside the room. Obstacles may touch
// and overlap each other. The spec is not changed.
func NewPlan(spec PlanSpec) (*Plan, error) {
	r, err := cleanRing("room", spec.Room)
	if err != nil {
		return nil, err
	}
	p := &Plan{Name: spec.Name, Room: toOrb(r)}
	groups := []struct {
		what   string
		in     []Piece
		out    *[]Piece
		inside bool // must lie wholly in the room
	}{
		{"obstacle", spec.Obstacles, &p.Obstacles, true},
		{"overhead", spec.Overhead, &p.Overhead, false},
		{"area", spec.Areas, &p.Areas, false},
		{"test object", spec.TestObjects, &p.TestObjects, true},
	}
	for _, g := range groups {
		seen := map[string]bool{}
		for i, pc := range g.in {
			if pc.Name == "" {
				return nil, &PlanError{fmt.Sprintf("%s %d", g.what, i+1), "it has no name; give it one"}
			}
			if seen[pc.Name] {
				return nil, &PlanError{pc.Name, fmt.Sprintf("two %s entries have this name; rename one", g.what)}
			}
			seen[pc.Name] = true
			out, err := cleanPiece(pc, g.what, r, g.inside)
			if err != nil {
				return nil, err
			}
			*g.out = append(*g.out, out)
		}
	}
	if dock := spec.Dock; dock != nil {
		s := dock.X + dock.Y + dock.Heading
		if math.IsNaN(s) || math.IsInf(s, 0) {
			return nil, &PlanError{"dock", "its place or heading is not a finite number"}
		}
		at := Point2{dock.X, dock.Y}
		if !InRing(r, at) && ringDistance(r, at) > WallTolerance {
			return nil, &PlanError{"dock", fmt.Sprintf("the robot's turning centre at (%g, %g) lies outside the room; give the place where the docked robot's centre stands", dock.X, dock.Y)}
		}
		d := *dock
		p.Dock = &d
	}
	return p, nil
}

func cleanPiece(pc Piece, what string, room []Point2, inside bool) (Piece, error) {
	no := func(format string, a ...any) (Piece, error) {
		return Piece{}, &PlanError{pc.Name, fmt.Sprintf(format, a...)}
	}
	if !(pc.Height >= 0) || math.IsInf(pc.Height, 0) {
		return no("its height is %g; give its height above the floor in metres, 0 or more", pc.Height)
	}
	switch {
	case what == "area" && pc.Kind != AreaSurface && pc.Kind != AreaTarget && pc.Kind != AreaOffLimits:
		return no("its kind is %q; use %s, %s or %s", pc.Kind, AreaSurface, AreaTarget, AreaOffLimits)
	case what != "area" && pc.Kind != "":
		return no("it has the kind %q, but only areas have a kind; remove it", pc.Kind)
	}
	ring, err := cleanRing(pc.Name, fromOrb(pc.Outline))
	if err != nil {
		return Piece{}, err
	}
	if inside {
		if at, d := farthestOut(room, ring); d > WallTolerance {
			return no("it extends %s outside the room near (%.3f, %.3f); correct its corners or the room's", metres(d), at.X, at.Y)
		}
	} else if !overlap(room, ring) {
		return no("it lies wholly outside the room; correct its corners or the room's")
	}
	pc.Outline = toOrb(ring)
	return pc, nil
}

// metres writes a length with a unit that suits it.
func metres(d float64) string {
	if d < 0.0995 {
		return fmt.Sprintf("%.1f mm", 1000*d)
	}
	return fmt.Sprintf("%.2f m", d)
}

// cleanRing returns an outline open, counter-clockwise, without repeated
// corners, or says what is wrong with it.
func cleanRing(name string, in []Point2) ([]Point2, error) {
	no := func(format string, a ...any) ([]Point2, error) {
		return nil, &PlanError{name, fmt.Sprintf(format, a...)}
	}
	var r []Point2
	for i, q := range in {
		if s := q.X + q.Y; math.IsNaN(s) || math.IsInf(s, 0) {
			return no("corner %d is not a finite number", i+1)
		}
		if math.Abs(q.X) > maxPlan || math.Abs(q.Y) > maxPlan {
			return no("corner %d is (%g, %g); give metres", i+1, q.X, q.Y)
		}
		if n := len(r); n == 0 || r[n-1] != q {
			r = append(r, q)
		}
	}
	for len(r) > 1 && r[0] == r[len(r)-1] {
		r = r[:len(r)-1]
	}
	if len(r) < 3 {
		return no("its outline has %d different corners; give at least 3", len(r))
	}
	if i, j, ok := selfContact(r); ok {
		a, b := r[i], r[(i+1)%len(r)]
		c, d := r[j], r[(j+1)%len(r)]
		return no("its outline crosses or touches itself: the edge from (%g, %g) to (%g, %g) meets the edge from (%g, %g) to (%g, %g); give the corners in order, once around",
			a.X, a.Y, b.X, b.Y, c.X, c.Y, d.X, d.Y)
	}
	a := signedArea(r)
	if math.Abs(a) < minArea {
		return no("its outline encloses no area; check its corners")
	}
	if a < 0 {
		for i, j := 0, len(r)-1; i < j; i, j = i+1, j-1 {
			r[i], r[j] = r[j], r[i]
		}
	}
	return r, nil
}

// selfContact finds two edges of a ring that meet elsewhere than at the corner
// that neighbours share, or neighbours that fold back on each other.
func selfContact(r []Point2) (i, j int, found bool) {
	n := len(r)
	for i := 0; i < n; i++ {
		a, b := r[i], r[(i+1)%n]
		for j := i + 1; j < n; j++ {
			c, d := r[j], r[(j+1)%n]
			switch {
			case j == i+1 && folds(a, b, d), (j+1)%n == i && folds(c, a, b):
				return i, j, true
			case j == i+1 || (j+1)%n == i:
			case touch(a, b, c, d):
				return i, j, true
			}
		}
	}
	return 0, 0, false
}

// folds tells whether the path a b c turns straight back at b.
func folds(a, b, c Point2) bool {
	u, v := a.Sub(b), c.Sub(b)
	return orient(a, b, c) == 0 && u.X*v.X+u.Y*v.Y > 0
}

// orient returns the sign of twice the area of the triangle a b c: positive
// where c lies left of a to b. A value within the rounding error of the sum is
// 0 (Shewchuk's bound for the plain determinant, (3 + 16 eps) eps of the sum
// of magnitudes, eps = 2^-53).
func orient(a, b, c Point2) int {
	l, r := (a.X-c.X)*(b.Y-c.Y), (a.Y-c.Y)*(b.X-c.X)
	d := l - r
	if math.Abs(d) <= 3.3306690738754716e-16*(math.Abs(l)+math.Abs(r)) {
		return 0
	}
	if d > 0 {
		return 1
	}
	return -1
}

// touch tells whether the closed segments a b and c d share a point.
func touch(a, b, c, d Point2) bool {
	o1, o2, o3, o4 := orient(a, b, c), orient(a, b, d), orient(c, d, a), orient(c, d, b)
	if o1*o2 < 0 && o3*o4 < 0 {
		return true
	}
	return o1 == 0 && between(a, b, c) || o2 == 0 && between(a, b, d) || o3 == 0 && between(c, d, a) || o4 == 0 && between(c, d, b)
}

// between tells whether p, on the line a b, lies in the segment's box.
func between(a, b, p Point2) bool {
	return math.Min(a.X, b.X) <= p.X && p.X <= math.Max(a.X, b.X) && math.Min(a.Y, b.Y) <= p.Y && p.Y <= math.Max(a.Y, b.Y)
}

func signedArea(r []Point2) float64 {
	a := 0.0
	for i := 1; i+1 < len(r); i++ {
		u, v := r[i].Sub(r[0]), r[i+1].Sub(r[0])
		a += u.X*v.Y - u.Y*v.X
	}
	return a / 2
}

// farthestOut returns the point of ring that lies farthest outside the room,
// and how far (0: none does). Between the places where an edge crosses a wall
// or passes a wall's corner its distance from the walls has no other maximum
// than near the middle, so those places and the middles are looked at.
func farthestOut(room, ring []Point2) (at Point2, d float64) {
	look := func(p Point2) {
		if !InRing(room, p) {
			if q := ringDistance(room, p); q > d {
				at, d = p, q
			}
		}
	}
	n := len(ring)
	for i, a := range ring {
		b := ring[(i+1)%n]
		cuts := cutsOf(a, b, room)
		for k, t := range cuts {
			look(lerp(a, b, t))
			if k > 0 {
				for _, f := range []float64{0.25, 0.5, 0.75} {
					look(lerp(a, b, cuts[k-1]+f*(t-cuts[k-1])))
				}
			}
		}
	}
	return at, d
}

func lerp(a, b Point2, t float64) Point2 { return Point2{a.X + t*(b.X-a.X), a.Y + t*(b.Y-a.Y)} }

// overlap tells whether two simple polygons share area.
func overlap(a, b []Point2) bool {
	return areaWhere([][]Point2{a, b}, func(in []bool) bool { return in[0] && in[1] }) > minArea/100
}

// Ring turns corners into a closed orb ring; RingCorners is its inverse.
func Ring(corners []Point2) orb.Ring { return toOrb(corners) }

// RingCorners returns the corners of a closed or open ring, the first not
// repeated at the end.
func RingCorners(r orb.Ring) []Point2 {
	out := fromOrb(r)
	if n := len(out); n > 1 && out[0] == out[n-1] {
		out = out[:n-1]
	}
	return out
}

func toOrb(r []Point2) orb.Ring {
	out := make(orb.Ring, 0, len(r)+1)
	for _, p := range r {
		out = append(out, orb.Point{p.X, p.Y})
	}
	if len(out) > 0 && out[0] != out[len(out)-1] {
		out = append(out, out[0])
	}
	return out
}

func fromOrb(r orb.Ring) []Point2 {
	out := make([]Point2, len(r))
	for i, p := range r {
		out[i] = Point2{p[0], p[1]}
	}
	return out
}
