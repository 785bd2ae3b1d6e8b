package main

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// contents returns the hash of every file under a folder, by its name from there.
func contents(t *testing.T, dir string) map[string][32]byte {
	t.Helper()
	out := map[string][32]byte{}
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		raw, err := os.ReadFile(p)
		rel, _ := filepath.Rel(dir, p)
		out[rel] = sha256.Sum256(raw)
		return err
	})
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		t.Fatal(err)
	}
	return out
}

// hidden lists what interrupted programs left under a folder.
func hidden(dir string) (left []string) {
	_ = filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err == nil && (strings.Contains(d.Name(), ".building-") || strings.Contains(d.Name(), ".writing-") || strings.Contains(d.Name(), ".aside-")) {
			left = append(left, p)
		}
		return nil
	})
	return left
}

// TestKilledAnywhere kills measure, watch, export and compare (serve has its own
// test) at random moments: of what they write there is the old, the new or
// nothing, whole; and the next call that is left alone leaves nothing behind.
func TestKilledAnywhere(t *testing.T) {
	kills := 4
	if os.Getenv("SWATHE_LONG") != "" {
		kills = 200
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d, %d kills", seed, kills)
	rng := rand.New(rand.NewPCG(seed, 1))
	dir := t.TempDir()
	trials := []int{1, 2}
	killLab(t, dir, trials...)
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "print")
	verbs := [][]string{
		{"measure", dir, "--again"},
		{"watch", dir, "--settle", "0s", "--poll", "50ms"},
		{"export", dir, "hall/*", "--out", out, "--picture", "passes,path,curve", "--tables", "--page"},
		{"compare", dir, "hall/*", "--name", "both"},
	}
	start := func(verb []string, said *bytes.Buffer) *exec.Cmd {
		cmd := exec.Command(self, verb...)
		cmd.Env = append(os.Environ(), "SWATHE_TEST_AS=swathe", "SWATHE_EYE="+self)
		cmd.Stdout, cmd.Stderr = said, said
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		return cmd
	}
	// Each once undisturbed: how long it takes, and what it writes.
	took := map[string]time.Duration{}
	for _, verb := range slices.Concat(verbs[:1], verbs[2:]) {
		var said bytes.Buffer
		begun := time.Now()
		if err := start(verb, &said).Wait(); err != nil {
			t.Fatalf("%s: %v\n%s", verb[0], err, said.String())
		}
		took[verb[0]] = time.Since(begun)
	}
	took["watch"] = took["measure"]
	whole := map[string]map[string][32]byte{"export": contents(t, out), "compare": contents(t, filepath.Join(dir, "comparisons", "both"))}
	for name, w := range whole {
		if len(w) < 4 {
			t.Fatalf("%s wrote %d files", name, len(w))
		}
	}
	count := map[string]int{}
	for n := range kills {
		verb := verbs[n%len(verbs)]
		switch rng.IntN(3) { // now and then there is no old one
		case 0:
			must(t, os.RemoveAll(out))
			must(t, os.RemoveAll(filepath.Join(dir, "comparisons")))
			if verb[0] == "watch" {
				must(t, os.RemoveAll(filepath.Join(dir, "results", "hall", "rowan_single_1")))
			}
		case 1:
			if verb[0] == "watch" { // something to do
				now := time.Now()
				must(t, os.Chtimes(recordingOf(dir, 1), now, now))
			}
		}
		if (verb[0] == "export" || verb[0] == "compare") && noHalf(t, dir, trials...) < len(trials) {
			// A watch that was killed left a run unmeasured; of fewer runs they write something else.
			var said bytes.Buffer
			if err := start(verbs[0], &said).Wait(); err != nil {
				t.Fatalf("%v\n%s", err, said.String())
			}
		}
		var said bytes.Buffer
		cmd := start(verb, &said)
		time.Sleep(time.Duration(rng.Float64() * 1.1 * float64(took[verb[0]])))
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
		count[verb[0]]++
		noHalf(t, dir, trials...)
		for name, have := range contents(t, out) {
			if hiddenName(name) {
				continue
			}
			if want, ok := whole["export"][name]; !ok || have != want {
				t.Fatalf("kill %d of %s: %s is not what export writes", n, verb[0], name)
			}
		}
		both := contents(t, filepath.Join(dir, "comparisons", "both"))
		if len(both) > 0 && !sameNames(both, whole["compare"]) {
			t.Fatalf("kill %d of %s: half a comparison, %d files of %d", n, verb[0], len(both), len(whole["compare"]))
		}
	}
	t.Logf("killed: %v", count)
	// Left alone, each cleans up after those before it.
	for _, verb := range slices.Concat(verbs[:1], verbs[2:]) {
		var said bytes.Buffer
		if err := start(verb, &said).Wait(); err != nil {
			t.Fatalf("%s after the kills: %v\n%s", verb[0], err, said.String())
		}
	}
	if left := hidden(dir); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	if n := noHalf(t, dir, trials...); n != len(trials) {
		t.Errorf("%d results of %d", n, len(trials))
	}
	for name, want := range whole["export"] {
		if have := contents(t, out)[name]; have != want {
			t.Errorf("%s differs from what was exported before", name)
		}
	}
}

func hiddenName(name string) bool { return strings.HasPrefix(filepath.Base(name), ".") }

func sameNames(a, b map[string][32]byte) bool {
	if len(a) != len(b) {
		return false
	}
	for name := range a {
		if _, ok := b[name]; !ok {
			return false
		}
	}
	return true
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// TestFaults guards that a fault of one recording or of the machine is told in
// words, and that the others go on: a recording that changes while it is read, a
// results folder that is removed meanwhile, a clock that was set back, a share that
// answers no more.
func TestFaults(t *testing.T) {
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	swathe := func(args ...string) *exec.Cmd {
		cmd := exec.Command(self, args...)
		cmd.Env = append(os.Environ(), "SWATHE_TEST_AS=swathe", "SWATHE_EYE="+self)
		return cmd
	}
	t.Run("results removed meanwhile", func(t *testing.T) {
		dir := t.TempDir()
		killLab(t, dir, 1, 2)
		cmd := swathe("measure", dir)
		var said bytes.Buffer
		cmd.Stdout, cmd.Stderr = &said, &said
		must(t, cmd.Start())
		time.Sleep(150 * time.Millisecond)
		must(t, os.RemoveAll(filepath.Join(dir, "results")))
		_ = cmd.Wait()
		if strings.Contains(said.String(), "panic") || strings.Contains(said.String(), "goroutine") {
			t.Errorf("it fell over: %s", said.String())
		}
		if n := noHalf(t, dir, 1, 2); n == 0 {
			t.Errorf("nothing was measured: %s", said.String())
		}
	})
	t.Run("share that answers no more", func(t *testing.T) {
		dir := t.TempDir()
		killLab(t, dir, 1, 2)
		// A pipe that nobody writes to: whoever reads it waits, as of such a share.
		must(t, os.Remove(recordingOf(dir, 1)))
		must(t, syscall.Mkfifo(recordingOf(dir, 1), 0o644))
		cmd := swathe("measure", dir)
		cmd.Env = append(cmd.Env, "SWATHE_TEST_STALL=1s")
		said, err := cmd.CombinedOutput()
		if err == nil || !strings.Contains(string(said), "rowan_single_1.mp4: nothing could be read from it for some time (1 s)") {
			t.Errorf("%v %s", err, said)
		}
		if _, err := os.Stat(filepath.Join(dir, "results/hall/rowan_single_2/made.json")); err != nil {
			t.Errorf("the other was not measured: %s", said)
		}
	})
	t.Run("clock set back", func(t *testing.T) {
		dir := t.TempDir()
		killLab(t, dir, 1)
		// What was written "tomorrow" is the recording's and the result's future.
		ahead := time.Now().Add(26 * time.Hour)
		must(t, os.Chtimes(recordingOf(dir, 1), ahead, ahead))
		if said, err := swathe("measure", dir).CombinedOutput(); err != nil {
			t.Fatalf("%v %s", err, said)
		}
		for _, f := range []string{"results/hall/rowan_single_1/made.json", "results/.lock"} {
			must(t, os.Chtimes(filepath.Join(dir, f), ahead, ahead))
		}
		if said, err := swathe("measure", dir).CombinedOutput(); err != nil || !strings.Contains(string(said), "up to date") {
			t.Errorf("%v %s", err, said)
		}
		p := startServe(t, dir)
		defer p.kill()
		p.await(t, "it counts as measured", `"state":"measured"`, 1)
	})
	t.Run("recording changed while it is read", func(t *testing.T) {
		dir := t.TempDir()
		killLab(t, dir, 1)
		p := startServe(t, dir)
		defer p.kill()
		p.await(t, "it is begun", `"state":"being measured"`, 1)
		must(t, os.WriteFile(recordingOf(dir, 1), []byte("recording 1, longer"), 0o644))
		// The result that stands in the end is of the recording that stands there.
		sum := fmt.Sprintf("%x", sha256.Sum256([]byte("recording 1, longer")))
		end := time.Now().Add(2 * time.Minute)
		for {
			raw, _ := os.ReadFile(filepath.Join(dir, "results/hall/rowan_single_1/made.json"))
			if strings.Contains(string(raw), sum) {
				break
			}
			if time.Now().After(end) {
				t.Fatalf("the result is still of the recording before: %s", raw)
			}
			time.Sleep(100 * time.Millisecond)
		}
	})
}
