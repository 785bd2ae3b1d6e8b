package figure

import (
	"errors"
	"fmt"
	"math"

	"swathe/report/words"
)

// Dot is one robot's value of a figure.
type Dot struct {
	Robot     string
	Value     float64 // NaN: not measured
	Low, High float64 // 95 % interval; NaN: none
}

// DotRow is one figure over all robots.
type DotRow struct {
	Words  string               // what the figure is, for a reader
	Note   string               // such as "more is better"; may be empty
	Dots   []Dot                // one a robot
	Format func(float64) string // writes a value with its unit
}

// Dots draws one robot against all others, a row of dots for each figure.
func Dots(robot, details string, rows []DotRow, opt Options) (*Picture, error) {
	if len(rows) == 0 {
		return nil, errors.New("a picture of dots needs a figure to show")
	}
	others := map[string]bool{}
	interval := false
	alt := fmt.Sprintf("Rows of dots, one dot a robot, with %s highlighted.", robot)
	for _, r := range rows {
		for _, d := range r.Dots {
			if d.Robot == robot {
				interval = interval || !math.IsNaN(d.Low) && !math.IsNaN(d.High)
				alt += fmt.Sprintf(" %s: %s", r.Words, format(r, d.Value))
				if n, of := rank(r, robot); n > 0 {
					alt += fmt.Sprintf(", number %d of %d from the lowest", n, of)
				}
				alt += "."
			} else {
				others[d.Robot] = true
			}
		}
	}
	title := fmt.Sprintf("%s against %d other robots", robot, len(others))
	if len(others) == 1 {
		title = robot + " against one other robot"
	}
	return newPicture("dots", alt, opt, func(s *sheet) {
		b := s.header(box{0, 0, s.w, s.h}.inset(s.margin()), "", title, details)
		foot := "Each dot is the mean of one robot's runs; the filled one is " + robot + "."
		if interval {
			foot += " The line through it is the 95" + words.NB + "% interval of its mean."
		}
		b = s.footer(b, foot)
		high := math.Min(b.h()/float64(len(rows)), 14*s.em)
		for i, r := range rows {
			s.dotRow(r, robot, box{b.x0, b.y1 - float64(i+1)*high, b.x1, b.y1 - float64(i)*high})
		}
	})
}

func format(r DotRow, v float64) string {
	if math.IsNaN(v) {
		return words.NotMeasured
	}
	return r.Format(v)
}

// rank returns the robot's place from the lowest, 0 if it has none.
func rank(r DotRow, robot string) (n, of int) {
	own := math.NaN()
	for _, d := range r.Dots {
		if d.Robot == robot {
			own = d.Value
		}
		if !math.IsNaN(d.Value) {
			of++
		}
	}
	if math.IsNaN(own) {
		return 0, of
	}
	n = 1
	for _, d := range r.Dots {
		if d.Value < own {
			n++
		}
	}
	return n, of
}

func (s *sheet) dotRow(r DotRow, robot string, b box) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, d := range r.Dots {
		for _, v := range []float64{d.Value, d.Low, d.High} {
			if !math.IsNaN(v) && (v == d.Value || d.Robot == robot) {
				lo, hi = math.Min(lo, v), math.Max(hi, v)
			}
		}
	}
	head := words.NotMeasured
	s.text(style{bold: true, alignY: top}, pt{b.x0, b.y1 - 0.1*s.em}, r.Words)
	for _, d := range r.Dots {
		if d.Robot == robot {
			head = format(r, d.Value)
		}
	}
	x := b.x0 + s.width(style{bold: true}, r.Words+"  ")
	s.text(style{alignY: top}, pt{x, b.y1 - 0.1*s.em}, head)
	if r.Note != "" {
		s.text(style{c: s.pal.faint, alignX: right, alignY: top}, pt{b.x1, b.y1 - 0.1*s.em}, r.Note)
	}
	if math.IsInf(lo, 0) {
		return
	}
	if hi-lo < 1e-12 {
		lo, hi = lo-math.Max(1e-6, math.Abs(lo)*0.01), hi+math.Max(1e-6, math.Abs(hi)*0.01)
	}
	y := b.y1 - 2.6*s.em
	edge := 0.8 * s.em
	at := func(v float64) float64 { return b.x0 + edge + (b.w()-2*edge)*(v-lo)/(hi-lo) }
	s.line(stroke{c: s.pal.grid, width: math.Max(1, 0.08*s.em)}, []pt{{b.x0, y}, {b.x1, y}}, false)
	for _, d := range r.Dots {
		if d.Robot != robot && !math.IsNaN(d.Value) {
			s.ring(stroke{c: s.pal.faint, width: math.Max(1, 0.12*s.em)}, pt{at(d.Value), y}, 0.36*s.em)
		}
	}
	for _, d := range r.Dots {
		if d.Robot != robot || math.IsNaN(d.Value) {
			continue
		}
		if !math.IsNaN(d.Low) && !math.IsNaN(d.High) {
			s.line(stroke{c: s.measured().c, width: math.Max(1.5, 0.16*s.em)}, []pt{{at(d.Low), y}, {at(d.High), y}}, false)
		}
		s.disc(s.pal.page, pt{at(d.Value), y}, 0.6*s.em)
		s.disc(s.measured().c, pt{at(d.Value), y}, 0.5*s.em)
	}
	small := style{size: s.small(), c: s.pal.faint, alignY: top}
	s.text(small, pt{b.x0, y - 0.6*s.em}, format(r, lo))
	small.alignX = right
	s.text(small, pt{b.x1, y - 0.6*s.em}, format(r, hi))
}
