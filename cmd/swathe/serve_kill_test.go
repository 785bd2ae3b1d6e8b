package main

import (
	"bufio"
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"swathe/report"
	"swathe/track"
	"swathe/track/sight"
)

// The test's own program stands in for swathe, so that it can be killed, and for
// the eye, so that a recording takes a third of a second.
func init() {
	if d, err := time.ParseDuration(os.Getenv("SWATHE_TEST_STALL")); err == nil {
		track.Stall = d
	}
	switch os.Getenv("SWATHE_TEST_AS") {
	case "swathe":
		os.Setenv("SWATHE_TEST_AS", "eye")
		main()
	case "eye":
		if os.Getenv(apart) != "" && len(os.Args) > 1 && os.Args[1] == "measure" { // a worker's last try
			main()
		}
		if err := fakeEye(os.Args[1:]); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
}

// fakeEye sees a robot that drives up and down the room, in recordings that are
// no recordings. One whose name holds "_single_9" makes it abort in the middle,
// as OpenCV does on a wrong picture.
func fakeEye(args []string) error {
	if len(args) != 1 || args[0] != "look" {
		return fmt.Errorf("the fake eye only looks")
	}
	var q track.Request
	if err := json.NewDecoder(os.Stdin).Decode(&q); err != nil {
		return err
	}
	out := json.NewEncoder(os.Stdout)
	const seconds, rate = 20.0, 15
	say := func(r track.Reply) error { return out.Encode(r) }
	if err := say(track.Reply{Open: &track.OpenReply{Width: q.Camera.Width, Height: q.Camera.Height, Duration: seconds, FPS: rate}}); err != nil {
		return err
	}
	for i := range int(seconds * rate) {
		at := float64(i) / rate
		// 1 s of rest, then rows of 2 m, 0.2 m apart, at 0.3 m/s.
		d := 0.3 * max(at-1, 0)
		row := int(d / 2.2)
		along, across := min(d-2.2*float64(row), 2), max(0, d-2.2*float64(row)-2)
		if row%2 == 1 {
			along = 2 - along
		}
		s := sight.Sighting{T: at, Frame: i, Found: true, X: 0.5 + along, Y: 0.4 + 0.2*float64(row) + across, Cov: [3]float64{1e-6, 0, 1e-6}, Visible: 1, Support: 1, RMS: 0.2, Edge: 20, Gain: 1}
		if err := say(track.Reply{Sighting: &s}); err != nil {
			return err
		}
		if i%30 == 29 {
			time.Sleep(30 * time.Millisecond)
		}
		if strings.Contains(q.Files[0], "_single_9") && i == 100 {
			_ = syscall.Kill(os.Getpid(), syscall.SIGABRT)
			time.Sleep(time.Second)
		}
	}
	return say(track.Reply{End: &track.EndReply{Frames: int(seconds * rate), Duration: seconds}})
}

const killSetup = `cameras:
  ceiling:
    frame: [960, 540]
    height: 2.7
    lens: {focal: [420, 420], centre: [479.5, 269.5]}
    marks:
      - {floor: [0.2, 0.2], pixel: [257.3, 407.8]}
      - {floor: [2.8, 0.2], pixel: [661.7, 407.8]}
      - {floor: [2.8, 2.0], pixel: [661.7, 127.8]}
      - {floor: [0.2, 2.0], pixel: [257.3, 127.8]}
layouts:
  hall:
    camera: ceiling
    room: [[0, 0], [3, 0], [3, 2.2], [0, 2.2]]
robots:
  rowan:
    diameter: 0.34
    height: 0.05
    tools: {brush: {width: 0.18}}
settings: {cell: 0.02, draws: 20, budget_draws: 10}
`

// process is a swathe that runs on its own.
type process struct {
	cmd     *exec.Cmd
	address string
	err     *bytes.Buffer
}

// startServe starts serve on a lab as a process of its own; address is empty if
// it ended at once.
func startServe(t *testing.T, dir string) *process {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	p := &process{cmd: exec.Command(self, "serve", dir, "--listen", "127.0.0.1:0", "--settle", "0s", "--poll", "50ms"), err: &bytes.Buffer{}}
	p.cmd.Env = append(os.Environ(), "SWATHE_TEST_AS=swathe", "SWATHE_EYE="+self)
	p.cmd.Stderr = p.err
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	line, _ := bufio.NewReader(out).ReadString('\n')
	p.address = strings.TrimSpace(line)
	return p
}

func (p *process) kill() {
	_ = p.cmd.Process.Kill()
	_ = p.cmd.Wait()
}

// get reads a page; empty if it cannot be had.
func (p *process) get(path string) (int, string) {
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, "GET", strings.TrimSuffix(p.address, "/")+path, nil)
	if err != nil {
		return 0, ""
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return 0, ""
	}
	defer resp.Body.Close()
	body, _ := io.ReadAll(resp.Body)
	return resp.StatusCode, string(body)
}

func exists(file string) bool {
	_, err := os.Stat(file)
	return err == nil
}

func killLab(t *testing.T, dir string, trials ...int) {
	t.Helper()
	if err := os.MkdirAll(filepath.Join(dir, "recordings/hall"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "lab.yaml"), []byte(killSetup), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, n := range trials {
		if err := os.WriteFile(recordingOf(dir, n), []byte(fmt.Sprintf("recording %d", n)), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func recordingOf(dir string, n int) string {
	return filepath.Join(dir, fmt.Sprintf("recordings/hall/rowan_single_%d.mp4", n))
}

// noHalf fails the test if a result is there that is not whole, or a recording
// is not what it was.
func noHalf(t *testing.T, dir string, trials ...int) (whole int) {
	t.Helper()
	for _, n := range trials {
		if data, err := os.ReadFile(recordingOf(dir, n)); err != nil || string(data) != fmt.Sprintf("recording %d", n) {
			t.Fatalf("recording %d reads %q, %v", n, data, err)
		}
	}
	found, _ := filepath.Glob(filepath.Join(dir, "results/hall/rowan_*"))
	for _, d := range found {
		if strings.HasSuffix(d, ".failed.json") {
			var v map[string]any
			if raw, err := os.ReadFile(d); err != nil || json.Unmarshal(raw, &v) != nil {
				t.Fatalf("%s is half written", d)
			}
			continue
		}
		if _, err := report.ReadRun(d); err != nil {
			t.Fatalf("%s is half a result: %v", d, err)
		}
		if _, err := report.ReadTrace(d); err != nil {
			t.Fatalf("%s is half a result: %v", d, err)
		}
		for _, f := range []string{"made.json", "setup.yaml", "curve.csv", "events.csv", "missed.geojson", "passes.png", "path.png", "curve.png"} {
			if st, err := os.Stat(filepath.Join(d, f)); err != nil || st.Size() == 0 {
				t.Fatalf("%s lacks %s", d, f)
			}
		}
		whole++
	}
	if file := filepath.Join(dir, "results/.queue.sqlite"); exists(file) {
		db, err := sql.Open("sqlite", file)
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		var verdict string
		if err := db.QueryRow("pragma integrity_check").Scan(&verdict); err != nil || verdict != "ok" {
			t.Fatalf("the queue is damaged: %s, %v", verdict, err)
		}
	}
	return whole
}

// await waits until a page holds what is wanted as often as that.
func (p *process) await(t *testing.T, what, text string, times int) string {
	t.Helper()
	end := time.Now().Add(2 * time.Minute)
	for {
		_, body := p.get("/rows")
		if strings.Count(body, text) >= times {
			return body
		}
		if time.Now().After(end) {
			_, home := p.get("/")
			_, wrong, _ := strings.Cut(home, `role="alert"`)
			t.Fatalf("never: %s\n%s\n%s\n%s", what, body, p.err.String(), wrong[:min(len(wrong), 600)])
		}
		time.Sleep(50 * time.Millisecond)
	}
}

// TestServeKilled kills the program at random moments while it measures: no half
// result, no lost recording, and the queue goes on where it was.
func TestServeKilled(t *testing.T) {
	kills := 8
	if os.Getenv("SWATHE_LONG") == "1" {
		kills = 50
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d, %d kills", seed, kills)
	rng := rand.New(rand.NewPCG(seed, 1))
	dir := t.TempDir()
	trials := []int{1, 2, 3, 4, 5, 6}
	killLab(t, dir, trials...)
	// How long one takes here, so that kills fall into every part of the work.
	first := startServe(t, dir)
	begun := time.Now()
	first.await(t, "the first is measured", `"state":"measured"`, 1)
	one := min(time.Since(begun), 20*time.Second)
	first.kill()
	measured := noHalf(t, dir, trials...)
	for range kills {
		p := startServe(t, dir)
		if p.address == "" {
			t.Fatalf("serve does not start again: %s", p.err.String())
		}
		if measured == len(trials) {
			// All is done: one is asked for again, and the ask must survive.
			req, _ := http.NewRequest("POST", p.address+"runs/hall/rowan_single_3/measure?again", nil)
			req.Header.Set("Origin", strings.TrimSuffix(p.address, "/"))
			for range 40 { // until the folder was looked through
				if resp, err := http.DefaultClient.Do(req); err == nil {
					resp.Body.Close()
					if resp.StatusCode == http.StatusAccepted {
						break
					}
				}
				time.Sleep(10 * time.Millisecond)
			}
		}
		time.Sleep(time.Duration(rng.Float64() * 1.3 * float64(one)))
		p.kill()
		// On a machine that got busier one takes longer, and who is killed ever earlier is
		// set aside in the end, as a recording is on which every worker dies.
		if now := noHalf(t, dir, trials...); now > measured {
			measured = now
		} else if measured < len(trials) {
			one += one / 8
		}
	}
	t.Logf("one takes %v; %d of %d runs were whole after the last kill", one.Round(time.Millisecond), measured, len(trials))
	p := startServe(t, dir)
	defer p.kill()
	p.await(t, "all six are measured", `"state":"measured"`, len(trials))
	if n := noHalf(t, dir, trials...); n != len(trials) {
		t.Errorf("%d results of %d", n, len(trials))
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "results/hall/.*")); len(left) > 0 {
		t.Errorf("left over: %v", left)
	}
}

// TestServeSurvives guards that a recording on which the eye aborts leaves the
// page up with the reason, that the next is measured, that a second serve on the
// lab is refused, and that what was stopped stays so over a restart.
func TestServeSurvives(t *testing.T) {
	dir := t.TempDir()
	killLab(t, dir, 9, 10)
	p := startServe(t, dir)
	defer func() { p.kill() }()
	p.await(t, "the other one is measured", `"state":"measured"`, 1)
	body := p.await(t, "the crash is told", `"state":"not measured"`, 1)
	if !strings.Contains(body, `"name":"rowan_single_9","robot":"rowan","phase":"single","trial":9,"state":"not measured"`) || !strings.Contains(body, "swathe-eye stopped before the end") {
		t.Errorf("the crash of the eye is not told:\n%s", body)
	}
	if status, _ := p.get("/"); status != 200 {
		t.Errorf("the page answers %d", status)
	}
	second := startServe(t, dir)
	err := second.cmd.Wait()
	var code *exec.ExitError
	if second.address != "" || !asExit(err, &code) || code.ExitCode() != exitWrong || !strings.Contains(second.err.String(), "is being measured by process") {
		t.Errorf("a second serve on the same lab: %v, %q", err, second.err.String())
	}
	if status, _ := p.get("/"); status != 200 {
		t.Errorf("the second serve took the first one's page: %d", status)
	}
	// Stopped, and still so after a restart.
	if err := os.WriteFile(recordingOf(dir, 11), []byte("recording 11"), 0o644); err != nil {
		t.Fatal(err)
	}
	p.await(t, "the new one is listed", `"id":"hall/rowan_single_11"`, 1)
	req, _ := http.NewRequest("POST", p.address+"runs/hall/rowan_single_11/stop", nil)
	req.Header.Set("Origin", strings.TrimSuffix(p.address, "/"))
	if resp, err := http.DefaultClient.Do(req); err != nil || resp.StatusCode != http.StatusAccepted {
		t.Fatalf("stop: %v", err)
	}
	stopped := `"name":"rowan_single_11","robot":"rowan","phase":"single","trial":11,"state":"stopped"`
	p.await(t, "it is stopped", stopped, 1)
	p.kill()
	p = startServe(t, dir)
	p.await(t, "it is still stopped", stopped, 1)
	if _, err := os.Stat(filepath.Join(dir, "results/hall/rowan_single_11")); err == nil {
		t.Error("what was stopped was measured")
	}
}

func asExit(err error, to **exec.ExitError) bool {
	e, ok := err.(*exec.ExitError)
	*to = e
	return ok
}

// TestServeFullDisk guards that a full disk is told, loses nothing and leaves
// nothing half-written.
func TestServeFullDisk(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "small")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=300k", "tmpfs", dir).CombinedOutput(); err != nil {
		t.Skipf("no small disk can be mounted here: %s", out)
	}
	defer func() { _ = exec.Command("umount", "-l", dir).Run() }()
	killLab(t, dir, 1)
	p := startServe(t, dir)
	defer p.kill()
	body := p.await(t, "the failure is told", `"state":"not measured"`, 1)
	if !strings.Contains(body, "the disk is full") {
		t.Errorf("the reason is not told:\n%s", body)
	}
	noHalf(t, dir, 1)
	req, _ := http.NewRequest("PUT", p.address+"recordings/hall/rowan_single_2.mp4", bytes.NewReader(make([]byte, 1<<20)))
	req.Header.Set("Origin", strings.TrimSuffix(p.address, "/"))
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	if text, _ := io.ReadAll(resp.Body); resp.StatusCode != http.StatusInsufficientStorage || !strings.Contains(string(text), "disk is full") {
		t.Errorf("an upload onto a full disk: %d %s", resp.StatusCode, text)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "recordings/hall/*_2*")); len(left) > 0 {
		t.Errorf("left over: %v", left)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "recordings/hall/.*")); len(left) > 0 {
		t.Errorf("left over: %v", left)
	}
	noHalf(t, dir, 1)
}
