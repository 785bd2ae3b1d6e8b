//go:build cgo && customenv

package cv

import (
	"encoding/json"
	"image"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"swathe/geom"
	"swathe/track/film"
)

// A layer kept in one file comes back from another program's decoder as it was
// painted, on 100 frames, its alpha to the bit; each with the size, rate, length and
// time code asked for. The painted frames themselves are the PNG files of the same
// spec. Alpha is read as the decoder has it: ffmpeg's way from there to 8 bits rounds
// ProRes's up by 1 or 2 in places.
func TestLayersAsOthersSeeThem(t *testing.T) {
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("ffmpeg is not installed")
	}
	spec := filmSpec(t)
	dir := filepath.Dir(spec.Out)
	spec.FPS, spec.Length, spec.Timecode = 30000.0/1001, 99*1001.0/30000, "01:00:59;20"
	h := 0.0
	for k := range 60 { // it stops after 2 s: frames that are as the one before are not encoded again
		at := math.Min(float64(k), 30)
		spec.Panes[0].Path = append(spec.Panes[0].Path, film.Spot{T: float64(k) / 15, X: 0.4 + 0.04*at, Y: 1 + 0.3*math.Sin(at/6), H: &h, Seen: true})
	}
	spec.Panes[0].Tail, spec.Panes[0].Notes = 15, []film.Note{{From: 1, To: 2, Text: "It met the chest."}}
	spec.Overlay, spec.Out = true, filepath.Join(dir, "pictures")
	files, _, err := Film(spec, nil)
	if err != nil || len(files) != 100 {
		t.Fatal(len(files), err)
	}
	var want [][]byte // RGBA, straight
	for _, file := range files {
		f, err := os.Open(file)
		if err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		want = append(want, img.(*image.NRGBA).Pix)
	}
	spec.Overlay = false
	px := spec.Width * spec.Height
	for _, c := range []struct {
		kind   string
		format string // in which its alpha is kept
		shift  int    // bits of that above 8
		colour int    // greatest difference of a pixel's colour, as far as it shows
	}{{"png", "gray", 0, 0}, {"prores", "gray12le", 4, 2}, {"vp9", "gray", 0, 110}} {
		spec.Kind, spec.Out = c.kind, filepath.Join(dir, c.kind+film.AlphaKinds()[c.kind])
		if _, _, err := Film(spec, nil); err != nil {
			t.Fatal(err)
		}
		decode := func(more ...string) []byte {
			args := []string{"-v", "error"}
			if c.kind == "vp9" { // the decoder that ffmpeg takes by itself leaves alpha out
				args = append(args, "-c:v", "libvpx-vp9")
			}
			raw, err := exec.Command(ffmpeg, append(append(args, "-i", spec.Out, "-f", "rawvideo"), append(more, "-")...)...).Output()
			if err != nil {
				t.Fatal(c.kind, err)
			}
			return raw
		}
		alpha := decode("-vf", "extractplanes=a", "-pix_fmt", c.format)
		colour := decode("-pix_fmt", "rgba", "-sws_flags", "accurate_rnd+full_chroma_int")
		each := 1
		if c.shift > 0 {
			each = 2
		}
		if len(alpha) != 100*px*each || len(colour) != 100*px*4 {
			t.Fatalf("%s: %d bytes of alpha, %d of colour", c.kind, len(alpha), len(colour))
		}
		worstA, worstC, seen := 0, 0, 0
		for k, w := range want {
			for i := range px {
				p := k*px + i
				a := int(alpha[p*each])
				if c.shift > 0 {
					a |= int(alpha[p*each+1]) << 8
				}
				d := int(w[4*i+3]) - a>>c.shift
				worstA = max(worstA, d, -d)
				if w[4*i+3] > 0 {
					seen++
				}
				for j := range 3 {
					d := (int(w[4*i+j])*int(w[4*i+3]) - int(colour[4*p+j])*int(colour[4*p+3])) / 255
					worstC = max(worstC, d, -d)
				}
			}
		}
		t.Logf("%s: alpha at most %d off (bound 0), colour where it shows %d (%d), %d pixels show", c.kind, worstA, worstC, c.colour, seen)
		if worstA > 0 || worstC > c.colour || seen < 100*px/20 {
			t.Errorf("%s came back otherwise", c.kind)
		}
		out, err := exec.Command("ffprobe", "-v", "error", "-count_packets", "-show_streams", "-show_format", "-of", "json", spec.Out).Output()
		if err != nil {
			t.Fatal(err)
		}
		var doc struct{ Streams []map[string]any }
		if err := json.Unmarshal(out, &doc); err != nil {
			t.Fatal(err)
		}
		s := doc.Streams[0]
		if s["r_frame_rate"] != "30000/1001" || s["nb_read_packets"] != "100" || s["width"] != 320.0 || s["height"] != 240.0 {
			t.Errorf("%s: %v a second, %v frames, %v x %v", c.kind, s["r_frame_rate"], s["nb_read_packets"], s["width"], s["height"])
		}
		if !strings.Contains(string(out), `"01:00:59;20"`) {
			t.Errorf("%s: the time code is lost", c.kind)
		}
		p, err := ReadPace(spec.Out)
		if err != nil || p.Rate != [2]int{30000, 1001} || p.Variable || p.Frames != 100 || c.kind != "vp9" && p.Timecode != "01:00:59;20" {
			t.Errorf("%s, read by ourselves: %+v, %v", c.kind, p, err)
		}
	}
}

// Each layer shows one thing, and all of them together what the whole shows.
func TestLayersAreOneThingEach(t *testing.T) {
	spec := filmSpec(t)
	dir := filepath.Dir(spec.Out)
	spec.Overlay, spec.FPS, spec.Length = true, 1, 1
	spec.Panes[0].Path = []film.Spot{{T: 0, X: 2, Y: 1, Seen: true}, {T: 0.5, X: 2.2, Y: 1, Seen: true}, {T: 1, X: 2.4, Y: 1.2, Seen: true}}
	spec.Panes[0].Tail, spec.Panes[0].Notes = 15, []film.Note{{From: 0, To: 2, Text: "It met the chest."}}
	spec.Panes[0].Shares = []film.Share{{T: 0, V: 0}, {T: 1, V: 0.5}}
	shown := func(layer string) map[[2]int]bool {
		spec.Layer, spec.Out = layer, filepath.Join(dir, "layer"+layer)
		files, _, err := Film(spec, nil)
		if err != nil {
			t.Fatal(err)
		}
		f, err := os.Open(files[1])
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		img, err := png.Decode(f)
		if err != nil {
			t.Fatal(err)
		}
		out := map[[2]int]bool{}
		for y := range spec.Height {
			for x := range spec.Width {
				if _, _, _, a := img.At(x, y).RGBA(); a > 0 {
					out[[2]int{x, y}] = true
				}
			}
		}
		return out
	}
	all, sum := shown(""), map[[2]int]bool{}
	for _, l := range film.Layers() {
		one := shown(l)
		if len(one) < 20 {
			t.Errorf("layer %s shows %d pixels", l, len(one))
		}
		for p := range one {
			sum[p] = true
			if !all[p] {
				t.Fatalf("layer %s shows pixel %v, which the whole does not", l, p)
			}
		}
	}
	if n := len(all) - len(sum); n > len(all)/5 { // the head's box behind three of them
		t.Errorf("%d of %d pixels are in no layer", n, len(all))
	}
}

// A region that was drawn by hand is covered in every frame, and nothing else.
func TestCoveredRegion(t *testing.T) {
	spec := filmSpec(t)
	spec.Length, spec.Panes[0].Log, spec.Panes[0].From = 0.2, "", 0.25 // the clock shows 5
	plain, _ := frameOf(t, spec)
	spec.Panes[0].Cover = [][]geom.Point2{{{X: 0, Y: 100}, {X: 100, Y: 100}, {X: 100, Y: 200}, {X: 0, Y: 200}}}
	covered, _ := frameOf(t, spec)
	size := max(8, spec.Height/36)
	inside, outside := 0, 0
	for i := range spec.Width * spec.Height {
		x, y := i%spec.Width, i/spec.Width
		if d := int(plain[3*i]) - int(covered[3*i]); d > 40 || d < -40 {
			if x < 100+size+4 && y > 100-size-4 && y < 200+size+4 {
				inside++
			} else {
				outside++
			}
		}
	}
	t.Logf("%d pixels changed within, %d without", inside, outside)
	if outside > 0 || inside < 200 {
		t.Errorf("%d pixels changed within the region, %d outside", inside, outside)
	}
}

// frameOf is the first frame of a film, read again.
func frameOf(t *testing.T, spec film.Spec) ([]byte, Info) {
	t.Helper()
	if _, _, err := Film(spec, nil); err != nil {
		t.Fatal(err)
	}
	r, err := Open(spec.Out, 1)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	f, err := r.Next()
	if err != nil || f == nil {
		t.Fatal(err)
	}
	defer f.Free()
	b := make([]byte, r.Info().Width*r.Info().Height*3)
	if err := f.BGR(b); err != nil {
		t.Fatal(err)
	}
	return b, r.Info()
}

// BenchmarkLayer1920x1080 makes a layer of 1920 x 1080 at 30 frames a second, 20 s of
// it, or with SWATHE_LONG ten minutes. It is to keep up with real time on two cores:
// x-real-time says how many seconds come out in one, cpu-share how many processors it
// needs to come out as fast as it is shown.
func BenchmarkLayer1920x1080(b *testing.B) {
	seconds := 20.0
	if os.Getenv("SWATHE_LONG") != "" {
		seconds = 600
	}
	plan, err := geom.NewPlan(geom.PlanSpec{Name: "one", Room: []geom.Point2{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 3}, {X: 0, Y: 3}}})
	if err != nil {
		b.Fatal(err)
	}
	cam := geom.NewCamera(1920, 1080, geom.Lens{Model: geom.Brown, Fx: 900, Fy: 900, Cx: 959.5, Cy: 539.5}, [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, geom.Point3{X: 2, Y: 1.5, Z: 2.6})
	p := film.Pane{Files: []string{"none"}, Camera: *cam, Plan: *plan, Robot: geom.Robot{Diameter: 0.34, Height: 0.1, Tools: []geom.Tool{{Width: 0.2}}},
		Crop: [4]int{0, 0, 1920, 1080}, Cell: 0.01, Nx: 400, Ny: 300, Tail: 15, Title: "linden"}
	for k := range int(seconds * 10) {
		at := float64(k) / 10
		p.Path = append(p.Path, film.Spot{T: at, X: 2 + 1.7*math.Sin(at/5), Y: 1.5 + 1.2*math.Sin(at/7), Seen: true})
	}
	var log []film.Pass
	for k := range p.Nx * p.Ny {
		log = append(log, film.Pass{Cell: int32(k), T: float32(float64(k) * seconds / float64(p.Nx*p.Ny))})
	}
	dir := b.TempDir()
	p.Log = filepath.Join(dir, "log")
	if err := film.WriteLog(p.Log, log); err != nil {
		b.Fatal(err)
	}
	for _, kind := range []string{"prores", "png", "vp9"} {
		for _, layer := range []string{"path", "passes", "clock"} {
			b.Run(kind+"/"+layer, func(b *testing.B) {
				spec := film.Spec{Out: filepath.Join(dir, "a"+film.AlphaKinds()[kind]), Width: 1920, Height: 1080, FPS: 30, Speed: 1, Length: seconds, Panes: []film.Pane{p}, Kind: kind, Layer: layer}
				before := processorTime()
				for b.Loop() {
					if _, _, err := Film(spec, nil); err != nil {
						b.Fatal(err)
					}
				}
				n := float64(b.N)
				b.ReportMetric(seconds*n/b.Elapsed().Seconds(), "x-real-time")
				b.ReportMetric((processorTime()-before)/(seconds*n), "cpu-share")
			})
		}
	}
}

// processorTime is what this process has used so far, s.
func processorTime() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return math.NaN()
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
}
