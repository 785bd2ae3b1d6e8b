package lab

import (
	"encoding/binary"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// movie is a file with the boxes that a camera writes, its header last.
func movie(version byte, seconds uint64, fill int) []byte {
	wrap := func(name string, content []byte) []byte {
		b := binary.BigEndian.AppendUint32(nil, uint32(8+len(content)))
		return append(append(b, name...), content...)
	}
	head := []byte{version, 0, 0, 0}
	if version == 1 {
		head = binary.BigEndian.AppendUint64(head, seconds)
	} else {
		head = binary.BigEndian.AppendUint32(head, uint32(seconds))
	}
	head = append(head, make([]byte, 90)...)
	// The frames, in a box whose size has 64 bits.
	frames := binary.BigEndian.AppendUint64(append(binary.BigEndian.AppendUint32(nil, 1), "mdat"...), uint64(16+fill))
	frames = append(frames, make([]byte, fill)...)
	return append(append(wrap("ftyp", []byte("isom0000")), frames...), wrap("moov", append(wrap("udta", []byte("a")), wrap("mvhd", head)...))...)
}

func TestCreated(t *testing.T) {
	dir := t.TempDir()
	want := time.Date(2026, 3, 2, 14, 30, 5, 0, time.UTC)
	since := uint64(want.Sub(time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)) / time.Second)
	good := movie(0, since, 1000)
	for _, c := range []struct {
		name string
		data []byte
		ok   bool
	}{
		{"v0.mp4", good, true},
		{"v1.MOV", movie(1, since, 10), true},
		{"unset.mp4", movie(0, 0, 10), false},
		{"never_set_clock.mp4", movie(0, 2082844800, 10), false}, // 1970
		{"cut.mp4", good[:len(good)-90], false},
		{"short.mp4", good[:5], false},
		{"empty.mp4", nil, false},
		{"size_of_nothing.mp4", append([]byte{0, 0, 0, 4}, "ftyp"...), false},
		{"other.mkv", good, false},
	} {
		file := filepath.Join(dir, c.name)
		if err := os.WriteFile(file, c.data, 0o644); err != nil {
			t.Fatal(err)
		}
		got, ok := created(file)
		if ok != c.ok || ok && !got.Equal(want) {
			t.Errorf("%s: %v, %v", c.name, got, ok)
		}
	}
	// As another program writes it.
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Log("ffmpeg is not here, so no file of another program was read")
		return
	}
	file := filepath.Join(dir, "other.mp4")
	if out, err := exec.Command(ffmpeg, "-v", "error", "-f", "lavfi", "-i", "color=size=64x64:duration=0.2", "-metadata", "creation_time=2026-03-02T14:30:05Z", file).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	if got, ok := created(file); !ok || !got.Equal(want) {
		t.Errorf("ffmpeg's file: %v, %v, want %v", got, ok, want)
	}
}

// FuzzCreated: no content of a file makes it fail or go on for ever.
func FuzzCreated(f *testing.F) {
	f.Add(movie(0, 3855000000, 3))
	f.Add(movie(1, 3855000000, 0))
	f.Add([]byte{0, 0, 0, 0, 'm', 'o', 'o', 'v', 0, 0, 0, 1, 'm', 'v', 'h', 'd', 255, 255, 255, 255, 255, 255, 255, 255})
	f.Fuzz(func(t *testing.T, data []byte) {
		file := filepath.Join(t.TempDir(), "a.mp4")
		if err := os.WriteFile(file, data, 0o644); err != nil {
			t.Fatal(err)
		}
		created(file)
	})
}

// TestDateOfRecording: a run without a date has that of its recording, and inherits
// what was typed for the day; one that was typed stays.
func TestDateOfRecording(t *testing.T) {
	conditions := map[string]string{}
	l := &Lab{days: map[string]map[string]string{"2026-03-02": {"operator": "M. Reed"}}}
	file := filepath.Join(t.TempDir(), "C0042.mp4")
	since := uint64(time.Date(2026, 3, 2, 14, 30, 5, 0, time.UTC).Sub(time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)) / time.Second)
	if err := os.WriteFile(file, movie(0, since, 0), 0o644); err != nil {
		t.Fatal(err)
	}
	l.dated(file, conditions)
	if conditions[CondDate] != "2026-03-02 14:30" || conditions["operator"] != "M. Reed" {
		t.Errorf("conditions %v", conditions)
	}
	typed := map[string]string{CondDate: "2026-03-01"}
	l.dated(file, typed)
	if typed[CondDate] != "2026-03-01" || typed["operator"] != "" {
		t.Errorf("typed ones became %v", typed)
	}
}
