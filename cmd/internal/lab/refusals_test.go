package lab

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// refusals are slips that users make, each as a change to testdata/lab.yaml: old
// text becomes new text, and the problem is told at the line that then holds at
// (the line of new where at is empty).
var refusals = []struct {
	name, old, new, at string
}{
	{"empty file", "", "", "whole file"},
	{"only comments", "", "# nothing yet\n", "whole file"},
	{"not a mapping", "", "- a\n- b\n", "- a"},
	{"broken yaml", "frame: [960, 540]", "frame: [960, 540", "height: 2.7"},
	{"tab", "    frame: [960", "\tframe: [960", "\tframe"},
	{"key twice", "    height: 2.7\n", "    height: 2.7\n    height: 2.8\n", "height: 2.8"},
	{"two documents", "robots:\n", "---\nrobots:\n", "robots:"},
	{"not utf-8", "# a lab", "# \xff lab", "\xff"},
	{"merge key", "  ceiling:\n", "  ceiling:\n    <<: {frame: [1, 1]}\n", "<<"},
	{"alias of nothing", "frame: [960, 540]", "frame: *size", "*size"},

	{"unknown top key", "layouts:", "layout:", ""},
	{"unknown camera key", "    height: 2.7", "    hight: 2.7", ""},
	{"unknown key far from any", "    height: 2.7", "    zoom: 2.7", ""},
	{"unknown piece key", "kind: surface, height", "kind: surface, colour: 3, height", ""},
	{"american spelling", "    tapes:", "    lens: {focal: [700, 700], center: [480, 270]}\n    tapes:", "lens:"},

	{"frame of one number", "frame: [960, 540]", "frame: [960]", ""},
	{"frame of fractions", "frame: [960, 540]", "frame: [960.5, 540]", ""},
	{"frame negative", "frame: [960, 540]", "frame: [-960, 540]", ""},
	{"frame a word", "frame: [960, 540]", "frame: hd", ""},
	{"no frame", "    frame: [960, 540]\n", "", "  ceiling:"},
	{"height a word", "height: 2.7", "height: tall", ""},
	{"height with unit", "height: 2.7", "height: 2.7 m", ""},
	{"height below the floor", "height: 2.7", "height: -2.7", ""},
	{"height in centimetres", "height: 2.7", "height: 270", ""},
	{"height not a number", "height: 2.7", "height: .nan", ""},
	{"height infinite", "height: 2.7", "height: .inf", ""},
	{"height empty", "tapes:\n", "board:\n    tapes:\n", "none"},

	{"no marks", "    marks:\n", "    spots:\n", "  ceiling:"},
	{"three marks", "marks:\n", "marks:\n      - {floor: [0, 0], pixel: [0, 0]}\n      - {floor: [1, 0], pixel: [9, 0]}\n      - {floor: [0, 1], pixel: [0, 9]}\n    old:\n", "marks:"},
	{"marks on one line", "marks:\n", "marks: [{floor: [0, 0], pixel: [0, 0]}, {floor: [1, 1], pixel: [9, 9]}, {floor: [2, 2], pixel: [20, 19]}, {floor: [3, 3.001], pixel: [31, 30]}]\n    old:\n", "marks:"},
	{"marks not a list", "marks:\n", "marks: 4\n    old:\n", "marks:"},
	{"mark without pixel", `{"floor": [0.2, 0.1], "pixel": [240.98, 453.72]}`, `{"floor": [0.2, 0.1]}`, ""},
	{"mark with four numbers", `"floor": [0.2, 0.1]`, `"floor": [0.2, 0.1, 0, 0]`, ""},
	{"mark with a word", `"floor": [0.2, 0.1]`, `"floor": [0.2, here]`, ""},
	{"mark twice on the floor", `"floor": [0.2, 1.1]`, `"floor": [0.2, 0.1]`, `"pixel": [248.17`},
	{"mark twice in the picture", `"pixel": [248.17, 288.09]`, `"pixel": [240.98, 453.72]`, `"floor": [0.2, 1.1]`},
	{"sigma negative", "sigma: 0.002", "sigma: -0.002", ""},
	{"mirrored marks", "    tapes:", "    tapes:", "mirrored"},
	{"raised mark above the lens", `"floor": [1.2, 1.1, 0]`, `"floor": [1.2, 1.1, 3]`, "marks:"},

	{"unknown lens model", "    tapes:", "    lens: {model: wide}\n    tapes:", "lens:"},
	{"lens without focal", "    tapes:", "    lens: {centre: [480, 270]}\n    tapes:", "lens:"},
	{"lens without centre", "    tapes:", "    lens: {focal: [700, 700]}\n    tapes:", "lens:"},
	{"focal of nought", "    tapes:", "    lens: {focal: [0, 700], centre: [480, 270]}\n    tapes:", "lens:"},
	{"too many terms", "    tapes:", "    lens: {focal: [700, 700], centre: [480, 270], distortion: [1, 2, 3, 4, 5, 6]}\n    tapes:", "lens:"},
	{"five fisheye terms", "    tapes:", "    lens: {model: fisheye, focal: [700, 700], centre: [480, 270], distortion: [0, 0, 0, 0, 0]}\n    tapes:", "lens:"},
	{"board without pictures", "    tapes:", "    board: {pictures: boards/*.png, columns: 9, rows: 6, square: 0.04}\n    tapes:", "board:"},
	{"board without columns", "    tapes:", "    board: {pictures: \"*.yaml\", rows: 6, square: 0.04}\n    tapes:", "board:"},
	{"board's square negative", "    tapes:", "    board: {pictures: \"*.yaml\", columns: 9, rows: 6, square: -0.04}\n    tapes:", "board:"},
	{"tape of one end", "[[288.1, 441.5], [698.8, 456.4]]", "[[288.1, 441.5]]", ""},
	{"tape of no length", "length: 2.4", "length: 0", ""},

	{"layout without camera", "    camera: ceiling\n", "", "  cluttered:"},
	{"layout with another camera", "camera: ceiling", "camera: cieling", ""},
	{"layout without room", "    room: [[0, 0], [3.2, 0], [3.2, 2.4], [0, 2.4]]\n", "", "  cluttered:"},
	{"room of two corners", "room: [[0, 0], [3.2, 0], [3.2, 2.4], [0, 2.4]]", "room: [[0, 0], [3.2, 0]]", ""},
	{"room that crosses itself", "room: [[0, 0], [3.2, 0], [3.2, 2.4], [0, 2.4]]", "room: [[0, 0], [3.2, 2.4], [3.2, 0], [0, 2.4]]", ""},
	{"room without area", "room: [[0, 0], [3.2, 0], [3.2, 2.4], [0, 2.4]]", "room: [[0, 0], [1, 1], [2, 2]]", ""},
	{"corner of three numbers", "room: [[0, 0]", "room: [[0, 0, 0]", ""},
	{"no layouts", "layouts:\n", "layouts: {}\nold:\n", "layouts:"},
	{"layouts empty", "layouts:\n", "layouts:\nold:\n", "layouts:"},
	{"obstacle outside", "[0.9, 2.4], [0, 2.4]], height: 0.5", "[0.9, 2.4], [-0.5, 2.4]], height: 0.5", ""},
	{"obstacle that crosses itself", "cabinet: {outline: [[0, 1.8], [0.9, 1.8], [0.9, 2.4], [0, 2.4]]", "cabinet: {outline: [[0, 1.8], [0.9, 2.4], [0.9, 1.8], [0, 2.4]]", ""},
	{"obstacle without height", ", height: 0.5}", "}", "cabinet"},
	{"obstacle of negative height", "height: 0.5}", "height: -0.5}", ""},
	{"obstacle without outline", "cabinet: {outline: [[0, 1.8], [0.9, 1.8], [0.9, 2.4], [0, 2.4]], height: 0.5}", "cabinet: {height: 0.5}", ""},
	{"two pieces of one name", "tabletop:", "cabinet:", "cabinet: {outline: [[1.3"},
	{"area without kind", "kind: surface, ", "", "rug:"},
	{"area of unknown kind", "kind: surface", "kind: carpet", ""},
	{"dock outside", "at: [0.2, 1.5]", "at: [-0.2, 1.5]", ""},
	{"dock without heading", ", heading: 90}", "}", "dock:"},
	{"obstacles a list", "cabinet: {", "- {name: cabinet, ", ""},

	{"robot without tools", "    tools: {brush: {width: 0.2}}\n", "", "  plover:"},
	{"robot with empty tools", "tools: {brush: {width: 0.2}}", "tools: {}", ""},
	{"robot round and not", "    height: 0.09\n", "    height: 0.09\n    diameter: 0.3\n", "outline: [[-0.17"},
	{"robot of no size", "    outline: [[-0.17, -0.17], [0.17, -0.17], [0.17, 0.17], [-0.17, 0.17]]\n", "", "  plover:"},
	{"robot's outline crosses itself", "[[-0.17, -0.17], [0.17, -0.17], [0.17, 0.17], [-0.17, 0.17]]", "[[-0.17, -0.17], [0.17, 0.17], [0.17, -0.17], [-0.17, 0.17]]", ""},
	{"robot in millimetres", "value: 0.34", "value: 340", ""},
	{"robot without height", "    height: 0.095\n", "", "  wren_b:"},
	{"robot of negative height", "height: 0.095", "height: -0.095", ""},
	{"shoulder above the height", "height: 0.095\n", "height: 0.095\n    shoulder: 0.12\n", "shoulder: 0.12"},
	{"tool of negative width", "pad: {width: 0.24", "pad: {width: -0.24", ""},
	{"tool of no width", "pad: {width: 0.24, ", "pad: {", ""},
	{"tool wider than three robots", "pad: {width: 0.24", "pad: {width: 1.1", ""},
	{"tool's width a word", "pad: {width: 0.24", "pad: {width: wide", ""},
	{"tool with a kept name", "pad:", "with_side_brushes:", ""},
	{"tolerance negative", "tolerance: 0.002", "tolerance: -0.002", ""},
	{"tolerance alone", "{value: 0.18, tolerance: 0.002}", "{tolerance: 0.002}", ""},
	{"side brush without reach", ", reach: 0.08}", "}", "side_brushes"},
	{"unknown dictionary", "4x4_50", "4x4_60", ""},
	{"marker number too large", "id: 7", "id: 50", ""},
	{"name with a slash", "  wren_b:", "  wren/b:", ""},
	{"name with a dot before", "  wren_b:", "  .wren:", ""},
	{"name of a star", "  cluttered:", "  \"*\":", ""},

	{"area of a kind of before", "kind: surface", "kind: keep_out", ""},
	{"key of before", "    test_objects:", "    props:", ""},
	{"setting of before", "  cell: 0.01", "  stall_time: 4", ""},
	{"setting of before whose name means another today", "  cell: 0.01", "  contact_distance: 0.004", ""},
	{"patches", "    dock: {at: [0.2, 1.5], heading: 90}\n", "    patches:\n      spill: {outline: [[0.1, 0.1], [0.5, 0.1], [0.5, 0.5], [0.1, 0.5]], kind: stain}\n", "none"},
	{"patch without a kind", "    dock: {at: [0.2, 1.5], heading: 90}\n", "    patches:\n      spill: {outline: [[0.1, 0.1], [0.5, 0.1], [0.5, 0.5], [0.1, 0.5]]}\n", "spill"},
	{"patch of another kind", "    dock: {at: [0.2, 1.5], heading: 90}\n", "    patches:\n      spill: {outline: [[0.1, 0.1], [0.5, 0.1], [0.5, 0.5], [0.1, 0.5]], kind: jam}\n", "spill"},
	{"patch without an outline", "    dock: {at: [0.2, 1.5], heading: 90}\n", "    patches:\n      spill: {kind: hair}\n", "spill"},
	{"patch outside the room", "    dock: {at: [0.2, 1.5], heading: 90}\n", "    patches:\n      spill: {outline: [[3, 2], [3.4, 2], [3.4, 2.2], [3, 2.2]], kind: debris}\n", "spill"},
	{"patch in other units", "    dock: {at: [0.2, 1.5], heading: 90}\n", "    patches:\n      spill: {outline: [[0.1, 0.1], [0.11, 0.1], [0.11, 0.11], [0.1, 0.11]], kind: debris}\n", "spill"},
	{"patch with an unknown key", "    dock: {at: [0.2, 1.5], heading: 90}\n", "    patches:\n      spill: {outline: [[0.1, 0.1], [0.5, 0.1], [0.5, 0.5], [0.1, 0.5]], kind: hair, colour: red}\n", "spill"},
	{"unknown setting", "  cell: 0.01", "  cells: 0.01", ""},
	{"setting out of range", "  cell: 0.01", "  cell: 5", ""},
	{"setting of a fraction", "  cell: 0.01", "  draws: 20.5", ""},
	{"setting of a word", "  follow_angle: 12", "  follow_angle: auto", ""},
}

func TestRefusals(t *testing.T) {
	var golden strings.Builder
	for _, c := range refusals {
		text := goodLab(t)
		switch {
		case c.at == "mirrored":
			// Every x with the other sign: a plan seen from below.
			text = strings.ReplaceAll(text, `"floor": [`, `"floor": [-`)
		case c.old == "":
			text = c.new
		case !strings.Contains(text, c.old):
			t.Fatalf("%s: %q is not in testdata/lab.yaml", c.name, c.old)
		default:
			text = strings.Replace(text, c.old, c.new, 1)
		}
		_, err := Open(labDir(t, text))
		if c.at == "none" {
			if err != nil {
				t.Errorf("%s: refused: %v", c.name, err)
			}
			continue
		}
		var p *Problems
		if !errors.As(err, &p) {
			t.Errorf("%s: not refused: %v", c.name, err)
			continue
		}
		want := SetupFile
		at := c.at
		switch at {
		case "":
			at = strings.TrimSpace(c.new)
		case "mirrored":
			at = "marks:"
		}
		if at != "whole file" {
			want = fmt.Sprintf("%s:%d", SetupFile, 1+strings.Count(text[:strings.Index(text, at)], "\n"))
		}
		first := false
		for _, q := range p.List {
			first = first || q.Where() == want
			if !strings.HasSuffix(q.Message, ".") && !strings.HasSuffix(q.Message, "?") {
				t.Errorf("%s: no whole sentence: %q", c.name, q.Message)
			}
		}
		if !first {
			t.Errorf("%s: told elsewhere than at %s:\n%v", c.name, want, err)
		}
		fmt.Fprintf(&golden, "## %s\n%s\n\n", c.name, err)
	}
	const file = "testdata/refusals.golden"
	if *update {
		if err := os.WriteFile(file, []byte(golden.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), golden.String()); d != "" {
		t.Errorf("messages changed; look at them and run with -update (-want +got):\n%s", d)
	}
}

// Every problem of a file is told, up to ten, and the rest counted.
func TestAllProblemsAtOnce(t *testing.T) {
	text := goodLab(t)
	text = strings.Replace(text, "height: 2.7", "height: -1", 1)
	text = strings.Replace(text, "kind: surface", "kind: x", 1)
	text = strings.Replace(text, "id: 7", "id: 77", 1)
	_, err := Open(labDir(t, text))
	var p *Problems
	if !errors.As(err, &p) || len(p.List) != 3 {
		t.Fatalf("three slips give: %v", err)
	}
	text = strings.ReplaceAll(goodLab(t), `"pixel"`, `"pixle"`)
	if _, err = Open(labDir(t, text)); !errors.As(err, &p) || len(p.List) != maxProblems || p.More == 0 {
		t.Fatalf("two dozen slips give %d told and %d more", len(p.List), p.More)
	}
	if !strings.Contains(err.Error(), fmt.Sprintf("and %d more", p.More)) {
		t.Errorf("the rest is not counted: %v", err)
	}
}

func FuzzOpen(f *testing.F) {
	seeds, err := os.ReadDir("testdata/fuzz/FuzzOpen")
	if err != nil || len(seeds) == 0 {
		f.Fatalf("the seeds are gone: %v", err)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 1<<16 {
			return
		}
		l, err := Open(labDir(t, string(data)))
		if err == nil && (len(l.Layouts) == 0 || len(l.Robots) == 0) {
			t.Errorf("a lab without layouts or robots opened")
		}
	})
}
