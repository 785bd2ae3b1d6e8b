package preflight

import (
	"fmt"
	"math"
	"math/bits"
	"time"

	"swathe/track/sight"
)

// hit is the robot in one picture.
type hit struct {
	pic *sight.Picture
	s   sight.Sighting
}

// The outline is held to a fifth of a pixel, so an entry that is 2 % off hides
// the robot. Then other widths are tried, in steps fine enough to catch it.
const (
	searchStep = 0.01
	searchSpan = 25 // steps to either side
	searchIn   = 8  // pictures
)

// Among so many widths one always fits best, and edges that have nothing to do
// with the outline lie near some of them. The right one fits far better than all
// widths that are surely others, which are the scale here: over all frames 2.8
// times as well or more on drawn floors of five kinds, where the right width was
// out of reach the best at most 1.9 times.
const (
	otherWidth  = 0.05 // share of the width from which on it is another
	standsAbove = 2
)

// BestSize is the width that fits best over the frames, whether or not it is
// beyond doubt that what it fits is the robot.
type BestSize struct {
	Ratio float64 `json:"ratio"`  // over the entry
	Score float64 `json:"score"`  // 0 to 1, of the frame in which it fits best
	Sure  int     `json:"sure"`   // frames in which it is the robot beyond doubt; none where other widths fit nearly as well
	In    int     `json:"frames"` // frames in which widths were tried
	T     float64 `json:"t_s"`    // of the frame in which it fits best
	X     float64 `json:"x_m"`    // and where, on the floor
	Y     float64 `json:"y_m"`
}

// clock says what was done before time ran out. Work is done in units of some
// tenths of a second at the most, and asked between them.
type clock struct {
	until time.Time // zero: there is all the time
	out   bool
}

func (c *clock) left() bool {
	c.out = c.out || !c.until.IsZero() && time.Now().After(c.until)
	return !c.out
}

// search finds the robot in each picture, and the width at which it is found,
// as a share of the entry.
func (f *Finding) search(set sight.Setup, bg *sight.Background, samples []*sight.Picture, c *clock) (found []hit, scale float64) {
	found, looked := look(set, bg, samples, c)
	f.Frames = looked
	if 2*len(found) >= looked && looked >= 3 {
		return found, 1
	}
	f.Size.Best = bestSizeIn(set, bg, samples, c)
	if f.Size.Best == nil || f.Size.Best.Sure == 0 || f.Size.Best.Ratio == 1 {
		return found, 1
	}
	set.Robot = sight.Resized(set.Robot, f.Size.Best.Ratio)
	if other, n := look(set, bg, samples, c); len(other)*looked > len(found)*n {
		f.Frames = n
		return other, f.Size.Best.Ratio
	}
	return found, 1
}

// bestSizeIn tries widths in some of the pictures, spread over all; nil where
// nothing of about the robot's size differs from the room in any of them.
func bestSizeIn(set sight.Setup, bg *sight.Background, samples []*sight.Picture, c *clock) *BestSize {
	shares := []float64{1}
	for k := 1; k <= searchSpan; k++ {
		shares = append(shares, 1+searchStep*float64(k), 1-searchStep*float64(k))
	}
	type sum struct {
		sure, any float64
		n         int
		best      sight.SizedFit
		t         float64
	}
	by := make([]sum, len(shares))
	w := sight.NewWatcher(set, bg)
	in := 0
	n := min(searchIn, len(samples))
	for k := range n {
		if !c.left() {
			break
		}
		p := samples[k*len(samples)/n]
		fits, ok := w.Sized(p, shares)
		in++
		for i := range fits {
			s, q := &by[i], fits[i].Quality()
			s.any += q
			if fits[i].Sure {
				s.sure += q
				s.n++
			}
			if ok && q > s.best.Quality() {
				s.best, s.t = fits[i], p.T
			}
		}
	}
	best := 0
	for i := range by {
		a, b := &by[i], &by[best]
		if a.sure > b.sure || a.sure == b.sure && a.any > b.any {
			best = i
		}
	}
	s := by[best]
	if s.any == 0 {
		return nil
	}
	for i := range by {
		if math.Abs(shares[i]/shares[best]-1) > otherWidth && s.any < standsAbove*by[i].any {
			s.n = 0
		}
	}
	return &BestSize{Ratio: shares[best], Score: s.best.Quality(), Sure: s.n, In: in, T: s.t, X: s.best.Pose.X, Y: s.best.Pose.Y}
}

// look finds the robot in each picture by itself, as long as there is time, and
// says in how many it looked.
func look(set sight.Setup, bg *sight.Background, samples []*sight.Picture, c *clock) (out []hit, looked int) {
	w := sight.NewWatcher(set, bg)
	for _, k := range strewn(len(samples)) {
		p := samples[k]
		if !c.left() {
			break
		}
		looked++
		w.Anew()
		if s := w.Look(p); s.Found {
			out = append(out, hit{p, s})
		}
	}
	return out, looked
}

// strewn is the order in which n frames are looked at, so that the first of them
// are spread over all: by the bits of their numbers reversed (van der Corput, 1935).
func strewn(n int) []int {
	var out []int
	size := 1 << bits.Len(uint(max(0, n-1)))
	for k := range size {
		if i := int(bits.Reverse(uint(k)) / (bits.Reverse(1) / uint(max(1, size/2)))); i < n {
			out = append(out, i)
		}
	}
	return out
}

// cutShort is what is said where time ran out, empty if it did not.
func (f *Finding) cutShort(c *clock, of int) string {
	if !c.out {
		return ""
	}
	tried := ""
	if b := f.Size.Best; b != nil {
		tried = fmt.Sprintf(", other sizes in %d", b.In)
	}
	return fmt.Sprintf("time ran out: the robot was looked for in %d of %d frames%s", f.Frames, of, tried)
}
