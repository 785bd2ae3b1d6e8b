package figure

import (
	"fmt"
	"image/color"
	"math"

	"swathe/geom"
	"swathe/report/words"
)

type point2 = geom.Point2

// Passes draws how often each spot of the floor was cleaned.
func Passes(r Run, opt Options) (*Picture, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	class := passClass(r.Cover.Grid)
	areas := classAreas(r.Cover.Grid, class)
	open := 0.0
	for c, a := range areas {
		if uint8(c) != classNone {
			open += a
		}
	}
	alt := fmt.Sprintf("Plan of the room %s with how often each spot was cleaned by %s. %s: %s of the open floor was cleaned once, %s twice, %s three times and %s four times or more; %s of it is reachable and was missed, and %s is not reachable.",
		r.Layout, r.Robot, r.Headline(),
		words.Share(areas[classPass1]/open, math.NaN()), words.Share(areas[classPass2]/open, math.NaN()),
		words.Share(areas[classPass3]/open, math.NaN()), words.Share(areas[classPass4]/open, math.NaN()),
		words.Share(areas[classMissed]/open, math.NaN()), words.Share(areas[classOut]/open, math.NaN()))
	return newPicture("passes", alt, opt, func(s *sheet) {
		v, b := s.planSheet(planPart{corners(r.Plan.Room)}, r.Title(), r.Headline(), r.Details(s.opt.Unit), r.Method(s.opt.Unit),
			s.passLegend(areas, open, r.Plan))
		s.cellMap(v, b, r.Cover.Grid, class, s.passTone)
		s.furniture(v, r.Plan)
	}, r)
}

// passLegend lists the classes that occur, and always those of the scale, so
// that two pictures have the same one.
func (s *sheet) passLegend(areas [classes]float64, open float64, plan *geom.Plan) []entry {
	share := func(c uint8) string {
		if s.opt.Labels != Full || open == 0 {
			return ""
		}
		return "  " + words.Share(areas[c]/open, math.NaN())
	}
	var es []entry
	if s.opt.Labels == Full && open > 0 {
		es = append(es, heading("share of the open floor"))
	}
	es = append(es, pattern("missed"+share(classMissed), s.missed()))
	for i, w := range PassWords {
		es = append(es, pattern(w+share(classPass1+uint8(i)), s.pass(i)))
	}
	if areas[classOut] > 0 {
		es = append(es, pattern("not reachable"+share(classOut), s.hatch()))
	}
	if areas[classUnknown] > 0 {
		es = append(es, pattern("not known"+share(classUnknown), s.speckled()))
	}
	return append(es, s.planLegend(plan)...)
}

// planLegend lists what stands in the room.
func (s *sheet) planLegend(plan *geom.Plan) []entry {
	var es []entry
	if len(plan.Obstacles) > 0 {
		es = append(es, swatch("obstacle", s.pal.obstacle))
	}
	if len(plan.Overhead) > 0 {
		es = append(es, outlined("overhead"))
	}
	for i := range es {
		es[i].furniture = true
	}
	return es
}

// contrast is the style of words on a ground: black or white, whichever stands
// out more (relative luminance of WCAG 2.2).
func contrast(ground color.RGBA) style {
	if luminance(ground) > 0.179 {
		return style{c: hex(0x000000)}
	}
	return style{c: hex(0xffffff)}
}

// luminance is the relative luminance of WCAG 2.2, 0 black to 1 white.
func luminance(c color.RGBA) float64 {
	lin := func(v uint8) float64 {
		x := float64(v) / 255
		if x <= 0.04045 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	return 0.2126*lin(c.R) + 0.7152*lin(c.G) + 0.0722*lin(c.B)
}
