package serve

import (
	"math"
	"path/filepath"
	"sync"
	"time"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
	"swathe/coverage"
	"swathe/geom"
	"swathe/report"
	"swathe/report/page"
	"swathe/track"
)

// going is a run being measured, with what is known of it so far.
type going struct {
	id     string
	files  []string // <layout>/<name>
	plan   *geom.Plan
	robot  *geom.Robot
	camera *geom.Camera // nil of a path, or where the lens is not known yet

	mu      sync.Mutex
	p       track.Progress
	began   time.Time     // when the recording was first seen to go on
	from    float64       // its share then
	seen    []geom.Sample // thinned to liveStep
	cleaned float64
	told    time.Time // when cleaned was worked out
	busy    bool
	repeat  *coverage.Repeat
}

// The picture of a run under way is coarse: a figure every two seconds on cells
// of 2 cm, from places a tenth of a second apart at least.
const (
	liveCell  = 0.02
	liveEvery = 2 * time.Second
	liveStep  = 0.1
)

func newGoing(id string, item work.Item, l *lab.Lab) *going {
	g := &going{id: id, cleaned: math.NaN(), p: track.Progress{X: math.NaN(), Y: math.NaN()}}
	for _, f := range item.Files() {
		g.files = append(g.files, filepath.Base(filepath.Dir(f))+"/"+filepath.Base(f))
	}
	if item.Refusal != nil || item.Run.IsPath() {
		return g
	}
	g.plan = l.Layouts[item.Run.Layout].Plan
	r := l.Robots[item.Run.Robot].Robot
	g.robot = &r
	if name := l.CameraOf(item.Run); l.Cameras[name] != nil && l.Cameras[name].Spec.Board == nil {
		if s, err := l.Solve(name, nil); err == nil {
			g.camera = s.Camera
		}
	}
	return g
}

// tell takes in how far the work is.
func (g *going) tell(p track.Progress) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if p.Doing != "" {
		p.T, p.Speed = g.p.T, 0
	} else if g.began.IsZero() && p.Share > 0 {
		g.began, g.from = time.Now(), p.Share
	}
	g.p = p
	if math.IsNaN(p.X) || math.IsNaN(p.Y) {
		return
	}
	n := len(g.seen)
	if n > 0 && p.T-g.seen[n-1].T < liveStep {
		return
	}
	s := geom.Sample{T: p.T, X: p.X, Y: p.Y, State: geom.Seen, Heading: 0}
	if n > 0 {
		// Before linking there is no heading; the direction of travel stands in.
		last := g.seen[n-1]
		s.Heading = last.Heading
		if math.Hypot(p.X-last.X, p.Y-last.Y) > 0.01 {
			s.Heading = math.Atan2(p.Y-last.Y, p.X-last.X)
		}
	}
	g.seen = append(g.seen, s)
}

// active is what the page shows of it.
func (g *going) active() page.Active {
	g.mu.Lock()
	defer g.mu.Unlock()
	a := page.Active{Run: g.id, Share: g.p.Share, T: g.p.T, Speed: g.p.Speed, Cleaned: g.cleaned, Files: g.files, Doing: g.p.Doing, LeftS: report.NaN}
	if took := time.Since(g.began).Seconds(); a.Doing == "" && !g.began.IsZero() && took > 5 && g.p.Share > g.from {
		a.LeftS = took * (1 - g.p.Share) / (g.p.Share - g.from)
	}
	switch {
	case a.Doing != "":
	case g.began.IsZero():
		a.Doing = "getting to know the room"
	default:
		a.Doing = "following the robot"
	}
	if g.camera != nil && !math.IsNaN(g.p.X) {
		a.Frame = [2]int{g.camera.Width, g.camera.Height}
		heading := 0.0
		if n := len(g.seen); n > 0 {
			heading = g.seen[n-1].Heading
		}
		for _, p := range geom.Silhouette(g.camera, *g.robot, geom.Pose{X: g.p.X, Y: g.p.Y, Heading: heading}, 0, 60).Points {
			a.Outline = append(a.Outline, [2]float64{math.Round(p.Px.X*10) / 10, math.Round(p.Px.Y*10) / 10})
		}
	}
	if g.plan != nil && len(g.seen) > 20 && !g.busy && time.Since(g.told) > liveEvery {
		g.busy = true
		seen := g.seen[:len(g.seen):len(g.seen)]
		go g.sweep(seen)
	}
	return a
}

// sweep works out what was cleaned so far.
func (g *going) sweep(seen []geom.Sample) {
	share := math.NaN()
	if g.repeat == nil {
		opt := coverage.DefaultOptions()
		opt.Cell = liveCell
		g.repeat, _ = coverage.NewRepeat(opt, false)
	}
	last := seen[len(seen)-1].T
	t := &geom.Trace{Samples: unwrapped(seen), Run: geom.Span{From: seen[0].T, To: last}, Started: geom.StartedAtRest, Ended: geom.EndedRecording, Length: last}
	if g.repeat != nil {
		if lean, err := g.repeat.Measure(t, g.plan, g.robot); err == nil {
			share = lean.Coverage.ReachableShare
		}
	}
	g.mu.Lock()
	g.cleaned, g.told, g.busy = share, time.Now(), false
	g.mu.Unlock()
}

// unwrapped makes headings go on over the half turn.
func unwrapped(seen []geom.Sample) []geom.Sample {
	out := append([]geom.Sample(nil), seen...)
	for i := 1; i < len(out); i++ {
		d := math.Remainder(out[i].Heading-out[i-1].Heading, 2*math.Pi)
		out[i].Heading = out[i-1].Heading + d
	}
	return out
}

// Live says what is going on.
func (d *Desk) Live() page.Live {
	d.mu.Lock()
	defer d.mu.Unlock()
	out := page.Live{Version: d.version, Setup: d.problem, Active: []page.Active{}, Waiting: d.waiting(), Queue: d.workers()}
	for _, g := range d.active {
		if d.state[g.id] == page.Measuring {
			out.Active = append(out.Active, g.active())
		}
	}
	return out
}
