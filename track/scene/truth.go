package scene

import (
	"math"

	"swathe/geom"
)

// Drive is what a Pilot drove.
type Drive struct {
	Path   Path
	Events []Event
	Lanes  []LaneTruth
}

// Event is something that happens in a scene.
type Event struct {
	Kind       string
	Start, End float64 // s from the first frame
	X, Y       float64 // floor, m
	Size       float64
	Unit       string // of Size
}

// LaneTruth is a straight lane that was driven as one of a set of rows.
type LaneTruth struct {
	Start, End float64 // s
	From, To   geom.Point2
}

// Truth is what a recording of a scene shows.
type Truth struct {
	Times   []float64   // of the frames, s
	Poses   []TimedPose // the robot's at these times
	Run     geom.Span   // by the contract: from its first movement of itself to its last
	Moved   bool        // false: it never moved of itself, Run is empty
	Started string      // one of geom's Started constants; empty if it never moved
	Ended   string      // one of geom's Ended constants; empty if it never moved
	Carried []geom.Span // while a person has it in hand
	Events  []Event
	Lanes   []LaneTruth
	Visible []float64 // per frame, 0..1: share of the robot's top that can be seen

	Sweep *Sweep // of the headline tool; nil unless asked for
}

// NewTruth works out the truth of a scene, but for the swept floor.
func NewTruth(s *Scene, d Drive) *Truth {
	t := &Truth{Times: s.Frames(), Events: d.Events, Lanes: d.Lanes}
	for _, at := range t.Times {
		t.Poses = append(t.Poses, s.Path.At(at))
	}
	if s.NoRobot {
		return t
	}
	for i := 0; i+1 < len(s.Path); i++ {
		if !s.Path[i].Held {
			continue
		}
		from, to := s.Path[i].T, s.Path[i+1].T
		if n := len(t.Carried); n > 0 && t.Carried[n-1].To >= from {
			t.Carried[n-1].To = to
		} else {
			t.Carried = append(t.Carried, geom.Span{From: from, To: to})
		}
	}
	t.Run, t.Moved = runSpan(s.Path, s.Length)
	if t.Moved {
		t.bounds(s)
	}
	t.visible(s)
	return t
}

// Trace returns the truth as a trace, a sample a frame, as a measurement
// without any error would give it.
func (t *Truth) Trace() *geom.Trace {
	tr := &geom.Trace{Run: t.Run, Started: t.Started, Ended: t.Ended}
	for i, at := range t.Times {
		p := t.Poses[i]
		s := geom.Sample{T: at, X: p.X, Y: p.Y, Heading: p.Heading, Source: geom.HeadingGiven}
		if i > 0 {
			q := t.Poses[i-1]
			s.Speed = hypot(p.X-q.X, p.Y-q.Y) / (at - t.Times[i-1])
		}
		for _, c := range t.Carried {
			if c.Contains(at) {
				s.State = geom.Carried
			}
		}
		tr.Samples = append(tr.Samples, s)
		tr.Length = at
	}
	return tr
}

// bounds says how the run started and how it ended.
func (t *Truth) bounds(s *Scene) {
	t.Started, t.Ended = geom.StartedAtRest, geom.EndedStood
	frame := 1 / s.Timing.FPS
	if t.Run.From < frame {
		t.Started = geom.StartedMoving
	}
	end := s.Path.At(s.Length)
	n := len(t.Carried)
	switch {
	case n > 0 && t.Carried[n-1].From >= t.Run.To:
		t.Ended = geom.EndedCarried
	case s.Length-t.Run.To <= frame:
		t.Ended = geom.EndedRecording
	case s.Plan.Dock != nil && hypot(end.X-s.Plan.Dock.X, end.Y-s.Plan.Dock.Y) < 0.05:
		t.Ended = geom.EndedDocked
	}
}

// runSpan finds the first moment at which the robot has left its place by 5 mm
// or its heading by 3 degrees, of itself, and the last at which it is still
// that far from where it ends up.
func runSpan(p Path, length float64) (geom.Span, bool) {
	const dist, turn = 0.005, 3 * math.Pi / 180
	const step = 0.005
	off := func(a, b TimedPose) bool {
		return hypot(a.X-b.X, a.Y-b.Y) > dist || math.Abs(a.Heading-b.Heading) > turn
	}
	span := geom.Span{From: math.NaN()}
	ref := p.At(0)
	for t := 0.0; t <= length; t += step {
		q := p.At(t)
		if q.Held {
			ref = p.At(t + step)
			continue
		}
		if off(q, ref) {
			span.From = t
			break
		}
	}
	if math.IsNaN(span.From) {
		return geom.Span{}, false
	}
	ref = p.At(length)
	for t := length; t >= span.From; t -= step {
		q := p.At(t)
		if q.Held {
			ref = p.At(t - step)
			continue
		}
		if off(q, ref) {
			span.To = t
			break
		}
	}
	return span, true
}

// visible works out for each frame how much of the robot's top can be seen: by
// a few hundred points of it, each looked for along its ray.
func (t *Truth) visible(s *Scene) {
	w := &world{view: &view{cam: s.Camera, w: s.Camera.Width, h: s.Camera.Height, cx: s.Camera.Centre.X, cy: s.Camera.Centre.Y, H: s.Camera.Centre.Z}, s: s}
	w.setUp()
	body := s.body()
	var pts []geom.Point2
	const n = 15
	for i := range n {
		for j := range n {
			q := geom.Point2{X: body.bound * (2*(float64(i)+0.5)/n - 1), Y: body.bound * (2*(float64(j)+0.5)/n - 1)}
			if body.inside(q.X, q.Y) {
				pts = append(pts, q)
			}
		}
	}
	t.Visible = make([]float64, len(t.Times))
	var actors []actor
	for i, at := range t.Times {
		pose := t.Poses[i]
		z := pose.Lift + s.Robot.Height
		actors = w.cast(at, pose, actors[:0])
		seen := 0
		for _, q := range pts {
			f := pose.At(q)
			px, ok := s.Camera.Project(geom.Point3{X: f.X, Y: f.Y, Z: z})
			if !ok || !s.Camera.InFrame(px) {
				continue
			}
			// Where the ray through the point meets the floor.
			k := w.H / (w.H - z)
			fx, fy := w.cx+(f.X-w.cx)*k, w.cy+(f.Y-w.cy)*k
			if id, _, h := w.trace(fx, fy); id >= 0 && h.z > z {
				continue
			}
			hidden := false
			for a := range actors {
				if h, ok := actors[a].solid.hit(w.view, fx, fy); ok && h.z > z {
					hidden = true
					break
				}
			}
			if !hidden {
				seen++
			}
		}
		t.Visible[i] = float64(seen) / float64(len(pts))
	}
}
