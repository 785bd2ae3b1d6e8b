package scene

import (
	"math"

	"swathe/geom"
)

// Person walks through the scene.
type Person struct {
	Walk   Path       // place and heading; seen only from its first time to its last
	Touch  []Touching // bends down and reaches out
	Hair   BGR
	Shirt  BGR
	Legs   BGR
	Skin   BGR
	Height float64 // m
}

// Touching is a stretch in which a person reaches for a point; half a second
// on either side goes into bending down and straightening up.
type Touching struct {
	geom.Span
	At   geom.Point3 // where the hands go; overruled by Robot
	Grip bool        // the hands stay on the robot wherever it is
}

// NewPerson returns a grown-up in ordinary clothes who walks the path.
func NewPerson(walk Path) Person {
	return Person{
		Walk: walk, Height: 1.74,
		Hair: BGR{34, 44, 58}, Shirt: BGR{96, 62, 44}, Legs: BGR{66, 52, 46}, Skin: BGR{132, 158, 198},
	}
}

// Pet is an animal as long as a cat that runs about.
type Pet struct {
	Walk  Path
	Color BGR
	Size  float64 // m, length of its trunk
}

// Ball rolls.
type Ball struct {
	Walk   Path
	Color  BGR
	Radius float64 // m
}

// Mover is a thing that stands on the floor and is moved: an obstacle that the
// robot shifts, a test object. Its Path holds the poses of its own frame.
type Mover struct {
	Name     string
	Replaces string        // name of the plan's obstacle that it is; empty: none
	Outline  []geom.Point2 // own frame, m
	Height   float64
	Color    BGR
	Path     Path
	Seen     geom.Span // when it is there; zero: always
}

// bend returns how far the person is bent at time t, 0..1, and for what.
func (p *Person) bend(t float64) (float64, Touching) {
	best, who := 0.0, Touching{}
	for _, q := range p.Touch {
		b := smoothstep(q.From-0.5, q.From, t) * (1 - smoothstep(q.To, q.To+0.5, t))
		if b > best {
			best, who = b, q
		}
	}
	return best, who
}

// actors appends the person's body at time t; grip is where the robot is.
func (p *Person) actors(w *world, t float64, robot TimedPose, dst []actor) []actor {
	if len(p.Walk) == 0 || t < p.Walk[0].T || t > p.Walk.End() {
		return dst
	}
	at := p.Walk.At(t)
	k := p.Height / 1.74
	next := p.Walk.At(t + 0.1)
	gait := min(1, hypot(next.X-at.X, next.Y-at.Y)/0.05)
	swing := 0.0
	if gait > 0 {
		// One stride for every 1.3 m walked.
		swing = gait * math.Sin(2*math.Pi*p.Walk.travel(t)/1.3)
	}
	bend, touch := p.bend(t)
	up := func(ahead, left, z float64) geom.Point3 {
		q := at.At(geom.Point2{X: ahead * k, Y: left * k})
		return geom.Point3{X: q.X, Y: q.Y, Z: z * k}
	}
	limb := func(a, b geom.Point3, r float64, c BGR) {
		dst = append(dst, w.newActor(&capsule{a, b, r * k}, c))
	}
	// Feet and legs.
	for _, side := range []float64{1, -1} {
		foot := up(0.05+0.28*swing*side, 0.1*side, 0.06)
		toe := up(0.19+0.28*swing*side, 0.12*side, 0.05)
		hip := up(-0.12*bend, 0.09*side, 0.85-0.1*bend)
		limb(foot, toe, 0.045, p.Hair)
		limb(foot, hip, 0.075, p.Legs)
	}
	// Trunk: from the hips to the shoulders, which come forward when bending.
	fwd := 0.05 + 0.47*bend
	sh := 1.4 - 0.55*bend
	chest := up(fwd*0.6, 0, 0.5*(sh+0.8))
	dst = append(dst, w.newActor(newEllipsoid(chest, at.Heading, (0.13+0.16*bend)*k, 0.2*k, (0.36-0.14*bend)*k), p.Shirt))
	limb(up(fwd, 0.14, sh-0.03), up(fwd, -0.14, sh-0.03), 0.09, p.Shirt)
	head := up(fwd+0.04+0.2*bend, 0, sh+0.2-0.12*bend)
	dst = append(dst, w.newActor(newEllipsoid(head, at.Heading, 0.105*k, 0.085*k, 0.12*k), p.Hair))
	// Arms.
	for _, side := range []float64{1, -1} {
		from := up(fwd, 0.2*side, sh-0.05)
		rest := up(fwd-0.1-0.25*swing*side, 0.25*side, sh-0.6)
		hand := rest
		if bend > 0 {
			target := touch.At
			if touch.Grip {
				q := robot.At(geom.Point2{})
				a := at.Heading + math.Pi/2*side
				r := w.s.Robot.Reach()
				target = geom.Point3{X: q.X + r*math.Cos(a), Y: q.Y + r*math.Sin(a), Z: robot.Lift + w.s.Robot.Height/2}
			} else {
				q := geom.Point2{X: target.X, Y: target.Y}.Add(geom.Point2{X: -math.Sin(at.Heading), Y: math.Cos(at.Heading)}.Scale(0.05 * side))
				target.X, target.Y = q.X, q.Y
			}
			hand = geom.Point3{X: rest.X + bend*(target.X-rest.X), Y: rest.Y + bend*(target.Y-rest.Y), Z: rest.Z + bend*(target.Z-rest.Z)}
		}
		elbow := geom.Point3{X: from.X + 0.55*(hand.X-from.X), Y: from.Y + 0.55*(hand.Y-from.Y), Z: from.Z + 0.5*(hand.Z-from.Z)}
		limb(from, elbow, 0.055, p.Shirt)
		limb(elbow, hand, 0.045, p.Skin)
		dst = append(dst, w.newActor(newEllipsoid(hand, at.Heading, 0.07*k, 0.045*k, 0.04*k), p.Skin))
	}
	return dst
}

// travel returns the distance along the path up to time t, m.
func (p Path) travel(t float64) float64 {
	d := 0.0
	for i := 1; i < len(p) && p[i-1].T < t; i++ {
		b := p[i]
		if b.T > t {
			b = p.At(t)
		}
		d += hypot(b.X-p[i-1].X, b.Y-p[i-1].Y)
	}
	return d
}

func (p *Pet) actors(w *world, t float64, dst []actor) []actor {
	if len(p.Walk) == 0 || t < p.Walk[0].T || t > p.Walk.End() {
		return dst
	}
	at, k := p.Walk.At(t), p.Size
	sway := 0.25 * math.Sin(9*p.Walk.travel(t)/k)
	pt := func(ahead, left, z float64) geom.Point3 {
		q := at.At(geom.Point2{X: ahead * k, Y: left * k})
		return geom.Point3{X: q.X, Y: q.Y, Z: z * k}
	}
	body, head := pt(0, 0, 0.5), pt(0.62, 0.1*sway, 0.6)
	dst = append(dst,
		w.newActor(newEllipsoid(body, at.Heading+0.2*sway, 0.5*k, 0.2*k, 0.25*k), p.Color),
		w.newActor(newEllipsoid(head, at.Heading+sway, 0.17*k, 0.15*k, 0.15*k), p.Color.Scale(0.85)),
		w.newActor(&capsule{pt(-0.45, 0, 0.5), pt(-0.95, 0.3*sway, 0.7), 0.05 * k}, p.Color.Scale(0.9)))
	for _, f := range [][2]float64{{0.33, 0.13}, {0.33, -0.13}, {-0.33, 0.13}, {-0.33, -0.13}} {
		dst = append(dst, w.newActor(&capsule{pt(f[0], f[1], 0.45), pt(f[0]+0.15*sway*math.Copysign(1, f[1]), f[1], 0.05), 0.06 * k}, p.Color.Scale(0.8)))
	}
	return dst
}

func (b *Ball) actors(w *world, t float64, dst []actor) []actor {
	if len(b.Walk) == 0 || t < b.Walk[0].T || t > b.Walk.End() {
		return dst
	}
	at := b.Walk.At(t)
	a := w.newActor(newEllipsoid(geom.Point3{X: at.X, Y: at.Y, Z: b.Radius}, 0, b.Radius, b.Radius, b.Radius), b.Color)
	roll := b.Walk.travel(t) / b.Radius
	c := b.Color
	a.paint = func(h hit) BGR {
		// Two tones, so that it is seen to roll.
		if math.Sin(5*h.lx+roll)*math.Cos(4*h.ly-roll) > 0 {
			return c
		}
		return c.Scale(0.7)
	}
	return append(dst, a)
}
