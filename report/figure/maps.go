package figure

import (
	"fmt"
	"image/color"
	"math"
	"strings"

	"swathe/coverage"
	"swathe/report/words"
)

// secondsEdges are the bounds of the classes of Seconds, s.
var secondsEdges = []float64{1, 2, 5, 10, 30, 60}

// secondsColours runs from pale for a moment to dark for long: the seven-class
// scheme "YlGnBu" of ColorBrewer (Harrower and Brewer 2003, see ramp.go).
func secondsColours() []color.RGBA {
	return []color.RGBA{hex(0xffffcc), hex(0xc7e9b4), hex(0x7fcdbb), hex(0x41b6c4), hex(0x1d91c0), hex(0x225ea8), hex(0x0c2c84)}
}

func secondsWords() []string {
	out := []string{"under 1" + words.NB + "s"}
	for i := 1; i < len(secondsEdges); i++ {
		out = append(out, fmt.Sprintf("%.0f to %.0f"+words.NB+"s", secondsEdges[i-1], secondsEdges[i]))
	}
	return append(out, fmt.Sprintf("%.0f"+words.NB+"s or more", secondsEdges[len(secondsEdges)-1]))
}

// Seconds draws how long each spot was under the robot's body. The result must
// have been measured with coverage.Options.Dwell.
func Seconds(r Run, opt Options) (*Picture, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	g := r.Cover.Grid
	if g.Dwell == nil {
		return nil, fmt.Errorf("%s: the time that the robot spent over each spot was not measured", r.Title())
	}
	class := make([]uint8, len(g.Flags))
	longest := 0.0
	for k, f := range g.Flags {
		if f&coverage.FlagOpen == 0 {
			continue
		}
		d := float64(g.Dwell[k])
		longest = math.Max(longest, d)
		class[k] = 1
		if d > 0 {
			class[k] = 2
			for _, e := range secondsEdges {
				if d >= e {
					class[k]++
				}
			}
		}
	}
	cs := secondsColours()
	headline := "At most " + words.Duration(longest) + " over one spot"
	alt := fmt.Sprintf("Plan of the room %s with how long each spot was under the body of %s. %s.", r.Layout, r.Robot, headline)
	return newPicture("seconds", alt, opt, func(s *sheet) {
		legend := []entry{heading("under the robot for"), pattern("never", s.hatch())}
		for i, w := range secondsWords() {
			legend = append(legend, swatch(w, cs[i]))
		}
		v, b := s.planSheet(planPart{corners(r.Plan.Room)}, r.Title(), headline, "Run of "+words.Duration(r.Cover.Motion.DurationS), "", append(legend, s.planLegend(r.Plan)...))
		s.cellMap(v, b, g, class, func(c uint8) tone {
			switch c {
			case 0:
				return tone{}
			case 1:
				return s.hatch()
			}
			return plain(cs[c-2])
		})
		s.furniture(v, r.Plan)
	}, r)
}

// maxCounted is up to how many runs Agreement gives each number of runs its own
// colour: of more, the greens would come too close (the test of the colours says
// so).
const maxCounted = 5

// agreementColours gives the colours for "cleaned in 0, 1 ... n runs".
func agreementColours(n int) []color.RGBA {
	out := []color.RGBA{missedColour}
	for i := 0; i < n; i++ {
		t := 1.0
		if n > 1 {
			t = float64(i) / float64(n-1)
		}
		t *= float64(len(agreementScale) - 1)
		k := min(int(t), len(agreementScale)-2)
		out = append(out, mix(agreementScale[k], agreementScale[k+1], t-float64(k)))
	}
	return out
}

// agreementClasses says how many runs fall into one class: with few runs each
// number is its own, with many they are quarters.
func agreementClasses(n int) (class func(k int) int, labels []string) {
	if n <= maxCounted {
		labels = []string{"missed every time"}
		for k := 1; k <= n; k++ {
			labels = append(labels, fmt.Sprintf("cleaned in %d of %d runs", k, n))
		}
		return func(k int) int { return k }, labels
	}
	labels = []string{"missed every time", "in up to a quarter of the runs", "up to half", "up to three quarters", "more, not all", fmt.Sprintf("in all %d runs", n)}
	return func(k int) int {
		switch {
		case k == 0:
			return 0
		case k == n:
			return 5
		}
		return 1 + min(3, (4*k-1)/n)
	}, labels
}

// same checks that runs can be laid over each other cell by cell.
func same(rs []Run) error {
	if len(rs) < 2 {
		return fmt.Errorf("%d run: at least two are needed", len(rs))
	}
	for _, r := range rs {
		if err := r.check(); err != nil {
			return err
		}
		a, b := rs[0].Cover.Grid, r.Cover.Grid
		if a.X0 != b.X0 || a.Y0 != b.Y0 || a.Cell != b.Cell || a.Nx != b.Nx || a.Ny != b.Ny {
			return fmt.Errorf("%s and %s were measured with different rooms or cells, so their maps cannot be overlaid", rs[0].Title(), r.Title())
		}
	}
	return nil
}

// reachOf writes the floor within reach as the pictures of the single runs do,
// where all say the same; else the area of the cells, m2, which every run can
// reach.
func reachOf(rs []Run, cells float64, unit words.Unit) string {
	first := words.Area(rs[0].Cover.Floor.ReachableM2, math.NaN(), unit)
	for _, r := range rs[1:] {
		if words.Area(r.Cover.Floor.ReachableM2, math.NaN(), unit) != first {
			return words.Area(cells, math.NaN(), unit)
		}
	}
	return first
}

// Agreement draws in how many of the runs each spot was cleaned. All runs must
// be of one layout, on the same cells.
func Agreement(rs []Run, opt Options) (*Picture, error) {
	if err := same(rs); err != nil {
		return nil, err
	}
	g := rs[0].Cover.Grid
	of, labels := agreementClasses(len(rs))
	cs := agreementColours(len(labels) - 1)
	class := make([]uint8, len(g.Flags))
	m2 := make([]float64, len(labels))
	reach := 0.0
	for k := range class {
		open, reachable, n := true, true, 0
		for _, r := range rs {
			f := r.Cover.Grid.Flags[k]
			open = open && f&coverage.FlagOpen != 0
			reachable = reachable && f&coverage.FlagReachable != 0
			if r.Cover.Grid.Passes[k] > 0 {
				n++
			}
		}
		switch {
		case !open:
		case n == 0 && !reachable:
			class[k] = 1
		default:
			c := of(n)
			class[k] = 2 + uint8(c)
			if reachable { // for every one of them: only there can all be held to it
				m2[c] += g.Cell * g.Cell
				reach += g.Cell * g.Cell
			}
		}
	}
	title := fmt.Sprintf("%d runs in %s", len(rs), rs[0].Layout)
	headline := words.Share(m2[len(m2)-1]/reach, math.NaN()) + " was cleaned every time, " + words.Share(m2[0]/reach, math.NaN()) + " never"
	alt := fmt.Sprintf("Plan of the room %s with in how many of %d runs each spot was cleaned. Of the floor reachable in every run %s.", rs[0].Layout, len(rs), headline)
	return newPicture("agreement", alt, opt, func(s *sheet) {
		var legend []entry
		for i, l := range labels {
			if s.isSmall() {
				l = strings.TrimPrefix(l, "cleaned ")
			}
			if s.opt.Labels == Full {
				l += "  " + words.Share(m2[i]/reach, math.NaN())
			}
			legend = append(legend, s.toldSwatch(l, cs[i]))
		}
		legend = append(legend, pattern("not reachable", s.hatch()))
		v, b := s.planSheet(planPart{corners(rs[0].Plan.Room)}, title, headline, "Of the floor reachable in every run, "+reachOf(rs, reach, s.opt.Unit), runList(rs), append(legend, s.planLegend(rs[0].Plan)...))
		s.cellMap(v, b, g, class, func(c uint8) tone {
			switch c {
			case 0:
				return tone{}
			case 1:
				return s.hatch()
			}
			return s.told(cs[c-2])
		})
		s.furniture(v, rs[0].Plan)
	}, rs...)
}

func runList(rs []Run) string {
	var names []string
	for _, r := range rs {
		names = append(names, r.Robot+" "+PhaseWords(r.Phase, r.Trial))
	}
	return "Runs: " + words.List(names)
}

// Difference draws which floor each of two runs alone cleaned.
func Difference(a, b Run, opt Options) (*Picture, error) {
	if err := same([]Run{a, b}); err != nil {
		return nil, err
	}
	g := a.Cover.Grid
	class := make([]uint8, len(g.Flags))
	var m2 [4]float64
	for k := range class {
		fa, fb := g.Flags[k], b.Cover.Grid.Flags[k]
		if (fa|fb)&coverage.FlagOpen == 0 {
			continue
		}
		ca, cb := g.Passes[k] > 0, b.Cover.Grid.Passes[k] > 0
		i := 0
		switch {
		case ca && cb:
		case ca:
			i = 1
		case cb:
			i = 2
		case (fa|fb)&coverage.FlagReachable == 0:
			class[k] = 1
			continue
		default:
			i = 3
		}
		class[k] = 2 + uint8(i)
		m2[i] += g.Cell * g.Cell
	}
	na, nb := a.Robot+" "+PhaseWords(a.Phase, a.Trial), b.Robot+" "+PhaseWords(b.Phase, b.Trial)
	area := func(i int, u words.Unit) string { return words.Area(m2[i], math.NaN(), u) }
	headline := "Only the first cleaned " + area(1, opt.Unit) + ", only the second " + area(2, opt.Unit)
	alt := fmt.Sprintf("Plan of the room %s with the floor that %s and %s cleaned. %s; both missed %s.", a.Layout, na, nb, headline, area(3, opt.Unit))
	return newPicture("difference", alt, opt, func(s *sheet) {
		var legend []entry
		first, second := na, nb
		if s.isSmall() { // the title says which they are
			first, second = "the first", "the second"
		}
		for i, l := range []string{"cleaned by both", "only by " + first, "only by " + second, "missed by both"} {
			legend = append(legend, s.toldSwatch(l, differenceColours[i]))
			if s.opt.Labels == Full {
				legend[i].label += "  " + area(i, s.opt.Unit)
			}
		}
		legend = append(legend, pattern("not reachable", s.hatch()))
		v, box := s.planSheet(planPart{corners(a.Plan.Room)}, na+" and "+nb+", "+a.Layout, headline, "", "", append(legend, s.planLegend(a.Plan)...))
		s.cellMap(v, box, g, class, func(c uint8) tone {
			switch c {
			case 0:
				return tone{}
			case 1:
				return s.hatch()
			}
			return s.told(differenceColours[c-2])
		})
		s.furniture(v, a.Plan)
	}, a, b)
}
