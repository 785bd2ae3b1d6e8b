package figure

import (
	"image"
	"image/color"
	"math"
	"sync"
	"testing"

	"swathe/coverage"
	"swathe/report/words"
)

// second is another run in the fixture's room: the last part of the same path.
func second(share float64, trial int) Run {
	r := made()
	tr := *r.Trace
	n := int(float64(len(tr.Samples)) * share)
	tr.Samples = tr.Samples[len(tr.Samples)-n:]
	tr.Run.From = tr.Samples[0].T
	r.Trace, r.Phase, r.Trial = &tr, "mapped", trial
	r.Cover = stamp(r.Plan, &tr)
	return r
}

var others = sync.OnceValues(func() (Run, Run) { return second(0.55, 1), second(0.7, 2) })

// gallery is one picture of every kind.
func gallery(tb testing.TB, opt Options) []*Picture {
	tb.Helper()
	r := fixture(tb)
	nan := math.NaN()
	r.Cover.Missed = []coverage.Patch{
		{AreaM2: 0.31, X: 0.6, Y: 2.45, Beside: "open floor"}, {AreaM2: 0.26, X: 3.8, Y: 0.9, Beside: "stool"},
		{AreaM2: 0.14, X: 2.75, Y: 2.2, Beside: "sofa"}, {AreaM2: 0.11, X: 0.12, Y: 2.95, Beside: "corner"},
		{AreaM2: 0.06, X: 2, Y: 0.09, Beside: "wall"}, {AreaM2: 0.02, X: 2.1, Y: 1.62, Beside: "under table"},
	}
	r.Cover.Edges = []coverage.Edge{
		{Name: "wall", LengthM: 12.9, FollowedM: 7.4, FollowedShare: 0.574, ClearanceM: 0.013, RightShare: 1},
		{Name: "sofa", LengthM: 3.2, FollowedM: 1.1, FollowedShare: 0.344, ClearanceM: 0.021, RightShare: 0},
		{Name: "stool", LengthM: 1.2, FollowedM: 0, FollowedShare: 0, ClearanceM: nan, RightShare: nan},
	}
	events := []Event{
		{X: 3.0, Y: 0.77, Words: "At 0:21 it turned twice on the spot (718°)."},
		{X: 3.05, Y: 0.95, Words: "At 1:04 it touched the stool at 12° and turned away."},
		{X: 1.7, Y: 1.1, Words: "From 2:00 it was hidden under the table for 4 s."},
		{X: 0.8, Y: 2.9, Words: "From 3:08 it drove 2.1 m over floor that was clean already, which took 9 s."},
		{X: nan, Y: nan, Words: "At 4:20 somebody switched the light."},
	}
	spells := []Spell{
		{"new floor", 402, UseNew}, {"lane overlap", 31, UseAgain}, {"second layer", 0, UseAgain}, {"along edges", 88, UseEdges},
		{"around obstacles", 42, UseEdges}, {"transit over cleaned floor", 61, UseOther}, {"turning", 31, UseOther}, {"standing", 4, UseOther}, {"reversing", 2, UseOther}, {"stuck", 12, UseOther},
		{"returning to dock", 14, UseDock}, {"docked", 45, UseDock}, {"hidden or lost", 9, UseUnknown},
	}
	percent := func(v float64) string { return words.Share(v, nan) }
	rows := []DotRow{
		{"Share of the reachable floor", "more is better", dots(0.93, 0.91, 0.95, 0.81, 0.88, 0.9, 0.955, 0.97, 0.71), percent},
		{"Minutes to 90" + words.NB + "%", "less is better", dots(860, 820, 900, 610, 700, 1150, 940, nan, 1320), words.Duration},
		{"Times over a spot", "", dots(1.9, 1.8, 2.0, 1.4, 1.5, 1.7, 2.6, 2.2, 1.45), func(v float64) string { return words.Times(v, nan) }},
	}
	picture := func(c color.RGBA) image.Image {
		img := image.NewRGBA(image.Rect(0, 0, 60, 40))
		for i := range img.Pix {
			img.Pix[i] = 200
		}
		for y := 14; y < 26; y++ {
			for x := 20; x < 40; x++ {
				img.SetRGBA(x, y, c)
			}
		}
		return img
	}
	shots := []Shot{
		{"sock", 1, "pushed 12 cm", true, picture(hex(0x335533)), picture(hex(0x335533))},
		{"sock", 2, "left alone, 31 mm clear", false, picture(hex(0x335533)), picture(hex(0x335533))},
		{"sock", 3, "never came near it", false, picture(hex(0x335533)), nil},
		{"cable", 1, "run over", true, picture(hex(0x111111)), picture(hex(0x111111))},
		{"cable", 2, "touched, hardly moved", true, picture(hex(0x111111)), picture(hex(0x111111))},
	}
	b, c := others()
	sliced := opt
	sliced.Slices = 6
	var out []*Picture
	add := func(p *Picture, err error) {
		tb.Helper()
		if err != nil {
			tb.Fatal(err)
		}
		for _, q := range out {
			if q.Name == p.Name {
				p.Name += "-slices"
			}
		}
		out = append(out, p)
	}
	add(Passes(r, opt))
	add(Path(r, opt))
	add(Path(r, sliced))
	add(Curve(r, opt))
	add(Seconds(r, opt))
	add(Minutes(r.Title(), spells, opt))
	add(Agreement([]Run{r, b, c}, opt))
	add(Difference(r, b, opt))
	add(MissedPatches(r, opt))
	add(Edges(r, opt))
	add(Events(r, events, opt))
	add(TestObjects("wren in the parlour", shots, opt))
	add(Dots("wren", "Parlour, mapped runs, mean of three runs each", rows, opt))
	add(Plate([]Run{r, b, c}, opt))
	return out
}

func dots(own, lo, hi float64, others ...float64) []Dot {
	nan := math.NaN()
	out := []Dot{{"wren", own, lo, hi}}
	for i, v := range others {
		out = append(out, Dot{string(rune('a' + i)), v, nan, nan})
	}
	return out
}
