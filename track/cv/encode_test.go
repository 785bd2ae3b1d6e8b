//go:build cgo && customenv

package cv

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// blobAt is a grey picture with a white disc, wide and plain enough that the
// encoder's loss does not move its middle.
func blobAt(w, h int, x, y float64) []byte {
	b := make([]byte, w*h*3)
	for r := range h {
		for c := range w {
			v := byte(70)
			if math.Hypot(float64(c)-x, float64(r)-y) < 20 {
				v = 220
			}
			for k := range 3 {
				b[3*(r*w+c)+k] = v
			}
		}
	}
	return b
}

// middleOf is the middle of what is bright in a picture of packed BGR.
func middleOf(w int, b []byte) (x, y float64) {
	n := 0.0
	for i := 0; i < len(b); i += 3 {
		if b[i] > 145 {
			x, y, n = x+float64(i/3%w), y+float64(i/3/w), n+1
		}
	}
	return x / n, y / n
}

// What is written is read again: every frame, its picture and its time, even
// and uneven ones, in two containers.
func TestWriteThenRead(t *testing.T) {
	const w, h, n = 192, 108, 45
	uneven := make([]float64, n)
	for i := range uneven {
		uneven[i] = 0.04*float64(i) + 0.015*math.Sin(float64(i)) + 0.02
		if i > 20 {
			uneven[i] += 3.7 // a gap
		}
	}
	for _, c := range []struct {
		file  string
		fps   float64
		times []float64
		tol   float64 // s
	}{
		{"even15.mp4", 15, nil, 1e-9},
		{"even30000_1001.mp4", 30000.0 / 1001, nil, 1e-9},
		{"even12.5.mp4", 12.5, nil, 1e-9},
		{"uneven.mp4", 25, uneven, 1e-5},
		{"uneven.mkv", 25, uneven, 6e-4}, // Matroska's own tick is 1 ms by custom
	} {
		file := filepath.Join(t.TempDir(), c.file)
		wr, err := Create(file, w, h, c.fps, DefaultWriterOptions())
		if err != nil {
			t.Fatal(err)
		}
		for i := range n {
			pic := blobAt(w, h, 40+2*float64(i), 50)
			if c.times == nil {
				err = wr.Write(pic)
			} else {
				err = wr.WriteAt(pic, c.times[i])
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if err := wr.Close(); err != nil {
			t.Fatal(err)
		}
		r, err := Open(file, 1)
		if err != nil {
			t.Fatal(err)
		}
		worstT, worstX := 0.0, 0.0
		count := 0
		for ; ; count++ {
			f, err := r.Next()
			if err != nil {
				t.Fatal(err)
			}
			if f == nil {
				break
			}
			want := float64(count) / c.fps
			if c.times != nil {
				want = c.times[count] - c.times[0]
			}
			worstT = max(worstT, math.Abs(f.T-want))
			pic := make([]byte, w*h*3)
			if err := f.BGR(pic); err != nil {
				t.Fatal(err)
			}
			x, y := middleOf(w, pic)
			worstX = max(worstX, math.Hypot(x-40-2*float64(count), y-50))
			f.Free()
		}
		r.Close()
		t.Logf("%s: %d frames, times to %.2g s (at most %g), middle to %.3f px (at most 0.1)", c.file, count, worstT, c.tol, worstX)
		if count != n || worstT > c.tol || worstX > 0.1 {
			t.Errorf("%s came back otherwise", c.file)
		}
	}
}

// What another program says of the file: H.264, 4:2:0, the exact rate, a key
// frame every two seconds, the index in front of the pictures.
func TestWrittenFileAsOthersSeeIt(t *testing.T) {
	ffprobe, err := exec.LookPath("ffprobe")
	if err != nil {
		t.Skip("ffprobe is not installed")
	}
	file := filepath.Join(t.TempDir(), "a.mp4")
	wr, err := Create(file, 96, 64, 30000.0/1001, DefaultWriterOptions())
	if err != nil {
		t.Fatal(err)
	}
	for i := range 151 {
		if err := wr.Write(blobAt(96, 64, 30+0.2*float64(i), 30)); err != nil {
			t.Fatal(err)
		}
	}
	if err := wr.Close(); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(ffprobe, "-v", "error", "-show_streams", "-show_frames", "-show_entries",
		"stream=codec_name,pix_fmt,avg_frame_rate,r_frame_rate,nb_frames,start_time:frame=key_frame,pts_time", "-of", "json", file).Output()
	if err != nil {
		t.Fatal(err)
	}
	var doc struct {
		Streams []map[string]any
		Frames  []struct {
			Key  int    `json:"key_frame"`
			Time string `json:"pts_time"`
		}
	}
	if err := json.Unmarshal(out, &doc); err != nil || len(doc.Streams) != 1 {
		t.Fatal(err, string(out))
	}
	want := map[string]any{"codec_name": "h264", "pix_fmt": "yuv420p", "avg_frame_rate": "30000/1001",
		"r_frame_rate": "30000/1001", "nb_frames": "151", "start_time": "0.000000"}
	for k, v := range want {
		if doc.Streams[0][k] != v {
			t.Errorf("%s is %v, want %v", k, doc.Streams[0][k], v)
		}
	}
	lastKey := math.Inf(-1)
	for i, f := range doc.Frames {
		s, _ := strconv.ParseFloat(f.Time, 64)
		if f.Key == 1 {
			lastKey = s
		} else if s-lastKey > 2.01 {
			t.Fatalf("frame %d at %.2f s is %.2f s behind its key frame; want 2 s at most", i, s, s-lastKey)
		}
	}
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if moov, mdat := strings.Index(string(data), "moov"), strings.Index(string(data), "mdat"); moov < 0 || moov > mdat {
		t.Errorf("the index lies at byte %d, the pictures at %d", moov, mdat)
	}
}

// Another program decodes a film's colours as they were painted, and says the tags
// of its size; and a recording that another program wrote with the tags of high
// definition is read in its colours.
func TestColoursAsOthersSeeThem(t *testing.T) {
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("ffmpeg is not installed")
	}
	patches := [][3]byte{{200, 40, 30}, {30, 180, 60}, {40, 50, 210}, {225, 202, 158}, {156, 81, 8}, {128, 128, 128}} // BGR
	for _, size := range []struct {
		w, h int
		tag  string
	}{{1280, 720, "bt709"}, {960, 540, "smpte170m"}} {
		wide := size.w / len(patches)
		pic := make([]byte, 3*size.w*size.h)
		for i := range size.w * size.h {
			copy(pic[3*i:], patches[min(i%size.w/wide, len(patches)-1)][:])
		}
		worst := func(got []byte, order [3]int) (d int) {
			for k, p := range patches {
				at := 3 * (size.h/2*size.w + k*wide + wide/2)
				for c := range 3 {
					d = max(d, int(math.Abs(float64(got[at+order[c]])-float64(p[c]))))
				}
			}
			return d
		}
		dir := t.TempDir()
		file := filepath.Join(dir, "ours.mp4")
		wr, err := Create(file, size.w, size.h, 25, DefaultWriterOptions())
		if err != nil {
			t.Fatal(err)
		}
		for range 3 {
			if err := wr.Write(pic); err != nil {
				t.Fatal(err)
			}
		}
		if err := wr.Close(); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command("ffprobe", "-v", "error", "-show_entries", "stream=color_space,color_primaries,color_transfer", "-of", "csv=p=0", file).Output()
		if want := strings.Repeat(size.tag+",", 2) + size.tag; err != nil || strings.TrimSpace(string(out)) != want {
			t.Errorf("%d x %d: tags %q, %v; want %s", size.w, size.h, out, err, want)
		}
		raw, err := exec.Command(ffmpeg, "-v", "error", "-i", file, "-frames:v", "1", "-f", "rawvideo", "-pix_fmt", "bgr24", "-sws_flags", "accurate_rnd", "-").Output()
		if err != nil || len(raw) != len(pic) {
			t.Fatal(err)
		}
		ours := worst(raw, [3]int{0, 1, 2})

		if err := os.WriteFile(filepath.Join(dir, "in.bgr"), pic, 0o644); err != nil {
			t.Fatal(err)
		}
		theirs := filepath.Join(dir, "theirs.mp4")
		matrix := map[string]string{"bt709": "bt709", "smpte170m": "bt601"}[size.tag]
		if out, err := exec.Command(ffmpeg, "-v", "error", "-f", "rawvideo", "-pix_fmt", "bgr24", "-s", fmt.Sprintf("%dx%d", size.w, size.h), "-i", filepath.Join(dir, "in.bgr"),
			"-vf", "scale=out_color_matrix="+matrix+":out_range=tv:flags=accurate_rnd+full_chroma_int,format=yuv420p", "-colorspace", size.tag, "-color_range", "tv", "-crf", "12", theirs).CombinedOutput(); err != nil {
			t.Fatal(err, string(out))
		}
		r, err := Open(theirs, 1)
		if err != nil {
			t.Fatal(err)
		}
		f, err := r.Next()
		if err != nil {
			t.Fatal(err)
		}
		got := make([]byte, len(pic))
		if err := f.BGR(got); err != nil {
			t.Fatal(err)
		}
		f.Free()
		r.Close()
		read := worst(got, [3]int{0, 1, 2})
		t.Logf("%d x %d: written %d off at the most, read %d (bound 2)", size.w, size.h, ours, read)
		if ours > 2 || read > 2 {
			t.Errorf("%d x %d: colours are off by %d as written, %d as read", size.w, size.h, ours, read)
		}
	}
}

// What cannot be written is refused with a sentence.
func TestWriterRefusals(t *testing.T) {
	dir := t.TempDir()
	block := filepath.Join(dir, "block")
	if err := os.WriteFile(block, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		file string
		w, h int
		fps  float64
		opt  WriterOptions
		want string
	}{
		{"a.mp4", 95, 64, 10, DefaultWriterOptions(), "even"},
		{"a.mp4", 96, 64, 0, DefaultWriterOptions(), "frame rate"},
		{"a.mp4", 96, 64, math.NaN(), DefaultWriterOptions(), "frame rate"},
		{"a.mp4", 96, 64, 10, WriterOptions{Preset: "quickest", CRF: 18}, "preset"},
		{"a.mp4", 96, 64, 10, WriterOptions{Preset: "medium", CRF: 52}, "crf"},
		{"a.nothing", 96, 64, 10, DefaultWriterOptions(), ".mp4"},
		{"block/a.mp4", 96, 64, 10, DefaultWriterOptions(), "cannot be made"},
	} {
		w, err := Create(filepath.Join(dir, c.file), c.w, c.h, c.fps, c.opt)
		if err == nil {
			w.Close()
		}
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s %dx%d %v %v: got %v; want a word of %q", c.file, c.w, c.h, c.fps, c.opt, err, c.want)
		}
	}
	w, err := Create(filepath.Join(dir, "b.mp4"), 96, 64, 10, DefaultWriterOptions())
	if err != nil {
		t.Fatal(err)
	}
	pic := make([]byte, 96*64*3)
	if err := w.Write(pic[1:]); err == nil {
		t.Error("a frame that is too small was taken")
	}
	if err := w.WriteAt(pic, 1); err != nil {
		t.Error(err)
	}
	if err := w.WriteAt(pic, 1); err == nil || !strings.Contains(err.Error(), "not after") {
		t.Errorf("got %v; want that time stands still", err)
	}
	if err := w.Close(); err != nil {
		t.Error(err)
	}
	if err := w.Close(); err != nil {
		t.Errorf("closed again: %v", err)
	}
	if err := w.Write(pic); err == nil {
		t.Error("a closed writer took a frame")
	}
}

// A disk that is full while the file is written, or only at its end, is told.
func TestWriterDiskFull(t *testing.T) {
	if _, err := os.Stat("/dev/full"); err != nil {
		t.Skip("there is no /dev/full here")
	}
	file := filepath.Join(t.TempDir(), "a.mp4")
	if err := os.Symlink("/dev/full", file); err != nil {
		t.Fatal(err)
	}
	w, err := Create(file, 96, 64, 10, DefaultWriterOptions())
	if err == nil {
		for i := 0; i < 200 && err == nil; i++ {
			err = w.Write(blobAt(96, 64, 30+float64(i%30), 30))
		}
		if e := w.Close(); err == nil {
			err = e
		}
	}
	if err == nil || !strings.Contains(err.Error(), "disk full") {
		t.Errorf("got %v; want that the disk is full", err)
	}
}
