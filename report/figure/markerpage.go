package figure

import (
	"errors"
	"fmt"
	"image/color"
	"math"
)

// MarkerSheet is a marker to be printed and stuck onto a robot's top.
type MarkerSheet struct {
	Dictionary string
	ID         int
	Cells      [][]bool // true for black, rows from the top, the black border included
	Side       float64  // m, of the black square
}

// A sheet of paper, ISO 216 A4, and the resolution that it is made for.
const (
	paperWidth  = 210 // mm
	paperHeight = 297
	paperDPI    = 300
	rulerLength = 100 // mm
	pageMargin  = 12  // mm that printers may not reach, and a little more
)

// mmPx is what a millimetre is on the sheet, px.
const mmPx = paperDPI / 25.4

// Marker draws the sheet: the marker at its true size (each edge to the
// nearest pixel, 0.085 mm), a ruler to check the printer by, and what to enter
// in lab.yaml. Written as PNG it carries 300 dpi, so that a print at 100 % has
// the right size.
func Marker(m MarkerSheet) (*Picture, error) {
	n := len(m.Cells)
	if n < 3 {
		return nil, errors.New("a marker has 3 cells or more a side")
	}
	for _, r := range m.Cells {
		if len(r) != n {
			return nil, errors.New("a marker is square")
		}
	}
	side := m.Side * 1000 // mm
	margin := 1.5 * side / float64(n)
	most := (paperWidth - 2*pageMargin) * float64(n) / (float64(n) + 3)
	if !(side >= 10 && side <= most) {
		return nil, fmt.Errorf("a marker of %.0f mm does not fit an A4 sheet with its white margin, or is too small to be seen: give a side from 10 mm to %.0f mm", side, math.Floor(most))
	}
	opt := DefaultOptions()
	opt.Width, opt.Height = int(math.Round(paperWidth*mmPx)), int(math.Round(paperHeight*mmPx))
	opt.DPI, opt.Theme = paperDPI, Print
	alt := fmt.Sprintf("A sheet to print: marker %d of dictionary %s, its black square %.1f mm wide, above a ruler of 100 mm", m.ID, m.Dictionary, side)
	return newPicture("marker", alt, opt, func(s *sheet) { m.draw(s, side, margin) })
}

func (m MarkerSheet) draw(s *sheet, side, margin float64) {
	black := color.RGBA{0, 0, 0, 255}
	grey := color.RGBA{120, 120, 120, 255}
	n := len(m.Cells)
	mid := s.w / 2
	x0 := math.Round(mid - side*mmPx/2)
	y1 := math.Round(s.h - (42+margin)*mmPx)
	// Cell edges at whole pixels, so that no edge is smeared.
	edge := func(i int) float64 { return math.Round(float64(i) * side * mmPx / float64(n)) }
	for r, row := range m.Cells {
		for c, on := range row {
			if on {
				s.fill(black, box{x0 + edge(c), y1 - edge(r+1), x0 + edge(c+1), y1 - edge(r)}.corners())
			}
		}
	}
	cut := box{x0, y1 - edge(n), x0 + edge(n), y1}.inset(-margin * mmPx)
	s.line(stroke{c: grey, width: 2, dash: []float64{14, 14}}, cut.corners(), true)
	em := 4.2 * mmPx
	plain := style{size: em, c: black}
	// Which way is ahead.
	tip := pt{mid, cut.y1 + 16*mmPx}
	s.line(stroke{c: black, width: 0.7 * mmPx}, []pt{{mid, cut.y1 + 4*mmPx}, tip}, false)
	s.fill(black, []pt{{tip.x - 2.2*mmPx, tip.y - 4*mmPx}, {tip.x + 2.2*mmPx, tip.y - 4*mmPx}, {tip.x, tip.y + 1*mmPx}})
	s.text(style{size: em, c: black, alignX: centre}, pt{mid, tip.y + 2*mmPx}, "the robot's forward direction (turn: 0)")
	b := box{pageMargin * mmPx, 0, s.w - pageMargin*mmPx, cut.y0 - 6*mmPx}
	for _, line := range []string{
		fmt.Sprintf("Marker %d of dictionary %s. The black square is %.1f mm wide.", m.ID, m.Dictionary, side),
		"1. Print at 100 %, not fitted to the page, on matt white paper.",
		"2. Hold a steel rule to the line below and to the black square. If the square has another width, enter the width that you measured: every millimetre counts.",
		"3. Cut along the dashed line (keep the white margin) and stick it flat on top, its middle over the turning centre.",
		"4. Add it to the robot in lab.yaml, with its true side and the height of the print above the floor, in metres:",
	} {
		b = s.paragraph(plain, b, line)
		b.y1 -= 0.35 * em
	}
	s.text(style{size: em, c: black, alignY: top, bold: true}, pt{b.x0 + 6*mmPx, b.y1}, fmt.Sprintf("marker: {dictionary: %s, id: %d, side: %.4g, height: 0.1}", m.Dictionary, m.ID, m.Side))
	m.ruler(s, black, em)
}

// ruler draws a line of 100 mm with a tick every millimetre.
func (m MarkerSheet) ruler(s *sheet, c color.RGBA, em float64) {
	x0, y := math.Round(s.w/2-rulerLength*mmPx/2), math.Round((pageMargin+12)*mmPx)
	for i := 0; i <= rulerLength; i++ {
		h := 3.0
		switch {
		case i%10 == 0:
			h = 7
		case i%5 == 0:
			h = 5
		}
		x := x0 + math.Round(float64(i)*mmPx)
		s.fill(c, box{x - 1, y, x + 1, y + h*mmPx}.corners())
	}
	s.fill(c, box{x0 - 1, y - 1, x0 + math.Round(rulerLength*mmPx) + 1, y + 1}.corners())
	s.text(style{size: em, c: c, alignX: centre, alignY: top}, pt{s.w / 2, y - 2*mmPx}, "100 mm from the first tick to the last")
}
