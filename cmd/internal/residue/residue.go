// Package residue does the work of the verb residue: it asks the eye what lies on
// the patches of a layout in pictures before and after, and joins that with the
// passes of a run.
package residue

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
	"swathe/geom"
	"swathe/report"
	"swathe/track"
	"swathe/track/residue"
)

// Job is one comparison of pictures.
type Job struct {
	Layout               string // may be empty where the lab has one
	Before, After, Clean string // a file, or FILE@SECONDS of a recording; Clean may be empty
	Marks                string // a JSON file of marks for pictures of another camera; empty: the layout's camera
	Run                  string // a result to join with; empty: none
	Shots                bool   // pictures too
}

// Patch is what was found of one patch, with the passes of the run over it.
type Patch struct {
	*residue.Figures
	Passes map[string]Tool `json:"passes"` // by tool; nil without a run
}

// Tool is a patch's soil by how often a tool passed over it.
type Tool struct {
	ByPasses map[string]Soil `json:"by_passes"` // "0", "1", "2", "3", "4+"
	Passed   Soil            `json:"passed"`    // where it came at least once
	Never    Soil            `json:"never"`     // where it never came, which is no failure of the tool's
}

// Soil is an area before and after.
type Soil struct {
	BeforeM2  float64  `json:"before_m2"`
	AfterM2   float64  `json:"after_m2"`
	LeftShare *float64 `json:"left_share"` // nil where there was none before
}

func (s *Soil) add(before, after float64) { s.BeforeM2, s.AfterM2 = s.BeforeM2+before, s.AfterM2+after }

func (s Soil) shared() Soil {
	if s.BeforeM2 > 1e-7 {
		v := math.Max(0, s.AfterM2) / s.BeforeM2
		s.LeftShare = &v
	}
	return s
}

// Outcome is what is found.
type Outcome struct {
	Layout    string            `json:"layout"`
	Run       *string           `json:"run"`
	Patches   map[string]*Patch `json:"patches"`
	ResidualM *float64          `json:"marks_residual_m"` // of the marks of a hand-held picture
	Names     []string          `json:"-"`                // of patches, in the order of lab.yaml
	tools     []string          // of the run's robot, in its order
	of        *report.Run       // nil: none was named
}

// Refused says why pictures cannot be measured; Outcome then has every patch with
// all its figures null.
type Refused struct {
	Message string
	Outcome *Outcome
}

func (r *Refused) Error() string { return r.Message }

// Measure does the job. The error is a *Refused where the pictures do not belong
// together.
func Measure(ctx context.Context, l *lab.Lab, j Job, eye work.Eye) (*Outcome, error) {
	lay, err := layoutOf(l, j.Layout)
	if err != nil {
		return nil, err
	}
	req := track.ResidueRequest{Patches: lay.Patches, Shots: j.Shots}
	if req.Before, err = still(l, "--before", j.Before); err != nil {
		return nil, err
	}
	if req.After, err = still(l, "--after", j.After); err != nil {
		return nil, err
	}
	if j.Clean != "" {
		s, err := still(l, "--clean", j.Clean)
		if err != nil {
			return nil, err
		}
		req.Clean = &s
	}
	req.Room = geom.RingCorners(lay.Plan.Room)
	for _, p := range lay.Plan.Obstacles {
		req.Covered = append(req.Covered, geom.RingCorners(p.Outline))
	}
	for _, p := range lay.Plan.Overhead {
		req.Covered = append(req.Covered, geom.RingCorners(p.Outline))
	}
	if j.Marks != "" {
		if req.Marks, err = ReadMarks(inLab(l, j.Marks)); err != nil {
			return nil, err
		}
	} else {
		s, err := l.Solve(lay.Camera, eye.Solver(ctx))
		if err != nil {
			return nil, err
		}
		req.Camera, req.Sigma = s.Camera, s.MarkRMSM/math.Sqrt2
		if !(req.Sigma >= 0) {
			req.Sigma = 0
		}
	}
	run := ""
	if j.Run != "" {
		ids, err := work.Pick(l, []string{j.Run})
		if err != nil {
			return nil, err
		}
		if len(ids) != 1 {
			return nil, fmt.Errorf("--run %s matches %d results; name one", j.Run, len(ids))
		}
		run = ids[0]
		if req.Camera != nil && (req.Before.T != nil || req.After.T != nil) {
			first, err := work.Load(ctx, l, run, eye, nil)
			if err != nil {
				return nil, err
			}
			for _, s := range []track.Still{req.Before, req.After} {
				req.Covered = append(req.Covered, robotIn(first, req.Camera, s)...)
			}
		}
	}
	path, err := track.FindEye()
	if err != nil {
		return nil, err
	}
	r, err := track.MeasureResidue(ctx, path, req)
	if err != nil {
		return nil, err
	}
	out := &Outcome{Layout: lay.Name, Patches: map[string]*Patch{}, ResidualM: r.Residual}
	for _, p := range lay.Patches {
		out.Names = append(out.Names, p.Name)
		f := r.Patches[p.Name]
		if f == nil {
			why := r.Refused
			f = &residue.Figures{Kind: p.Kind, Interval95: map[string][2]float64{}, Reason: &why}
		}
		out.Patches[p.Name] = &Patch{Figures: f}
	}
	if r.Refused != "" {
		return nil, &Refused{r.Refused, out}
	}
	if run != "" {
		out.Run = &run
		if err := out.join(ctx, l, run, eye); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func layoutOf(l *lab.Lab, name string) (*lab.Layout, error) {
	if name == "" {
		if len(l.LayoutNames) != 1 {
			return nil, fmt.Errorf("name the layout with --layout: %s", strings.Join(l.LayoutNames, ", "))
		}
		name = l.LayoutNames[0]
	}
	lay := l.Layouts[name]
	switch {
	case lay == nil:
		return nil, fmt.Errorf("there is no layout %q.%s", name, lab.DidYouMean(name, l.LayoutNames))
	case len(lay.Patches) == 0:
		return nil, fmt.Errorf("layout %s has no patches. Write them in %s: patches: {NAME: {outline: [[x, y], ...], kind: stain}}", name, lab.SetupFile)
	}
	return lay, nil
}

// inLab is a file as named, or, if there is none, in the lab's folder.
func inLab(l *lab.Lab, file string) string {
	if _, err := os.Stat(file); err != nil && !filepath.IsAbs(file) {
		if in := filepath.Join(l.Dir, file); exists(in) {
			return in
		}
	}
	return file
}

func exists(file string) bool {
	_, err := os.Stat(file)
	return err == nil
}

// still reads FILE or FILE@SECONDS.
func still(l *lab.Lab, option, text string) (s track.Still, err error) {
	if text == "" {
		return s, fmt.Errorf("%s FILE is missing: the picture %s the run", option, strings.TrimPrefix(option, "--"))
	}
	s.File = inLab(l, text)
	if i := strings.LastIndexByte(text, '@'); i > 0 && !exists(s.File) {
		t, err := strconv.ParseFloat(text[i+1:], 64)
		if err != nil || !(t >= 0) || math.IsInf(t, 1) {
			return s, fmt.Errorf("%s %s: write the seconds into the recording after @", option, text)
		}
		s.File, s.T = inLab(l, text[:i]), &t
	}
	if !exists(s.File) {
		return s, fmt.Errorf("%s: there is no file %s", option, s.File)
	}
	if s.File, err = filepath.Abs(s.File); err != nil {
		return s, err
	}
	return s, nil
}

// ReadMarks reads {"marks": [{"floor": [x, y], "pixel": [column, row]}, ...]}, or
// the list alone.
func ReadMarks(file string) (*residue.Marks, error) {
	raw, err := os.ReadFile(file)
	if err != nil {
		return nil, fmt.Errorf("the marks cannot be read: %w", err)
	}
	type mark struct {
		Floor []float64 `json:"floor"`
		Pixel []float64 `json:"pixel"`
	}
	var list []mark
	if t := bytes.TrimSpace(raw); len(t) > 0 && t[0] == '[' {
		err = json.Unmarshal(raw, &list)
	} else {
		var doc struct {
			Marks []mark `json:"marks"`
		}
		err = json.Unmarshal(raw, &doc)
		list = doc.Marks
	}
	name := filepath.Base(file)
	if err != nil {
		var at *json.SyntaxError
		if errors.As(err, &at) {
			return nil, fmt.Errorf("%s:%d: %w", name, 1+bytes.Count(raw[:min(int(at.Offset), len(raw))], []byte("\n")), err)
		}
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if len(list) < 4 {
		return nil, fmt.Errorf(`%s holds %d marks; 4 or more around the patch are needed: {"marks": [{"floor": [x, y], "pixel": [column, row]}, ...]}`, name, len(list))
	}
	m := &residue.Marks{}
	for i, k := range list {
		if len(k.Floor) < 2 || len(k.Floor) > 3 || len(k.Pixel) != 2 || len(k.Floor) == 3 && k.Floor[2] != 0 {
			return nil, fmt.Errorf("%s: mark %d: give floor: [x, y] in metres, on the floor, and pixel: [column, row]", name, i+1)
		}
		m.Floor = append(m.Floor, geom.Point2{X: k.Floor[0], Y: k.Floor[1]})
		m.Pixel = append(m.Pixel, geom.Point2{X: k.Pixel[0], Y: k.Pixel[1]})
	}
	return m, nil
}

// join adds how often each tool of the run passed over the soil.
func (o *Outcome) join(ctx context.Context, l *lab.Lab, run string, eye work.Eye) error {
	first, err := work.Load(ctx, l, run, eye, nil)
	if err != nil {
		return err
	}
	if first.Run.Layout != o.Layout {
		return fmt.Errorf("run %s is from layout %s, the pictures are of %s", run, first.Run.Layout, o.Layout)
	}
	o.of = first.Run
	for _, t := range first.Figure.Body.Tools {
		k := first
		if t.Name != first.Figure.Cover.Tool {
			if k, err = work.LoadTool(ctx, l, run, t.Name, eye, nil); err != nil {
				return err
			}
		}
		o.tools = append(o.tools, t.Name)
		grid := k.Figure.Cover.Grid
		for _, p := range o.Patches {
			by := map[string]Soil{}
			var passed, never Soil
			for _, c := range p.Cells {
				i := grid.Index(geom.Point2{X: c.X, Y: c.Y})
				n := 0
				if i >= 0 {
					n = int(grid.Passes[i])
				}
				key := strconv.Itoa(n)
				if n > 3 {
					key = "4+"
				}
				s := by[key]
				s.add(c.Before, c.After)
				by[key] = s
				if n > 0 {
					passed.add(c.Before, c.After)
				} else {
					never.add(c.Before, c.After)
				}
			}
			for key, s := range by {
				by[key] = s.shared()
			}
			if p.Passes == nil {
				p.Passes = map[string]Tool{}
			}
			p.Passes[t.Name] = Tool{by, passed.shared(), never.shared()}
		}
	}
	return nil
}
