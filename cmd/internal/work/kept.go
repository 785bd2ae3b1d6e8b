package work

import (
	"context"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"swathe/cmd/internal/lab"
	"swathe/coverage"
	"swathe/geom"
	"swathe/report"
	"swathe/report/figure"
)

// Kept is a finished result, read back whole: what was written, and the raster
// of the pictures, swept anew from the path that was kept.
type Kept struct {
	ID      string // <layout>/<robot>_<phase>_<trial>
	Dir     string // its folder, absolute
	Run     *report.Run
	Figure  figure.Run
	Setup   []byte // setup.yaml
	Options coverage.Options
	Camera  *geom.Camera // as solved; nil for a path that was measured elsewhere

	ConditionUnit func(name string) string // unit of a condition, by today's lab.yaml
}

// Pick returns the results that names pick, each once, in the order of the
// names and then of the results. A name is <layout>/<robot>_<phase>_<trial>
// with * and ? as wildcards; one that picks nothing is an error.
func Pick(l *lab.Lab, names []string) ([]string, error) {
	all, err := l.Results()
	if err != nil {
		return nil, err
	}
	taken := map[string]bool{}
	var out []string
	for _, name := range names {
		hit := false
		want := strings.TrimPrefix(strings.Trim(filepath.ToSlash(name), "/"), "results/")
		for _, id := range all {
			ok, err := path.Match(want, id)
			if err != nil {
				return nil, fmt.Errorf("%q is not a valid pattern: %v. Write a run as <layout>/<robot>_<phase>_<trial>, with * for any", name, err)
			}
			if ok {
				hit = true
				if !taken[id] {
					taken[id] = true
					out = append(out, id)
				}
			}
		}
		if !hit {
			return nil, fmt.Errorf("there is no result %q in this lab. Write a run as <layout>/<robot>_<phase>_<trial>, with * for any; run swathe measure first", name)
		}
	}
	return out, nil
}

// Load reads the result called id back. eye is asked only where the lens came
// from pictures of a board. adjust, if not nil, may change the options that the
// floor is swept with, say to have more worked out.
func Load(ctx context.Context, l *lab.Lab, id string, eye Eye, adjust func(*coverage.Options)) (*Kept, error) {
	return LoadTool(ctx, l, id, "", eye, adjust)
}

// LoadTool is Load with the floor swept by the robot's tool of that name, so that
// Figure is of it; "" is the headline tool. Run stays as it was written. Error: the
// robot has no such tool.
func LoadTool(ctx context.Context, l *lab.Lab, id, tool string, eye Eye, adjust func(*coverage.Options)) (*Kept, error) {
	layout, name, _ := strings.Cut(id, "/")
	k := &Kept{ID: id, Dir: l.ResultDir(layout, name), ConditionUnit: l.ConditionUnit}
	var err error
	if k.Run, err = report.ReadRun(k.Dir); err != nil {
		return nil, err
	}
	trace, err := report.ReadTrace(k.Dir)
	if err != nil {
		return nil, err
	}
	if k.Setup, err = os.ReadFile(filepath.Join(k.Dir, report.SetupFile)); err != nil {
		return nil, err
	}
	then, err := l.Kept(k.Dir)
	if err != nil {
		return nil, err
	}
	lay, robot := then.Layouts[k.Run.Layout], then.Robots[k.Run.Robot]
	if lay == nil || robot == nil {
		return nil, fmt.Errorf("%s: its saved set-up lacks the layout %q or the robot %q. Measure the recording again with --again", id, k.Run.Layout, k.Run.Robot)
	}
	opt := then.Settings.Coverage
	for _, s := range k.Run.ToolOffS {
		opt.ToolOff = append(opt.ToolOff, geom.Span{From: s[0], To: s[1]})
	}
	if len(k.Run.Recording.FrameSize) > 0 {
		camera, err := then.Solve(lay.Camera, eye.Solver(ctx))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", id, err)
		}
		k.Camera = camera.Camera
		if opt.Unseen, err = unseen(camera.Camera, lay.Plan); err != nil {
			return nil, err
		}
	}
	if adjust != nil {
		adjust(&opt)
	}
	k.Options = opt
	body, err := withTool(robot.Robot, tool)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", id, err)
	}
	sigma := k.Run.Coverage.U("reachable_share")
	if body.Tools[0].Name != k.Run.Tool {
		other := k.Run.OtherTools[body.Tools[0].Name]
		sigma = other.U("reachable_share")
	}
	cov, err := coverage.Measure(trace, lay.Plan, body, opt)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", id, err)
	}
	k.Figure = figure.Run{
		Layout: k.Run.Layout, Robot: k.Run.Robot, Phase: k.Run.Phase, Trial: k.Run.Trial,
		Plan: lay.Plan, Body: body, Trace: trace, Cover: cov,
		Mark: k.Run.Mark, ShareSigma: sigma,
	}
	return k, nil
}

// OtherTool is the name of the tool that Figure is of where it is not the
// headline one, else "".
func (k *Kept) OtherTool() string {
	if k.Figure.Cover.Tool == k.Run.Tool {
		return ""
	}
	return k.Figure.Cover.Tool
}

// FileName is the run's name in one folder with runs of other layouts and with
// pictures of other tools.
func (k *Kept) FileName() string {
	name := strings.ReplaceAll(k.ID, "/", "_")
	if t := k.OtherTool(); t != "" {
		name += "_" + t
	}
	return name
}

// withTool is the robot with the tool of that name as its first; "" leaves it as
// it is.
func withTool(r geom.Robot, name string) (geom.Robot, error) {
	if name == "" {
		return r, nil
	}
	var names []string
	for i, t := range r.Tools {
		if t.Name == name {
			r.Tools = append([]geom.Tool{t}, append(slices.Clone(r.Tools[:i]), r.Tools[i+1:]...)...)
			return r, nil
		}
		names = append(names, t.Name)
	}
	return r, fmt.Errorf("%s has no tool %q.%s", r.Name, name, lab.DidYouMean(name, names))
}

// Names are the run's own: of robot, layout, tools and all that is in the room, which
// are the same in every language.
func (k *Kept) Names() []string {
	out := []string{k.Run.Robot, k.Run.Layout, k.Run.Name()}
	for _, t := range k.Figure.Body.Tools {
		out = append(out, t.Name)
	}
	if p := k.Figure.Plan; p != nil {
		for _, group := range [][]geom.Piece{p.Obstacles, p.Overhead, p.TestObjects} {
			for _, o := range group {
				out = append(out, o.Name)
			}
		}
		for _, a := range p.Areas {
			out = append(out, a.Name)
		}
	}
	return out
}
