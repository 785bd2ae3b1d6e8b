package work

import (
	"context"
	"fmt"
	"math"
	"slices"

	"swathe/cmd/internal/lab"
	"swathe/geom"
)

// Judgement is what check says of a set-up. A nil number could not be measured.
type Judgement struct {
	Cameras []CameraJudgement `json:"cameras"`
	Layouts []LayoutJudgement `json:"layouts"`
	Differs []string          `json:"differs_from_setup"` // results of another set-up than today's
	Bad     []BadRecording    `json:"recordings_without_run"`

	views map[string]*geom.View
}

// View is how the camera of a layout sees its floor; nil if none looks at it.
func (j *Judgement) View(layout string) *geom.View { return j.views[layout] }

// CameraJudgement is how well the marks settle a camera.
type CameraJudgement struct {
	Name         string      `json:"camera"`
	Frame        [2]int      `json:"frame_size"`
	Solved       []string    `json:"solved"`
	NotSolved    []string    `json:"not_solved"` // each with what was done instead
	HeightM      *float64    `json:"lens_height_m"`
	Marks        []MarkCheck `json:"marks"`
	MarkRMSPx    *float64    `json:"mark_rms_px"`
	MarkRMSM     *float64    `json:"mark_rms_m"`
	LeaveOneOutM *float64    `json:"leave_one_out_m"`
	Tapes        []TapeCheck `json:"tapes"`
	Warnings     []string    `json:"warnings"`
}

// MarkCheck is one mark against the solved camera.
type MarkCheck struct {
	Mark         int        `json:"mark"` // from 1, as in lab.yaml
	Floor        [3]float64 `json:"floor_m"`
	ResidualPx   *float64   `json:"residual_px"`
	ResidualM    *float64   `json:"residual_m"`
	LeaveOneOutM *float64   `json:"leave_one_out_m"`
	SigmaM       *float64   `json:"sigma_m"` // of its survey, as entered; nil if none was
	Unused       bool       `json:"left_out_as_outlier"`
	Why          *string    `json:"left_out_because"` // where the others put it and what slip would explain it; nil if it is used
}

// TapeCheck is one tape against the solved camera.
type TapeCheck struct {
	LengthM float64  `json:"length_m"`
	ErrorM  *float64 `json:"error_m"` // as seen less as measured
}

// LayoutJudgement is what the camera makes of a layout's floor.
type LayoutJudgement struct {
	Name       string       `json:"layout"`
	Camera     *string      `json:"camera"`
	OpenM2     *float64     `json:"open_m2"`
	UnseenM2   *float64     `json:"unseen_m2"`
	UnderM2    *float64     `json:"hidden_overhead_m2"` // open floor that overhead pieces hide
	PixelM     [3]*float64  `json:"pixel_m"`            // smallest, median, largest size of a pixel over the open floor that shows
	FloorSigma *float64     `json:"floor_sigma_m"`      // median standard uncertainty of a floor position from the camera's solution
	FarSigma   *float64     `json:"floor_sigma_max_m"`
	Robots     []RobotCheck `json:"robots"`
	Warnings   []string     `json:"warnings"`
}

// RobotCheck is how large a robot shows.
type RobotCheck struct {
	Name     string   `json:"robot"`
	RadiusPx *float64 `json:"radius_px"` // where it shows smallest, over the open floor
}

// BadRecording is a recording that cannot be tied to a run.
type BadRecording struct {
	Recording string `json:"recording"`
	Reason    string `json:"reason"`
}

// Judge judges the set-up of a lab. An error is one of the set-up.
func Judge(ctx context.Context, l *lab.Lab, eye Eye) (*Judgement, error) {
	j := &Judgement{Cameras: []CameraJudgement{}, Layouts: []LayoutJudgement{}, Differs: []string{}, Bad: []BadRecording{}, views: map[string]*geom.View{}}
	solutions := map[string]*geom.Solution{}
	for _, name := range l.CameraNames {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		s, err := l.Solve(name, eye.Solver(ctx))
		if err != nil {
			return nil, err
		}
		solutions[name] = s
		j.Cameras = append(j.Cameras, JudgeCamera(l.Cameras[name].Spec, s))
	}
	for _, name := range l.LayoutNames {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		lay := l.Layouts[name]
		judged, view := judgeLayout(l, lay, solutions[lay.Camera])
		j.Layouts = append(j.Layouts, judged)
		if view != nil {
			j.views[name] = view
		}
	}
	differs, err := l.Differing()
	if err != nil {
		return nil, err
	}
	j.Differs = append(j.Differs, differs...)
	// A lab whose recordings are still to be made can be judged all the same.
	if _, refused, err := l.Recordings(); err == nil {
		for _, r := range refused {
			j.Bad = append(j.Bad, BadRecording{r.ID(), r.Message})
		}
	}
	return j, nil
}

// JudgeCamera says how well its marks settle a camera.
func JudgeCamera(spec geom.CameraSpec, s *geom.Solution) CameraJudgement {
	c := CameraJudgement{
		Name: spec.Name, Frame: [2]int{spec.Width, spec.Height}, Solved: orEmpty(s.Solved), NotSolved: orEmpty(s.NotSolved),
		HeightM: known(s.Camera.Centre.Z), MarkRMSPx: known(s.MarkRMSPx), MarkRMSM: known(s.MarkRMSM),
		LeaveOneOutM: known(s.LeaveOneOutM), Warnings: orEmpty(s.Warnings), Marks: []MarkCheck{}, Tapes: []TapeCheck{},
	}
	for _, r := range s.Residuals {
		f := spec.Marks[r.Mark].Floor
		c.Marks = append(c.Marks, MarkCheck{r.Mark + 1, [3]float64{f.X, f.Y, f.Z}, known(r.Px.Norm()), known(r.M), known(r.LooM), given(spec.Marks[r.Mark].Sigma), r.Unused, nil})
	}
	for _, m := range s.Misfits {
		c.Marks[m.Mark].Why = &m.Says
	}
	for i, t := range spec.Tapes {
		c.Tapes = append(c.Tapes, TapeCheck{t.Length, known(s.TapeErrors[i])})
	}
	return c
}

// judgeStep is how densely the floor is looked at, m.
const judgeStep = 0.1

// texturePx is the radius in pixels under which a robot's top shows no texture
// that its turning could be read from.
const texturePx = 25

func judgeLayout(l *lab.Lab, lay *lab.Layout, s *geom.Solution) (LayoutJudgement, *geom.View) {
	out := LayoutJudgement{Name: lay.Name, OpenM2: known(lay.Plan.OpenArea()), Robots: []RobotCheck{}, Warnings: []string{}}
	if s == nil {
		out.Warnings = append(out.Warnings, "it has no camera, so only paths measured elsewhere can be analysed")
		return out, nil
	}
	camera := lay.Camera
	out.Camera = &camera
	var pixels, sigmas []float64
	low, high := lay.Plan.Bounds()
	for x := low.X + judgeStep/2; x < high.X; x += judgeStep {
		for y := low.Y + judgeStep/2; y < high.Y; y += judgeStep {
			p := geom.Point3{X: x, Y: y}
			if !lay.Plan.Open(geom.Point2{X: x, Y: y}) {
				continue
			}
			if q, ok := s.Camera.Project(p); !ok || !s.Camera.InFrame(q) {
				continue
			}
			pixels = append(pixels, s.Camera.PixelSize(p))
			sigmas = append(sigmas, s.FloorSigma(p))
		}
	}
	view, err := geom.UnseenArea(s.Camera, lay.Plan, viewCell(lay.Plan))
	if err != nil {
		out.Warnings = append(out.Warnings, err.Error())
		return out, nil
	}
	out.UnseenM2, out.UnderM2 = known(view.UnseenM2), known(view.UnderM2)
	if len(pixels) == 0 {
		out.Warnings = append(out.Warnings, fmt.Sprintf("camera %s sees none of its open floor. Check that marks and room are measured from the same origin", lay.Camera))
		return out, view
	}
	slices.Sort(pixels)
	slices.Sort(sigmas)
	out.PixelM = [3]*float64{known(pixels[0]), known(pixels[len(pixels)/2]), known(pixels[len(pixels)-1])}
	out.FloorSigma, out.FarSigma = known(sigmas[len(sigmas)/2]), known(sigmas[len(sigmas)-1])
	for _, name := range l.RobotNames {
		r := l.Robots[name].Radius() / pixels[len(pixels)-1]
		out.Robots = append(out.Robots, RobotCheck{name, known(r)})
		if r < texturePx {
			out.Warnings = append(out.Warnings, fmt.Sprintf("robot %s has a radius of only %.0f pixels at the farthest place; below %d its heading comes from the direction of travel alone. Record at a higher resolution, or lower the camera", name, r, texturePx))
		}
	}
	if view.UnseenM2 > 0.01*lay.Plan.OpenArea() {
		out.Warnings = append(out.Warnings, fmt.Sprintf("camera %[2]s cannot see %.2[1]f m2 of its open floor, so what the robot does there is unknown. Move the camera, or tilt it", view.UnseenM2, lay.Camera))
	}
	return out, view
}

// known is nil for what could not be measured.
func known(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// given is nil for a sigma that was not entered.
func given(sigma float64) *float64 {
	if sigma == 0 {
		return nil
	}
	return &sigma
}

func orEmpty(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}
