package figure

import (
	"fmt"
	"math"

	"swathe/geom"
	"swathe/report/words"
)

// timeSteps is into how many colours the run's time is cut.
const timeSteps = 128

// stretch is a part of the path that is drawn with one stroke.
type stretch struct {
	pts     []geom.Point2
	share   float64 // of the run's time, at its middle
	bridged bool
}

// stretches cuts the path between from and to (s) into strokes: one colour
// each, whole where the robot was seen or bridged, nothing where it was lost
// or carried. Points nearer than tol metres to the line drawn so far are left
// out.
func stretches(t *geom.Trace, from, to, tol float64) []stretch {
	run := t.Run
	dur := math.Max(run.To-run.From, 1e-9)
	known := func(s geom.Sample) bool {
		return (s.State == geom.Seen || s.State == geom.Bridged) && !math.IsNaN(s.X) && !math.IsNaN(s.Y)
	}
	var out []stretch
	var cur stretch
	step := -1
	flush := func() {
		if len(cur.pts) > 1 {
			cur.pts = thin(cur.pts, tol)
			out = append(out, cur)
		}
		cur, step = stretch{}, -1
	}
	for i := 1; i < len(t.Samples); i++ {
		a, b := t.Samples[i-1], t.Samples[i]
		if a.T < from || b.T > to || a.T < run.From || b.T > run.To || !known(a) || !known(b) {
			flush()
			continue
		}
		n := int(float64(timeSteps) * (a.T - run.From) / dur)
		bridged := a.State == geom.Bridged || b.State == geom.Bridged
		if n != step || bridged != cur.bridged || len(cur.pts) == 0 {
			flush()
			cur = stretch{share: (float64(n) + 0.5) / timeSteps, bridged: bridged}
			cur.pts = append(cur.pts, geom.Point2{X: a.X, Y: a.Y})
			step = n
		}
		cur.pts = append(cur.pts, geom.Point2{X: b.X, Y: b.Y})
	}
	flush()
	return out
}

// thin drops points that lie within tol of the line through those kept
// (Douglas and Peucker, The Canadian Cartographer 10(2), 1973).
func thin(pts []geom.Point2, tol float64) []geom.Point2 {
	if len(pts) < 3 {
		return pts
	}
	keep := make([]bool, len(pts))
	keep[0], keep[len(pts)-1] = true, true
	var walk func(i, j int)
	walk = func(i, j int) {
		far, at := tol, -1
		for k := i + 1; k < j; k++ {
			if d := toSegment(pts[k], pts[i], pts[j]); d > far {
				far, at = d, k
			}
		}
		if at >= 0 {
			keep[at] = true
			walk(i, at)
			walk(at, j)
		}
	}
	walk(0, len(pts)-1)
	out := pts[:0:0]
	for i, k := range keep {
		if k {
			out = append(out, pts[i])
		}
	}
	return out
}

// toSegment returns the distance of p from the segment a b.
func toSegment(p, a, b geom.Point2) float64 {
	d := b.Sub(a)
	n := d.X*d.X + d.Y*d.Y
	if n == 0 {
		return p.Dist(a)
	}
	t := math.Max(0, math.Min(1, ((p.X-a.X)*d.X+(p.Y-a.Y)*d.Y)/n))
	return p.Dist(geom.Point2{X: a.X + t*d.X, Y: a.Y + t*d.Y})
}

// Path draws where the robot's centre drove, coloured by time; with
// Options.Slices above 1, one plan for each of so many equal spans of time.
func Path(r Run, opt Options) (*Picture, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	m := r.Cover.Motion
	headline := "Drove " + words.Length(m.DistanceM, math.NaN(), opt.Unit) + " in " + words.Duration(m.DurationS)
	alt := fmt.Sprintf("Plan of the room %s with the path of %s, coloured by time from the start to the end of the run. %s.", r.Layout, r.Robot, headline)
	if opt.Slices > 1 {
		alt += fmt.Sprintf(" The run is cut into %d equal spans, a plan for each.", opt.Slices)
		return newPicture("path", alt, opt, func(s *sheet) { s.pathSlices(r, headline) }, r)
	}
	return newPicture("path", alt, opt, func(s *sheet) {
		v, _ := s.planSheet(planPart{corners(r.Plan.Room)}, r.Title(), headline, r.pathDetails(s.opt.Unit), pathFoot, s.pathLegend(r))
		s.floorOf(v, r.Plan)
		s.furniture(v, r.Plan)
		s.drive(v, r.Trace, r.Trace.Run.From, r.Trace.Run.To)
		s.ends(v, r.Trace)
	}, r)
}

const pathFoot = "The line is the path of the robot's centre. There is no line where it was carried or lost."

func (r Run) pathDetails(unit words.Unit) string {
	m := r.Cover.Motion
	d := ""
	if !math.IsNaN(m.MeanSpeedMPS) {
		d = words.Speed(m.MeanSpeedMPS, unit) + " on average while moving"
	}
	if !math.IsNaN(m.MovingShare) {
		if d != "" {
			d += " \u00b7 "
		}
		d += "moving " + words.Share(m.MovingShare, 0.004) + " of the time"
	}
	return d
}

// floorOf paints the open floor in the theme's plain colour.
func (s *sheet) floorOf(v view, plan *geom.Plan) {
	s.fill(s.pal.floor, v.ring(corners(plan.Room)))
}

func (s *sheet) pathWidth() float64 { return math.Max(1.2, 0.13*s.em) }

// drive draws the path between two times.
func (s *sheet) drive(v view, t *geom.Trace, from, to float64) {
	w := s.pathWidth()
	for _, k := range stretches(t, from, to, 0.25/v.k) {
		st := stroke{c: s.pal.timeColour(k.share), width: w}
		if k.bridged {
			st.dash = []float64{2.2 * w, 1.6 * w}
		}
		s.line(st, v.ring(k.pts), false)
	}
}

// ends marks start (ring) and end (square) of the run. Where the two would
// cover each other, as in a dock, the ring goes round the square.
func (s *sheet) ends(v view, t *geom.Trace) {
	a, okA := firstKnown(t)
	b, okB := lastKnown(t)
	if !okA || !okB {
		return
	}
	p, q := v.px(a), v.px(b)
	if math.Hypot(p.x-q.x, p.y-q.y) < s.em {
		s.disc(s.pal.page, p, 1.1*s.em)
		s.ring(stroke{c: s.pal.mark, width: math.Max(1.5, 0.17*s.em)}, p, 0.95*s.em)
	} else {
		s.startMark(p)
	}
	s.endMark(q)
}

func (s *sheet) startMark(p pt) {
	s.disc(s.pal.page, p, 0.42*s.em)
	s.ring(stroke{c: s.pal.mark, width: math.Max(1.5, 0.17*s.em)}, p, 0.42*s.em)
}

func (s *sheet) endMark(p pt) {
	r := 0.4 * s.em
	o := r + math.Max(1, 0.1*s.em)
	s.fill(s.pal.page, box{p.x - o, p.y - o, p.x + o, p.y + o}.corners())
	s.fill(s.pal.mark, box{p.x - r, p.y - r, p.x + r, p.y + r}.corners())
}

func firstKnown(t *geom.Trace) (geom.Point2, bool) {
	for _, a := range t.Samples {
		if a.T >= t.Run.From && a.T <= t.Run.To && !math.IsNaN(a.X) && !math.IsNaN(a.Y) {
			return geom.Point2{X: a.X, Y: a.Y}, true
		}
	}
	return geom.Point2{}, false
}

func lastKnown(t *geom.Trace) (geom.Point2, bool) {
	for i := len(t.Samples) - 1; i >= 0; i-- {
		if a := t.Samples[i]; a.T >= t.Run.From && a.T <= t.Run.To && !math.IsNaN(a.X) && !math.IsNaN(a.Y) {
			return geom.Point2{X: a.X, Y: a.Y}, true
		}
	}
	return geom.Point2{}, false
}

func (s *sheet) pathLegend(r Run) []entry {
	es := []entry{
		s.timeLegend(r.Trace.Run.To - r.Trace.Run.From),
		{label: "start", draw: func(s *sheet, b box) { s.startMark(pt{(b.x0 + b.x1) / 2, (b.y0 + b.y1) / 2}) }},
		{label: "end", draw: func(s *sheet, b box) { s.endMark(pt{(b.x0 + b.x1) / 2, (b.y0 + b.y1) / 2}) }},
	}
	for _, k := range stretches(r.Trace, math.Inf(-1), math.Inf(1), 1) {
		if k.bridged {
			es = append(es, lineEntry("hidden, path filled in", func(s *sheet) stroke {
				w := s.pathWidth()
				return stroke{c: s.pal.timeColour(0.5), width: w, dash: []float64{2.2 * w, 1.6 * w}}
			}))
			break
		}
	}
	return append(es, s.planLegend(r.Plan)...)
}

// timeLegend is a bar of the colours of time, the start at its top, with the
// clock beside it.
func (s *sheet) timeLegend(duration float64) entry {
	const tall = 9
	return entry{label: words.Clock(0) + " from the start", tall: tall, draw: func(s *sheet, b box) {
		n := 64
		for i := 0; i < n; i++ {
			// A sliver of overlap, or the page shines through between the steps.
			y1 := b.y1 - b.h()*float64(i)/float64(n)
			y0 := math.Max(b.y0, b.y1-b.h()*(float64(i)+1.6)/float64(n))
			s.fill(s.pal.timeColour((float64(i)+0.5)/float64(n)), box{b.x0, y0, b.x0 + s.em, y1}.corners())
		}
		st := style{alignY: middle}
		step := roundTime(duration / 4)
		for t := step; t < duration*0.97; t += step {
			y := b.y1 - b.h()*t/duration
			// The words of the first line stand at the bar's top, the end at its foot.
			if b.y1-y < 1.7*s.em || y-b.y0 < 1.5*s.em {
				continue
			}
			s.line(stroke{c: s.pal.edge, width: math.Max(1, 0.06*s.em)}, []pt{{b.x0 + s.em, y}, {b.x0 + 1.35*s.em, y}}, false)
			s.text(st, pt{b.x0 + (swatchWide+wordsGap)*s.em, y}, words.Clock(t))
		}
		s.text(st, pt{b.x0 + (swatchWide+wordsGap)*s.em, b.y0 + 0.5*s.em}, words.Clock(duration)+" end")
	}}
}

// roundTime returns the round number of seconds next above s.
func roundTime(s float64) float64 {
	for _, v := range []float64{5, 10, 15, 30, 60, 120, 180, 300, 600, 900, 1200, 1800, 3600, 7200} {
		if v >= s {
			return v
		}
	}
	return math.Ceil(s/3600) * 3600
}

// pathSlices draws one small plan a span of time, the path so far in grey.
func (s *sheet) pathSlices(r Run, headline string) {
	b := s.header(box{0, 0, s.w, s.h}.inset(s.margin()), r.Title(), headline+", in "+fmt.Sprint(s.opt.Slices)+" equal spans", "")
	b = s.footer(b, pathFoot+" The earlier path is grey.")
	run := r.Trace.Run
	span := (run.To - run.From) / float64(s.opt.Slices)
	rooms := make([][]geom.Point2, s.opt.Slices)
	for i := range rooms {
		rooms[i] = corners(r.Plan.Room)
	}
	// The times above the plans say what the colours of time are.
	panels := s.withLegend(rooms, b, s.pathLegend(r)[1:], func(float64) float64 { return 1.75 * s.em }, [2]float64{1.7 * s.em, 1.2 * s.em})
	for i, p := range panels {
		from := run.From + span*float64(i)
		to := from + span
		if i == s.opt.Slices-1 {
			to = run.To
		}
		s.text(style{alignY: bottom}, pt{p.plan.x0, p.plan.y1 + 0.35*s.em},
			words.Clock(from-run.From)+" to "+words.Clock(to-run.From))
		s.floorOf(p.view, r.Plan)
		for _, k := range stretches(r.Trace, run.From, from, 0.5/p.view.k) {
			s.line(stroke{c: mix(s.pal.floor, s.pal.hatch, 0.55), width: 0.7 * s.pathWidth()}, p.view.ring(k.pts), false)
		}
		s.bare(p.view, r.Plan)
		s.drive(p.view, r.Trace, from, to)
		if i == 0 {
			if a, ok := firstKnown(r.Trace); ok {
				s.startMark(p.view.px(a))
			}
		}
		if i == len(panels)-1 {
			if e, ok := lastKnown(r.Trace); ok {
				s.endMark(p.view.px(e))
			}
		}
	}
	if len(panels) > 0 {
		p := panels[len(panels)-1]
		s.scaleBar(p.view, pt{panels[0].plan.x0, p.plan.y0 - 1.05*s.em}, math.Max(0.4*p.plan.w(), 3*s.em))
	}
}
