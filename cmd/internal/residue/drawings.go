package residue

import (
	"math"
	"strconv"

	"swathe/cmd/internal/export"
	"swathe/cmd/internal/lab"
	"swathe/geom"
	"swathe/report/figure"
)

// Drawings are the pictures of an outcome: of each patch before, after and the
// difference, and with a run what is left by number of passes. A patch that the
// pictures do not show is drawn as an error that says why.
func (o *Outcome) Drawings(l *lab.Lab) []export.Drawing {
	var out []export.Drawing
	var all []figure.Residue
	for _, p := range l.Layouts[o.Layout].Patches {
		found := o.Patches[p.Name]
		if found == nil {
			continue
		}
		r := found.figure(o.Layout, p.Name, p.Outline)
		if r.Cols > 0 {
			all = append(all, r)
		}
		out = append(out, export.Drawing{Name: p.Name, Draw: func(opt figure.Options) (*figure.Picture, error) { return figure.Left(r, opt) }})
		if o.Run == nil || found.Shots == nil {
			continue
		}
		run, tools := *o.Run, found.tools(o.tools)
		out = append(out, export.Drawing{Name: p.Name + "_passes", Draw: func(opt figure.Options) (*figure.Picture, error) { return figure.LeftByPasses(r, run, tools, opt) }})
	}
	if len(all) > 1 {
		out = append(out, export.Drawing{Name: "plate", Draw: func(opt figure.Options) (*figure.Picture, error) { return figure.LeftPlate(all, opt) }})
	}
	return out
}

func (p *Patch) figure(layout, name string, outline []geom.Point2) figure.Residue {
	value := func(v *float64) float64 {
		if v == nil {
			return math.NaN()
		}
		return *v
	}
	count := func(n *int) int {
		if n == nil {
			return -1
		}
		return *n
	}
	r := figure.Residue{
		Layout: layout, Patch: name, Kind: p.Kind, Outline: outline,
		BeforeM2: value(p.BeforeM2), AfterM2: value(p.AfterM2), BeforeLengthM: value(p.BeforeLengthM), AfterLengthM: value(p.AfterLengthM),
		BeforeCount: count(p.BeforeCount), AfterCount: count(p.AfterCount), LeftShare: value(p.LeftShare), DifferenceMean: value(p.DifferenceMean),
	}
	if p.Reason != nil {
		r.Reason = *p.Reason
	}
	if s := p.Shots; s != nil {
		r.Cols, r.Rows, r.X0, r.PixelM = s.W, s.H, s.X0, s.PixelM
		// Rows are counted from the top: the lowest may reach below the patch.
		high := math.Inf(-1)
		for _, c := range outline {
			high = math.Max(high, c.Y)
		}
		r.Y0 = high - float64(s.H)*s.PixelM
		r.Before, r.After, r.DifferenceBefore, r.DifferenceAfter = s.Before, s.After, s.DeltaBef, s.DeltaAft
	}
	return r
}

// tools lists the soil by passes, in the order of the robot's tools.
func (p *Patch) tools(names []string) []figure.ResidueTool {
	var out []figure.ResidueTool
	for _, name := range names {
		t := figure.ResidueTool{Tool: name}
		for i := range t.BeforeM2 {
			key := strconv.Itoa(i)
			if i > 3 {
				key = "4+"
			}
			s := p.Passes[name].ByPasses[key]
			t.BeforeM2[i], t.AfterM2[i] = s.BeforeM2, s.AfterM2
		}
		out = append(out, t)
	}
	return out
}
