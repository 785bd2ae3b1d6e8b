package figure

import (
	"errors"
	"fmt"
	"image/color"
	"math"

	"swathe/coverage"
	"swathe/geom"
	"swathe/report/words"
)

// Residue is a patch of floor in pictures before and after a run, seen from above
// at one scale. A figure that could not be measured is NaN, a count -1.
type Residue struct {
	Layout, Patch, Kind               string // Kind: stain, debris or hair
	Outline                           []geom.Point2
	BeforeM2, AfterM2                 float64
	BeforeLengthM, AfterLengthM       float64
	BeforeCount, AfterCount           int
	LeftShare                         float64
	DifferenceMean                    float64 // CIEDE2000 to the clean floor of what is left
	Reason                            string  // why figures are missing; may be empty
	Cols, Rows                        int     // of the pictures
	X0, Y0, PixelM                    float64 // m: lower left corner, side of a pixel
	Before, After                     []byte  // red, green, blue of each pixel, the top row first
	DifferenceBefore, DifferenceAfter []byte  // CIEDE2000 to the clean floor times 4, cut at 255
}

// ResidueTool is the soil of a patch by how often one tool passed over it.
type ResidueTool struct {
	Tool              string
	BeforeM2, AfterM2 [5]float64 // 0 to 3 passes, 4 or more
}

// soilWords name the classes of soilColours.
var soilWords = [5]string{"below 1: not noticeable", "1 to 3", "3 to 10", "10 to 30", "over 30"}

// soilClass is the class of a difference times 4.
func soilClass(d byte) uint8 {
	for i, limit := range [4]byte{4, 12, 40, 120} {
		if d < limit {
			return uint8(i)
		}
	}
	return 4
}

func (r Residue) check() error {
	n := r.Cols * r.Rows
	if n <= 0 || len(r.Outline) < 3 || !(r.PixelM > 0) || len(r.Before) != 3*n || len(r.After) != 3*n || len(r.DifferenceBefore) != n || len(r.DifferenceAfter) != n {
		return fmt.Errorf("patch %s can't be drawn without pictures of it before and after", r.Patch)
	}
	return nil
}

// headline says how much is left.
func (r Residue) headline() string {
	of := ""
	if r.Kind == "hair" {
		of = " of its length"
	}
	if math.IsNaN(r.LeftShare) {
		return r.Patch + " (" + r.Kind + "): share left not measured"
	}
	return r.Patch + " (" + r.Kind + "): " + words.Share(r.LeftShare, math.NaN()) + of + " left"
}

// details gives the figures before and after.
func (r Residue) details(u words.Unit) string {
	nan := math.NaN()
	var parts []string
	add := func(what, before, after string) {
		parts = append(parts, what+" "+before+" before, "+after+" after")
	}
	if !math.IsNaN(r.BeforeM2) || !math.IsNaN(r.AfterM2) {
		add("area", words.Area(r.BeforeM2, nan, u), words.Area(r.AfterM2, nan, u))
	}
	if !math.IsNaN(r.BeforeLengthM) || !math.IsNaN(r.AfterLengthM) {
		add("length", words.Length(r.BeforeLengthM, nan, u), words.Length(r.AfterLengthM, nan, u))
	}
	if r.BeforeCount >= 0 && r.AfterCount >= 0 {
		add("count", fmt.Sprint(r.BeforeCount), fmt.Sprint(r.AfterCount))
	}
	if !math.IsNaN(r.DifferenceMean) {
		parts = append(parts, "colour of the residue differs from the clean floor by "+words.Number(r.DifferenceMean, nan, 1)+" on average (CIEDE2000)")
	}
	text := ""
	for i, p := range parts {
		if i > 0 {
			text += "; "
		}
		text += p
	}
	if r.Reason != "" {
		if text != "" {
			text += ". "
		}
		text += r.Reason
	}
	return text
}

// Left draws a patch before and after a run, and how far its colour differs from
// the clean floor, all at one scale.
func Left(r Residue, opt Options) (*Picture, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	alt := fmt.Sprintf("Patch %s of the layout %s from above, before and after the run, and how far its colour differs from the clean floor each time, at one scale. %s; %s.", r.Patch, r.Layout, r.headline(), r.details(opt.Unit))
	g := &coverage.Grid{X0: r.X0, Y0: r.Y0, Cell: r.PixelM, Nx: r.Cols, Ny: r.Rows}
	upright := func(k int) int { return (r.Rows-1-k/r.Cols)*r.Cols + k%r.Cols }
	return newPicture("residue", alt, opt, func(s *sheet) {
		b := s.header(box{0, 0, s.w, s.h}.inset(s.margin()), r.Layout, r.headline(), r.details(s.opt.Unit))
		b = s.footer(b, "Pictures before and after have the same light and scale. A colour difference (CIEDE2000) of 1 is just noticeable.")
		legend := []entry{heading("difference to the clean floor")}
		for i, w := range soilWords {
			legend = append(legend, swatch(w, soilColours[i]))
		}
		rows, high := s.rows(legend, b.w())
		top, bar := 1.75*s.em, 1.7*s.em
		if s.opt.Labels == None {
			high, top, bar = 0, 0, 0
		} else {
			s.drawRows(rows, box{b.x0, b.y0, b.x1, b.y0 + high})
			high += 0.5 * s.em
		}
		plans := [][]geom.Point2{r.Outline, r.Outline, r.Outline, r.Outline}
		ps := s.panelsOf(plans, box{b.x0, b.y0 + high + bar, b.x1, b.y1}, func(float64) float64 { return top }, 0, 1.2*s.em)
		lowest := b.y1
		for i, p := range ps {
			s.text(style{alignY: middle}, pt{p.cell.x0, p.cell.y1 - top/2 + 0.2*s.em}, [4]string{"before", "after", "difference before", "difference after"}[i])
			from, differs := r.Before, r.DifferenceBefore
			if i%2 == 1 {
				from, differs = r.After, r.DifferenceAfter
			}
			ring := p.view.ring(r.Outline)
			s.cellColours(p.view, p.plan, g, func(k, x, y int) color.RGBA {
				k = upright(k)
				if i < 2 {
					return color.RGBA{from[3*k], from[3*k+1], from[3*k+2], 255}
				}
				if !inside(ring, pt{float64(x) + 0.5, float64(y) + 0.5}) {
					return color.RGBA{}
				}
				return soilColours[soilClass(differs[k])]
			})
			s.line(stroke{c: s.pal.room, width: math.Max(1, 0.08*s.em)}, ring, true)
			lowest = math.Min(lowest, p.plan.y0)
		}
		if len(ps) > 0 {
			p := ps[0]
			s.scaleBar(p.view, pt{p.plan.x0, lowest - 1.1*s.em}, math.Max(0.4*p.plan.w(), 4*s.em))
		}
	})
}

// LeftPlate draws the patches of a layout before and after on one sheet, all at one
// scale.
func LeftPlate(rs []Residue, opt Options) (*Picture, error) {
	if len(rs) == 0 {
		return nil, errors.New("there is no patch to draw")
	}
	alt := fmt.Sprintf("%d patches of the layout %s from above, before and after the run, at one scale.", len(rs), rs[0].Layout)
	var plans [][]geom.Point2
	for _, r := range rs {
		if err := r.check(); err != nil {
			return nil, err
		}
		alt += " " + r.headline() + "; " + r.details(opt.Unit) + "."
		plans = append(plans, r.Outline)
	}
	plans = append(plans, plans...) // before, then after
	return newPicture("residue_plate", alt, opt, func(s *sheet) {
		b := s.header(box{0, 0, s.w, s.h}.inset(s.margin()), rs[0].Layout, fmt.Sprintf("%d patches before and after", len(rs)), "")
		b = s.footer(b, "Pictures before and after have the same light and scale.")
		bar, caption := 1.7*s.em, func(w float64) float64 {
			lines := 1
			for _, r := range rs {
				lines = max(lines, len(s.wrap(style{}, "before: "+r.headline(), w)))
			}
			return (float64(lines)*lineHeight + 0.35) * s.em
		}
		if s.opt.Labels == None {
			bar, caption = 0, func(float64) float64 { return 0 }
		}
		ps := s.panelsOf(plans, box{b.x0, b.y0 + bar, b.x1, b.y1}, caption, 0, 1.2*s.em)
		lowest := b.y1
		for i, p := range ps {
			r := rs[i%len(rs)]
			text, from := "before: "+r.Patch+" ("+r.Kind+")", r.Before
			if i >= len(rs) {
				text, from = "after: "+r.headline(), r.After
			}
			s.paragraph(style{}, box{p.cell.x0, p.cell.y0, p.cell.x1, p.cell.y1}, text)
			r.photo(s, p, from)
			lowest = math.Min(lowest, p.plan.y0)
		}
		if len(ps) > 0 {
			s.scaleBar(ps[0].view, pt{ps[0].plan.x0, lowest - 1.1*s.em}, math.Max(0.4*ps[0].plan.w(), 4*s.em))
		}
	})
}

// photo draws one of the patch's pictures into a panel, and its outline.
func (r Residue) photo(s *sheet, p panel, from []byte) {
	g := &coverage.Grid{X0: r.X0, Y0: r.Y0, Cell: r.PixelM, Nx: r.Cols, Ny: r.Rows}
	s.cellColours(p.view, p.plan, g, func(k, x, y int) color.RGBA {
		k = (r.Rows-1-k/r.Cols)*r.Cols + k%r.Cols
		return color.RGBA{from[3*k], from[3*k+1], from[3*k+2], 255}
	})
	s.line(stroke{c: s.pal.room, width: math.Max(1, 0.08*s.em)}, p.view.ring(r.Outline), true)
}

// LeftByPasses draws the share of a patch's soil that is left by how often each
// tool passed over it. Floor that a tool never passed stands apart.
func LeftByPasses(r Residue, run string, tools []ResidueTool, opt Options) (*Picture, error) {
	if len(tools) == 0 {
		return nil, fmt.Errorf("patch %s: name a run with --run to show its passes", r.Patch)
	}
	nan := math.NaN()
	most := 1.0
	alt := fmt.Sprintf("Bars of the share of soil left on patch %s of the layout %s by how often each tool of run %s passed over it.", r.Patch, r.Layout, run)
	for _, t := range tools {
		alt += " " + t.Tool + ":"
		for i, w := range passesWords {
			if i > 0 {
				alt += ","
			}
			alt += " " + w + " " + t.left(i, opt.Unit)
			if v := t.share(i); v > most {
				most = v
			}
		}
		alt += "."
	}
	headline := r.headline()
	if len(tools) == 1 {
		b, a := 0.0, 0.0
		for i := 1; i < 5; i++ {
			b, a = b+tools[0].BeforeM2[i], a+tools[0].AfterM2[i]
		}
		if b > leastSoilM2 {
			headline = fmt.Sprintf("%s (%s): %s of the soiled area left where the %s passed", r.Patch, r.Kind, words.Share(math.Max(0, a)/b, nan), tools[0].Tool)
		}
	}
	return newPicture("residue_passes", alt, opt, func(s *sheet) {
		b := s.header(box{0, 0, s.w, s.h}.inset(s.margin()), run, headline, "Share of the soiled area left, by number of passes")
		b = s.footer(b, "The hatched bar is soil where the tool never passed; it does not count for the tool.")
		b.y0 += 1.8 * s.em
		wide, far := 0.0, 0.0
		for i, w := range passesWords {
			wide = math.Max(wide, s.width(style{}, w))
			for _, t := range tools {
				far = math.Max(far, s.width(style{}, t.left(i, s.opt.Unit)))
			}
		}
		if s.opt.Labels == None {
			wide, far = 0, 0
		}
		axis := box{b.x0 + wide + 0.8*s.em, b.y0, b.x1 - far - 0.8*s.em, b.y1}
		row := math.Min(b.h()/(float64(len(tools))*7.1), 2.6*s.em)
		b.y0 = b.y1 - row*7.1*float64(len(tools))
		for _, t := range s.ticks(most, 5, true) {
			x := axis.x0 + axis.w()*t.Value/most
			s.line(stroke{c: s.pal.grid, width: math.Max(1, 0.05*s.em)}, []pt{{x, b.y0}, {x, b.y1}}, false)
			s.text(style{alignX: centre, alignY: top}, pt{x, b.y0 - 0.3*s.em}, t.Label)
		}
		for j, t := range tools {
			y := b.y1 - 7.1*row*float64(j) - row
			s.text(style{bold: true, alignY: middle}, pt{b.x0, y + 0.5*row}, t.Tool)
			for i, w := range passesWords {
				if i == 1 {
					y -= 0.6 * row
				}
				y -= row
				s.text(style{alignX: right, alignY: middle}, pt{axis.x0 - 0.6*s.em, y + 0.5*row}, w)
				q := box{axis.x0, y + 0.12*row, axis.x0, y + 0.88*row}
				if v := t.share(i); v > 0 {
					q.x1 += axis.w() * v / most
					paint := s.hatch()
					if i > 0 {
						paint = s.pass(i - 1)
					}
					pattern("", paint).draw(s, q)
				}
				s.text(style{alignY: middle}, pt{q.x1 + 0.5*s.em, y + 0.5*row}, t.left(i, s.opt.Unit))
			}
		}
		s.line(stroke{c: s.pal.text, width: math.Max(1, 0.06*s.em)}, []pt{{axis.x0, b.y0}, {axis.x0, b.y1}}, false)
	})
}

// passesWords name the numbers of passes of a ResidueTool.
var passesWords = [5]string{"never passed", "one pass", "2 passes", "3 passes", "4 or more"}

// leastSoilM2 is less than any picture shows: 0.1 mm2.
const leastSoilM2 = 1e-7

// share is what is left after i passes, NaN where nothing lay.
func (t ResidueTool) share(i int) float64 {
	if t.BeforeM2[i] <= leastSoilM2 {
		return math.NaN()
	}
	return math.Max(0, t.AfterM2[i]) / t.BeforeM2[i]
}

func (t ResidueTool) left(i int, u words.Unit) string {
	v := t.share(i)
	if math.IsNaN(v) {
		return "no soil there"
	}
	return words.Share(v, math.NaN()) + " of " + words.Area(t.BeforeM2[i], math.NaN(), u)
}
