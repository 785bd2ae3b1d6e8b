package figure

import (
	"fmt"
	"math"

	"swathe/coverage"
	"swathe/report/words"
)

// Colours of the lines of a chart, told apart by lightness and dash as well:
// the strongest blue of the pass map for what was measured, the theme's faint
// text colour for what it is held against.
func (s *sheet) measured() stroke {
	c := PassColours[3]
	if s.opt.Theme == Dark {
		c = PassColours[2]
	}
	return stroke{c: c, width: math.Max(2, 0.22*s.em)}
}

func (s *sheet) second() stroke {
	k := s.measured()
	k.width = math.Max(1.2, 0.11*s.em)
	return k
}

func (s *sheet) lanesLaw() stroke {
	return stroke{c: s.pal.faint, width: math.Max(1.2, 0.1*s.em), dash: []float64{0.9 * s.em, 0.45 * s.em}}
}

func (s *sheet) randomLaw() stroke {
	return stroke{c: s.pal.faint, width: math.Max(1.2, 0.1*s.em), dash: []float64{0.18 * s.em, 0.35 * s.em}}
}

// Curve draws the share cleaned against time, of the reachable and of the open
// floor, beside the two laws of search theory for the same effort: perfect
// lanes and random search (coverage.RandomSearch), 1957: from memory).
func Curve(r Run, opt Options) (*Picture, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	pts := r.Cover.Curve
	b := r.Cover.Coverage
	alt := fmt.Sprintf("Chart of the share of the floor cleaned against time for %s in %s. %s, %s.", r.Robot, r.Layout, r.Headline(), r.Details(opt.Unit))
	if t := b.TimeToReachable[2]; !math.IsNaN(t) {
		alt += " It reached 90" + words.NB + "% of the reachable floor after " + words.Duration(t) + "."
	}
	return newPicture("curve", alt, opt, func(s *sheet) {
		details, foot := r.Details(s.opt.Unit), "With the same sweeping, perfect lanes would clean all of it once before any of it twice; random driving would follow the dotted line."
		if s.isSmall() {
			details, foot = "", ""
		}
		q := s.footer(s.header(box{0, 0, s.w, s.h}.inset(s.margin()), r.Title(), r.Headline(), details), foot)
		es := curveLegend(r)
		if s.opt.Labels != None {
			rows, h := s.rows(es, q.w())
			s.drawRows(rows, box{q.x0, q.y0, q.x1, q.y0 + h})
			q.y0 += h + 0.4*s.em
		}
		c := curveChart(s, r.Trace.Run.From, pts)
		if s.opt.Labels == Full {
			c.marks = levelMarks(b)
		}
		c.draw(s, q)
	}, r)
}

func curveLegend(r Run) []entry {
	b := r.Cover.Coverage
	return []entry{
		lineEntry("of reachable floor  "+r.share(b.ReachableShare), (*sheet).measured),
		lineEntry("of all open floor  "+r.share(b.CoveredShare), (*sheet).second),
		lineEntry("perfect lanes", (*sheet).lanesLaw),
		lineEntry("random driving", (*sheet).randomLaw),
	}
}

// curveChart is the chart of one run; times are minutes from the run's start.
func curveChart(s *sheet, start float64, pts []coverage.CurvePoint) chart {
	n := len(pts)
	xs := make([]float64, 0, n+1)
	col := func(f func(coverage.CurvePoint) float64) series {
		l := series{xs: []float64{0}, ys: []float64{0}}
		for _, p := range pts {
			if x, y := (p.T-start)/60, f(p); x >= 0 && !math.IsNaN(y) {
				l.xs, l.ys = append(l.xs, x), append(l.ys, y)
			}
		}
		return l
	}
	for _, p := range pts {
		xs = append(xs, (p.T-start)/60)
	}
	end := 1.0
	if n > 0 {
		end = math.Max(xs[n-1], 1e-3)
	}
	perfect := col(func(p coverage.CurvePoint) float64 { return p.Perfect })
	perfect.k = s.lanesLaw()
	random := col(func(p coverage.CurvePoint) float64 { return p.Random })
	random.k = s.randomLaw()
	open := col(func(p coverage.CurvePoint) float64 { return p.CoveredShare })
	open.k = s.second()
	reach := col(func(p coverage.CurvePoint) float64 { return p.ReachableShare })
	reach.k = s.measured()
	return chart{
		lines:  []series{perfect, random, open, reach},
		xLabel: "minutes since the start of the run", yLabel: "share cleaned",
		xMax: end, yMax: 1, percent: true,
	}
}

// levelMarks marks the highest level of the reachable share that the run
// reached; more would cover the lines.
func levelMarks(b coverage.Block) []chartMark {
	var out []chartMark
	for i := len(coverage.Levels) - 1; i >= 0 && len(out) < 1; i-- {
		if t := b.TimeToReachable[i]; !math.IsNaN(t) {
			out = append(out, chartMark{x: t / 60, y: float64(coverage.Levels[i]) / 100,
				label: fmt.Sprintf("%d"+words.NB+"%% after %s", coverage.Levels[i], words.Duration(t))})
		}
	}
	return out
}
