package serve

import (
	"os"
	"sync/atomic"
	"testing"
	"time"

	"swathe/cmd/internal/labtest"
	"swathe/report/page"
)

// TestRefusedRests guards that a recording that cannot be tied to a run is looked
// at once and then rests, however its reason is written.
func TestRefusedRests(t *testing.T) {
	dir := t.TempDir()
	setup, err := os.ReadFile("../../../testdata/maple/lab.yaml")
	if err != nil {
		t.Fatal(err)
	}
	labtest.Put(t, dir, "lab.yaml", string(setup))
	labtest.Put(t, dir, "recordings/cluttered/C0042.csv", "t_s,x_m,y_m,heading_deg\n0,1,1,0\n1,1,1,0\n")
	opt := DefaultOptions()
	opt.Settle, opt.Poll = 0, 20*time.Millisecond
	var told atomic.Int32
	d, err := New(t.Context(), dir, opt, Eye{}, func(string, ...any) { told.Add(1) })
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	for end := time.Now().Add(20 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		rows, err := d.Rows()
		if err == nil && len(rows) == 1 && rows[0].State == page.Unnamed {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("never told: %v %v", rows, err)
		}
	}
	before := told.Load()
	time.Sleep(500 * time.Millisecond)
	if now := told.Load(); now > before+1 {
		t.Errorf("it was told of %d times in half a second", now-before)
	}
}
