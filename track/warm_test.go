package track

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"
	"time"
)

// The test's own program stands in for the eye: each picture holds its process's
// number; files called "dies" and "slow" do so.
func init() {
	if os.Getenv("SWATHE_TEST_AS") != "frames" {
		return
	}
	in, out := json.NewDecoder(os.Stdin), json.NewEncoder(os.Stdout)
	for {
		var q FrameRequest
		if in.Decode(&q) != nil {
			os.Exit(0)
		}
		switch q.Files[0] {
		case "dies":
			fmt.Fprintln(os.Stderr, "it is no recording")
			os.Exit(1)
		case "slow":
			time.Sleep(300 * time.Millisecond)
		}
		for _, s := range q.Shots {
			data := fmt.Sprint(os.Getpid())
			_ = out.Encode(FrameHead{T: s.T, Bytes: len(data)})
			_, _ = os.Stdout.WriteString(data)
		}
	}
}

// TestWarm guards that one eye answers again and again, outlives a reader who
// goes away, and that one which dies says why and is replaced.
func TestWarm(t *testing.T) {
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	t.Setenv("SWATHE_TEST_AS", "frames")
	w := NewWarm(func() (string, error) { return self, nil })
	defer w.Close()
	w.Prepare()
	ask := func(ctx context.Context, file string) (string, error) {
		pics, err := w.Frames(ctx, FrameRequest{Files: []string{file}, Shots: []Shot{{T: 1, Format: "jpeg"}, {T: 2, Format: "jpeg"}}})
		if err != nil {
			return "", err
		}
		if len(pics) != 2 || pics[1].T != 2 || string(pics[0].Data) != string(pics[1].Data) {
			t.Fatalf("two pictures of one eye were asked for: %+v", pics)
		}
		return string(pics[0].Data), nil
	}
	bg := context.Background()
	first, err := ask(bg, "one")
	if err != nil {
		t.Fatal(err)
	}
	if again, err := ask(bg, "one"); err != nil || again != first {
		t.Errorf("eye %s answered first and %s then: %v", first, again, err)
	}
	gone, cancel := context.WithTimeout(bg, 50*time.Millisecond)
	defer cancel()
	if _, err := ask(gone, "slow"); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("a reader who went away was told %v", err)
	}
	for end := time.Now().Add(10 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		w.mu.Lock()
		back := len(w.idle) > 0
		w.mu.Unlock()
		if back {
			break
		}
		if time.Now().After(end) {
			t.Fatal("the eye that nobody waits for never comes back")
		}
	}
	if again, err := ask(bg, "one"); err != nil || again != first {
		t.Errorf("after a reader went away eye %s answers, not %s: %v", again, first, err)
	}
	if _, err := ask(bg, "dies"); err == nil || !strings.Contains(err.Error(), "it is no recording") {
		t.Errorf("a recording that kills the eye is told as %v", err)
	}
	if next, err := ask(bg, "one"); err != nil || next == first {
		t.Errorf("after its death eye %s answers: %v", next, err)
	}
	var many sync.WaitGroup
	for range 8 {
		many.Go(func() {
			if _, err := ask(bg, "slow"); err != nil {
				t.Error(err)
			}
		})
	}
	many.Wait()
	w.mu.Lock()
	defer w.mu.Unlock()
	if len(w.idle) > mostIdle {
		t.Errorf("%d eyes wait; the most is %d", len(w.idle), mostIdle)
	}
}
