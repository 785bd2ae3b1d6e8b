package serve

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"syscall"
	"testing"
	"time"

	"swathe/report/figure"
	"swathe/report/page"
)

// processorTime is what this process has used so far.
func processorTime(t *testing.T) time.Duration {
	t.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// setupOf makes a set-up of n cameras, each of which takes work to solve.
func setupOf(n int) json.RawMessage {
	var b strings.Builder
	b.WriteString(`{"cameras": {`)
	for i := range n {
		if i > 0 {
			b.WriteString(",")
		}
		fmt.Fprintf(&b, `"c%d": {"frame": [960, 540], "height": 2.7, "marks": [{"floor": [0.2, 0.2], "pixel": [257.3, 407.%d]}, {"floor": [2.8, 0.2], "pixel": [661.7, 407.8]}, {"floor": [2.8, 2], "pixel": [661.7, 127.8]}, {"floor": [0.2, 2], "pixel": [257.3, 127.8]}, {"floor": [1.5, 1.1], "pixel": [459.5, 267.8]}]}`, i, i%10)
	}
	b.WriteString(`}}`)
	return json.RawMessage(b.String())
}

// TestLoad asks for more than any lab needs, and goes away in the middle: the
// answer is a sentence, and the work ends with the client.
func TestLoad(t *testing.T) {
	d, err := New(t.Context(), t.TempDir(), DefaultOptions(), Eye{}, func(string, ...any) {})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	said := func(tr page.Tried) string {
		if len(tr.Problems) == 0 {
			return ""
		}
		return tr.Problems[0].Message
	}

	before := processorTime(t)
	tr, err := d.Try(t.Context(), setupOf(20000))
	took := processorTime(t) - before
	if err != nil || !strings.Contains(said(tr), "20000 entries; 60 is the most") {
		t.Errorf("20,000 cameras: %v, %q", err, said(tr))
	}
	t.Logf("20,000 cameras are refused after %.2f s of processor time: %s", took.Seconds(), said(tr))

	corners := strings.Repeat("[0,0],", 3000) + "[1,0],[1,1]"
	tr, err = d.Try(t.Context(), json.RawMessage(`{"layouts": {"hall": {"room": [`+corners+`]}}}`))
	if err != nil || !strings.Contains(fmt.Sprint(tr.Problems), "3002 entries; 1000 is the most") {
		t.Errorf("a room of 3,002 corners: %v, %v", err, tr.Problems)
	}

	if err := d.Joint(t.Context(), io.Discard, "agreement", make([]string, 25), figure.DefaultOptions()); err == nil || !strings.Contains(err.Error(), "up to 24 runs; these are 25") {
		t.Errorf("a preview of 25 runs: %v", err)
	}

	// As many as may be, and the client is gone: nothing goes on.
	ctx, cancel := context.WithCancel(t.Context())
	gone := make(chan error, 1)
	go func() { _, err := d.Try(ctx, setupOf(60)); gone <- err }()
	second := make(chan error, 1)
	go func() { time.Sleep(20 * time.Millisecond); _, err := d.Try(ctx, setupOf(60)); second <- err }()
	time.Sleep(100 * time.Millisecond)
	cancel()
	left := processorTime(t)
	for _, c := range []chan error{gone, second} {
		if err := <-c; err != nil && !errors.Is(err, context.Canceled) {
			t.Errorf("who went away is told %v", err)
		}
	}
	t.Logf("after the client left, %.2f s of processor time went by", (processorTime(t) - left).Seconds())
	// Against what all of them would have taken: a ratio, for the machine may be slow.
	from := processorTime(t)
	if _, err := d.Try(t.Context(), setupOf(60)); err != nil {
		t.Fatal(err)
	}
	whole := processorTime(t) - from
	idle := processorTime(t)
	time.Sleep(whole / 2)
	if used := processorTime(t) - idle; used > whole/4 {
		t.Errorf("%v of processor time were used after everybody had left; a whole set-up takes %v", used, whole)
	}
}
