package report

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"swathe/coverage/doubt"
	"swathe/geom"
)

// What runs share comes back from its file as it was, to the digits kept; a
// damaged file is refused, and none is none.
func TestSharedFile(t *testing.T) {
	dir := t.TempDir()
	if c, err := ReadShared(dir); c != nil || err != nil {
		t.Errorf("no file: %v, %v", c, err)
	}
	in := []doubt.Cause{
		{Input: "tool", Key: "a", Change: map[string][]float64{"covered_share": {0.001234, -0.002}, "time_to_s.90": {math.Inf(1), 2}}},
		{Input: "outlines", Key: "b", Change: map[string][]float64{"covered_share": {0.5}}},
	}
	file := filepath.Join(dir, SharedFile)
	f, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := writeShared(f, in); err != nil {
		t.Fatal(err)
	}
	f.Close()
	out, err := ReadShared(dir)
	if err != nil || len(out) != 2 || out[0].Key != "a" || out[1].Input != "outlines" {
		t.Fatalf("%+v, %v", out, err)
	}
	if c := out[0].Change; c["covered_share"][0] != 0.001234 || c["covered_share"][1] != -0.002 || !math.IsNaN(c["time_to_s.90"][0]) || c["time_to_s.90"][1] != 2 {
		t.Errorf("%+v", c)
	}
	for _, bad := range []string{"cause,key\nx,y\n", "cause,key,draw,covered_share\ntool,a,1,many\n", "cause,key,draw\n\"\n"} {
		if err := os.WriteFile(file, []byte(bad), 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := ReadShared(dir); err == nil {
			t.Errorf("%q: no error", bad)
		}
	}
}

// A layout's hash follows its geometry alone: not the order in which pieces or
// corners are written, nor what furniture is called.
func TestLayoutParts(t *testing.T) {
	plan := func(room []geom.Point2, obstacles, objects []geom.Piece) *geom.Plan {
		p, err := geom.NewPlan("hall", room, obstacles, nil, nil, objects, nil)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	box := func(name string, x float64) geom.Piece {
		return geom.Piece{Name: name, Outline: geom.Ring([]geom.Point2{{X: x, Y: 1}, {X: x + 0.3, Y: 1}, {X: x + 0.3, Y: 1.3}, {X: x, Y: 1.3}}), Height: 0.4}
	}
	room := []geom.Point2{{}, {X: 3}, {X: 3, Y: 2}, {Y: 2}}
	base := layoutParts(plan(room, []geom.Piece{box("sofa", 1), box("chest", 2)}, []geom.Piece{box("sock", 0.2)}))
	same := layoutParts(plan([]geom.Point2{room[2], room[3], room[0], room[1]}, []geom.Piece{box("bench", 2), box("couch", 1)}, []geom.Piece{box("sock", 0.2)}))
	other := layoutParts(plan(room, []geom.Piece{box("sofa", 1)}, []geom.Piece{box("cable", 0.2)}))
	for part, want := range base {
		if same[part] != want {
			t.Errorf("%s: written otherwise, it counts as another", part)
		}
		if (other[part] == want) != (part == "room" || part == "overhead" || part == "areas") {
			t.Errorf("%s: same %v", part, other[part] == want)
		}
	}
}
