package overlay

import (
	"math"
	"testing"

	"swathe/geom"
	"swathe/report"
	"swathe/track/film"
)

func testCamera(t *testing.T) (*geom.Camera, *geom.Plan) {
	t.Helper()
	plan, err := geom.NewPlan("one", []geom.Point2{{X: 0, Y: 0}, {X: 3, Y: 0}, {X: 3, Y: 2}, {X: 0, Y: 2}}, nil, nil, nil, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	// 100 px a metre of floor; the room spans columns 340..640, rows 160..360.
	return geom.NewCamera(1280, 720, geom.Lens{Fx: 250, Fy: 250, Cx: 640, Cy: 360}, [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, geom.Point3{X: 3, Y: 0, Z: 2.5}), plan
}

func TestCropHoldsTheRoom(t *testing.T) {
	cam, plan := testCamera(t)
	for _, c := range []struct {
		aspect float64
		want   [4]int
	}{
		{16.0 / 9, [4]int{0, 0, 1280, 720}},
		{9.0 / 16, [4]int{288, 0, 405, 720}},    // room in the middle: columns 288..693
		{1.0 / 4, [4]int{331, 0, 318, 720}},     // as wide as the room and its margin, no less
		{8, [4]int{0, 154, 1280, 212}},          // as high as the room and its margin
		{2.6, [4]int{0, 260 - 246, 1280, 492}},  // its middle at row 260
		{1280.0 / 700, [4]int{0, 0, 1280, 700}}, // no further up than the frame
	} {
		got := crop(cam, plan, c.aspect)
		for i := range got {
			if d := got[i] - c.want[i]; d < -1 || d > 1 {
				t.Errorf("aspect %.3f: %v, want %v", c.aspect, got, c.want)
				break
			}
		}
	}
}

func TestFilmSizeAndRate(t *testing.T) {
	cam, plan := testCamera(t)
	one := []film.Pane{{Camera: *cam, Plan: *plan}}
	two := append(one, one...)[:2]
	for _, c := range []struct {
		panes []film.Pane
		o     FilmOptions
		w, h  int
	}{
		{one, FilmOptions{}, 1280, 720}, {one, FilmOptions{Aspect: "9:16"}, 404, 720}, {one, FilmOptions{Width: 640, Height: 480}, 640, 480},
		{two, FilmOptions{}, 1280, 360}, {two, FilmOptions{Aspect: "16:9"}, 1280, 720},
	} {
		if w, h := size(c.panes, c.o); w != c.w || h != c.h {
			t.Errorf("%d panes, %q: %d x %d, want %d x %d", len(c.panes), c.o.Aspect, w, h, c.w, c.h)
		}
	}
	for own, want := range map[float64]float64{30: 30, 29.97: 30000.0 / 1001, 15: 15, 12: 12, 10: 10, 12.5: 12.5, 25: 25, 60: 60, 24: 24} {
		r := &report.Run{}
		r.Recording.Frames, r.Recording.DurationS, r.Recording.FrameSize = int(math.Round(own*100)), 100, []int{960, 540}
		if got := rate(r); math.Abs(got-want) > 1e-9 {
			t.Errorf("a recording at %g: a film at %g, want %g", own, got, want)
		}
	}
}

func TestFilmOptionsRefuse(t *testing.T) {
	if err := DefaultFilmOptions().Validate(); err != nil {
		t.Fatal(err)
	}
	for i, spoil := range []func(*FilmOptions){
		func(o *FilmOptions) { o.FPS = 0.5 }, func(o *FilmOptions) { o.FPS = math.NaN() }, func(o *FilmOptions) { o.Speed = 0 }, func(o *FilmOptions) { o.Aspect = "4:3" },
		func(o *FilmOptions) { o.Width = 640 }, func(o *FilmOptions) { o.From, o.To = 5, 5 }, func(o *FilmOptions) { o.Tail = math.NaN() },
	} {
		o := DefaultFilmOptions()
		spoil(&o)
		if o.Validate() == nil {
			t.Errorf("options %d were accepted", i)
		}
	}
}
