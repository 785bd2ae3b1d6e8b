package work

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"swathe/cmd/internal/lab"
	"swathe/geom"
	"swathe/report"
)

// Agreement is how far two people's set-ups of the same camera and rooms agree.
// Signed differences are the other's less this lab's.
type Agreement struct {
	Other   string         `json:"other_lab"`
	Layouts []LayoutSpread `json:"layouts"`
	Robots  []RobotSpread  `json:"robots"`
	Runs    []RunSpread    `json:"runs"`     // measured in both labs
	OneOnly []string       `json:"one_only"` // what only one of the two has, and what could not be compared, in sentences
}

// LayoutSpread is one room as two people surveyed it.
type LayoutSpread struct {
	Layout  string   `json:"layout"`
	HeightM *float64 `json:"height_m"` // above the floor, at which places were compared: the tallest robot's top
	Places  int      `json:"places"`   // a grid over the floor

	// The same pixel through both cameras, each in its own survey's frame.
	RMSM   *float64 `json:"rms_m"`
	WorstM *float64 `json:"worst_m"`
	WorstX *float64 `json:"worst_x_m"`
	WorstY *float64 `json:"worst_y_m"`
	// How the second survey's origin and axes lie in the first's, and what is
	// left once that is taken out: coverage does not depend on it.
	ShiftX       *float64 `json:"shift_x_m"`
	ShiftY       *float64 `json:"shift_y_m"`
	TurnDeg      *float64 `json:"turn_deg"`
	ScaleShare   *float64 `json:"scale_share"` // by how much lengths differ
	AlignedRMSM  *float64 `json:"aligned_rms_m"`
	AlignedWorst *float64 `json:"aligned_worst_m"`
	// ExpectedM is what the two solutions' own uncertainties, marks' sigmas
	// included, make one expect of AlignedRMSM at most: that of the difference.
	ExpectedM *float64 `json:"expected_rms_m"`

	Areas []AreaSpread `json:"areas"`
}

// AreaSpread is the room or a piece of it.
type AreaSpread struct {
	Name   string     `json:"name"`
	M2     [2]float64 `json:"m2"`          // here, there
	RMSM   *float64   `json:"outline_m"`   // distance of the outlines, frames brought together; nil for an area without one
	WorstM *float64   `json:"outline_max"` //
}

// RobotSpread is a robot as two people entered it.
type RobotSpread struct {
	Robot  string     `json:"robot"`
	WidthM [2]float64 `json:"width_m"` // greatest
	Height [2]float64 `json:"height_m"`
	Tool   string     `json:"tool"`
	ToolM  [2]float64 `json:"tool_width_m"`
	AheadM [2]float64 `json:"tool_ahead_m"`
}

// RunSpread is a run's figures as both labs measured them.
type RunSpread struct {
	Run     string         `json:"run"`
	Figures []FigureSpread `json:"figures"`
}

// FigureSpread is one figure.
type FigureSpread struct {
	Figure string      `json:"figure"`
	Values [2]*float64 `json:"values"` // here, there
	Differ *float64    `json:"difference"`
}

// Against holds the set-up of a lab against another's.
func Against(ctx context.Context, l, other *lab.Lab, eye Eye) (*Agreement, error) {
	a := &Agreement{Other: other.Dir, Layouts: []LayoutSpread{}, Robots: []RobotSpread{}, Runs: []RunSpread{}, OneOnly: []string{}}
	say := func(format string, v ...any) { a.OneOnly = append(a.OneOnly, fmt.Sprintf(format, v...)) }
	top := 0.0
	for _, name := range l.RobotNames {
		r, s := l.Robots[name], other.Robots[name]
		if s == nil {
			say("robot %s is in the first lab only", name)
			continue
		}
		top = math.Max(top, r.Height)
		d := RobotSpread{Robot: name, WidthM: [2]float64{2 * r.Radius(), 2 * s.Radius()}, Height: [2]float64{r.Height, s.Height}, Tool: r.Tools[0].Name,
			ToolM: [2]float64{r.Tools[0].Width, s.Tools[0].Width}, AheadM: [2]float64{r.Tools[0].Ahead, s.Tools[0].Ahead}}
		if s.Tools[0].Name != d.Tool {
			say("robot %s: the first tool is %s in the first lab, %s in the other", name, d.Tool, s.Tools[0].Name)
		}
		a.Robots = append(a.Robots, d)
	}
	for _, name := range other.RobotNames {
		if l.Robots[name] == nil {
			say("robot %s is in the other lab only", name)
		}
	}
	for _, name := range l.LayoutNames {
		if other.Layouts[name] == nil {
			say("layout %s is in the first lab only", name)
			continue
		}
		s, why, err := layoutSpread(ctx, l, other, name, top, eye)
		if err != nil {
			return nil, err
		}
		for _, w := range why {
			say("layout %s: %s", name, w)
		}
		a.Layouts = append(a.Layouts, s)
	}
	for _, name := range other.LayoutNames {
		if l.Layouts[name] == nil {
			say("layout %s is in the other lab only", name)
		}
	}
	return a, a.runs(l, other)
}

// layoutSpread compares a layout of both labs at a height, m.
func layoutSpread(ctx context.Context, l, other *lab.Lab, name string, height float64, eye Eye) (LayoutSpread, []string, error) {
	lay, there := l.Layouts[name], other.Layouts[name]
	out := LayoutSpread{Layout: name, Areas: []AreaSpread{}}
	var why []string
	frame := geom.Rigid{Scale: 1}
	switch {
	case lay.Camera == "" || there.Camera == "":
		why = append(why, "one of the labs has no camera for it, so positions cannot be compared")
	default:
		first, second := l.Cameras[lay.Camera].Spec, other.Cameras[there.Camera].Spec
		if first.Width != second.Width || first.Height != second.Height {
			why = append(why, fmt.Sprintf("its camera's frames are %d x %d in the first lab and %d x %d in the other, so the recordings differ", first.Width, first.Height, second.Width, second.Height))
			break
		}
		a, err := l.Solve(lay.Camera, eye.Solver(ctx))
		if err != nil {
			return out, nil, err
		}
		b, err := other.Solve(there.Camera, eye.Solver(ctx))
		if err != nil {
			return out, nil, err
		}
		frame = out.places(lay.Plan, a, b, height)
		if out.Places == 0 {
			why = append(why, "the two cameras see no common floor")
		}
	}
	why = append(why, out.areas(lay.Plan, there.Plan, frame)...)
	return out, why, nil
}

// places maps a grid of the floor through one camera and back through the other.
func (s *LayoutSpread) places(plan *geom.Plan, a, b *geom.Solution, z float64) geom.Rigid {
	s.HeightM = known(z)
	var here, there []geom.Point2
	var sigma float64
	low, high := plan.Bounds()
	for x := low.X + judgeStep/2; x < high.X; x += judgeStep {
		for y := low.Y + judgeStep/2; y < high.Y; y += judgeStep {
			p := geom.Point3{X: x, Y: y, Z: z}
			px, ok := a.Camera.Project(p)
			if !ok || !a.Camera.InFrame(px) || !plan.Open(geom.Point2{X: x, Y: y}) {
				continue
			}
			q, ok := b.Camera.Floor(px, z)
			if !ok {
				continue
			}
			here, there = append(here, geom.Point2{X: x, Y: y}), append(there, q)
			u, v := a.FloorSigma(p), b.FloorSigma(geom.Point3{X: q.X, Y: q.Y, Z: z})
			sigma += 2 * (u*u + v*v)
		}
	}
	s.Places = len(here)
	frame, err := geom.FitRigid(here, there)
	if err != nil {
		return geom.Rigid{Scale: 1}
	}
	n := float64(len(here))
	var sum, worst, asum, aworst float64
	for i := range here {
		d := here[i].Dist(there[i])
		sum += d * d
		if d >= worst {
			worst, s.WorstX, s.WorstY = d, known(here[i].X), known(here[i].Y)
		}
		e := frame.Apply(here[i]).Dist(there[i])
		asum, aworst = asum+e*e, math.Max(aworst, e)
	}
	s.RMSM, s.WorstM = known(math.Sqrt(sum/n)), known(worst)
	s.AlignedRMSM, s.AlignedWorst, s.ExpectedM = known(math.Sqrt(asum/n)), known(aworst), known(math.Sqrt(sigma/n))
	s.ShiftX, s.ShiftY, s.TurnDeg, s.ScaleShare = known(frame.Shift.X), known(frame.Shift.Y), known(geom.Degrees(frame.Turn)), known(frame.Scale-1)
	return frame
}

// areas compares the rooms and what stands in them.
func (s *LayoutSpread) areas(a, b *geom.Plan, frame geom.Rigid) (why []string) {
	outline := func(name string, p, q []geom.Point2, m2 [2]float64) {
		var back []geom.Point2
		for _, c := range q {
			back = append(back, frame.Undo(c))
		}
		rms, worst := geom.OutlineSpread(p, back)
		s.Areas = append(s.Areas, AreaSpread{name, m2, known(rms), known(worst)})
	}
	s.Areas = append(s.Areas, AreaSpread{Name: "open floor", M2: [2]float64{a.OpenArea(), b.OpenArea()}})
	outline("room", geom.RingCorners(a.Room), geom.RingCorners(b.Room), [2]float64{a.RoomArea(), b.RoomArea()})
	for _, g := range []struct {
		what string
		p, q []geom.Piece
	}{{"obstacle", a.Obstacles, b.Obstacles}, {"overhead", a.Overhead, b.Overhead}, {"area", a.Areas, b.Areas}, {"test object", a.TestObjects, b.TestObjects}} {
		find := func(list []geom.Piece, name string) *geom.Piece {
			for i := range list {
				if list[i].Name == name {
					return &list[i]
				}
			}
			return nil
		}
		for _, p := range g.p {
			q := find(g.q, p.Name)
			if q == nil {
				why = append(why, fmt.Sprintf("%s %s is in the first lab only", g.what, p.Name))
				continue
			}
			outline(p.Name, geom.RingCorners(p.Outline), geom.RingCorners(q.Outline), [2]float64{p.Area(), q.Area()})
		}
		for _, q := range g.q {
			if find(g.p, q.Name) == nil {
				why = append(why, fmt.Sprintf("%s %s is in the other lab only", g.what, q.Name))
			}
		}
	}
	return why
}

// runs lays side by side what both labs measured.
func (a *Agreement) runs(l, other *lab.Lab) error {
	there := map[string]bool{}
	ids, err := other.Results()
	if err != nil {
		return err
	}
	for _, id := range ids {
		there[id] = true
	}
	if ids, err = l.Results(); err != nil {
		return err
	}
	for _, id := range ids {
		if !there[id] {
			continue
		}
		first, err1 := readResult(l, id)
		second, err2 := readResult(other, id)
		if err1 != nil || err2 != nil {
			a.OneOnly = append(a.OneOnly, fmt.Sprintf("run %s: one of its results can't be read", id))
			continue
		}
		if !sameRecording(first, second) {
			a.OneOnly = append(a.OneOnly, fmt.Sprintf("run %s was measured from different recordings", id))
			continue
		}
		r := RunSpread{Run: id}
		for _, f := range []struct {
			name string
			of   func(r *report.Run) float64
		}{
			{"reachable_share", func(r *report.Run) float64 { return r.Coverage.ReachableShare }},
			{"covered_share", func(r *report.Run) float64 { return r.Coverage.CoveredShare }},
			{"redundancy", func(r *report.Run) float64 { return r.Coverage.Redundancy }},
			{"distance_m", func(r *report.Run) float64 { return r.Run.DistanceM }},
			{"duration_s", func(r *report.Run) float64 { return r.Run.DurationS }},
		} {
			u, v := f.of(first), f.of(second)
			r.Figures = append(r.Figures, FigureSpread{f.name, [2]*float64{known(u), known(v)}, known(v - u)})
		}
		a.Runs = append(a.Runs, r)
	}
	return nil
}

func readResult(l *lab.Lab, id string) (*report.Run, error) {
	layout, name, _ := strings.Cut(id, "/")
	return report.ReadRun(l.ResultDir(layout, name))
}

// sameRecording tells whether two results come from the same files.
func sameRecording(a, b *report.Run) bool {
	return slices.Equal(a.Recording.SHA256, b.Recording.SHA256)
}
