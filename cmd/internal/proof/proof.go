// Package proof finds what accuracy a lab's set-up gives: it draws recordings in
// it, measures them and holds path, figures and events against the truth. It is
// the work of prove; no formula and no printing live here.
package proof

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"time"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
	"swathe/coverage"
	"swathe/coverage/conduct"
	"swathe/geom"
	"swathe/report"
	"swathe/report/accuracy"
	"swathe/report/figure"
	"swathe/track/trial"
)

// Options say what is drawn and how it is measured.
type Options struct {
	Seconds float64 // of driving in each drawn run
	Seed    int64
	EyePath string // of swathe-eye; empty: none at hand
	Encoded bool   // through H.264 and the eye
	Eye     work.Eye
	Pick    func(layout, robot string) bool // which to draw; nil: all
	Version string
}

// Result is a proof with what its page and pictures are made of.
type Result struct {
	Doc      *accuracy.Proof
	Pictures []accuracy.Pictures
	Frames   []Frame
}

// Frame is a frame of a drawn recording, packed BGR.
type Frame struct {
	Name          string
	Width, Height int
	BGR           []byte
}

// Watcher is told how the work goes.
type Watcher struct {
	Begin func(total int)
	Run   func(n int, title string, share float64)
	Done  func(n int, r accuracy.Run)
}

// pair is a robot in a layout.
type pair struct {
	layout *lab.Layout
	robot  geom.Robot
	looks  looks
}

// Prove draws and measures two runs of each robot in each layout. The error is
// one of the call, or ctx's; a drawn run that cannot be measured is told in the
// document.
func Prove(ctx context.Context, l *lab.Lab, opt Options, w Watcher) (*Result, error) {
	if err := (trial.DrawOptions{Seconds: opt.Seconds}).Validate(); err != nil {
		return nil, err
	}
	doc := &accuracy.Proof{Schema: 1, Lab: filepath.Base(l.Dir), When: time.Now().UTC().Format(time.RFC3339), Version: opt.Version, Seed: opt.Seed,
		Encoded: opt.Encoded, DriveS: opt.Seconds, Runs: []accuracy.Run{}, Left: []accuracy.Left{},
		Drawn: accuracy.Drawn, Outside: accuracy.Outside}
	res := &Result{Doc: doc}
	pairs, err := res.pairs(ctx, l, opt)
	if err != nil {
		return nil, err
	}
	if w.Begin != nil {
		w.Begin(2 * len(pairs))
	}
	for i, p := range pairs {
		for k, phase := range []string{"mapping", "mapped"} {
			n, o := 2*i+k, opt
			o.Seed += int64(n)
			r, err := res.one(ctx, l, p, phase, o, func(title string, share float64) {
				if w.Run != nil {
					w.Run(n, title, share)
				}
			})
			if err != nil {
				return nil, err
			}
			doc.Runs = append(doc.Runs, r)
			if w.Done != nil {
				w.Done(n, r)
			}
		}
	}
	doc.Sum()
	return res, nil
}

// pairs lists what is to be drawn.
func (res *Result) pairs(ctx context.Context, l *lab.Lab, opt Options) ([]pair, error) {
	var out []pair
	for _, layout := range l.LayoutNames {
		lay := l.Layouts[layout]
		for _, robot := range l.RobotNames {
			if opt.Pick != nil && !opt.Pick(layout, robot) {
				continue
			}
			if lay.Camera == "" {
				res.Doc.Left = append(res.Doc.Left, accuracy.Left{Layout: layout, Robot: robot, Reason: "it has no camera"})
				continue
			}
			out = append(out, pair{layout: lay, robot: l.Robots[robot].Robot})
		}
	}
	if len(out) == 0 {
		return nil, errors.New("there is nothing to draw: no layout with a camera was chosen")
	}
	find := newFinder(ctx, l, opt)
	for i := range out {
		out[i].looks = find.looks(out[i].layout.Name, out[i].robot.Name)
	}
	return out, ctx.Err()
}

// one draws and measures one run.
func (res *Result) one(ctx context.Context, l *lab.Lab, p pair, phase string, opt Options, tell func(title string, share float64)) (accuracy.Run, error) {
	spec := l.Cameras[p.layout.Camera].Spec
	r := accuracy.Run{Layout: p.layout.Name, Robot: p.robot.Name, Phase: phase, Seed: opt.Seed, Frames: []int{spec.Width, spec.Height},
		FPS: p.looks.fps, Looks: p.looks.words(), Path: unknownPath, Figures: []accuracy.Figure{}, Events: []accuracy.Events{}}
	tell(r.Title(), 0)
	sol, err := l.Solve(p.layout.Camera, opt.Eye.Solver(ctx))
	if err != nil {
		return r, err
	}
	fail := func(err error) (accuracy.Run, error) {
		if ctx.Err() != nil {
			return r, ctx.Err()
		}
		why := err.Error()
		r.Failed = &why
		return r, nil
	}
	set := trial.Setup{Spec: spec, Solution: sol, Plan: p.layout.Plan, Robot: p.robot, FPS: p.looks.fps, Appearance: p.looks.appearance}
	d, err := set.Draw(trial.DrawOptions{Mapping: phase == "mapping", Seconds: opt.Seconds, Seed: opt.Seed})
	if err != nil {
		return fail(err)
	}
	if phase == "mapping" {
		if bgr, err := d.Picture(d.Scene.Length / 2); err == nil {
			res.Frames = append(res.Frames, Frame{"drawn_" + p.layout.Name + "_" + p.robot.Name + ".png", spec.Width, spec.Height, bgr})
		}
	}
	out, err := measure(ctx, d, opt, func(share float64) { tell(r.Title(), share) })
	if err != nil {
		return fail(err)
	}
	r.Path = pathOf(out, d)
	settings := l.Settings.Coverage
	settings.Raster, settings.WidthStep = false, 0 // neither is compared
	truth, err := sweep(out.Truth, d, settings, l.Settings.ConductOptions())
	if err != nil {
		return fail(fmt.Errorf("the true path: %w", err))
	}
	found, err := sweep(out.Trace, d, settings, l.Settings.ConductOptions())
	if err != nil {
		return fail(err)
	}
	r.Figures = figures(truth, found)
	r.Events = countEvents(truth.conduct.Events, found.conduct.Events)
	res.Pictures = append(res.Pictures, accuracy.Pictures{Run: len(res.Doc.Runs), Figure: figure.Run{
		Layout: p.layout.Name + ", drawn", Robot: p.robot.Name, Phase: phase, Trial: 1, Plan: p.layout.Plan, Body: p.robot,
		Trace: out.Trace, Cover: found.coverage, ShareSigma: math.NaN()}})
	return r, nil
}

func measure(ctx context.Context, d *trial.Drawing, opt Options, tell func(float64)) (*trial.Outcome, error) {
	if !opt.Encoded {
		return d.Measure(ctx, tell)
	}
	dir, err := os.MkdirTemp("", "swathe-prove-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	return d.MeasureEncoded(ctx, opt.EyePath, filepath.Join(dir, "drawn.mp4"), tell)
}

// swept is a path with what follows from it.
type swept struct {
	trace    *geom.Trace
	coverage *coverage.Result
	conduct  *conduct.Result
}

func sweep(tr *geom.Trace, d *trial.Drawing, settings coverage.Options, opt conduct.Options) (swept, error) {
	s := swept{trace: tr}
	var err error
	if s.coverage, err = coverage.Measure(tr, d.Scene.Plan, d.Scene.Robot, settings); err != nil {
		return s, err
	}
	s.conduct, err = conduct.Find(tr, d.Scene.Plan, d.Scene.Robot, s.coverage, opt)
	return s, err
}

var unknownPath = accuracy.Path{RMSM: report.NaN, P95M: report.NaN, MaxM: report.NaN, SeenRMSM: report.NaN, Within2Sigma: report.NaN, SurveyM: report.NaN,
	HeadingRMS: report.NaN, TextureShare: report.NaN, TravelRMS: report.NaN, SeenShare: report.NaN, LostSight: report.NaN, StartErrorS: report.NaN, EndErrorS: report.NaN}

func pathOf(o *trial.Outcome, d *trial.Drawing) accuracy.Path {
	s := o.Score
	f := func(v float64) float64 { return v }
	return accuracy.Path{RMSM: f(s.PathRMS), P95M: f(s.P95), MaxM: f(s.Max), SeenRMSM: f(s.SeenRMS), Within2Sigma: f(s.Within2Sigma), SurveyM: f(d.SurveyError()),
		HeadingRMS: f(geom.Degrees(s.HeadingRMS)), TextureShare: f(s.TextureShare), TravelRMS: f(geom.Degrees(s.TravelRMS)),
		SeenShare: f(float64(s.Found) / float64(s.Looks)), LostSight: f(s.LostSight), StartErrorS: f(s.StartErr), EndErrorS: f(s.EndErr)}
}

// figures holds the run's figures side by side.
func figures(truth, found swept) []accuracy.Figure {
	var out []accuracy.Figure
	add := func(name, words, unit string, of func(swept) float64) {
		a, b := of(truth), of(found)
		out = append(out, accuracy.Figure{Name: name, Words: words, Unit: unit, True: a, Measured: b, Error: b - a})
	}
	block := func(get func(b *coverage.Block) float64) func(swept) float64 {
		return func(s swept) float64 { return get(&s.coverage.Coverage) }
	}
	add("reachable_share", "Share of reachable floor", "share", block(func(b *coverage.Block) float64 { return b.ReachableShare }))
	add("covered_share", "Share of open floor", "share", block(func(b *coverage.Block) float64 { return b.CoveredShare }))
	add("swept_m2", "Swept, all passes together", "m2", block(func(b *coverage.Block) float64 { return b.SweptM2 }))
	add("redundancy", "Redundancy", "", block(func(b *coverage.Block) float64 { return b.Redundancy }))
	add("distance_m", "Distance driven", "m", func(s swept) float64 { return s.coverage.Motion.DistanceM })
	add("duration_s", "Time of the run", "s", func(s swept) float64 { return s.coverage.Motion.DurationS })
	for i, level := range coverage.Levels {
		name := fmt.Sprintf("time_to_reachable_s.%d", level)
		add(name, fmt.Sprintf("Time to %d %% of reachable floor", level), "s", block(func(b *coverage.Block) float64 { return b.TimeToReachable[i] }))
		if !report.Measured(out[len(out)-1].True) && !report.Measured(out[len(out)-1].Measured) {
			out = out[:len(out)-1] // beyond what the run got to
		}
	}
	add("plateau_s", "Time to 99 % of final coverage", "s", block(func(b *coverage.Block) float64 { return b.PlateauS }))
	return out
}
