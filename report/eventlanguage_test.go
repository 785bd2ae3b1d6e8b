package report

import (
	"math"
	"strings"
	"testing"

	"swathe/coverage/conduct"
	"swathe/geom"
	"swathe/report/language"
	"swathe/report/words"
)

// Every kind of event, with and without each of its figures and everywhere in a room,
// has its German.
func TestEventsInGerman(t *testing.T) {
	de, err := language.Open("de")
	if err != nil {
		t.Fatal(err)
	}
	square := func(x, y, w float64) []geom.Point2 {
		return []geom.Point2{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + w}, {X: x, Y: y + w}}
	}
	plan, err := geom.NewPlan(geom.PlanSpec{Name: "hall", Room: square(0, 0, 6), Obstacles: []geom.Piece{{Name: "sofa", Outline: geom.Ring(square(2, 2, 0.4)), Height: 0.4}}, Overhead: []geom.Piece{{Name: "table", Outline: geom.Ring(square(4, 4, 0.5)), Height: 0.7}}, Areas: []geom.Piece{{Name: "rug", Outline: geom.Ring(square(0.5, 4, 1)), Kind: "surface"}}})

	if err != nil {
		t.Fatal(err)
	}
	de.Keep("sofa", "table", "rug")
	for in, want := range map[string]string{
		"It drove over cleaned floor at the left of the room for 6.2 s and 1.89 m; 0.1 % of what it swept was new; mainly: turning.": "Er fuhr links im Raum 6,2 s lang 1,89 m weit über gereinigten Boden; 0,1 % dessen, was er kehrte, waren neu; vor allem: Wenden.",
		"It was stuck under the table for 12 s: it started, turned or reversed 4 times without leaving the spot.":                    "Er war unter „table“ 12 s lang festgefahren: er fuhr 4 Mal an, wendete oder setzte zurück, ohne von der Stelle zu kommen.",
		"At 1:04 it met the sofa at 0.32 m/s and pushed it, in total by 0.31 m.":                                                     "1:04: er traf mit 0,32 m/s auf „sofa“ und schob es, insgesamt um 0,31 m.",
	} {
		if got := de.Say(in); got != want {
			t.Errorf("%q\nis   %q\nwant %q", in, got, want)
		}
	}
	nan := math.NaN()
	n := 0
	for _, kind := range []string{conduct.Spin, conduct.Pause, conduct.Stuck, conduct.Contact, conduct.Near, conduct.Revisit, conduct.EdgeRetry, conduct.Swerve, conduct.Dock, conduct.Undock, conduct.Carried, conduct.Hidden, conduct.Outside} {
		for _, place := range [][2]float64{{nan, nan}, {2.2, 2.2}, {1.9, 2.2}, {2.5, 2.2}, {2.2, 1.9}, {2.2, 2.6}, {4.2, 4.2}, {1, 4.5}, {0.2, 0.2}, {3, 0.2}, {5.8, 0.2}, {0.2, 3}, {3, 3}, {5.8, 3}, {0.2, 5.8}, {3, 5.8}, {5.8, 5.8}} {
			for _, words := range []map[string]string{
				{"with": "sofa", "beside": "sofa", "reaction": conduct.Stops}, {"with": "sofa", "beside": "sofa", "reaction": conduct.Turns, "outcome": conduct.Pushed, "mostly": conduct.EntryTransit},
				{"with": "sofa", "beside": "sofa", "reaction": conduct.Slides, "outcome": conduct.RunOver, "reason": conduct.BetweenRecordings}, {"with": "sofa", "beside": "sofa", "outcome": conduct.Grazed, "then": conduct.RunEnded},
				{"with": "sofa", "beside": "sofa", "outcome": conduct.CarriedAlong, "reason": "it stood where it was seen next"}, {"with": "sofa", "beside": "sofa", "outcome": conduct.StoppedIt},
			} {
				for _, figures := range []map[string]float64{
					{}, {"turn_deg": -90, "tries": 3, "moved_m": 0.31, "angle_deg": 40, "distance_m": 0.02, "distance_low_m": 0.01, "distance_high_m": 0.03, "speed_mps": 0.2, "new_share": 0.1, "gap_m": 0.4, "side_m": -1, "free_m": 1, "far_m": 0.3},
					{"distance_m": -0.02, "distance_high_m": -0.01, "distance_low_m": -0.03, "turn_deg": 90, "side_m": 1},
				} {
					for _, unit := range []string{"m", "deg"} {
						for _, size := range []float64{nan, 2} {
							if kind == conduct.Spin || kind == conduct.Swerve || kind == conduct.EdgeRetry {
								size = 2 // they have one
							}
							e := Event{Kind: kind, StartS: 61, EndS: 65, X: place[0], Y: place[1], Size: size, Unit: unit, Words: words, More: figures}
							said := de.Say(e.What(plan, "m"))
							n++
							if strings.Contains(said, " the ") {
								t.Fatalf("%q", said)
							}
							de.Say(e.Text(plan, "m"))
						}
					}
				}
			}
		}
	}
	for i, s := range de.Missing() {
		if i < 60 {
			t.Errorf("%q has no German", s)
		}
	}
	t.Logf("%d sentences", n)
}

// Whatever a story tells, its chapters and captions have their German.
func TestStoryInGerman(t *testing.T) {
	de, err := language.Open("de")
	if err != nil {
		t.Fatal(err)
	}
	de.Keep("cabinet", "sofa", "wren")
	n := 0
	for _, started := range []string{geom.StartedAtRest, geom.StartedMoving, geom.StartedUnseen} {
		for _, ended := range []string{geom.EndedDocked, geom.EndedStood, geom.EndedCarried, geom.EndedRecording, geom.EndedLost, ""} {
			for _, pattern := range []string{conduct.PatternRows, conduct.PatternRandom} {
				for _, outcome := range []string{"", conduct.StoppedIt, conduct.CarriedAlong, conduct.RunOver, conduct.Pushed, conduct.Grazed} {
					for _, bare := range []bool{false, true} {
						r, plan := storyRun(t, func(in *RunInput) {
							in.Trace.Started, in.Trace.Ended, in.Conduct.Rows.Pattern = started, ended, pattern
							if bare {
								in.Conduct.Rows.Blocks = in.Conduct.Rows.Blocks[1:]
								in.Coverage.Coverage.ReachableShare = math.NaN()
								in.Coverage.Missed[0].Beside = []string{"wall", "corner", "open floor", "under cabinet"}[n%4]
							}
						})
						if pattern == conduct.PatternRandom {
							r.Rows.Erratic = []conduct.Erratic{{TurnDeg: 4000, DistanceM: 30}}
						}
						if outcome != "" {
							r.TestObjects = []TestObject{{Name: "sofa", Outcome: &outcome, FirstContactS: 61, MovedM: 0.31, Contacts: []conduct.ObjectContact{{SpeedMPS: 0.2}, {SpeedMPS: 0.1}}}}
						}
						for _, unit := range []words.Unit{words.Metre, words.Foot} {
							for _, m := range r.moments(plan, unit) {
								for _, s := range []string{m.title, m.told} {
									n++
									if said := de.Say(s); s != "" && said == s {
										t.Fatalf("%q has no German", s)
									}
								}
							}
						}
					}
				}
			}
		}
	}
	for i, s := range de.Missing() {
		if i < 40 {
			t.Errorf("%q has no German", s)
		}
	}
	r, plan := storyRun(t, nil)
	said := de.Say(r.moments(plan, words.Metre)[len(r.moments(plan, words.Metre))-1].told)
	if want := "Die meiste Zeit ging in: neuer Boden (9,2 s)"; !strings.HasPrefix(strings.ReplaceAll(said, words.NB, " "), want) {
		t.Errorf("%q, want %q...", said, want)
	}
	t.Logf("%d texts; %s", n, said)
}
