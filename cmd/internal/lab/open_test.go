package lab

import (
	"errors"
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"swathe/geom"
)

var update = flag.Bool("update", false, "write the golden files anew")

func goodLab(t *testing.T) string {
	t.Helper()
	data, err := os.ReadFile("testdata/lab.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// labDir makes a lab folder with the given lab.yaml.
func labDir(t *testing.T, text string) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, SetupFile), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return dir
}

func openGood(t *testing.T) *Lab {
	t.Helper()
	l, err := Open(labDir(t, goodLab(t)))
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestOpenReadsEveryKey(t *testing.T) {
	l := openGood(t)
	c := l.Cameras["ceiling"].Spec
	if c.Width != 960 || c.Height != 540 || c.LensHeight != 2.7 || len(c.Marks) != 12 || c.Marks[2].Sigma != 0.002 || c.Tapes[0].Length != 2.4 {
		t.Errorf("camera read as %+v", c)
	}
	if c.Marks[4].Floor != (geom.Point3{X: 1.2, Y: 1.1}) || c.Marks[4].Pixel != (geom.Point2{X: 409.5, Y: 293.16}) {
		t.Errorf("mark 5 read as %+v", c.Marks[4])
	}
	p := l.Layouts["cluttered"].Plan
	if p.Dock == nil || p.Dock.X != 0.2 || math.Abs(p.Dock.Heading-math.Pi/2) > 1e-15 {
		t.Errorf("dock read as %+v", p.Dock)
	}
	if len(p.Obstacles) != 1 || p.Obstacles[0].Height != 0.5 || p.Overhead[0].Name != "tabletop" || p.Areas[0].Kind != geom.AreaSurface || p.TestObjects[0].Height != 0.03 {
		t.Errorf("plan read as %+v", p)
	}
	want := geom.Robot{Name: "wren_b", Diameter: 0.34, DiameterTol: 0.001, Height: 0.095,
		Tools:       []geom.Tool{{Name: "brush", Width: 0.18, Ahead: 0.02, WidthTol: 0.002}, {Name: "pad", Width: 0.24, Ahead: -0.10, Left: 0.001}},
		SideBrushes: []geom.SideBrush{{Ahead: 0.11, Left: -0.10, Reach: 0.08}},
		Marker:      &geom.Marker{Dictionary: "4x4_50", ID: 7, Side: 0.08, Height: 0.1}}
	if d := cmp.Diff(want, l.Robots["wren_b"].Robot); d != "" {
		t.Errorf("robot (-want +got):\n%s", d)
	}
	if d := cmp.Diff(map[string]float64{"diameter": 0.001, "tools.brush.width": 0.002}, l.Robots["wren_b"].Tolerances); d != "" {
		t.Errorf("tolerances (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]string{"wren_b", "plover"}, l.RobotNames); d != "" {
		t.Errorf("order of robots (-want +got):\n%s", d)
	}
	if o := l.Settings.Coverage; o.Cell != 0.01 || math.Abs(geom.Degrees(o.FollowAngle)-12) > 1e-12 {
		t.Errorf("settings read as cell %g, follow angle %g", o.Cell, o.FollowAngle)
	}
	if s, err := l.Solve("ceiling", nil); err != nil || s.MarkRMSPx > 1 {
		t.Errorf("camera not solved: %v %+v", err, s)
	}
}

// setup.yaml is a lab.yaml in itself that says the same.
func TestSetupReadsBack(t *testing.T) {
	l := openGood(t)
	for _, robot := range l.RobotNames {
		setup := l.Setup("cluttered", robot, "")
		again, err := Open(labDir(t, string(setup)))
		if err != nil {
			t.Fatalf("setup.yaml of %s does not open: %v\n%s", robot, err, setup)
		}
		if d := cmp.Diff(string(setup), string(again.Setup("cluttered", robot, ""))); d != "" {
			t.Errorf("read back and written again (-before +after):\n%s", d)
		}
		if d := cmp.Diff(l.Robots[robot], again.Robots[robot]); d != "" {
			t.Errorf("robot %s (-before +after):\n%s", robot, d)
		}
	}
}

// The hash follows what matters to a run and nothing else.
func TestSetupHash(t *testing.T) {
	base := openGood(t).SetupHash("cluttered", "wren_b", "")
	for _, c := range []struct {
		name, old, new string
		same           bool
	}{
		{"comment", "# a lab that uses every key", "# another comment", true},
		{"number spelt otherwise", "height: 2.7", "height: 2.70", true},
		{"another robot", "tools: {brush: {width: 0.2}}", "tools: {brush: {width: 0.21}}", true},
		{"mark moved", "240.98", "240.99", false},
		{"camera height", "height: 2.7", "height: 2.71", false},
		{"obstacle moved", "[0.9, 1.8]", "[0.91, 1.8]", false},
		{"tool width", "value: 0.18", "value: 0.181", false},
		{"tolerance", "tolerance: 0.002", "tolerance: 0.003", false},
		{"cell", "cell: 0.01", "cell: auto", false},
	} {
		text := goodLab(t)
		if !strings.Contains(text, c.old) {
			t.Fatalf("%s: %q is not in the lab", c.name, c.old)
		}
		l, err := Open(labDir(t, strings.Replace(text, c.old, c.new, 1)))
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		if same := l.SetupHash("cluttered", "wren_b", "") == base; same != c.same {
			t.Errorf("%s: set-up counts as the same: %v, want %v", c.name, same, c.same)
		}
	}
}

func TestRobotFiles(t *testing.T) {
	text := goodLab(t)
	i, j := strings.Index(text, "robots:"), strings.Index(text, "settings:")
	dir := labDir(t, text[:i]+text[j:])
	if _, err := Open(dir); err == nil || !strings.Contains(err.Error(), "no robot is described") {
		t.Errorf("a lab without robots: %v", err)
	}
	robots := filepath.Join(dir, "robots")
	if err := os.Mkdir(robots, 0o755); err != nil {
		t.Fatal(err)
	}
	write := func(name, text string) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(robots, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("finch.yaml", "diameter: 0.3\nheight: 0.1\nshoulder: 0.08\ntools: {brush: {width: 0.2}}\n")
	write(".finch.yaml.swp", "not yaml: [")
	l, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	if r := l.Robots["finch"]; r == nil || r.Diameter != 0.3 || r.OutlineHeight() != 0.08 {
		t.Errorf("robot of a file of its own read as %+v", r)
	}
	write("dunnock.yaml", "diameter: 0.3\nheigth: 0.1\ntools: {brush: {width: 0.2}}\n")
	_, err = Open(dir)
	var p *Problems
	if !errors.As(err, &p) || p.List[0].Where() != "robots/dunnock.yaml:2" || !strings.Contains(p.List[0].Message, `Did you mean "height"?`) {
		t.Errorf("a slip in a robot's file: %v", err)
	}
}

func TestOpenWithoutFiles(t *testing.T) {
	dir := t.TempDir()
	for name, c := range map[string]struct{ dir, want string }{
		"no folder":   {filepath.Join(dir, "nowhere"), "there is no folder"},
		"no lab.yaml": {dir, "there is no lab.yaml"},
		"a file":      {"open_test.go", "is not a folder"},
	} {
		if _, err := Open(c.dir); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}
