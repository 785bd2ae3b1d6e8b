package lab

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"swathe/geom"
	"swathe/track"
)

// boardLab writes a lab whose camera, 2.5 m up and looking straight down, has
// a board; its marks are where the given lens shows them.
func boardLab(t *testing.T, lens geom.Lens) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.MkdirAll(filepath.Join(dir, "boards"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "boards", "one.jpg"), []byte("x"), 0o644); err != nil {
		t.Fatal(err)
	}
	cam := geom.NewCamera(640, 480, lens, [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, geom.Point3{X: 1, Y: 1, Z: 2.5})
	marks := ""
	for _, f := range []geom.Point2{{X: 0.1, Y: 0.2}, {X: 1.9, Y: 0.1}, {X: 1.8, Y: 1.9}, {X: 0.2, Y: 1.8}, {X: 1, Y: 1}, {X: 0.6, Y: 1.4}} {
		p, ok := cam.Project(geom.Point3{X: f.X, Y: f.Y})
		if !ok {
			t.Fatalf("%v does not show", f)
		}
		marks += fmt.Sprintf("      - {floor: [%g, %g], pixel: [%.3f, %.3f]}\n", f.X, f.Y, p.X, p.Y)
	}
	text := `cameras:
  ceiling:
    frame: [640, 480]
    height: 2.5
    board: {pictures: boards/*.jpg, columns: 9, rows: 6, square: 0.025}
    marks:
` + marks + `layouts:
  one: {camera: ceiling, room: [[0, 0], [2, 0], [2, 2], [0, 2]]}
robots:
  linden: {diameter: 0.34, height: 0.095, tools: {brush: {width: 0.18}}}
`
	if err := os.WriteFile(filepath.Join(dir, SetupFile), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return dir
}

// A lens from a board is used as it is, and named among what was solved.
func TestBoardGivesTheLens(t *testing.T) {
	lens := geom.Lens{Model: geom.Brown, Fx: 536, Fy: 536, Cx: 342, Cy: 236, Dist: [5]float64{-0.26, -0.04, 0.002, 0, 0.2}}
	l, err := Open(boardLab(t, lens))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := l.Solve("ceiling", nil); err == nil {
		t.Error("a camera with a board was solved without a look at it")
	}
	sigma := 0.8
	asked := 0
	look := func(spec geom.CameraSpec) (*track.BoardReply, error) {
		asked++
		if len(spec.Board.Pictures) != 1 || spec.Board.Columns != 9 || spec.Board.Square != 0.025 {
			t.Errorf("asked about %+v", spec.Board)
		}
		return &track.BoardReply{Lens: lens, RMS: 0.2, Used: 1, Square: true, Sigma: []*float64{&sigma, &sigma, nil, nil},
			Pictures: make([]track.BoardPicture, 3), Warnings: []string{"two.jpg was not used: no board in it"}}, nil
	}
	s, err := l.Solve("ceiling", look)
	if err != nil {
		t.Fatal(err)
	}
	if s.Camera.Lens != lens {
		t.Errorf("the lens is %+v, want the board's", s.Camera.Lens)
	}
	all := strings.Join(s.Solved, "\n")
	if !strings.Contains(all, "from the board in 1 of 3 pictures: focal length 536.0 +- 0.8 px") {
		t.Errorf("solved: %s", all)
	}
	if strings.Contains(strings.Join(s.NotSolved, "\n"), "lens") {
		t.Errorf("not solved: %q", s.NotSolved)
	}
	if w := strings.Join(s.Warnings, "\n"); !strings.Contains(w, "board: two.jpg was not used") {
		t.Errorf("warnings: %q", w)
	}
	if d := s.Camera.Centre.Z; d < 2.49 || d > 2.51 {
		t.Errorf("the lens is %g m up, want 2.5", d)
	}
	if _, err := l.Solve("ceiling", look); err != nil || asked != 1 {
		t.Errorf("asked %d times (%v)", asked, err)
	}
}

// A board that gives no lens is a problem of lab.yaml, at its line.
func TestBoardWithoutLens(t *testing.T) {
	l, err := Open(boardLab(t, geom.Lens{Model: geom.Brown, Fx: 536, Fy: 536, Cx: 342, Cy: 236}))
	if err != nil {
		t.Fatal(err)
	}
	_, err = l.Solve("ceiling", func(geom.CameraSpec) (*track.BoardReply, error) {
		return nil, errors.New("the board was found in 0 of 1 pictures")
	})
	var p *Problems
	if !errors.As(err, &p) || len(p.List) != 1 || p.List[0].Line == 0 || !strings.Contains(p.List[0].Message, "board was found in 0 of 1") {
		t.Errorf("got %v", err)
	}
}
