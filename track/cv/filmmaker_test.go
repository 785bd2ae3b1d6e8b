//go:build cgo && customenv

package cv

import (
	"image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"swathe/geom"
	"swathe/track/film"
)

// filmSpec is a film of clockFilm's recording: a lens straight above a floor of
// 3.2 x 2.4 m, a pixel a centimetre, of which the left half gets clean at 1 s.
func filmSpec(t *testing.T) film.Spec {
	t.Helper()
	dir := t.TempDir()
	file := filepath.Join(dir, "a.mp4")
	clockFilm(t, file, 60, 0)
	plan, err := geom.NewPlan(geom.PlanSpec{Name: "one", Room: []geom.Point2{{X: 0, Y: 0}, {X: 3.2, Y: 0}, {X: 3.2, Y: 2.4}, {X: 0, Y: 2.4}}})
	if err != nil {
		t.Fatal(err)
	}
	cam := geom.NewCamera(320, 240, geom.Lens{Model: geom.Brown, Fx: 250, Fy: 250, Cx: 159.5, Cy: 119.5}, [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, geom.Point3{X: 1.6, Y: 1.2, Z: 2.5})
	p := film.Pane{Files: []string{file}, Camera: *cam, Plan: *plan, Robot: geom.Robot{Diameter: 0.3, Height: 0.1, Tools: []geom.Tool{{Width: 0.2}}},
		Crop: [4]int{0, 0, 320, 240}, Cell: 0.1, Nx: 32, Ny: 24, Log: filepath.Join(dir, "log"), Title: "linden"}
	var log []film.Pass
	for k := 0; k < p.Nx*p.Ny; k++ {
		if k%p.Nx < 16 {
			log = append(log, film.Pass{Cell: int32(k), T: 1})
		}
	}
	if err := film.WriteLog(p.Log, log); err != nil {
		t.Fatal(err)
	}
	return film.Spec{Out: filepath.Join(dir, "film.mp4"), Width: 320, Height: 240, FPS: 30, Speed: 1, Length: 2, Panes: []film.Pane{p}}
}

// read returns the frames of a film, each 40th pixel of a row below the words.
func filmRow(t *testing.T, file string) (rows [][]uint8, info Info) {
	t.Helper()
	r, err := Open(file, 1)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	info = r.Info()
	bgr := make([]byte, info.Width*info.Height*3)
	for {
		f, err := r.Next()
		if err != nil {
			t.Fatal(err)
		}
		if f == nil {
			return rows, info
		}
		if err := f.BGR(bgr); err != nil {
			t.Fatal(err)
		}
		f.Free()
		var row []uint8
		for x := 20; x < info.Width; x += 40 {
			row = append(row, bgr[3*(info.Height*2/3*info.Width+x)]) // blue
		}
		rows = append(rows, row)
	}
}

func TestFilm(t *testing.T) {
	spec := filmSpec(t)
	told := 0
	files, _, err := Film(spec, func(done, total int) { told = done })
	if err != nil {
		t.Fatal(err)
	}
	rows, info := filmRow(t, spec.Out)
	if len(files) != 1 || len(rows) != 61 || told != 61 || info.Codec != "h264" || info.Width != 320 {
		t.Fatalf("%v: %d frames, %d told, %+v", files, len(rows), told, info)
	}
	// Painted on the left from 1 s on, never on the right.
	for k, row := range rows {
		for i, v := range row {
			painted := v > 100
			if want := k >= 30 && i < 4; painted != want {
				t.Fatalf("frame %d, column %d: %d, painted should be %v", k, 20+40*i, v, want)
			}
		}
	}
	// Ten times as fast, cut to its left half and made larger; two side by side.
	spec.Speed, spec.Width, spec.Height = 10, 640, 480
	spec.Panes[0].Crop = [4]int{0, 0, 160, 240}
	spec.Panes = append(spec.Panes, spec.Panes[0])
	spec.Panes[1].Crop = [4]int{160, 0, 160, 240}
	if _, _, err := Film(spec, nil); err != nil {
		t.Fatal(err)
	}
	rows, _ = filmRow(t, spec.Out)
	if len(rows) != 7 {
		t.Fatalf("%d frames, want 7", len(rows))
	}
	for i, v := range rows[6] {
		if painted := v > 100; painted != (i < 8) {
			t.Errorf("side by side, column %d: %d", 20+40*i, v)
		}
	}
}

func TestFilmAloneAndStill(t *testing.T) {
	spec := filmSpec(t)
	dir := filepath.Dir(spec.Out)
	spec.Out, spec.Overlay, spec.FPS = filepath.Join(dir, "pictures"), true, 5
	files, _, err := Film(spec, nil)
	if err != nil || len(files) != 11 {
		t.Fatal(files, err)
	}
	at := func(file string, x, y int) (r, a uint32) {
		f, err := os.Open(file)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		img, err := png.Decode(f)
		if err != nil {
			t.Fatal(err)
		}
		r, _, _, a = img.At(x, y).RGBA()
		return r >> 8, a >> 8
	}
	if _, a := at(files[0], 60, 160); a != 0 {
		t.Error("painted before it was clean")
	}
	if _, a := at(files[10], 60, 160); a != uint32(film.Colours[0][3]) {
		t.Errorf("cleaned floor covers %d, want %d", a, film.Colours[0][3])
	}
	if _, a := at(files[10], 240, 160); a != 0 {
		t.Error("floor that was not cleaned is not see-through")
	}
	spec = filmSpec(t)
	spec.Still, spec.Out = true, filepath.Join(dir, "still.png")
	spec.Panes[0].From = 1.5
	if _, _, err := Film(spec, nil); err != nil {
		t.Fatal(err)
	}
	if r, a := at(spec.Out, 60, 160); a != 255 || r < 80 {
		t.Errorf("the still shows %d, %d", r, a)
	}
}

// A film that fails leaves no file behind.
func TestFilmFails(t *testing.T) {
	spec := filmSpec(t)
	spec.Panes[0].Camera.Width = 322
	if _, _, err := Film(spec, nil); err == nil || !strings.Contains(err.Error(), "320 x 240") {
		t.Errorf("a wrong size: %v", err)
	}
	spec = filmSpec(t)
	spec.Out = filepath.Join(spec.Out, "not", "there.mp4")
	if _, _, err := Film(spec, nil); err == nil {
		t.Error("a folder that is not there")
	}
	spec = filmSpec(t)
	os.WriteFile(spec.Panes[0].Files[0], []byte("no film"), 0o644)
	if _, _, err := Film(spec, nil); err == nil {
		t.Error("a recording that is none")
	}
	if _, err := os.Stat(spec.Out); err == nil {
		t.Error("something was left behind")
	}
}

// BenchmarkFilm1280x720 makes four seconds of film, 30 frames a second, from a
// recording of that size with a sensor's noise in it: reading, painting,
// writing. It is to keep up with real time; x-real-time says how many seconds
// of film come out in one.
func BenchmarkFilm1280x720(b *testing.B) {
	const w, h, seconds = 1280, 720, 4
	dir := b.TempDir()
	file := filepath.Join(dir, "a.mp4")
	enc, err := Create(file, w, h, 30, DefaultWriterOptions())
	if err != nil {
		b.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	frame := make([]byte, 3*w*h)
	for range 30 * seconds {
		for i := range frame {
			frame[i] = uint8(110 + i/3%w/40 + rng.IntN(5))
		}
		if err := enc.Write(frame); err != nil {
			b.Fatal(err)
		}
	}
	if err := enc.Close(); err != nil {
		b.Fatal(err)
	}
	plan, err := geom.NewPlan(geom.PlanSpec{Name: "one", Room: []geom.Point2{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 3}, {X: 0, Y: 3}}})
	if err != nil {
		b.Fatal(err)
	}
	cam := geom.NewCamera(w, h, geom.Lens{Model: geom.Brown, Fx: 580, Fy: 580, Cx: 639.5, Cy: 359.5}, [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, geom.Point3{X: 2, Y: 1.5, Z: 2.5})
	p := film.Pane{Files: []string{file}, Camera: *cam, Plan: *plan, Robot: geom.Robot{Diameter: 0.34, Height: 0.1, Tools: []geom.Tool{{Width: 0.2}}},
		Crop: [4]int{0, 0, w, h}, Cell: 0.005, Nx: 800, Ny: 600, Log: filepath.Join(dir, "log"), Title: "linden", Tail: 15}
	var log []film.Pass
	for k := 0; k < p.Nx*p.Ny; k++ {
		log = append(log, film.Pass{Cell: int32(k), T: float32(k) / float32(p.Nx*p.Ny) * seconds})
	}
	if err := film.WriteLog(p.Log, log); err != nil {
		b.Fatal(err)
	}
	for i := range 30 * seconds {
		p.Path = append(p.Path, film.Spot{T: float64(i) / 30, X: 0.5 + float64(i)/40, Y: 1.5, Seen: true})
	}
	spec := film.Spec{Out: filepath.Join(dir, "film.mp4"), Width: w, Height: h, FPS: 30, Speed: 1, Length: seconds - 0.1, Panes: []film.Pane{p}}
	for b.Loop() {
		if _, _, err := Film(spec, nil); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric((seconds-0.1)*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
}
