// Package work measures the recordings of a lab: it decides which need it, asks
// the tracker for the path and the coverage for the figures, and has the result
// written. It is what measure, watch and the local page share; no formula and no
// printing live here.
package work

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"sync"
	"time"

	"swathe/cmd/internal/lab"
	"swathe/coverage"
	"swathe/coverage/conduct"
	"swathe/coverage/doubt"
	"swathe/geom"
	"swathe/report"
	"swathe/track"
)

// Options says how to work.
type Options struct {
	Jobs  int  // recordings at once
	Again bool // measure what is up to date or failed before, too
	// Anyway measures, and marks, what was seen for less of the recording than
	// the lab asks for.
	Anyway bool
	Eye    Eye
}

// Eye is the program that looks at pixels, as this package uses it.
type Eye struct {
	// Measure finds the path in a video.
	Measure func(ctx context.Context, job track.Job, tell func(track.Progress)) (*track.Result, error)
	// Board finds a lens from pictures of a chessboard.
	Board func(ctx context.Context, spec geom.CameraSpec) (*track.BoardReply, error)
	// Residue measures what was left on patches; nil: it is not looked at.
	Residue func(ctx context.Context, q track.ResidueRequest) (*track.ResidueReply, error)
}

// Solver returns the eye's Board as a lab wants it.
func (e Eye) Solver(ctx context.Context) lab.BoardSolver {
	if e.Board == nil {
		return nil
	}
	return func(spec geom.CameraSpec) (*track.BoardReply, error) { return e.Board(ctx, spec) }
}

// Kind says what came of a recording.
type Kind string

// What can come of a recording, as --json spells it.
const (
	Measured     Kind = "measured"
	UpToDate     Kind = "up to date"
	Failed       Kind = "failed"
	FailedBefore Kind = "failed before" // and nothing has changed since, so it was not tried
	Stopped      Kind = "stopped"       // by the user, before it was done; nothing was written
)

// Outcome is what came of one recording.
type Outcome struct {
	Run      string // <layout>/<robot>_<phase>_<trial>
	Kind     Kind
	Reason   string           // of a failure: whole sentences; of a measurement that replaces one: what changed
	Result   string           // folder of the result, from the lab's folder; empty if there is none
	Differs  bool             // the result belongs to another set-up than today's
	Warnings []string         // of a measurement
	Coverage *coverage.Result // of a measurement; nil otherwise
	Doubt    *doubt.Result    // the same
	Trace    *geom.Trace      // likewise
	Seconds  float64          // that the work took
}

// Watcher is told how the work goes; any of its functions may be nil. Calls
// never overlap.
type Watcher struct {
	Started  func(run string)
	Progress func(run string, p track.Progress)
	Done     func(Outcome)
}

// Item is one recording to work on: a run, or one that is none.
type Item struct {
	Run     lab.Run
	Refusal *lab.Refusal
}

// ID names the item.
func (i Item) ID() string {
	if i.Refusal != nil {
		return i.Refusal.ID()
	}
	return i.Run.ID()
}

// Files returns the recordings of the item, absolute.
func (i Item) Files() []string {
	if i.Refusal != nil {
		return i.Refusal.Files
	}
	return i.Run.Files
}

// Signature tells, without reading the recordings, of all else that decides
// whether the item needs work: its notes, the set-up, and what is there of a
// result.
func (i Item) Signature(l *lab.Lab) string {
	if i.Refusal != nil {
		return i.Refusal.Message
	}
	return l.Signature(i.Run)
}

// List returns the recordings of a lab, or those that names pick. A name is a
// file, or <layout>/<robot>_<phase>_<trial> with * and ? as wildcards. A name
// that picks nothing is an error.
func List(l *lab.Lab, names []string) ([]Item, error) {
	runs, refused, err := l.Recordings()
	if err != nil {
		return nil, err
	}
	var all []Item
	for _, r := range runs {
		all = append(all, Item{Run: r})
	}
	for i := range refused {
		all = append(all, Item{Refusal: &refused[i]})
	}
	if len(names) == 0 {
		return all, nil
	}
	chosen := make([]bool, len(all))
	for _, name := range names {
		hit := false
		for i, item := range all {
			if picks(l, name, item) {
				chosen[i], hit = true, true
			}
		}
		if !hit {
			return nil, fmt.Errorf("there is no recording %q in this lab. Name a file under recordings/, or a run as <layout>/<robot>_<phase>_<trial>, with * for any", name)
		}
	}
	var out []Item
	for i, item := range all {
		if chosen[i] {
			out = append(out, item)
		}
	}
	return out, nil
}

func picks(l *lab.Lab, name string, item Item) bool {
	if ok, err := path.Match(strings.Trim(filepath.ToSlash(name), "/"), item.ID()); ok && err == nil {
		return true
	}
	for _, f := range item.Files() {
		abs, err := filepath.Abs(name)
		if err == nil && abs == f || filepath.ToSlash(name) == l.Rel(f) {
			return true
		}
		if ok, err := path.Match(strings.TrimPrefix(filepath.ToSlash(name), "recordings/"), strings.TrimPrefix(l.Rel(f), "recordings/")); ok && err == nil {
			return true
		}
	}
	return false
}

// All works on items, up to opt.Jobs at once, and returns what came of each, in
// the order of items. Once ctx is done no further one is begun, and those under
// way stop without leaving anything. The lab must be locked.
func All(ctx context.Context, l *lab.Lab, items []Item, opt Options, w Watcher) []Outcome {
	var telling sync.Mutex
	out := make([]Outcome, len(items))
	next := make(chan int)
	var group sync.WaitGroup
	for range max(1, opt.Jobs) {
		group.Add(1)
		go func() {
			defer group.Done()
			for i := range next {
				out[i] = one(ctx, l, items[i], opt, w, &telling)
				if w.Done != nil {
					telling.Lock()
					w.Done(out[i])
					telling.Unlock()
				}
			}
		}()
	}
	for i := range items {
		next <- i
	}
	close(next)
	group.Wait()
	l.SaveHashes()
	return out
}

func one(ctx context.Context, l *lab.Lab, item Item, opt Options, w Watcher, telling *sync.Mutex) (out Outcome) {
	start := time.Now()
	out = Outcome{Run: item.ID(), Kind: Failed}
	defer func() { out.Seconds = time.Since(start).Seconds() }()
	if ctx.Err() != nil {
		out.Kind = Stopped
		return out
	}
	if item.Refusal != nil {
		out.Reason = item.Refusal.Message
		if err := l.WriteRefusal(*item.Refusal); err != nil {
			out.Reason += " Also: " + err.Error()
		}
		return out
	}
	r := item.Run
	status, err := l.Status(r)
	if err != nil {
		out.Reason = err.Error()
		return out
	}
	out.Differs = status.Differs
	dir := l.Rel(l.ResultDir(r.Layout, r.RunName.String()))
	if !opt.Again {
		switch status.Verdict {
		case lab.UpToDate:
			out.Kind, out.Result = UpToDate, dir
			if status.Labels {
				out.Reason = "Its conditions were brought up to date; nothing was measured again."
				if err := l.Relabel(r, status, func(dir string) error { return report.Relabel(dir, conditionsOf(r)) }); err != nil {
					out.Kind, out.Reason = Failed, err.Error()
				}
			}
			return out
		case lab.FailedBefore:
			if opt.Anyway && status.Failed.Kind == string(track.TooLittleSeen) {
				break
			}
			out.Kind, out.Reason = FailedBefore, status.Why
			return out
		}
	}
	if w.Started != nil {
		telling.Lock()
		w.Started(out.Run)
		telling.Unlock()
	}
	tell := func(p track.Progress) {
		if w.Progress != nil {
			telling.Lock()
			w.Progress(out.Run, p)
			telling.Unlock()
		}
	}
	defer func() {
		if out.Kind != Stopped { // the next call goes on from there
			l.DropUnfinished(r)
		}
	}()
	found, err := measure(ctx, l, r, opt, tell)
	var failure *track.Failure
	switch {
	case err == nil:
		err = l.WriteResult(r, status, func(dir string) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			return found.write(dir)
		})
		if ctx.Err() != nil && err != nil {
			out.Kind = Stopped
			return out
		}
		if err != nil {
			out.Reason = err.Error()
			return out
		}
		out.Kind, out.Result, out.Differs = Measured, dir, false
		out.Reason = status.Why
		out.Coverage, out.Doubt, out.Trace = found.coverage, found.doubt, found.track.Trace
		out.Warnings = append(slices.Clone(found.warnings), found.coverage.Warnings...)
	case ctx.Err() != nil:
		out.Kind = Stopped
	case errors.As(err, &failure) && failure.Kind == track.EyeMissing:
		// No fault of the recording: it is tried again as soon as the eye is there.
		out.Reason = failure.Message
	case errors.As(err, &failure):
		out.Reason = nameFile(l, r, failure)
		if failure.Report != "" {
			if file, err := l.WriteCrash(r, out.Reason+"\n\n"+failure.Report); err == nil {
				out.Reason += ". A report for the maintainers is in " + file
			}
		}
		if err := l.WriteFailure(r, status, string(failure.Kind), out.Reason, failure.T); err != nil {
			out.Reason += " Also: " + err.Error()
		}
	default:
		out.Reason = err.Error()
		if err := l.WriteFailure(r, status, "not measured", out.Reason, math.NaN()); err != nil {
			out.Reason += " Also: " + err.Error()
		}
	}
	return out
}

// nameFile puts the recording's name before a failure's message unless it is
// the run's only file and so told already.
func nameFile(l *lab.Lab, r lab.Run, f *track.Failure) string {
	if f.File == "" {
		return f.Message
	}
	return l.Rel(f.File) + ": " + f.Message
}

// measure finds path and figures. A panic in one recording is a failure of that
// recording, and the others go on.
func measure(ctx context.Context, l *lab.Lab, r lab.Run, how Options, tell func(track.Progress)) (f *found, err error) {
	if tell == nil {
		tell = func(track.Progress) {}
	}
	defer func() {
		if p := recover(); p != nil {
			f, err = nil, &track.Failure{Kind: track.ProgramFailed, File: r.Files[0], T: math.NaN(), Report: string(debug.Stack()),
				Message: fmt.Sprintf("the program failed on this recording (%v). This is a fault of the program, not necessarily of the recording", p)}
		}
	}()
	eye := how.Eye
	layout, robot := l.Layouts[r.Layout], l.Robots[r.Robot]
	job := track.Job{Files: r.Files, Gaps: r.Gaps(), Start: r.Notes.Start, End: r.Notes.End, Plan: layout.Plan, Robot: robot.Robot}
	f = &found{lab: l, run: r}
	opt := l.Settings.Coverage
	opt.ToolOff = r.Notes.ToolOff
	if r.IsPath() {
		f.track, err = track.MeasurePath(job)
	} else {
		if f.camera, err = l.Solve(l.CameraOf(r), eye.Solver(ctx)); err != nil {
			return nil, err
		}
		job.Camera, job.CameraSigma = f.camera.Camera, f.camera.FloorSigma
		if f.room, err = l.RoomPicture(l.CameraOf(r)); err != nil {
			return nil, err
		}
		if f.room != nil {
			job.Reference = f.room.File
		}
		f.warnings = append(f.warnings, f.camera.Warnings...)
		if opt.Unseen, err = unseen(job.Camera, job.Plan); err != nil {
			return nil, err
		}
		job.Unfinished = l.UnfinishedDir(r)
		f.track, err = eye.Measure(ctx, job, tell)
	}
	if err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	doing := func(what string) { tell(track.Progress{Share: 1, X: math.NaN(), Y: math.NaN(), Doing: what}) }
	doing("working out the figures")
	f.track.Trace = carry(f.track.Trace, r.Notes.Carried, layout.Plan, robot.Robot)
	known := account(f.track.Trace, r.Notes.Carried)
	if f.mark = known.mark(l.Settings.LeastSeen); f.mark != "" && !how.Anyway {
		return nil, known.refusal(job, l.Settings.LeastSeen)
	}
	if w := known.warning(); w != "" {
		f.warnings = append(f.warnings, w)
	}
	if f.coverage, err = coverage.Measure(f.track.Trace, layout.Plan, robot.Robot, opt); err != nil {
		return nil, err
	}
	if f.conduct, err = conduct.Find(f.track.Trace, layout.Plan, robot.Robot, f.coverage, l.Settings.ConductOptions()); err != nil {
		return nil, err
	}
	if len(layout.Plan.TestObjects) > 0 {
		f.sights = sightsOf(f.track.TestObjects)
		if r.IsPath() {
			f.sights = surveyed(layout.Plan)
		}
		if f.objects, err = conduct.FindTestObjects(f.track.Trace, layout.Plan, robot.Robot, f.coverage, f.sights, l.Settings.ConductOptions()); err != nil {
			return nil, err
		}
	}
	f.warnings = append(f.warnings, f.track.Warnings...)
	if err = f.residue(ctx, eye); err != nil {
		return nil, err
	}
	doing("working out the uncertainty")
	f.doubt, err = doubt.Measure(doubt.Input{Trace: f.track.Trace, Plan: layout.Plan, Robot: robot.Robot, Camera: f.camera, Coverage: opt, Result: f.coverage, Sample: r.Notes.Conditions["sample"]}, l.Settings.Uncertainty)
	if err != nil {
		return nil, err
	}
	doing("writing the result")
	return f, ctx.Err()
}
