package serve

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"swathe/cmd/internal/bench"
	"swathe/cmd/internal/export"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
	"swathe/coverage"
	"swathe/coverage/compare"
	"swathe/report"
	"swathe/report/compared"
	"swathe/report/figure"
	"swathe/report/page"
	"swathe/report/words"
)

// The picture of a plan that a robot moves over, pixels.
const (
	planWidth  = 900
	planHeight = 675
	mostPoints = 6000 // of a path that is played
)

func (d *Desk) resultDir(run string) (string, error) {
	dir := filepath.Join(d.results(), filepath.FromSlash(run))
	if _, err := os.Stat(filepath.Join(dir, report.RunFile)); err != nil {
		return "", page.Refuse(http.StatusNotFound, "There is no result of %s in this lab.", run)
	}
	if err := d.confined([]string{dir}); err != nil {
		return "", page.Refuse(http.StatusForbidden, "%s leads out of the lab's folder and is not shown.", run)
	}
	return dir, nil
}

// reader returns the lab as far as reading results needs it.
func (d *Desk) reader() *lab.Lab {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.lab != nil {
		return d.lab
	}
	return &lab.Lab{Dir: d.dir}
}

// Run reads a result for its page: its figures as they stand, without sweeping
// the floor anew.
func (d *Desk) Run(run string) (*page.RunView, error) {
	dir, err := d.resultDir(run)
	if err != nil {
		return nil, err
	}
	r, err := report.ReadRun(dir)
	if err != nil {
		return nil, page.Refuse(http.StatusConflict, "%v.", err)
	}
	trace, err := report.ReadTrace(dir)
	if err != nil {
		return nil, page.Refuse(http.StatusConflict, "%v.", err)
	}
	then, err := d.reader().Kept(dir)
	if err != nil {
		return nil, page.Refuse(http.StatusConflict, "%v", err)
	}
	lay, robot := then.Layouts[r.Layout], then.Robots[r.Robot]
	if lay == nil || robot == nil {
		return nil, page.Refuse(http.StatusConflict, "The set-up kept with %s lacks its layout or its robot. Measure it again.", run)
	}
	b := r.Coverage
	fig := figure.Run{Layout: r.Layout, Robot: r.Robot, Phase: r.Phase, Trial: r.Trial, Plan: lay.Plan, Body: robot.Robot, Trace: trace,
		Cover: &coverage.Result{Tool: r.Tool,
			Coverage: coverage.Block{ReachableShare: b.ReachableShare, CoveredShare: b.CoveredShare, MeanPasses: b.MeanPasses},
			Motion:   coverage.Motion{DurationS: r.Run.DurationS, DistanceM: r.Run.DistanceM}},
		Mark: r.Mark, ShareSigma: b.U("reachable_share")}
	setup, _ := os.ReadFile(filepath.Join(dir, report.SetupFile))
	today := d.reader()
	readings, err := bench.OfRunInWords(today, r)
	if err != nil {
		return nil, page.Refuse(http.StatusConflict, "%v.", err)
	}
	v := &page.RunView{Run: r, Sheet: report.RunSheet(report.SheetInput{Run: r, Figure: fig, Unit: words.Metre, Setup: setup, ConditionUnit: today.ConditionUnit, Readings: readings})}
	o := figure.DefaultOptions()
	o.Width, o.Height = planWidth, planHeight
	k, x0, y0, err := figure.PlanView(lay.Plan, o)
	if err != nil {
		return nil, err
	}
	v.Plan = page.PlanView{Width: planWidth, Height: planHeight, K: k, X0: x0, Y0: y0}
	v.Radius = robot.Radius()
	for _, t := range robot.Tools {
		if t.Name == r.Tool {
			v.Tool = [3]float64{t.Width, t.Ahead, t.Left}
		}
	}
	if then.Cameras[lay.Camera] != nil && then.Cameras[lay.Camera].Spec.Board == nil && len(then.Cameras) == 1 {
		if s, err := then.Solve(lay.Camera, nil); err == nil {
			v.Camera = cameraOf(s.Camera)
		}
	}
	step := 1 + len(trace.Samples)/mostPoints
	for i := 0; i < len(trace.Samples); i += step {
		s := trace.Samples[i]
		v.Path = append(v.Path, [4]float64{s.T, s.X, s.Y, s.Heading * 180 / math.Pi})
	}
	var made struct {
		Files []string `json:"files"`
	}
	if raw, err := os.ReadFile(filepath.Join(dir, lab.MadeName)); err == nil && json.Unmarshal(raw, &made) == nil {
		for _, f := range made.Files {
			if rest, ok := strings.CutPrefix(f, "recordings/"); ok && exists(filepath.Join(d.dir, filepath.FromSlash(f))) {
				v.Files = append(v.Files, rest)
			}
		}
	}
	d.mu.Lock()
	v.State = d.state[run]
	d.mu.Unlock()
	return v, nil
}

// keptCache holds the last few results that pictures were drawn of, swept.
type keptCache struct {
	mu   sync.Mutex
	list []*keptOnce // the latest last
}

type keptOnce struct {
	id   string
	once sync.Once
	kept *work.Kept
	err  error
}

const mostKept = 8

// sweeping bounds how many results are swept, and pictures drawn, at once.
var sweeping = make(chan struct{}, 2)

func (c *keptCache) drop(id string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for i, k := range c.list {
		if k.id == id {
			c.list = append(c.list[:i:i], c.list[i+1:]...)
			return
		}
	}
}

func (c *keptCache) get(id string) *keptOnce {
	c.mu.Lock()
	defer c.mu.Unlock()
	for i, k := range c.list {
		if k.id == id {
			c.list = append(append(c.list[:i:i], c.list[i+1:]...), k)
			return k
		}
	}
	k := &keptOnce{id: id}
	c.list = append(c.list, k)
	if len(c.list) > mostKept {
		c.list = c.list[1:]
	}
	return k
}

// load reads a result back whole.
func (d *Desk) load(run string) (*work.Kept, error) {
	if _, err := d.resultDir(run); err != nil {
		return nil, err
	}
	k := d.kept.get(run)
	k.once.Do(func() {
		sweeping <- struct{}{}
		defer func() { <-sweeping }()
		// Not the request's context: others may wait for the same result.
		k.kept, k.err = work.Load(d.ctx, d.reader(), run, d.eye.Eye, export.DefaultRequest().Adjust)
	})
	if k.err != nil {
		d.kept.drop(run)
	}
	return k.kept, k.err
}

// Picture draws a picture of one run.
func (d *Desk) Picture(ctx context.Context, w io.Writer, run, kind string, o figure.Options) error {
	if _, err := d.resultDir(run); err != nil {
		return err
	}
	if kind == page.FilmStill {
		return d.filmStill(ctx, w, run, o)
	}
	if !export.OfOne(kind) {
		return page.Refuse(http.StatusNotFound, "There is no picture %q of a run.", kind)
	}
	k, err := d.load(run)
	if err != nil {
		return page.Refuse(http.StatusConflict, "%v.", err)
	}
	select {
	case sweeping <- struct{}{}:
		defer func() { <-sweeping }()
	case <-ctx.Done():
		return ctx.Err()
	}
	p, err := export.Draw(kind, k, o)
	if err != nil {
		return page.Refuse(http.StatusConflict, "%v.", err)
	}
	return p.Write(w, "png")
}

// Judge says what a comparison of runs would refuse, and what bounds it.
func (d *Desk) Judge(runs []string) (page.Judged, error) {
	out := page.Judged{Refused: []page.Refused{}, Notes: []string{}}
	found, unread := report.Indexed(d.results(), runs)
	for i := range found {
		var err error
		if found[i].Common, err = report.ReadShared(filepath.Join(d.results(), filepath.FromSlash(found[i].ID))); err != nil {
			return out, page.Refuse(http.StatusConflict, "%s: %v.", found[i].ID, err)
		}
	}
	for _, u := range unread {
		out.Refused = append(out.Refused, page.Refused{Run: u.Run, Reason: u.Err.Error()})
	}
	opt := compare.DefaultOptions()
	opt.OutlineSigma = d.reader().Settings.Uncertainty.OutlineSigma
	c, err := compare.New(found, opt)
	if err != nil && !errors.Is(err, compare.ErrNothing) {
		return out, err
	}
	for _, r := range c.Refused {
		out.Refused = append(out.Refused, page.Refused{Run: r.Run, Reason: r.Reason})
	}
	out.Fit, out.Notes = len(c.Runs), append(out.Notes, c.Notes...)
	return out, nil
}

// Compare lays runs side by side in comparisons/<name>.
func (d *Desk) Compare(_ context.Context, name string, runs []string, replace bool) (string, error) {
	for _, r := range runs {
		if _, err := d.resultDir(r); err != nil {
			return "", err
		}
	}
	l := d.reader()
	if name == "" {
		name = work.FreeComparisonName(l, runs)
	} else if !replace && work.OtherComparison(l, name, runs) {
		return "", page.ErrTaken(name, "a comparison")
	}
	if err := d.confined([]string{l.ComparisonsDir()}); err != nil {
		return "", page.Refuse(http.StatusForbidden, "comparisons/ leads out of the lab's folder and is not written.")
	}
	in, err := work.Compare(l, name, runs, compare.DefaultOptions())
	if errors.Is(err, compare.ErrNothing) {
		why := []string{}
		for _, r := range in.Doc.Refused {
			why = append(why, r.Run+": "+r.Reason+".")
		}
		return "", page.Refuse(http.StatusUnprocessableEntity, "%v. %s", err, strings.Join(why, " "))
	}
	if err != nil {
		return "", page.Refuse(http.StatusConflict, "%v.", err)
	}
	_, err = l.WriteComparison(name, func(dir string) error { return compared.WriteComparison(dir, *in) })
	if err != nil {
		return "", page.Refuse(http.StatusInsufficientStorage, "%v.", err)
	}
	return name, nil
}
