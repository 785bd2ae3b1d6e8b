package proof

import (
	"context"
	"slices"

	"swathe/cmd/internal/lab"
	"swathe/report"
	"swathe/report/accuracy"
	"swathe/track"
	"swathe/track/preflight"
)

// looks is what a drawn recording is to look like.
type looks struct {
	fps        float64
	appearance *preflight.Appearance
	from       []string // recordings that told
	usual      []string // what none told
}

// usualFPS is the frame rate that is drawn where no recording tells one.
const usualFPS = 30

func (k looks) words() accuracy.Look {
	out := accuracy.Look{From: k.from, Usual: k.usual, FloorGrey: report.NaN, RobotGrey: report.NaN, NoiseGrey: report.NaN, RobotTexture: report.NaN}
	a := k.appearance
	if a == nil {
		return out
	}
	if a.Floor != nil {
		out.FloorGrey = a.Floor.Grey()
	}
	if a.Top != nil {
		out.RobotGrey = a.Top.Grey()
	}
	if a.Noise != nil {
		out.NoiseGrey = *a.Noise
	}
	if a.TopTexture != nil {
		out.RobotTexture = *a.TopTexture
	}
	return out
}

// finder asks the eye for the looks of recordings, each once.
type finder struct {
	lab  *lab.Lab
	ask  func(r lab.Run) *track.JudgeReply // nil: it could not be judged
	runs []lab.Run
	seen map[string]*track.JudgeReply
}

func newFinder(ctx context.Context, l *lab.Lab, opt Options) *finder {
	f := &finder{lab: l, seen: map[string]*track.JudgeReply{}}
	if opt.EyePath == "" {
		return f
	}
	// A lab whose recordings are still to be made can be proved all the same.
	if runs, _, err := l.Recordings(); err == nil {
		for _, r := range runs {
			if !r.IsPath() {
				f.runs = append(f.runs, r)
			}
		}
	}
	f.ask = func(r lab.Run) *track.JudgeReply {
		camera := l.CameraOf(r)
		sol, err := l.Solve(camera, opt.Eye.Solver(ctx))
		if err != nil {
			return nil
		}
		room, err := l.RoomPicture(camera)
		if err != nil {
			return nil
		}
		reference := ""
		if room != nil {
			reference = room.File
		}
		reply, err := track.JudgeRecording(ctx, opt.EyePath, track.JudgeRequest{Files: r.Files, Camera: *sol.Camera,
			Plan: *l.Layouts[r.Layout].Plan, Robot: l.Robots[r.Robot].Robot, Reference: reference})
		if err != nil {
			return nil
		}
		return reply
	}
	return f
}

// of is what the eye says of a run, asked once.
func (f *finder) of(r lab.Run) *track.JudgeReply {
	id := r.ID()
	if _, ok := f.seen[id]; !ok {
		f.seen[id] = f.ask(r)
	}
	return f.seen[id]
}

// looks returns the looks of a robot in a layout: of a recording of the two
// together; else the room of any recording in the layout, and the robot of any
// recording of it, with what one recording cannot tell left as usual.
func (f *finder) looks(layout, robot string) looks {
	k := looks{fps: usualFPS, from: []string{}, usual: []string{}}
	var room, body, any *track.JudgeReply
	take := func(dst **track.JudgeReply, fits func(lab.Run) bool, told func(*track.JudgeReply) bool) {
		for _, r := range f.runs {
			if *dst != nil || !fits(r) {
				continue
			}
			if reply := f.of(r); reply != nil && told(reply) {
				*dst = reply
				if !slices.Contains(k.from, r.ID()) {
					k.from = append(k.from, r.ID())
				}
			}
		}
	}
	both := func(r lab.Run) bool { return r.Layout == layout && r.Robot == robot }
	hasRobot := func(r *track.JudgeReply) bool { return r.Finding.Looks.Top != nil }
	hasFloor := func(r *track.JudgeReply) bool { return r.Finding.Looks.Floor != nil }
	take(&body, both, hasRobot)
	room = body
	take(&room, both, hasFloor)
	take(&room, func(r lab.Run) bool { return r.Layout == layout }, hasFloor)
	take(&body, func(r lab.Run) bool { return r.Robot == robot }, hasRobot)
	a := &preflight.Appearance{}
	if any = room; any == nil {
		any = body
	}
	if room != nil {
		a.Floor, a.FloorTexture, a.Pieces = room.Finding.Looks.Floor, room.Finding.Looks.FloorTexture, room.Finding.Looks.Pieces
	}
	if body != nil {
		a.Top, a.TopTexture = body.Finding.Looks.Top, body.Finding.Looks.TopTexture
	}
	if any != nil {
		a.Noise = any.Finding.Looks.Noise
		if any.FPS > 0 {
			k.fps = any.FPS
		}
		k.appearance = a
	}
	for _, c := range []struct {
		missing bool
		what    string
	}{
		{a.Floor == nil, "tone of floor and furniture"}, {a.Top == nil, "the robot's top"}, {a.Noise == nil, "noise"},
		{any == nil || any.FPS <= 0, "frame rate"}, {true, "pattern of the floor"}, {true, "shadows"}, {true, "sharpness"},
	} {
		if c.missing {
			k.usual = append(k.usual, c.what)
		}
	}
	return k
}
