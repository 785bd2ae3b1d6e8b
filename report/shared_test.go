package report

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"swathe/coverage/doubt"
)

// What runs share comes back from its file as it was, to the digits kept; a
// damaged file is refused, and none is none.
func TestSharedFile(t *testing.T) {
	dir := t.TempDir()
	if c, err := ReadShared(dir); c != nil || err != nil {
		t.Errorf("no file: %v, %v", c, err)
	}
	in := []doubt.Cause{
		{Input: "tool", Key: "a", Change: map[string][]float64{"covered_share": {0.001234, -0.002}, "time_to_s.90": {math.Inf(1), 2}}},
		{Input: "outlines", Key: "b", Change: map[string][]float64{"covered_share": {0.5}}},
	}
	file := filepath.Join(dir, SharedFile)
	f, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := writeShared(f, in); err != nil {
		t.Fatal(err)
	}
	f.Close()
	out, err := ReadShared(dir)
	if err != nil || len(out) != 2 || out[0].Key != "a" || out[1].Input != "outlines" {
		t.Fatalf("%+v, %v", out, err)
	}
	if c := out[0].Change; c["covered_share"][0] != 0.001234 || c["covered_share"][1] != -0.002 || !math.IsNaN(c["time_to_s.90"][0]) || c["time_to_s.90"][1] != 2 {
		t.Errorf("%+v", c)
	}
	for _, bad := range []string{"cause,key\nx,y\n", "cause,key,draw,covered_share\ntool,a,1,many\n", "cause,key,draw\n\"\n"} {
		if err := os.WriteFile(file, []byte(bad), 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := ReadShared(dir); err == nil {
			t.Errorf("%q: no error", bad)
		}
	}
}
