package compare

import (
	"math"
	"math/rand"
	"strings"
	"testing"

	"swathe/geom"
)

var hallRoom = []geom.Point2{{}, {X: 3}, {X: 3, Y: 2}, {Y: 2}}

func boxAt(name string, x, height float64) geom.Piece {
	return geom.Piece{Name: name, Outline: geom.Ring([]geom.Point2{{X: x, Y: 1}, {X: x + 0.3, Y: 1}, {X: x + 0.3, Y: 1.3}, {X: x, Y: 1.3}}), Height: height}
}

func hall(t *testing.T, room []geom.Point2, obstacles, objects []geom.Piece) Layout {
	t.Helper()
	p, err := geom.NewPlan(geom.PlanSpec{Name: "hall", Room: room, Obstacles: obstacles, TestObjects: objects})
	if err != nil {
		t.Fatal(err)
	}
	return LayoutOf(p)
}

// What counts is where things are: not the order in which pieces or corners are
// written, nor what furniture is called. What differs is named, and by how much.
func TestLayoutsApart(t *testing.T) {
	base := hall(t, hallRoom, []geom.Piece{boxAt("sofa", 1, 0.4), boxAt("chest", 2, 0.4)}, []geom.Piece{boxAt("sock", 0.2, 0)})
	turned := []geom.Point2{hallRoom[2], hallRoom[3], hallRoom[0], hallRoom[1]}
	for _, c := range []struct {
		name string
		b    Layout
		want []string // in the sentence; none: the same
	}{
		{"written otherwise", hall(t, turned, []geom.Piece{boxAt("bench", 2, 0.4), boxAt("couch", 1, 0.4)}, []geom.Piece{boxAt("sock", 0.2, 0)}), nil},
		{"surveyed anew", hall(t, []geom.Point2{{X: 0.004}, {X: 3, Y: 0.012}, {X: 3.009, Y: 2}, {Y: 2}}, []geom.Piece{boxAt("sofa", 1.02, 0.4), boxAt("chest", 2, 0.4)}, []geom.Piece{boxAt("sock", 0.2, 0)}), nil},
		{"moved", hall(t, hallRoom, []geom.Piece{boxAt("sofa", 1.05, 0.4), boxAt("chest", 2, 0.4)}, []geom.Piece{boxAt("sock", 0.2, 0)}), []string{"sofa (obstacles) is off by 50 mm", "up to 28 mm may come of the survey"}},
		{"without the chest", hall(t, hallRoom, []geom.Piece{boxAt("sofa", 1, 0.4)}, []geom.Piece{boxAt("sock", 0.2, 0)}), []string{"chest (obstacles) is missing"}},
		{"another object", hall(t, hallRoom, []geom.Piece{boxAt("sofa", 1, 0.4), boxAt("chest", 2, 0.4)}, []geom.Piece{boxAt("cable", 0.2, 0)}), []string{"sock (test objects) is missing", "cable (test objects) is new"}},
		{"a longer room", hall(t, []geom.Point2{{}, {X: 3.2}, {X: 3.2, Y: 2}, {Y: 2}}, []geom.Piece{boxAt("sofa", 1, 0.4), boxAt("chest", 2, 0.4)}, []geom.Piece{boxAt("sock", 0.2, 0)}), []string{"the room is off by 200 mm"}},
		{"higher", hall(t, hallRoom, []geom.Piece{boxAt("sofa", 1, 0.5), boxAt("chest", 2, 0.4)}, []geom.Piece{boxAt("sock", 0.2, 0)}), []string{"sofa (obstacles) is off by 100 mm"}},
	} {
		got := apartIn(base, c.b, 0.005)
		t.Logf("%s: %s", c.name, got)
		if (got == "") != (c.want == nil) {
			t.Errorf("%s: %q", c.name, got)
		}
		for _, w := range c.want {
			if !strings.Contains(got, w) {
				t.Errorf("%s: %q does not say %q", c.name, got, w)
			}
		}
	}
}

// Two surveys of one room, each corner off by the survey's own uncertainty, are
// the same room in nearly all of 1,000 drawn pairs; a chest that somebody moved
// by 60 mm is found in nearly all.
func TestLayoutsSurveyedTwice(t *testing.T) {
	const seed, pairs, sigma = 5, 1000, 0.005
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	survey := func(moved float64) Layout {
		off := func(c []geom.Point2) (out []geom.Point2) {
			for _, p := range c {
				out = append(out, geom.Point2{X: p.X + sigma*rng.NormFloat64(), Y: p.Y + sigma*rng.NormFloat64()})
			}
			return out
		}
		chest := boxAt("chest", 2+moved, 0.4)
		chest.Outline = geom.Ring(off(geom.RingCorners(chest.Outline)))
		return hall(t, off(hallRoom), []geom.Piece{chest}, nil)
	}
	same, found := 0, 0
	for range pairs {
		a := survey(0)
		if a.Same(survey(0), sigma) {
			same++
		}
		if !a.Same(survey(0.06), sigma) {
			found++
		}
	}
	// Eight corners, each beyond with exp(-8).
	expect := pairs * math.Pow(1-math.Exp(-8), 8)
	t.Logf("%d of %d pairs are the same, %.0f expected; the moved chest is found in %d", same, pairs, expect, found)
	if float64(same) < expect-8 || found < pairs*98/100 {
		t.Error("two surveys are not told from a moved chest")
	}
}
