//go:build cgo && customenv

package cv

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gocv.io/x/gocv"

	"swathe/geom"
	"swathe/track"
)

// samples is where Debian's package opencv-doc puts OpenCV's sample pictures.
const samples = "/usr/share/doc/opencv-doc/examples/data"

// leftLens is the lens of left01..left14 as OpenCV publishes it, samples/data/
// left_intrinsics.yml (aspect ratio fixed at 1; average reprojection error
// 0.3926 px), shipped in Debian's package opencv-doc.
var leftLens = geom.Lens{Model: geom.Brown, Fx: 535.91573396163199, Fy: 535.91573396163199, Cx: 342.28315473308373, Cy: 235.57082909788173,
	Dist: [5]float64{-0.26637260909660682, -0.038588898922304653, 0.0017831947042852964, -0.00028122100441115472, 0.23839153080878486}}

func samplePictures(t *testing.T, pattern string) []string {
	t.Helper()
	p, _ := filepath.Glob(filepath.Join(samples, pattern))
	if len(p) == 0 {
		if os.Getenv("SWATHE_EYE") != "" { // the whole test command: they must be there
			t.Fatalf("no %s under %s: install opencv-doc", pattern, samples)
		}
		t.Skipf("no %s under %s: install opencv-doc", pattern, samples)
	}
	return p
}

// left0*.jpg and left1*.jpg leaves out left.jpg, which is another picture.
func leftRequest(t *testing.T) track.BoardRequest {
	p := append(samplePictures(t, "left0*.jpg"), samplePictures(t, "left1*.jpg")...)
	return track.BoardRequest{Pictures: p, Columns: 9, Rows: 6, Square: 0.025, Width: 640, Height: 480}
}

func TestBoardPublishedIntrinsics(t *testing.T) {
	r, err := Board(leftRequest(t), DefaultBoardOptions())
	if err != nil || r.Fail != "" {
		t.Fatal(err, r.Fail)
	}
	if r.Used != 13 || !r.Square {
		t.Errorf("used %d pictures (square pixels: %v), want 13 (true)", r.Used, r.Square)
	}
	for _, c := range []struct {
		name      string
		got, want float64
	}{{"fx", r.Lens.Fx, leftLens.Fx}, {"fy", r.Lens.Fy, leftLens.Fy}, {"cx", r.Lens.Cx, leftLens.Cx}, {"cy", r.Lens.Cy, leftLens.Cy}} {
		t.Logf("%s %.3f px, published %.3f", c.name, c.got, c.want)
		if !(math.Abs(c.got-c.want) <= 0.3) {
			t.Errorf("%s is %.3f px, published %.3f: more than 0.3 px apart", c.name, c.got, c.want)
		}
	}
	t.Logf("distortion %.5f, published %.5f; rms %.4f px, published 0.3926", r.Lens.Dist, leftLens.Dist, r.RMS)
	if math.Abs(r.RMS-0.39259) > 0.02 {
		t.Errorf("the residual is %.4f px, published 0.3926", r.RMS)
	}
	// k2 and k3 trade off, so the lenses are compared by what they do: the
	// angle of the ray through every 20th pixel, in pixels at the centre.
	// Where no board was held both lenses are a guess, so only within the
	// farthest corner used.
	worst, mid := 0.0, geom.Point2{X: 319.5, Y: 239.5}
	for v := 0.0; v < 480; v += 20 {
		for u := 0.0; u < 640; u += 20 {
			if (geom.Point2{X: u, Y: v}).Dist(mid) > r.Reach*400 {
				continue
			}
			a, b, ok := r.Lens.Undistort(geom.Point2{X: u, Y: v})
			c, d, ok2 := leftLens.Undistort(geom.Point2{X: u, Y: v})
			if !ok || !ok2 {
				t.Fatalf("pixel (%g, %g) shows no ray", u, v)
			}
			worst = math.Max(worst, leftLens.Fx*math.Hypot(a-c, b-d))
		}
	}
	t.Logf("undistorted points differ by at most %.3f px within %.2f half diagonals", worst, r.Reach)
	if worst > 0.5 {
		t.Errorf("undistorted points differ by up to %.3f px, more than 0.5", worst)
	}
	for i, s := range r.Sigma[:4] {
		if s == nil || !(*s > 0.05 && *s < 10) {
			t.Errorf("standard uncertainty %d is %v", i, s)
		}
	}
	for _, p := range r.Pictures {
		if p.RMS == nil {
			t.Errorf("%s has no residual", p.File)
		}
	}
}

// The window decides the focal length: OpenCV's pictures at window 5 give
// another one at a lower residual, which is why the window is stated.
func TestBoardWindow(t *testing.T) {
	o := DefaultBoardOptions()
	o.Window = 5
	r, err := Board(leftRequest(t), o)
	if err != nil || r.Fail != "" {
		t.Fatal(err, r.Fail)
	}
	t.Logf("window 5: f %.3f px, rms %.3f px", r.Lens.Fx, r.RMS)
	if math.Abs(r.Lens.Fx-532.8) > 0.3 || r.RMS > 0.35 {
		t.Errorf("at window 5 f is %.2f px and rms %.3f px, want 532.8 and less than at window 11", r.Lens.Fx, r.RMS)
	}
}

func TestBoardNamesWhatItCannotUse(t *testing.T) {
	q := leftRequest(t)
	dir := t.TempDir()
	write := func(name string, b []byte) string {
		f := filepath.Join(dir, name)
		if err := os.WriteFile(f, b, 0o644); err != nil {
			t.Fatal(err)
		}
		return f
	}
	jpg, err := os.ReadFile(q.Pictures[0])
	if err != nil {
		t.Fatal(err)
	}
	plain := gocv.NewMatWithSizeFromScalar(gocv.NewScalar(90, 0, 0, 0), 480, 640, gocv.MatTypeCV8UC1)
	defer plain.Close()
	small := gocv.NewMatWithSizeFromScalar(gocv.NewScalar(90, 0, 0, 0), 2, 3, gocv.MatTypeCV8UC1)
	defer small.Close()
	gocv.IMWrite(filepath.Join(dir, "plain.png"), plain)
	gocv.IMWrite(filepath.Join(dir, "small.png"), small)
	bad := map[string]string{
		filepath.Join(dir, "absent.jpg"):              "cannot be opened",
		write("empty.jpg", nil):                       "empty",
		write("text.jpg", []byte("no picture")):       "not a picture",
		write("head.jpg", jpg[:200]):                  "not a picture",
		filepath.Join(dir, "plain.png"):               "no board",
		filepath.Join(dir, "small.png"):               "3 x 2 px",
		dir:                                           "folder",
		write("half.jpg", jpg[:len(jpg)/3]):           "no board",
		filepath.Join(samples, "chicky_512.png"):      "512 x 512",
		filepath.Join(dir, "a", "deeper", "none.png"): "cannot be opened",
	}
	for f := range bad {
		q.Pictures = append(q.Pictures, f)
	}
	r, err := Board(q, DefaultBoardOptions())
	if err != nil || r.Fail != "" {
		t.Fatal(err, r.Fail)
	}
	if r.Used != 13 || len(r.Pictures) != 13+len(bad) {
		t.Errorf("used %d of %d pictures", r.Used, len(r.Pictures))
	}
	for _, p := range r.Pictures[13:] {
		if p.Found || p.RMS != nil || !strings.Contains(p.Why, bad[p.File]) {
			t.Errorf("%s: %q, want something about %q", filepath.Base(p.File), p.Why, bad[p.File])
		}
	}
	if len(r.Warnings) < len(bad) {
		t.Errorf("only %d warnings", len(r.Warnings))
	}
	// Too few: a reply with a reason.
	q.Pictures = q.Pictures[11:]
	r, err = Board(q, DefaultBoardOptions())
	if err != nil || !strings.Contains(r.Fail, "in 2 of 12 pictures") {
		t.Errorf("two boards: %v, %q", err, r.Fail)
	}
	for _, wrong := range []track.BoardRequest{{Columns: 2, Rows: 6, Square: 1}, {Columns: 9, Rows: 6}, {Columns: 9, Rows: 6, Square: 1, Model: "other"}} {
		if _, err := Board(wrong, DefaultBoardOptions()); err == nil {
			t.Errorf("%+v was accepted", wrong)
		}
	}
}

// A board drawn through a known lens gives that lens back: both models, small
// and large pictures.
func TestBoardDrawn(t *testing.T) {
	for _, c := range []struct {
		name string
		w, h int
		side float64 // m, how far to the side the board is held
		lens geom.Lens
	}{
		{"brown", 800, 450, 0.16, geom.Lens{Model: geom.Brown, Fx: 500, Fy: 500, Cx: 405, Cy: 220, Dist: [5]float64{-0.25, 0.06, 0.0005, -0.0008, 0}}},
		{"oblong pixels", 640, 480, 0.12, geom.Lens{Model: geom.Brown, Fx: 430, Fy: 470, Cx: 320, Cy: 240}},
		{"fisheye", 640, 480, 0.3, geom.Lens{Model: geom.Fisheye, Fx: 260, Fy: 260, Cx: 325, Cy: 233, Dist: [5]float64{0.02, -0.01, 0.003, -0.0005}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			q := track.BoardRequest{Columns: 9, Rows: 6, Square: 0.04, Width: c.w, Height: c.h, Model: c.lens.Model}
			dir := t.TempDir()
			tilts := [][2]float64{{0, 0}, {0.5, 0}, {-0.5, 0.1}, {0.1, 0.5}, {0, -0.5}, {0.3, 0.3}, {-0.35, 0.3}, {0.3, -0.35}, {0.45, 0.2}}
			rays := raysOf(c.w, c.h, c.lens)
			for i, a := range tilts {
				f := filepath.Join(dir, string(rune('a'+i))+".png")
				off := geom.Point2{X: c.side * float64(i%3-1), Y: 0.5 * c.side * float64(i/3-1)}
				drawBoard(t, f, rays, a, off, q)
				q.Pictures = append(q.Pictures, f)
			}
			r, err := Board(q, DefaultBoardOptions())
			if err != nil || r.Fail != "" {
				t.Fatal(err, r.Fail)
			}
			worst := 0.0
			for v := 0.25; v <= 0.75; v += 0.05 {
				for u := 0.25; u <= 0.75; u += 0.05 {
					p := geom.Point2{X: u * float64(c.w), Y: v * float64(c.h)}
					x, y, ok := r.Lens.Undistort(p)
					if !ok {
						t.Fatalf("no ray at %v", p)
					}
					worst = math.Max(worst, c.lens.Distort(x, y).Dist(p))
				}
			}
			t.Logf("used %d, f %.2f %.2f, c %.2f %.2f, k %.4f, rms %.3f px, worst over the middle %.2f px", r.Used, r.Lens.Fx, r.Lens.Fy, r.Lens.Cx, r.Lens.Cy, r.Lens.Dist, r.RMS, worst)
			if r.Used < len(tilts)-2 || worst > 1.5 || math.Abs(r.Lens.Fx/c.lens.Fx-1) > 0.005 || math.Abs(r.Lens.Fy/c.lens.Fy-1) > 0.005 {
				t.Errorf("used %d pictures; the lens is off by %.2f px", r.Used, worst)
			}
		})
	}
}

// raysOf is the ray through four places of each pixel, of a camera that looks
// along z; a ray outside the lens's field is NaN.
func raysOf(w, h int, lens geom.Lens) [][4]geom.Point2 {
	cam := geom.NewCamera(w, h, lens, [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, geom.Point3{})
	out := make([][4]geom.Point2, w*h)
	for i := range out {
		for k := range out[i] {
			p := geom.Point2{X: float64(i%w) + float64(k%2)/2 - 0.25, Y: float64(i/w) + float64(k/2)/2 - 0.25}
			var ok bool
			if out[i][k], ok = cam.Floor(p, 1); !ok {
				out[i][k].X = math.NaN()
			}
		}
	}
	return out
}

// drawBoard draws a board tilted about its own axes, seen from 0.5 m.
func drawBoard(t *testing.T, file string, rays [][4]geom.Point2, tilt [2]float64, off geom.Point2, q track.BoardRequest) {
	t.Helper()
	sx, cx := math.Sincos(tilt[0])
	sy, cy := math.Sincos(tilt[1])
	// Columns of the board's frame in the camera's: x, y, normal.
	ex := [3]float64{cy, sx * sy, -cx * sy}
	ey := [3]float64{0, cx, sx}
	n := [3]float64{sy, -sx * cy, cx * cy}
	o := [3]float64{off.X, off.Y, 0.5}
	w, h := q.Width, q.Height
	m := gocv.NewMatWithSize(h, w, gocv.MatTypeCV8UC1)
	defer m.Close()
	pix, err := m.DataPtrUint8()
	if err != nil {
		t.Fatal(err)
	}
	dot := func(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
	wide, high := float64(q.Columns+1)*q.Square, float64(q.Rows+1)*q.Square
	for i := range rays {
		sum := 0.0
		for _, p := range rays[i] {
			d := [3]float64{p.X, p.Y, 1}
			k := dot(n, o) / dot(n, d)
			r := [3]float64{k*d[0] - o[0], k*d[1] - o[1], k*d[2] - o[2]}
			a, b := dot(r, ex)+wide/2, dot(r, ey)+high/2
			switch {
			case !(a >= -q.Square/2 && b >= -q.Square/2 && a <= wide+q.Square/2 && b <= high+q.Square/2):
				sum += 80 // beside the board, or no ray
			case a < 0 || b < 0 || a > wide || b > high:
				sum += 220
			case (int(a/q.Square)+int(b/q.Square))%2 == 0:
				sum += 30
			default:
				sum += 220
			}
		}
		pix[i] = uint8(sum/4 + 0.5)
	}
	if !gocv.IMWrite(file, m) {
		t.Fatal("the board cannot be written")
	}
}
