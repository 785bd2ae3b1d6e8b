package work

import (
	"context"
	"math"
	"path/filepath"

	"swathe/geom"
	"swathe/report"
	"swathe/track"
)

const (
	// clearOf is how far beyond its own radius the robot must be from a patch for a
	// picture of it: the floor beside the patch is looked at too, and a shadow and the
	// top of the robot reach further than its foot.
	clearOf = 0.15
	// showFor is how long a patch must show for a median over a second of it.
	showFor = 1.2
	// mostCycles is how many pictures are taken of a patch; of more crossings those
	// between the first and the last are thinned out evenly.
	mostCycles = 16
)

// residue measures what was left on the layout's patches after each crossing, from
// the run's own recording.
func (f *found) residue(ctx context.Context, eye Eye) error {
	lay := f.lab.Layouts[f.run.Layout]
	if len(lay.Patches) == 0 || eye.Residue == nil || f.camera == nil || f.run.IsPath() {
		return nil
	}
	robot := f.lab.Robots[f.run.Robot].Robot
	radius := robot.Reach()
	start := f.track.Trace.Run.From
	at := map[string][]crossing{}
	var times []float64
	var names [][]string
	index := map[float64]int{}
	before := math.Inf(1)
	first := map[string]float64{}
	for _, p := range lay.Patches {
		t0, list := crossings(f.track.Trace, p.Outline, radius)
		first[p.Name], at[p.Name] = t0, thinned(list)
		if !math.IsNaN(t0) {
			before = math.Min(before, t0)
		}
		for _, c := range at[p.Name] {
			k, ok := index[c.t]
			if !ok {
				k = len(times)
				index[c.t], times, names = k, append(times, c.t), append(names, nil)
			}
			names[k] = append(names[k], p.Name)
		}
	}
	// One picture before serves all patches: the earliest time at which one shows is
	// before any crossing of it; a patch that does not show then is not measured.
	reply := &track.ResidueReply{}
	if !math.IsInf(before, 1) && len(times) > 0 {
		req := track.ResidueRequest{Camera: f.camera.Camera, Patches: lay.Patches, Room: geom.RingCorners(lay.Plan.Room)}
		if s := f.camera.MarkRMSM / math.Sqrt2; s >= 0 {
			req.Sigma = s
		}
		for _, group := range [][]geom.Piece{lay.Plan.Obstacles, lay.Plan.Overhead} {
			for _, p := range group {
				req.Covered = append(req.Covered, geom.RingCorners(p.Outline))
			}
		}
		still := track.Still{File: f.run.Files[0], More: f.run.Files[1:]}
		for _, g := range f.run.Gaps() {
			var gap *float64
			if !math.IsNaN(g) {
				gap = &g
			}
			still.Gaps = append(still.Gaps, gap)
		}
		req.Before, req.After = still, still
		req.Before.T = &before
		if lay.CleanFloor != "" {
			file := lay.CleanFloor
			if !filepath.IsAbs(file) {
				file = filepath.Join(f.lab.Dir, filepath.FromSlash(file))
			}
			req.Clean = &track.Still{File: file}
		}
		for i, t := range times {
			req.Later = append(req.Later, track.LaterStill{T: t, Patches: names[i]})
		}
		var err error
		if reply, err = eye.Residue(ctx, req); err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			f.warnings = append(f.warnings, "What was left on the patches was not measured: "+err.Error())
			return nil
		}
	}
	for _, p := range lay.Patches {
		r := report.Residue{Patch: p.Name, Kind: p.Kind, BeforeS: report.NaN, BeforeM2: report.NaN, BeforeLengthM: report.NaN, CleanS: report.NaN, Cycles: []report.ResidueCycle{}}
		why := ""
		switch {
		case math.IsNaN(first[p.Name]) || hiddenAt(f.track.Trace, p.Outline, radius, before):
			why = "the recording does not show the patch for a second before the robot first came to it"
		case len(at[p.Name]) == 0:
			why = "no tool came over the patch and went away again"
		}
		if why != "" {
			r.Reason = &why
		} else {
			r.BeforeS = before
			for _, c := range at[p.Name] {
				r.Cycles = append(r.Cycles, cycleOf(&r, p.Name, c, start, reply.Later[index[c.t]]))
			}
			r.Settle()
		}
		f.left = append(f.left, r)
	}
	return nil
}

// cycleOf is what the eye's reply says of a patch after one crossing.
func cycleOf(r *report.Residue, name string, c crossing, start float64, reply track.LaterReply) report.ResidueCycle {
	known := func(v *float64) float64 {
		if v == nil {
			return report.NaN
		}
		return *v
	}
	out := report.ResidueCycle{Cycle: c.n, TS: c.t - start, LeftShare: report.NaN, LeftInterval95: [2]float64{report.NaN, report.NaN},
		AfterM2: report.NaN, AfterLengthM: report.NaN, DifferenceMean: report.NaN}
	p := reply.Patches[name]
	if p == nil {
		if reply.Refused != "" {
			out.Reason = &reply.Refused
		}
		return out
	}
	r.BeforeM2, r.BeforeLengthM, r.BeforeCount = known(p.BeforeM2), known(p.BeforeLengthM), p.BeforeCount
	out.LeftShare, out.AfterM2, out.AfterLengthM, out.AfterCount, out.DifferenceMean = known(p.LeftShare), known(p.AfterM2), known(p.AfterLengthM), p.AfterCount, known(p.DifferenceMean)
	if iv, ok := p.Interval95["left_share"]; ok {
		out.LeftInterval95 = [2]float64{iv[0], iv[1]}
	}
	out.Reason = p.Reason
	return out
}

// crossing is a visit of the robot to a patch: the n-th, from 1, and the time of
// the picture after it.
type crossing struct {
	n int
	t float64
}

// crossings are a patch's visits, and the last time before the first of them at
// which it shows; NaN if it does not. A visit is one in which the robot's outline
// came over the patch; those between which the patch does not show for showFor are
// one. While the robot is not seen, nothing is known to show.
func crossings(tr *geom.Trace, outline []geom.Point2, radius float64) (before float64, out []crossing) {
	before = math.NaN()
	n, visited := 0, false
	from := math.NaN() // since when it shows
	for _, s := range tr.Samples {
		d := math.Inf(-1)
		if s.State == geom.Seen || s.State == geom.Bridged {
			d = geom.RingFloorDistance(outline, geom.Point2{X: s.X, Y: s.Y}) - radius
		}
		if d <= clearOf {
			from = math.NaN()
			if d <= 0 && !math.IsInf(d, -1) {
				visited = true
			}
			continue
		}
		if math.IsNaN(from) {
			from = s.T
		}
		if s.T-from < showFor {
			continue
		}
		switch {
		case visited:
			n, visited = n+1, false
			out = append(out, crossing{n, s.T - showFor/2})
		case n == 0:
			before = s.T - showFor/2
		}
	}
	return before, out
}

// hiddenAt tells whether a patch does not show about time t.
func hiddenAt(tr *geom.Trace, outline []geom.Point2, radius, t float64) bool {
	for _, s := range tr.Samples {
		if math.Abs(s.T-t) <= showFor/2 && (s.State != geom.Seen && s.State != geom.Bridged || geom.RingFloorDistance(outline, geom.Point2{X: s.X, Y: s.Y})-radius <= clearOf) {
			return true
		}
	}
	return false
}

// thinned keeps mostCycles of the crossings, the first and the last among them.
func thinned(all []crossing) []crossing {
	if len(all) <= mostCycles {
		return all
	}
	var out []crossing
	for i := range mostCycles {
		out = append(out, all[i*(len(all)-1)/(mostCycles-1)])
	}
	return out
}
