package export

import (
	"errors"
	"fmt"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"swathe/cmd/internal/work"
	"swathe/coverage/compare"
	"swathe/coverage/stats"
	"swathe/report"
	"swathe/report/figure"
	"swathe/report/words"
)

// The pictures of one run.
var single = map[string]func(k *work.Kept, o figure.Options) (*figure.Picture, error){
	"passes":  func(k *work.Kept, o figure.Options) (*figure.Picture, error) { return figure.Passes(k.Figure, o) },
	"path":    func(k *work.Kept, o figure.Options) (*figure.Picture, error) { return figure.Path(k.Figure, o) },
	"curve":   func(k *work.Kept, o figure.Options) (*figure.Picture, error) { return figure.Curve(k.Figure, o) },
	"seconds": func(k *work.Kept, o figure.Options) (*figure.Picture, error) { return figure.Seconds(k.Figure, o) },
	"missed": func(k *work.Kept, o figure.Options) (*figure.Picture, error) {
		return figure.MissedPatches(k.Figure, o)
	},
	"edges": func(k *work.Kept, o figure.Options) (*figure.Picture, error) { return figure.Edges(k.Figure, o) },
	"events": func(k *work.Kept, o figure.Options) (*figure.Picture, error) {
		if k.Run.Events == nil {
			return nil, errors.New("events were not analysed in this run; measure it with --again")
		}
		return figure.Events(k.Figure, report.FigureEvents(k.Run, k.Figure.Plan, o.Unit), o)
	},
	"minutes": func(k *work.Kept, o figure.Options) (*figure.Picture, error) {
		if k.Run.Ledger == nil {
			return nil, errors.New("time by activity was not calculated for this run; measure it with --again")
		}
		o.Mark = k.Run.Mark
		return figure.Minutes(k.Figure.Title(), report.Spells(k.Run), o)
	},
}

// Kinds lists the pictures, those of one run first, then those of several.
func Kinds() []string {
	return []string{"passes", "path", "curve", "seconds", "minutes", "missed", "edges", "events",
		"test_objects", "agreement", "difference", "plate", "others"}
}

// ToolKinds lists the pictures that can be drawn of a chosen tool: those of one
// run, whose names carry it. A plate or an agreement would not say whose it is.
func ToolKinds() []string {
	return []string{"passes", "path", "curve", "seconds", "missed", "edges"}
}

// jobs lists the pictures of one kind.
func (e *exporter) jobs(kind string, runs []*work.Kept, all func() ([]*report.Run, error)) ([]job, error) {
	var out []job
	if draw, ok := single[kind]; ok {
		for _, k := range runs {
			out = append(out, job{k.FileName() + "_" + kind, func(o figure.Options) (*figure.Picture, error) { return draw(k, o) }})
		}
		return out, nil
	}
	switch kind {
	case "agreement":
		for _, g := range groups(runs, func(k *work.Kept) string { return k.Run.Layout }) {
			out = append(out, job{g.name + "_agreement", func(o figure.Options) (*figure.Picture, error) { return figure.Agreement(figures(g.runs), o) }})
		}
	case "difference":
		for _, g := range groups(runs, func(k *work.Kept) string { return k.Run.Layout }) {
			out = append(out, job{g.name + "_difference", func(o figure.Options) (*figure.Picture, error) {
				if len(g.runs) != 2 {
					return nil, fmt.Errorf("a difference needs two runs of one layout; %d were named", len(g.runs))
				}
				return figure.Difference(g.runs[0].Figure, g.runs[1].Figure, o)
			}})
		}
	case "plate":
		const most = 6
		for i := 0; i < len(runs); i += most {
			part := runs[i:min(i+most, len(runs))]
			name := "plate"
			if len(runs) > most {
				name = fmt.Sprintf("plate_%d", i/most+1)
			}
			out = append(out, job{name, func(o figure.Options) (*figure.Picture, error) { return figure.Plate(figures(part), o) }})
		}
	case "test_objects":
		for _, g := range groups(runs, func(k *work.Kept) string { return k.Run.Layout + "_" + k.Run.Robot + "_" + k.Run.Phase }) {
			out = append(out, job{g.name + "_test_objects", func(o figure.Options) (*figure.Picture, error) { return objects(g.runs, o) }})
		}
	case "others":
		every, err := all()
		if err != nil {
			return nil, err
		}
		for _, g := range groups(runs, func(k *work.Kept) string { return k.Run.Layout + "_" + k.Run.Robot + "_" + k.Run.Phase }) {
			out = append(out, job{g.name + "_others", func(o figure.Options) (*figure.Picture, error) {
				return others(g.runs[0].Run, every, o)
			}})
		}
	}
	return out, nil
}

type group struct {
	name string
	runs []*work.Kept
}

func groups(runs []*work.Kept, of func(*work.Kept) string) []group {
	var out []group
	at := map[string]int{}
	for _, k := range runs {
		name := of(k)
		i, ok := at[name]
		if !ok {
			i = len(out)
			at[name] = i
			out = append(out, group{name: name})
		}
		out[i].runs = append(out[i].runs, k)
	}
	return out
}

func figures(runs []*work.Kept) []figure.Run {
	out := make([]figure.Run, len(runs))
	for i, k := range runs {
		out[i] = k.Figure
	}
	return out
}

// objects lays out what became of the small things, over the trials. The
// pictures before and after are test_objects/<name>_before.png and _after.png of a
// result, where it has them.
func objects(runs []*work.Kept, o figure.Options) (*figure.Picture, error) {
	var shots []figure.Shot
	sought := false
	for _, k := range runs {
		sought = sought || k.Run.TestObjects != nil
		for _, p := range k.Run.TestObjects {
			s := figure.Shot{TestObject: p.Name, Trial: k.Run.Trial, Outcome: words.NotMeasured}
			if p.Outcome != nil {
				s.Outcome = *p.Outcome
				s.Bad = s.Outcome != "avoided" && s.Outcome != "near" && s.Outcome != "untested"
				if report.Measured(p.MovedM) && p.MovedM >= 0.01 {
					s.Outcome += ", moved " + words.Length(p.MovedM, math.NaN(), o.Unit)
				} else if !s.Bad && report.Measured(p.ClearanceM) {
					s.Outcome += ", " + words.Length(p.ClearanceM, math.NaN(), o.Unit) + " clear"
				}
			}
			for _, side := range []string{"before", "after"} {
				f, err := os.Open(filepath.Join(k.Dir, "test_objects", p.Name+"_"+side+".png"))
				if err != nil {
					continue
				}
				img, err := png.Decode(f)
				f.Close()
				if err != nil {
					return nil, fmt.Errorf("%s: %w", f.Name(), err)
				}
				if side == "before" {
					s.Before = img
				} else {
					s.After = img
				}
			}
			shots = append(shots, s)
		}
	}
	if len(shots) == 0 {
		if sought {
			return nil, errors.New("the layout has no test objects")
		}
		return nil, errors.New("test objects were not analysed in these runs")
	}
	r := runs[0].Run
	return figure.TestObjects(fmt.Sprintf("%s, %s runs, %s", r.Robot, r.Phase, r.Layout), shots, o)
}

// others sets a robot's means against those of all others that ran in the same
// room and phase, as a comparison finds them: what did not finish is in none, and
// what a robot's runs share stays in its interval.
func others(r *report.Run, every []*report.Run, o figure.Options) (*figure.Picture, error) {
	var runs []compare.Run
	own := report.ComparedRun(r)
	opt := compare.DefaultOptions()
	for _, x := range every {
		if c := report.ComparedRun(x); c.Layout == own.Layout && c.Phase == own.Phase && own.Room.Same(c.Room, opt.OutlineSigma) {
			runs = append(runs, c)
		}
	}
	opt.Pool = compare.Poolable // a dot a robot
	st, _, err := compare.Standings(runs, opt)
	if err != nil {
		return nil, err
	}
	if len(st) < 2 {
		return nil, fmt.Errorf("no other robot has %s runs in %s", r.Phase, r.Layout)
	}
	for _, s := range st {
		o.Language.Keep(s.Group.Robot)
	}
	slices.SortFunc(st, func(a, b compare.Standing) int { return strings.Compare(a.Group.Robot, b.Group.Robot) })
	share := func(v float64) string { return words.Share(v, math.NaN()) }
	var out []figure.DotRow
	for _, f := range []struct {
		name, note string
		format     func(float64) string
	}{
		{"covered_share", "more is better", share},
		{"reachable_share", "more is better", share},
		{"time_to_reachable_s.90", "less is better", words.Duration},
		{"duration_s", "", words.Duration},
		{"redundancy", "less is better", func(v float64) string { return words.Number(v, math.NaN(), 2) }},
		{"rate_m2_per_min", "more is better", func(v float64) string { return words.Area(v, math.NaN(), o.Unit) }},
	} {
		of, _ := compare.Find(f.name)
		row := figure.DotRow{Words: of.Words, Note: f.note, Format: f.format}
		for _, s := range st {
			d := figure.Dot{Robot: s.Group.Robot, Value: math.NaN(), Low: math.NaN(), High: math.NaN()}
			for _, p := range s.Figures {
				if p.Figure.Name == f.name {
					d.Value = p.Mean
					if p.Cell.N >= stats.MinInterval {
						d.Low, d.High = p.Cell.Interval.Lo, p.Cell.Interval.Hi
					}
				}
			}
			row.Dots = append(row.Dots, d)
		}
		out = append(out, row)
	}
	return figure.Dots(r.Robot, fmt.Sprintf("%s, %s runs; mean of each robot's runs", r.Layout, r.Phase), out, o)
}
