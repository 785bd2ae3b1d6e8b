package figure

import (
	"fmt"
	"math"

	"swathe/coverage"
	"swathe/geom"
	"swathe/report/words"
)

// item is one line of a list beside a plan, with the number that marks its
// place on the plan.
type item struct {
	words string
	place geom.Point2 // floor; NaN: it has none
}

// listWidth is the share of the sheet that a list takes beside a plan.
const listWidth = 0.34

// listed is what stands about a plan with a numbered list.
type listed struct {
	title, headline, details, foot string
	legend                         []entry // beside that of the plan
	items                          []item
}

// listSheet lays out a plan with a numbered list beside it, or beneath it
// where the sheet is upright, and returns the view. finish writes list and
// numbers once the plan is drawn.
func (s *sheet) listSheet(plan *geom.Plan, l listed) (v view, pb box, finish func()) {
	if s.isSmall() {
		l.details, l.foot = "", ""
	}
	b := s.header(box{0, 0, s.w, s.h}.inset(s.margin()), l.title, l.headline, l.details)
	wide := math.Max(listWidth*b.w(), math.Min(16*s.em, 0.5*b.w()))
	if s.isSmall() {
		wide = 0.29 * b.w()
	}
	b = s.footer(b, l.foot)
	room := corners(plan.Room)
	if s.opt.Labels == None {
		v, pb = fit(room, s.opt.TurnDeg, s.opt.MPerPx, b)
		s.k = v.k
		return v, pb, func() {}
	}
	legend := append(l.legend, s.planLegend(plan)...)
	bar := 1.5 * s.em
	list := b
	area := b
	if b.w() > 1.1*b.h() {
		list.x0 = b.x1 - wide
		area.x1 = list.x0 - 1.2*s.em
	} else {
		list.y1 = b.y0 + 0.38*b.h()
		area.y0 = list.y1 + 0.8*s.em
	}
	var rows [][]entry
	most := 0.0
	for range 3 {
		r, h := s.rows(legend, area.w())
		a := area
		a.y0 += bar + h + 0.4*s.em
		w, q := fitLeft(room, s.opt, a)
		share := math.Max(q.w()/s.w, q.h()/s.h)
		if rows == nil || share > most {
			most, rows, v, pb = share, r, w, q
		}
		if !s.isSmall() || share >= planLeast {
			break
		}
		legend = shorter(legend) // as in fewer
	}
	s.k = v.k
	return v, pb, func() {
		s.scaleBar(v, pt{pb.x0, pb.y0 - 0.95*s.em}, math.Max(0.3*pb.w(), 4*s.em))
		s.drawRows(rows, box{pb.x0, b.y0, area.x1, pb.y0 - bar - 0.4*s.em})
		shown := s.list(l.items, list)
		s.badges(v, pb, l.items[:shown])
	}
}

// list writes numbered items into b and returns how many found room; if not
// all did, it says how many more there are.
func (s *sheet) list(items []item, b box) int {
	// Numbers that are nowhere on the plan would be looked for in vain.
	numbered, side := false, 0.0
	for _, it := range items {
		if !math.IsNaN(it.place.X) {
			numbered, side = true, 2*s.em
		}
	}
	for i, it := range items {
		lines := s.wrap(style{}, it.words, b.w()-side)
		h := float64(len(lines))*s.em*lineHeight + 0.45*s.em
		rest := 0.0
		if i < len(items)-1 {
			rest = 1.5 * s.em
		}
		if b.y1-h-rest < b.y0 {
			s.text(style{c: s.pal.faint, alignY: top}, pt{b.x0 + side, b.y1}, fmt.Sprintf("and %d more", len(items)-i))
			return i
		}
		if numbered {
			s.badge(pt{b.x0 + 0.75*s.em, b.y1 - 0.5*s.em}, i+1)
		}
		s.paragraph(style{}, box{b.x0 + side, b.y0, b.x1, b.y1 + 0.05*s.em}, it.words)
		b.y1 -= h
	}
	return len(items)
}

func (s *sheet) badge(p pt, n int) {
	s.disc(s.pal.page, p, 0.82*s.em)
	s.disc(s.pal.mark, p, 0.7*s.em)
	s.text(style{size: s.small(), bold: true, c: s.pal.page, alignX: centre, alignY: middle}, p, fmt.Sprint(n))
}

// badges numbers the places of items on the plan. A badge stands beside its
// place, joined by a line, where it covers no other badge.
func (s *sheet) badges(v view, pb box, items []item) {
	var taken, places []pt
	for _, it := range items {
		if !math.IsNaN(it.place.X) && !math.IsNaN(it.place.Y) {
			places = append(places, v.px(it.place))
		}
	}
	free := func(p pt, own pt) bool {
		if p.x < pb.x0 || p.x > pb.x1 || p.y < pb.y0 || p.y > pb.y1 {
			return false
		}
		for _, b := range s.named {
			if p.x > b.x0-s.em && p.x < b.x1+s.em && p.y > b.y0-s.em && p.y < b.y1+s.em {
				return false
			}
		}
		for _, q := range taken {
			if math.Hypot(p.x-q.x, p.y-q.y) < 1.75*s.em {
				return false
			}
		}
		for _, q := range places {
			if q != own && math.Hypot(p.x-q.x, p.y-q.y) < 1.0*s.em {
				return false
			}
		}
		return true
	}
	for i, it := range items {
		if math.IsNaN(it.place.X) || math.IsNaN(it.place.Y) {
			continue
		}
		own := v.px(it.place)
		at := pt{own.x + 1.5*s.em, own.y + 1.5*s.em}
	search:
		for r := 1.7; r < 9; r += 0.8 {
			for k := 0; k < 12; k++ {
				a := math.Pi/4 + float64(k)*math.Pi/6
				q := pt{own.x + r*s.em*math.Cos(a), own.y + r*s.em*math.Sin(a)}
				if free(q, own) {
					at = q
					break search
				}
			}
		}
		taken = append(taken, at)
		w := math.Max(1, 0.1*s.em)
		s.line(stroke{c: s.pal.page, width: 3 * w}, []pt{own, at}, false)
		s.line(stroke{c: s.pal.mark, width: w}, []pt{own, at}, false)
		s.disc(s.pal.page, own, 0.3*s.em)
		s.disc(s.pal.mark, own, 0.2*s.em)
		s.badge(at, i+1)
	}
}

// BesideWords says where a missed patch lies.
func BesideWords(beside string) string {
	switch beside {
	case "wall":
		return "along a wall"
	case "corner":
		return "in a corner"
	case "open floor", "":
		return "in the open"
	}
	if rest, ok := cutPrefix(beside, "under "); ok {
		return "under the " + rest
	}
	return "beside the " + beside
}

func cutPrefix(s, p string) (string, bool) {
	if len(s) > len(p) && s[:len(p)] == p {
		return s[len(p):], true
	}
	return s, false
}

// maxListed is how many patches or events a picture numbers.
const maxListed = 20

// MissedPatches draws the patches of floor within reach that the run left out,
// the largest numbered.
func MissedPatches(r Run, opt Options) (*Picture, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	class := passClass(r.Cover.Grid)
	areas := classAreas(r.Cover.Grid, class)
	missed := areas[classMissed]
	var items []item
	for i, p := range r.Cover.Missed {
		if i == maxListed {
			break
		}
		items = append(items, item{words.Area(p.AreaM2, math.NaN(), opt.Unit) + " " + BesideWords(p.Beside), geom.Point2{X: p.X, Y: p.Y}})
	}
	headline := "Missed " + words.Area(missed, math.NaN(), opt.Unit) + " of the reachable floor"
	alt := fmt.Sprintf("Plan of the room %s with the floor that %s missed. %s, in %d patches.", r.Layout, r.Robot, headline, len(r.Cover.Missed))
	if len(items) > 0 {
		alt += " The largest: " + items[0].words + "."
	}
	return newPicture("missed", alt, opt, func(s *sheet) {
		legend := []entry{pattern("missed", s.missed()), swatch("cleaned", PassColours[0]), pattern("not reachable", s.hatch())}
		if areas[classUnknown] > 0 {
			legend = append(legend, pattern("not known", s.speckled()))
		}
		details := ""
		switch n := len(r.Cover.Missed); {
		case n == 1:
			details = "In one patch"
		case n > maxListed:
			details = fmt.Sprintf("In %d patches; the %d largest are numbered", n, maxListed)
		case n > 1:
			details = fmt.Sprintf("In %d patches, the largest first", n)
		}
		v, b, finish := s.listSheet(r.Plan, listed{r.Title(), headline, details, r.Method(s.opt.Unit), legend, items})
		s.cellMap(v, b, r.Cover.Grid, class, func(c uint8) tone {
			if c >= classPass1 {
				return plain(PassColours[0])
			}
			return s.passTone(c)
		})
		s.furniture(v, r.Plan)
		finish()
	}, r)
}

// Event is something that happened, for Events.
type Event struct {
	X, Y  float64 // floor, m; NaN where it has no place
	Words string  // a plain sentence that says when
}

// Events draws where things happened, over the path, with a list of them.
func Events(r Run, es []Event, opt Options) (*Picture, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	var items []item
	for i, e := range es {
		if i == maxListed {
			break
		}
		items = append(items, item{e.Words, geom.Point2{X: e.X, Y: e.Y}})
	}
	headline := fmt.Sprintf("%d events", len(es))
	switch len(es) {
	case 0:
		headline = "No events"
	case 1:
		headline = "1 event"
	}
	alt := fmt.Sprintf("Plan of the room %s with the path of %s and where its events happened. %s.", r.Layout, r.Robot, headline)
	for _, it := range items[:min(3, len(items))] {
		alt += " " + it.words
	}
	return newPicture("events", alt, opt, func(s *sheet) {
		v, _, finish := s.listSheet(r.Plan, listed{title: r.Title(), headline: headline, items: items,
			details: "In a run of " + words.Duration(r.Cover.Motion.DurationS), foot: "Times are those of the recording."})
		s.floorOf(v, r.Plan)
		for _, k := range stretches(r.Trace, r.Trace.Run.From, r.Trace.Run.To, 0.5/v.k) {
			s.line(stroke{c: mix(s.pal.floor, s.pal.hatch, 0.6), width: 0.7 * s.pathWidth()}, v.ring(k.pts), false)
		}
		s.furniture(v, r.Plan)
		finish()
	}, r)
}

// edgeBand is how far from walls and obstacles Edges shows the floor, m.
const edgeBand = 0.10

// edgeCleaned is the colour of cleaned floor along edges: it stands apart from
// missed floor and from the bare floor beside it, in grey print too.
var edgeCleaned = PassColours[0]

// Edges draws the floor along walls and obstacles, cleaned and missed, with how
// closely the robot followed each of them.
func Edges(r Run, opt Options) (*Picture, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	g := r.Cover.Grid
	rings := [][]geom.Point2{corners(r.Plan.Room)}
	for _, o := range r.Plan.Obstacles {
		rings = append(rings, corners(o.Outline))
	}
	class := passClass(g)
	var open, done float64
	unknown := false
	for k, c := range class {
		if c == classNone {
			continue
		}
		if toRings(g.Centre(k), rings) > edgeBand {
			class[k] = classes // floor away from edges
			continue
		}
		open++
		unknown = unknown || c == classUnknown
		if c >= classPass1 {
			done++
		}
	}
	var items []item
	for _, e := range r.Cover.Edges {
		items = append(items, item{edgeWords(e, opt.Unit), geom.Point2{X: math.NaN(), Y: math.NaN()}})
	}
	var length, followed float64
	for _, e := range r.Cover.Edges {
		length, followed = length+e.LengthM, followed+e.FollowedM
	}
	headline := "How closely it followed walls and obstacles: " + words.NotMeasured
	if length > 0 {
		headline = "Drove close along " + words.Share(followed/length, 0.004) + " of the walls and obstacles"
	}
	details := "Cleaned " + words.Share(done/open, math.NaN()) + " of the floor within " + words.Length(edgeBand, math.NaN(), opt.Unit) + " of them"
	alt := fmt.Sprintf("Plan of the room %s with the floor along its edges, cleaned and missed. %s. %s.", r.Layout, headline, details)
	return newPicture("edges", alt, opt, func(s *sheet) {
		legend := []entry{pattern("missed", s.missed()), swatch("cleaned", edgeCleaned), pattern("not reachable", s.hatch())}
		if unknown {
			legend = append(legend, pattern("not known", s.speckled()))
		}
		v, b, finish := s.listSheet(r.Plan, listed{r.Title(), headline, details, r.Method(s.opt.Unit), legend, items})
		s.cellMap(v, b, g, class, func(c uint8) tone {
			switch {
			case c == classes:
				return plain(s.pal.floor)
			case c >= classPass1:
				return plain(edgeCleaned)
			}
			return s.passTone(c)
		})
		s.furniture(v, r.Plan)
		finish()
	}, r)
}

// touching is the clearance, m, under which nobody can tell a gap from none:
// the corners of room and furniture are surveyed to 5 mm (common practice with
// a tape). It may come out below zero for the same reason.
const touching = 0.005

// AwayWords writes a clearance; one too small to tell from none is "touching".
func AwayWords(clearance float64, unit words.Unit) string {
	if clearance < touching {
		return "touching"
	}
	return words.Length(clearance, math.NaN(), unit)
}

func edgeWords(e coverage.Edge, unit words.Unit) string {
	name := "The " + e.Name
	if e.Name == "wall" {
		name = "The walls"
	}
	if math.IsNaN(e.FollowedShare) {
		return name + ": " + words.NotMeasured
	}
	if e.FollowedM == 0 {
		return name + ": not followed"
	}
	away := AwayWords(e.ClearanceM, unit)
	if e.ClearanceM >= touching {
		away += " away"
	}
	return fmt.Sprintf("%s: followed along %s of %s, %s",
		name, words.Share(e.FollowedShare, 0.004), words.Length(e.LengthM, math.NaN(), unit), away)
}

func toRings(p geom.Point2, rings [][]geom.Point2) float64 {
	best := math.Inf(1)
	for _, r := range rings {
		for i, a := range r {
			best = math.Min(best, toSegment(p, a, r[(i+1)%len(r)]))
		}
	}
	return best
}
