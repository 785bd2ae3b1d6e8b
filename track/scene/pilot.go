package scene

import (
	"math"

	"swathe/geom"
)

// PilotOptions say how a robot moves.
type PilotOptions struct {
	Speed     float64 // m/s, at most
	Accel     float64 // m/s^2
	TurnRate  float64 // rad/s, at most
	TurnAccel float64 // rad/s^2
	Keep      float64 // m that it keeps from walls and obstacles
	Wander    float64 // m, how far it strays to the sides of its line
	Step      float64 // s between the poses of the path
	Seed      uint64
}

// DefaultPilotOptions are those of an ordinary household robot (common
// practice: about 0.3 m/s, a quarter turn in a second).
func DefaultPilotOptions() PilotOptions {
	return PilotOptions{Speed: 0.32, Accel: 0.6, TurnRate: geom.Radians(100), TurnAccel: geom.Radians(300), Keep: 0.015, Wander: 0.0015, Step: 0.02, Seed: 1}
}

// Pilot drives a robot about a plan and keeps its path. Its movements never
// bring the body into a wall or an obstacle, but for Straight, Turn and Arc,
// which do what they are told.
type Pilot struct {
	opt   PilotOptions
	g     *Ground
	reach float64
	robot geom.Robot
	plan  *geom.Plan
	r     *Rand
	t     float64
	pose  geom.Pose
	path  Path
	trip  float64 // m driven, phase of the wander

	events []Event
	rows   []LaneTruth
}

// NewPilot puts the robot at start, at time 0.
func NewPilot(plan *geom.Plan, robot geom.Robot, start geom.Pose, opt PilotOptions) *Pilot {
	p := &Pilot{opt: opt, g: NewGround(plan, robot.Height), reach: robot.Reach(), robot: robot, plan: plan, r: NewRand(opt.Seed, 0x9170), pose: start}
	p.path = Path{{Pose: start}}
	return p
}

// Drive returns what was driven so far.
func (p *Pilot) Drive() Drive {
	return Drive{append(Path(nil), p.path...), append([]Event(nil), p.events...), append([]LaneTruth(nil), p.rows...)}
}

// Note keeps an event that began at the given time and ends now, here.
func (p *Pilot) Note(kind string, began, size float64, unit string) {
	p.events = append(p.events, Event{kind, began, p.t, p.pose.X, p.pose.Y, size, unit})
}

// Time is how long it has driven, s.
func (p *Pilot) Time() float64 { return p.t }

// Pose is where it is.
func (p *Pilot) Pose() geom.Pose { return p.pose }

// need is the clearance of the centre that keeps the body off everything.
func (p *Pilot) need() float64 { return p.reach + p.opt.Keep }

func (p *Pilot) emit() { p.path = append(p.path, TimedPose{T: p.t, Pose: p.pose}) }

// Pause stands still for d seconds.
func (p *Pilot) Pause(d float64) {
	if d <= 0 {
		return
	}
	p.t += d
	p.emit()
}

// Pause stands still for d seconds in the midst of a run, as an event.
func (p *Pilot) PauseEvent(d float64) {
	began := p.t
	p.Pause(d)
	p.Note("pause", began, d, "s")
}

// ramp goes from 0 to length at a speed that rises, holds and falls, and calls
// at with how far it is; the last call is with length.
func (p *Pilot) ramp(length, speed, accel float64, at func(s float64)) {
	if length <= 0 {
		return
	}
	v := min(speed, math.Sqrt(length*accel))
	up := v / accel
	total := 2*up + (length-v*up)/v
	n := int(math.Ceil(total / p.opt.Step))
	for i := 1; i <= n; i++ {
		u := total * float64(i) / float64(n)
		var s float64
		switch {
		case i == n:
			s = length
		case u < up:
			s = accel * u * u / 2
		case u > total-up:
			s = length - accel*(total-u)*(total-u)/2
		default:
			s = accel*up*up/2 + v*(u-up)
		}
		p.t += total / float64(n)
		at(s)
		p.emit()
	}
}

// Turn turns on the spot by a, rad, to the left if positive.
func (p *Pilot) Turn(a float64) {
	from, began := p.pose.Heading, p.t
	if math.Abs(a) >= 2*math.Pi {
		defer func() { p.Note("spin", began, geom.Degrees(a), "deg") }()
	}
	p.ramp(math.Abs(a), p.opt.TurnRate, p.opt.TurnAccel, func(s float64) {
		p.pose.Heading = from + math.Copysign(s, a)
	})
}

// Face turns on the spot to the heading, by the shorter way.
func (p *Pilot) Face(heading float64) { p.Turn(geom.WrapAngle(heading - p.pose.Heading)) }

// Straight drives ahead by d, m; backwards if negative.
func (p *Pilot) Straight(d float64) {
	from := p.pose
	s0, c0 := math.Sincos(from.Heading)
	p.ramp(math.Abs(d), p.opt.Speed, p.opt.Accel, func(s float64) {
		s = math.Copysign(s, d)
		p.pose.X, p.pose.Y = from.X+s*c0, from.Y+s*s0
	})
}

// Into drives ahead by d, m, to where something stops it: it does not brake.
func (p *Pilot) Into(d float64) {
	from := p.pose
	s0, c0 := math.Sincos(from.Heading)
	up := p.opt.Speed * p.opt.Speed / p.opt.Accel / 2
	// The rising half of a way twice as long, or what follows it.
	v := min(p.opt.Speed, math.Sqrt(2*d*p.opt.Accel))
	total := v/p.opt.Accel + math.Max(0, d-up)/v
	n := max(1, int(math.Ceil(total/p.opt.Step)))
	for i := 1; i <= n; i++ {
		u := total * float64(i) / float64(n)
		s := p.opt.Accel * u * u / 2
		if s > up {
			s = up + v*(u-v/p.opt.Accel)
		}
		p.t += total / float64(n)
		p.pose.X, p.pose.Y = from.X+s*c0, from.Y+s*s0
		p.emit()
	}
}

// Arc drives along a circle of the given radius through angle a, rad, to the
// left if positive.
func (p *Pilot) Arc(radius, a float64) {
	from := p.pose
	side := math.Copysign(1, a)
	cx := from.X - side*radius*math.Sin(from.Heading)
	cy := from.Y + side*radius*math.Cos(from.Heading)
	v := min(p.opt.Speed, radius*p.opt.TurnRate)
	p.ramp(math.Abs(a)*radius, v, p.opt.Accel, func(s float64) {
		h := from.Heading + side*s/radius
		p.pose = geom.Pose{X: cx + side*radius*math.Sin(h), Y: cy - side*radius*math.Cos(h), Heading: h}
	})
}

// ArcFree tells whether Arc would keep the body off everything.
func (p *Pilot) ArcFree(radius, a float64) bool {
	side := math.Copysign(1, a)
	h0 := p.pose.Heading
	for k := 0; k <= 40; k++ {
		h := h0 + a*float64(k)/40
		q := geom.Point2{
			X: p.pose.X + side*radius*(math.Sin(h)-math.Sin(h0)),
			Y: p.pose.Y - side*radius*(math.Cos(h)-math.Cos(h0)),
		}
		if p.g.Clear(q) < p.need() {
			return false
		}
	}
	return true
}

// StraightFree tells whether Straight would keep the body off everything.
func (p *Pilot) StraightFree(d float64) bool {
	s, c := math.Sincos(p.pose.Heading)
	here := geom.Point2{X: p.pose.X, Y: p.pose.Y}
	return p.g.open(here, here.Add(geom.Point2{X: d * c, Y: d * s}), p.need())
}

// Follow drives along a line of points, which starts where the robot is; it
// stops to turn where the line bends by more than 20 degrees.
func (p *Pilot) Follow(line []geom.Point2) {
	piece := []geom.Point2{{X: p.pose.X, Y: p.pose.Y}}
	for _, q := range line {
		last := piece[len(piece)-1]
		if q.Dist(last) < 2e-3 {
			continue
		}
		if len(piece) > 1 {
			a := last.Sub(piece[len(piece)-2])
			b := q.Sub(last)
			if math.Abs(geom.WrapAngle(math.Atan2(b.Y, b.X)-math.Atan2(a.Y, a.X))) > geom.Radians(20) {
				p.smooth(piece)
				piece = []geom.Point2{last}
			}
		}
		piece = append(piece, q)
	}
	p.smooth(piece)
}

// smooth drives along a line without sharp bends.
func (p *Pilot) smooth(line []geom.Point2) {
	if len(line) < 2 {
		return
	}
	at := make([]float64, len(line))
	for i := 1; i < len(line); i++ {
		at[i] = at[i-1] + line[i].Dist(line[i-1])
	}
	length := at[len(at)-1]
	point := func(s float64) geom.Point2 {
		s = clamp(s, 0, length)
		i := 1
		for i < len(at)-1 && at[i] < s {
			i++
		}
		k := (s - at[i-1]) / (at[i] - at[i-1])
		return line[i-1].Add(line[i].Sub(line[i-1]).Scale(k))
	}
	dir := func(s float64) float64 {
		w := min(0.02, length/4)
		d := point(s + w).Sub(point(s - w))
		return math.Atan2(d.Y, d.X)
	}
	p.Face(dir(0))
	start := p.trip
	seed := p.opt.Seed + 91
	p.ramp(length, p.opt.Speed, p.opt.Accel, func(s float64) {
		h := dir(s)
		// It strays a little, and not at the ends.
		fade := smoothstep(0, 0.15, s) * (1 - smoothstep(length-0.15, length, s))
		const wave = 0.6
		off := 2 * p.opt.Wander * fade * field((start+s)/wave, 0.5, seed)
		lean := 2 * p.opt.Wander * fade * (field((start+s+0.01)/wave, 0.5, seed) - field((start+s-0.01)/wave, 0.5, seed)) / 0.02
		q := point(s)
		sn, cs := math.Sincos(h)
		p.pose.X, p.pose.Y = q.X-off*sn, q.Y+off*cs
		p.pose.Heading += geom.WrapAngle(h + math.Atan(lean) - p.pose.Heading)
	})
	p.trip += length
}

// Goto drives to a point by a free way; ok is false if there is none.
func (p *Pilot) Goto(q geom.Point2) bool {
	way := p.g.route(geom.Point2{X: p.pose.X, Y: p.pose.Y}, q, p.need())
	if way == nil {
		return false
	}
	p.Follow(way)
	return true
}

// Edges goes once along the walls, then once round each obstacle that stands
// free, wall on the right.
func (p *Pilot) Edges() {
	line := p.g.contour(geom.Point2{X: p.pose.X, Y: p.pose.Y}, p.need())
	if len(line) > 1 && p.Goto(line[0]) {
		p.Follow(line)
	}
	for _, b := range p.g.blocks {
		mid := geom.Point2{}
		for _, q := range b {
			mid = mid.Add(q.Scale(1 / float64(len(b))))
		}
		start := p.outOf(b, mid)
		line := p.g.contour(start, p.need())
		// One that leans on a wall has been gone along already.
		if len(line) < 60 || line[0].Dist(line[len(line)-1]) > 0.05 || !around(line, mid) {
			continue
		}
		if p.Goto(line[0]) {
			p.Follow(line)
		}
	}
}

// outOf returns a point beside block b on the way from its middle to the robot.
func (p *Pilot) outOf(b []geom.Point2, mid geom.Point2) geom.Point2 {
	to := geom.Point2{X: p.pose.X, Y: p.pose.Y}.Sub(mid)
	to = to.Scale(1 / max(to.Norm(), 1e-9))
	for d := 0.0; d < 10; d += 0.01 {
		q := mid.Add(to.Scale(d))
		if !ringHolds(b, q) && ringDist(b, q) >= p.need() {
			return q
		}
	}
	return mid
}

// around tells whether the line goes round the point.
func around(line []geom.Point2, mid geom.Point2) bool {
	turn := 0.0
	for i := 1; i < len(line); i++ {
		a, b := line[i-1].Sub(mid), line[i].Sub(mid)
		turn += geom.WrapAngle(math.Atan2(b.Y, b.X) - math.Atan2(a.Y, a.X))
	}
	// Wall on the right of the path: round an obstacle clockwise.
	return turn < -math.Pi
}
