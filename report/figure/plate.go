package figure

import (
	"fmt"
	"math"

	"swathe/geom"
	"swathe/report/words"
)

// Caption sums a run up for a plate: "mapping run 1: 96.1 % in 14 min 20 s,
// 1.9 passes". with names the robot and layout too.
func (r Run) Caption(with bool) string {
	b, m := r.Cover.Coverage, r.Cover.Motion
	name := PhaseWords(r.Phase, r.Trial)
	if with {
		name = r.Robot + ", " + name
	}
	out := fmt.Sprintf("%s: %s in %s", name, r.share(b.CoveredShare), words.Duration(m.DurationS))
	if !math.IsNaN(b.MeanPasses) {
		out += ", " + words.Number(b.MeanPasses, math.NaN(), 1) + words.NB + "passes"
	}
	return out
}

// maxRuns is how many runs stand on one plate.
const maxRuns = 6

// Plate draws the pass maps of two to six runs side by side at one scale, with
// one legend.
func Plate(rs []Run, opt Options) (*Picture, error) {
	if len(rs) < 2 || len(rs) > maxRuns {
		return nil, fmt.Errorf("a plate shows two to %d runs, not %d", maxRuns, len(rs))
	}
	robots, layouts := map[string]bool{}, map[string]bool{}
	for _, r := range rs {
		if err := r.check(); err != nil {
			return nil, err
		}
		robots[r.Robot], layouts[r.Layout] = true, true
	}
	with := len(robots) > 1
	title := fmt.Sprintf("%d runs in %s", len(rs), rs[0].Layout)
	if !with {
		title = fmt.Sprintf("%s, %d runs in %s", rs[0].Robot, len(rs), rs[0].Layout)
	}
	if len(layouts) > 1 {
		title = fmt.Sprintf("%d runs in %d layouts", len(rs), len(layouts))
	}
	alt := title + ", plans side by side with how often each spot was cleaned."
	var classAll [classes]float64
	classOf := make([][]uint8, len(rs))
	rooms := make([][]geom.Point2, len(rs))
	furnished := &geom.Plan{}
	for i, r := range rs {
		alt += " " + r.Caption(with) + "."
		classOf[i] = passClass(r.Cover.Grid)
		for c, a := range classAreas(r.Cover.Grid, classOf[i]) {
			classAll[c] += a
		}
		rooms[i] = corners(r.Plan.Room)
		furnished.Obstacles = append(furnished.Obstacles, r.Plan.Obstacles...)
		furnished.Overhead = append(furnished.Overhead, r.Plan.Overhead...)
	}
	return newPicture("plate", alt, opt, func(s *sheet) {
		b := s.header(box{0, 0, s.w, s.h}.inset(s.margin()), "", title, "")
		b = s.footer(b, "Per cent of open floor. A pass is one time over a spot.")
		caption := func(w float64) float64 {
			lines := 1
			for _, r := range rs {
				lines = max(lines, len(s.wrap(style{}, r.Caption(with), w)))
			}
			return (float64(lines)*lineHeight + 0.35) * s.em
		}
		panels := s.withLegend(rooms, b, s.passLegend(classAll, 0, furnished), caption, [2]float64{1.7 * s.em, 1.2 * s.em})
		for i, p := range panels {
			r := rs[i]
			s.paragraph(style{}, box{p.cell.x0, p.cell.y0, p.cell.x1, p.cell.y1}, r.Caption(with))
			s.cellMap(p.view, p.plan, r.Cover.Grid, classOf[i], s.passTone)
			s.bare(p.view, r.Plan)
			s.scaleBar(p.view, pt{p.plan.x0, p.plan.y0 - 0.95*s.em}, math.Max(0.3*p.plan.w(), 3*s.em))
		}
	}, rs...)
}
