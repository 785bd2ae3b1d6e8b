package figure

import (
	"errors"
	"fmt"
	"image/color"
	"math"

	"swathe/coverage"
	"swathe/report/words"
)

// Line is one run's curve on a chart of several.
type Line struct {
	Group int       // index into the names of Curves
	Min   []float64 // minutes from the run's start
	Share []float64 // of the open floor
}

// groupColours tell groups of runs apart for every reader: the scheme of
// M. Okabe and K. Ito, "Color Universal Design", 2008 (from memory), without
// its yellow, which is lost on white. Dashes tell them apart as well.
var groupColours = []color.RGBA{hex(0x0072b2), hex(0xd55e00), hex(0x009e73), hex(0xcc79a7), hex(0xe69f00), hex(0x56b4e9)}

func (s *sheet) groupStroke(i int) stroke {
	dashes := [][]float64{nil, {0.8 * s.em, 0.35 * s.em}, {0.2 * s.em, 0.3 * s.em}, {0.9 * s.em, 0.25 * s.em, 0.2 * s.em, 0.25 * s.em}}
	return stroke{c: groupColours[i%len(groupColours)], width: math.Max(1.5, 0.15*s.em), dash: dashes[i/len(groupColours)%len(dashes)]}
}

// Curves draws the share cleaned against time of several runs on one chart, the
// runs of one group in one colour.
func Curves(title string, groups []string, lines []Line, opt Options) (*Picture, error) {
	end := 0.0
	for _, l := range lines {
		if len(l.Min) != len(l.Share) || l.Group < 0 || l.Group >= len(groups) {
			return nil, errors.New(title + ": a curve needs as many times as shares, and a group")
		}
		if n := len(l.Min); n > 0 {
			end = math.Max(end, l.Min[n-1])
		}
	}
	if end == 0 {
		return nil, errors.New(title + ": none of the runs has a curve")
	}
	headline := fmt.Sprintf("Coverage over time, %d runs", len(lines))
	alt := fmt.Sprintf("Chart of the share of the open floor cleaned against time for %d runs.", len(lines))
	for g, name := range groups {
		best, n := math.Inf(-1), 0
		for _, l := range lines {
			if l.Group == g && len(l.Share) > 0 {
				n++
				best = math.Max(best, l.Share[len(l.Share)-1])
			}
		}
		if n > 0 {
			alt += fmt.Sprintf(" %s: %d, at most %s.", name, n, words.Share(best, math.NaN()))
		}
	}
	return newPicture("curves", alt, opt, func(s *sheet) {
		b := s.header(box{0, 0, s.w, s.h}.inset(s.margin()), title, headline, "")
		b = s.footer(b, "Share of the open floor, against the time since each run's start.")
		if s.opt.Labels != None {
			var es []entry
			for g, name := range groups {
				es = append(es, lineEntry(name, func(s *sheet) stroke { return s.groupStroke(g) }))
			}
			rows, h := s.rows(es, b.w())
			s.drawRows(rows, box{b.x0, b.y0, b.x1, b.y0 + h})
			b.y0 += h + 0.4*s.em
		}
		c := chart{xLabel: "minutes since the start of the run", yLabel: "share cleaned", xMax: end, yMax: 1, percent: true}
		for _, l := range lines {
			c.lines = append(c.lines, series{xs: l.Min, ys: l.Share, k: s.groupStroke(l.Group)})
		}
		c.draw(s, b)
	})
}

// Shared is the floor that runs clean together: Share[k-1] after k runs, and
// what chance would give for runs that each miss as much.
type Shared struct {
	Name          string
	Group         int // the colour that it has in Curves; negative: none, it is of several groups
	Share, Chance []float64
}

func (s *sheet) sharedStroke(t Shared) stroke {
	if t.Group >= 0 {
		return s.groupStroke(t.Group)
	}
	k := s.groupStroke(0)
	k.c = s.pal.text
	return k
}

// AfterRuns draws the share covered after one, two, three ... runs together.
func AfterRuns(title, headline string, all []Shared, opt Options) (*Picture, error) {
	n := 0
	low := 1.0
	alt := "Chart of the share of the floor reachable in every run that one, two and more runs cover together."
	for _, t := range all {
		n = max(n, len(t.Share))
		for i := range t.Share {
			low = math.Min(low, math.Min(t.Share[i], t.Chance[i]))
		}
		if k := len(t.Share); k > 0 {
			alt += fmt.Sprintf(" %s: %s after one run, %s after %d.", t.Name, words.Share(t.Share[0], math.NaN()), words.Share(t.Share[k-1], math.NaN()), k)
		}
	}
	if n < 2 {
		return nil, errors.New(title + ": two or more runs are needed")
	}
	return newPicture("together", alt, opt, func(s *sheet) {
		b := s.header(box{0, 0, s.w, s.h}.inset(s.margin()), title, headline, "")
		b = s.footer(b, "Solid: the runs as they were, mean over every choice of that many. Dotted: if each had missed as much floor at random.")
		if s.opt.Labels != None {
			var es []entry
			for _, t := range all {
				es = append(es, lineEntry(t.Name, func(s *sheet) stroke { return s.sharedStroke(t) }))
			}
			rows, h := s.rows(es, b.w())
			s.drawRows(rows, box{b.x0, b.y0, b.x1, b.y0 + h})
			b.y0 += h + 0.4*s.em
			// Words beside the axis take room that the bars must leave.
			b.x0 += 3.2 * s.em
			b.y0 += 2.6 * s.em
		}
		floor := math.Floor(low*20-0.5) / 20
		floor = math.Max(0, math.Min(floor, 0.95))
		at := func(k int, v float64) pt {
			return pt{b.x0 + (float64(k)-0.5)/float64(n)*b.w(), b.y0 + (v-floor)/(1-floor)*b.h()}
		}
		step := 0.05
		if 1-floor > 0.4 {
			step = 0.2
		} else if 1-floor < 0.16 {
			step = 0.02
		}
		for v := 1.0; v >= floor-1e-9; v -= step {
			y := at(1, v).y
			s.line(stroke{c: s.pal.grid, width: math.Max(1, 0.05*s.em)}, []pt{{b.x0, y}, {b.x1, y}}, false)
			if s.opt.Labels != None {
				s.text(style{alignX: right, alignY: middle}, pt{b.x0 - 0.5*s.em, y}, fmt.Sprintf("%.0f"+words.NB+"%%", v*100))
			}
		}
		s.line(stroke{c: s.pal.text, width: math.Max(1, 0.06*s.em)}, []pt{{b.x0, b.y0}, {b.x1, b.y0}}, false)
		for k := 1; k <= n && s.opt.Labels != None; k++ {
			if n > 12 && k%5 != 0 && k != 1 {
				continue
			}
			s.text(style{alignX: centre, alignY: top}, pt{at(k, floor).x, b.y0 - 0.4*s.em}, fmt.Sprint(k))
		}
		if s.opt.Labels != None {
			s.text(style{alignX: centre, alignY: top}, pt{(b.x0 + b.x1) / 2, b.y0 - 1.7*s.em}, "runs together")
		}
		for _, t := range all {
			k := s.sharedStroke(t)
			var own, chance []pt
			for j := range t.Share {
				own, chance = append(own, at(j+1, t.Share[j])), append(chance, at(j+1, t.Chance[j]))
			}
			s.line(stroke{c: k.c, width: 0.7 * k.width, dash: []float64{0.15 * s.em, 0.3 * s.em}}, chance, false)
			s.line(k, own, false)
			for _, p := range own {
				s.disc(k.c, p, 0.32*s.em)
			}
		}
	})
}

// GroupDifference draws which floor each of two groups of runs alone usually
// cleaned: in at least half of its runs. All must be of one layout, on the same
// cells.
func GroupDifference(nameA string, as []Run, nameB string, bs []Run, opt Options) (*Picture, error) {
	if len(as) == 0 || len(bs) == 0 {
		return nil, errors.New("a difference needs runs on both sides")
	}
	all := append(append([]Run(nil), as...), bs...)
	if err := same(all); err != nil {
		return nil, err
	}
	g := as[0].Cover.Grid
	usual := func(rs []Run, k int) bool {
		n := 0
		for _, r := range rs {
			if r.Cover.Grid.Passes[k] > 0 {
				n++
			}
		}
		return 2*n >= len(rs)
	}
	class := make([]uint8, len(g.Flags))
	var m2 [4]float64
	for k := range class {
		var flags uint8
		for _, r := range all {
			flags |= r.Cover.Grid.Flags[k]
		}
		if flags&coverage.FlagOpen == 0 {
			continue
		}
		ca, cb := usual(as, k), usual(bs, k)
		i := 0
		switch {
		case ca && cb:
		case ca:
			i = 1
		case cb:
			i = 2
		case flags&coverage.FlagReachable == 0:
			class[k] = 1
			continue
		default:
			i = 3
		}
		class[k] = 2 + uint8(i)
		m2[i] += g.Cell * g.Cell
	}
	area := func(i int) string { return words.Area(m2[i], math.NaN(), opt.Unit) }
	headline := "Cleaned only by " + nameA + ": " + area(1) + ", only by " + nameB + ": " + area(2)
	foot := ""
	if len(all) > 2 {
		foot = "Cleaned means: in at least half of that side's runs."
	}
	alt := fmt.Sprintf("Plan of the room %s with the floor that %s and %s cleaned. %s; neither cleaned %s.", as[0].Layout, nameA, nameB, headline, area(3))
	return newPicture("difference", alt, opt, func(s *sheet) {
		var legend []entry
		for i, l := range []string{"cleaned by both", "only by " + nameA, "only by " + nameB, "cleaned by neither"} {
			if s.opt.Labels == Full {
				l += "  " + area(i)
			}
			legend = append(legend, s.toldSwatch(l, differenceColours[i]))
		}
		legend = append(legend, pattern("not reachable", s.hatch()))
		v, b := s.planSheet(planPart{corners(as[0].Plan.Room)}, nameA+" and "+nameB+", "+as[0].Layout, headline, "", foot, append(legend, s.planLegend(as[0].Plan)...))
		s.cellMap(v, b, g, class, func(c uint8) tone {
			switch c {
			case 0:
				return tone{}
			case 1:
				return s.hatch()
			}
			return s.told(differenceColours[c-2])
		})
		s.furniture(v, as[0].Plan)
	}, append(append([]Run(nil), as...), bs...)...)
}
