package figure

import (
	"errors"
	"fmt"
	"image/color"
	"math"

	"swathe/report/words"
)

// Use is what a stretch of time was good for; it gives its colour.
type Use uint8

// The uses of time.
const (
	UseNew     Use = iota // new floor
	UseEdges              // along walls and round things
	UseAgain              // over cleaned floor on purpose: overlaps, second layers
	UseOther              // ways, turning, standing, reversing, stuck: no verdict
	UseDock               // to the dock, docked, back
	UseUnknown            // hidden, lost, carried
)

// Spell is one entry of the minutes ledger.
type Spell struct {
	Words   string
	Seconds float64
	Use     Use
}

func (s *sheet) useColour(u Use) color.RGBA {
	switch u {
	case UseNew:
		return useNewColour
	case UseEdges:
		return useEdgesColour
	case UseAgain:
		return useAgainColour
	case UseOther:
		return useOtherColour
	case UseDock:
		return s.pal.obstacle
	}
	return s.pal.hatchGround
}

// Minutes draws where a run's time went as one bar, with a list of its parts.
// Entries without time are left out.
func Minutes(title string, spells []Spell, opt Options) (*Picture, error) {
	total := 0.0
	var used []Spell
	for _, e := range spells {
		if math.IsNaN(e.Seconds) || e.Seconds < 0 {
			return nil, fmt.Errorf("%s: the entry %q of the ledger has no time", title, e.Words)
		}
		if e.Seconds > 0 {
			used = append(used, e)
			total += e.Seconds
		}
	}
	if total == 0 {
		return nil, errors.New(title + ": no time by activity was measured")
	}
	most := used[0]
	for _, e := range used {
		if e.Seconds > most.Seconds {
			most = e
		}
	}
	headline := words.Duration(total) + ", "
	if most.Seconds > total/2 {
		headline += "most of it: "
	} else if len(used) > 1 {
		headline += "the largest part: "
	}
	headline += most.Words
	alt := fmt.Sprintf("Bar of where the time of %s went.", title)
	for _, e := range used {
		alt += fmt.Sprintf(" %s: %s, %s.", e.Words, words.Duration(e.Seconds), words.Share(e.Seconds/total, 0.004))
	}
	return newPicture("minutes", alt, opt, func(s *sheet) {
		b := s.header(box{0, 0, s.w, s.h}.inset(s.margin()), title, headline, "")
		if s.opt.Labels == None {
			s.spellBar(used, total, b)
			return
		}
		high, gap := math.Min(9*s.em, 0.25*b.h()), 2.6*s.em
		if s.isSmall() { // the list needs the room
			high, gap = 2.4*s.em, 1.9*s.em
		}
		bar := box{b.x0, b.y1 - high, b.x1, b.y1}
		s.spellBar(used, total, bar)
		s.minuteTicks(total, bar)
		s.spellList(used, total, box{b.x0, b.y0, b.x1, bar.y0 - gap})
	})
}

func (s *sheet) spellBar(used []Spell, total float64, b box) {
	gap := math.Max(1, 0.08*s.em)
	x := b.x0
	for i, e := range used {
		w := b.w() * e.Seconds / total
		q := box{x, b.y0, x + w, b.y1}
		if w > 3*gap {
			q.x1 -= gap
		}
		c := s.useColour(e.Use)
		s.fill(c, q.corners())
		if e.Use == UseUnknown {
			s.line(stroke{c: s.pal.hatch, width: gap}, q.corners(), true)
		}
		n := fmt.Sprint(i + 1)
		st := contrast(c)
		st.size, st.bold, st.alignX, st.alignY = s.small(), true, centre, middle
		if s.width(st, n)+0.5*s.em < w {
			s.text(st, pt{(q.x0 + q.x1) / 2, (b.y0 + b.y1) / 2}, n)
		}
		x += w
	}
}

func (s *sheet) minuteTicks(total float64, b box) {
	step := roundTime(total / 6)
	for t := 0.0; t <= total; t += step {
		x := b.x0 + b.w()*t/total
		s.line(stroke{c: s.pal.text, width: math.Max(1, 0.06*s.em)}, []pt{{x, b.y0 - 0.15*s.em}, {x, b.y0 - 0.5*s.em}}, false)
		st := style{alignX: centre, alignY: top}
		label := words.Clock(t)
		if t == 0 {
			st.alignX = left
		}
		if x+s.width(st, label)/2 > b.x1 {
			st.alignX = right
			x = b.x1
		}
		s.text(st, pt{x, b.y0 - 0.6*s.em}, label)
	}
}

func (s *sheet) spellList(used []Spell, total float64, b box) {
	row := math.Min(2.6*s.em, b.h()/float64(len(used)))
	size := math.Min(1.3*s.em, row/1.25)
	if s.isSmall() {
		size = math.Min(s.em, row/1.1)
	}
	wordsW, timeW := 0.0, 0.0
	for _, e := range used {
		wordsW = math.Max(wordsW, s.width(style{size: size}, e.Words))
		timeW = math.Max(timeW, s.width(style{size: size}, words.Duration(e.Seconds)))
	}
	for i, e := range used {
		y := b.y1 - (float64(i)+0.5)*row
		x := b.x0
		s.text(style{size: size, bold: true, alignX: right, alignY: middle}, pt{x + 1.3*size, y}, fmt.Sprint(i+1))
		x += 1.9 * size
		q := box{x, y - 0.45*size, x + 1.5*size, y + 0.45*size}
		s.fill(s.useColour(e.Use), q.corners())
		s.line(stroke{c: s.pal.edge, width: math.Max(1, 0.05*s.em)}, q.corners(), true)
		x += 2.1 * size
		s.text(style{size: size, alignY: middle}, pt{x, y}, e.Words)
		x += wordsW + 1.5*size + timeW
		s.text(style{size: size, alignX: right, alignY: middle}, pt{x, y}, words.Duration(e.Seconds))
		s.text(style{size: size, alignX: right, alignY: middle}, pt{x + 4.2*size, y}, words.Share(e.Seconds/total, 0.004))
	}
}
