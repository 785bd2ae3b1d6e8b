package overlay

import (
	"math"
	"testing"

	"swathe/cmd/internal/work"
	"swathe/geom"
	"swathe/report/figure"
	"swathe/track"
	"swathe/track/film"
)

func testCamera(t *testing.T) (*geom.Camera, *geom.Plan) {
	t.Helper()
	plan, err := geom.NewPlan(geom.PlanSpec{Name: "one", Room: []geom.Point2{{X: 0, Y: 0}, {X: 3, Y: 0}, {X: 3, Y: 2}, {X: 0, Y: 2}}})
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
		{one, FilmOptions{}, 1280, 720}, {one, FilmOptions{Aspect: "9:16"}, 1080, 1920}, {one, FilmOptions{Width: 640, Height: 480}, 640, 480},
		{two, FilmOptions{}, 1920, 1080}, {two, FilmOptions{Width: 1920, Height: 540}, 1920, 540},
	} {
		if w, h := size(c.panes, c.o); w != c.w || h != c.h {
			t.Errorf("%d panes, %q: %d x %d, want %d x %d", len(c.panes), c.o.Aspect, w, h, c.w, c.h)
		}
	}
}

// In films of several panels everything has its place: nothing lies over another, all
// of the room shows, the pictures take what the words leave, and two runs' clocks stand
// on one line.
func TestPanelsAreStacked(t *testing.T) {
	cam, plan := testCamera(t)
	one := film.Pane{Camera: *cam, Plan: *plan}
	for _, c := range []struct {
		panes []film.Pane
		o     FilmOptions
		room  float64 // least share of a pane's width or height that the room takes
	}{
		{[]film.Pane{one}, FilmOptions{Aspect: "9:16"}, 0.9},
		{[]film.Pane{one, one}, FilmOptions{}, 0.9},
		{[]film.Pane{one, one}, FilmOptions{Width: 1920, Height: 540}, 0.65},
	} {
		s := film.Spec{Panes: c.panes}
		s.Width, s.Height = size(s.Panes, c.o)
		arrange(&s, c.o)
		boxes := [][4]int{s.Legend}
		for _, p := range s.Panes {
			boxes = append(boxes, p.At, p.Panel)
			if got, want := aspect(p.At), float64(p.Crop[2])/float64(p.Crop[3]); math.Abs(got/want-1) > 0.01 {
				t.Errorf("%d x %d: a picture of %.3f is shown as %.3f", s.Width, s.Height, want, got)
			}
			lo, hi, _ := roomBox(cam, plan)
			if p.Crop[0] > int(lo.X)+1 || p.Crop[1] > int(lo.Y)+1 || p.Crop[0]+p.Crop[2] < int(hi.X) || p.Crop[1]+p.Crop[3] < int(hi.Y) {
				t.Errorf("%d x %d: the part %v cuts the room %v %v", s.Width, s.Height, p.Crop, lo, hi)
			}
			k := float64(p.At[2]) / float64(p.Crop[2])
			wide, high := (hi.X-lo.X)*k/float64(s.Width/len(s.Panes)), (hi.Y-lo.Y)*k/float64(s.Height)
			if math.Max(wide, high) < c.room {
				t.Errorf("%d x %d: the room takes %.2f of the width and %.2f of the height; want %.2f of one", s.Width, s.Height, wide, high, c.room)
			}
			if p.Panel[1] != s.Panes[0].Panel[1] {
				t.Errorf("%d x %d: the panels begin at rows %d and %d", s.Width, s.Height, s.Panes[0].Panel[1], p.Panel[1])
			}
		}
		for i, a := range boxes {
			if a[0] < 0 || a[1] < 0 || a[2] < 1 || a[3] < 1 || a[0]+a[2] > s.Width || a[1]+a[3] > s.Height {
				t.Errorf("%d x %d: box %v lies outside", s.Width, s.Height, a)
			}
			for _, b := range boxes[:i] {
				if a[0] < b[0]+b[2] && b[0] < a[0]+a[2] && a[1] < b[1]+b[3] && b[1] < a[1]+a[3] {
					t.Errorf("%d x %d: %v lies over %v", s.Width, s.Height, a, b)
				}
			}
		}
	}
}

// Handles go as far as the recording does, and a film of its rate begins and ends on
// frames; a layer is as long as its recording.
func TestSpanAndHandles(t *testing.T) {
	tr := &geom.Trace{}
	tr.Run.From, tr.Run.To = 2.01, 12
	k := &work.Kept{Figure: figure.Run{Trace: tr}}
	for _, c := range []struct {
		o              FilmOptions
		from, to       float64
		before, behind float64
	}{
		{FilmOptions{}, 2, 12, 0.01, 0},
		{FilmOptions{Handles: 1}, 1, 13, 1.01, 1},
		{FilmOptions{Handles: 5}, 0, 14.9, 2.01, 2.9},
		{FilmOptions{Layer: "path"}, 0, 14.9, 0, 0},
	} {
		c.o.Speed = 1
		if c.o.From == 0 && c.o.To == 0 {
			c.o.From, c.o.To = math.NaN(), math.NaN()
		}
		x := take{k: k, rate: 10, end: 14.9}
		x.span(c.o, 10)
		if math.Abs(x.from-c.from)+math.Abs(x.to-c.to)+math.Abs(x.handles[0]-c.before)+math.Abs(x.handles[1]-c.behind) > 1e-9 {
			t.Errorf("%+v: %g to %g, handles %v; want %g to %g, %g and %g", c.o, x.from, x.to, x.handles, c.from, c.to, c.before, c.behind)
		}
	}
}

// A source's time code is carried to the film's first frame, over dropped numbers too.
func TestTimecodeIsCarriedOver(t *testing.T) {
	for _, c := range []struct {
		code string
		rate float64
		at   float64
		want string
	}{
		{"01:00:00:00", 25, 3, "01:00:03:00"},
		{"00:59:59:20", 25, 1, "01:00:00:20"},
		{"00:00:59;28", 30000.0 / 1001, 4 * 1001.0 / 30000, "00:01:00;04"},
		{"", 25, 3, ""},
	} {
		x := take{rate: c.rate, paces: []track.Pace{{Timecode: c.code}}}
		if got := x.codeAt(c.at); got != c.want {
			t.Errorf("%s and %g s at %g: %s, want %s", c.code, c.at, c.rate, got, c.want)
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
		func(o *FilmOptions) { o.Handles = -1 }, func(o *FilmOptions) { o.Layer = "paths" }, func(o *FilmOptions) { o.Layer, o.Kind = "path", "h264" },
	} {
		o := DefaultFilmOptions()
		spoil(&o)
		if o.Validate() == nil {
			t.Errorf("options %d were accepted", i)
		}
	}
}
