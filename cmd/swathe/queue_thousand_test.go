package main

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// TestThousand measures a thousand recordings, ten files under many names, one of
// them a film: with a worker killed at random every 5 s, with PostgreSQL that is
// stopped for 30 s besides, and with the lab's own queue. All have a result, and
// each is, to the byte, what one undisturbed program makes of its file.
//
// SWATHE_LONG=1 SWATHE_EYE=DIR/swathe-eye go test ./cmd/swathe -run TestThousand -v -timeout 3h
//
// SWATHE_RUNS sets another number of recordings.
func TestThousand(t *testing.T) {
	eye, ffmpeg := longQueue(t)
	runs := 1000
	if n, err := strconv.Atoi(os.Getenv("SWATHE_RUNS")); err == nil {
		runs = n
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d, %d recordings", seed, runs)
	want := alone(t, eye, ffmpeg)
	check := func(t *testing.T, n uint64, address string, outage func()) {
		dir := t.TempDir()
		thousandLab(t, dir, ffmpeg, runs)
		killWorkers(t, rand.New(rand.NewPCG(seed, n)), killing{dir: dir, address: address, eye: eye, workers: 4, every: 5 * time.Second, outage: outage, limit: 3 * time.Hour})
		for i := 1; i <= runs; i++ {
			at := filepath.Join(dir, "results/cluttered", fmt.Sprintf("siskin_mapped_%d", i))
			got, err := outcomeOf(at)
			if err != nil {
				t.Errorf("lost or half: %v", err)
			} else if !reflect.DeepEqual(got, want[i%len(want)]) {
				t.Errorf("%s differs from the same recording measured undisturbed", at)
			}
		}
		left, _ := filepath.Glob(filepath.Join(dir, "results/cluttered/*"))
		if len(left) != runs {
			t.Errorf("%d entries in results for %d recordings", len(left), runs)
		}
		again, most := repeats(t, dir, address)
		t.Logf("finished more than once (the second time finds the result, or writes the same): %d recordings, %d times at most", again, most)
	}
	t.Run("PostgreSQL", func(t *testing.T) {
		address, outage := postgres(t, 30*time.Second)
		check(t, 1, address, outage)
	})
	t.Run("embedded", func(t *testing.T) { check(t, 2, "", nil) })
}

// TestThroughput tells how many recordings a minute one, two and four workers
// measure. Nothing is asserted: it depends on the machine and what else runs there.
func TestThroughput(t *testing.T) {
	eye, ffmpeg := longQueue(t)
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	address, _ := postgres(t, 0)
	const runs = 40
	for _, at := range []string{address, ""} {
		for _, workers := range []int{1, 2, 4} {
			dir := t.TempDir()
			thousandLab(t, dir, ffmpeg, runs)
			swathe := func(args ...string) *exec.Cmd {
				cmd := exec.Command(self, args...)
				cmd.Env = append(os.Environ(), "SWATHE_TEST_AS=swathe", "SWATHE_EYE="+eye, "SWATHE_QUEUE="+at)
				return cmd
			}
			if out, err := swathe("queue", dir, "add").CombinedOutput(); err != nil {
				t.Fatalf("%v: %s", err, out)
			}
			began := time.Now()
			var all []*exec.Cmd
			for range workers {
				cmd := swathe("work", dir, "--until-empty")
				must(t, cmd.Start())
				all = append(all, cmd)
			}
			var cpu time.Duration
			for _, cmd := range all {
				must(t, cmd.Wait())
				cpu += cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime() // its swathe-eye's too
			}
			took := time.Since(began)
			if done, _ := filepath.Glob(filepath.Join(dir, "results/cluttered/*/run.json")); len(done) != runs {
				t.Errorf("%d of %d have a result", len(done), runs)
			}
			name := "PostgreSQL"
			if at == "" {
				name = "own file"
			}
			t.Logf("%-10s  %d workers: %4.1f recordings a minute, %.2f s of processor time each", name, workers, runs/took.Minutes(), cpu.Seconds()/runs)
		}
	}
}

// longQueue skips a test that is long, and returns swathe-eye and ffmpeg.
func longQueue(t *testing.T) (eye, ffmpeg string) {
	t.Helper()
	if os.Getenv("SWATHE_LONG") == "" {
		t.Skip("takes half an hour of processor time: SWATHE_LONG=1 runs it")
	}
	eye = os.Getenv("SWATHE_EYE")
	ffmpeg, err := exec.LookPath("ffmpeg")
	if eye == "" || err != nil {
		t.Skip("needs swathe-eye (SWATHE_EYE) and ffmpeg")
	}
	if eye, err = filepath.Abs(eye); err != nil {
		t.Fatal(err)
	}
	return eye, ffmpeg
}

// kinds is how many different files there are.
const kinds = 10

// thousandLab makes a lab of so many recordings of one room: the first ten are
// eight seconds of film, small, and nine stretches of 40 s of a path; the others
// are the same again.
func thousandLab(t *testing.T, dir, ffmpeg string, runs int) {
	t.Helper()
	const maple, shrink = "../../testdata/maple", 6
	raw, err := os.ReadFile(maple + "/lab.yaml")
	must(t, err)
	text := regexp.MustCompile(`(?m)^ *tapes:\n.*\n`).ReplaceAllString(string(raw), "")
	text = strings.Replace(text, "[960, 540]", fmt.Sprintf("[%d, %d]", 960/shrink, 540/shrink), 1)
	text = regexp.MustCompile(`"pixel": \[([\d.]+), ([\d.]+)\]`).ReplaceAllStringFunc(text, func(m string) string {
		var x, y float64
		if _, err := fmt.Sscanf(m, `"pixel": [%g, %g]`, &x, &y); err != nil {
			t.Fatal(err)
		}
		return fmt.Sprintf(`"pixel": [%.3f, %.3f]`, (x+0.5)/shrink-0.5, (y+0.5)/shrink-0.5)
	})
	at := filepath.Join(dir, "recordings/cluttered")
	must(t, os.MkdirAll(at, 0o755))
	must(t, os.WriteFile(filepath.Join(dir, "lab.yaml"), []byte(text+"settings: {cell: 0.05, draws: 20, budget_draws: 10}\n"), 0o644))
	film := filepath.Join(t.TempDir(), "film.mp4")
	out, err := exec.Command(ffmpeg, "-v", "error", "-y", "-ss", "4", "-t", "8", "-i", maple+"/recordings/cluttered/siskin_mapped_1.mp4",
		"-vf", fmt.Sprintf("scale=%d:-2,fps=5", 960/shrink), "-c:v", "libx264", "-preset", "fast", "-crf", "20", "-threads", "1", "-an", film).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	data, err := os.ReadFile(film)
	must(t, err)
	truth, err := os.ReadFile(maple + "/truth/cluttered/siskin_mapped_1/trace.csv")
	must(t, err)
	rows := strings.Split(strings.TrimSpace(string(truth)), "\n")[1:]
	files, names := [kinds][]byte{data}, [kinds]string{".mp4"}
	for k := 1; k < kinds; k++ {
		var b bytes.Buffer
		b.WriteString("t_s,x_m,y_m\n")
		first := -1.0
		for i := 150 + 200*k; i < 150+200*k+600; i += 3 {
			var s, x, y float64
			if _, err := fmt.Sscanf(strings.ReplaceAll(rows[i], ",", " "), "%g %g %g", &s, &x, &y); err != nil {
				t.Fatal(err)
			}
			if first < 0 {
				first = s
			}
			fmt.Fprintf(&b, "%.3f,%.5f,%.5f\n", s-first, x, y)
		}
		files[k], names[k] = b.Bytes(), ".csv"
	}
	for i := 1; i <= runs; i++ {
		must(t, os.WriteFile(filepath.Join(at, fmt.Sprintf("siskin_mapped_%d%s", i, names[i%kinds])), files[i%kinds], 0o644))
	}
}

// alone measures each of the files by one program that nobody disturbs.
func alone(t *testing.T, eye, ffmpeg string) (want [kinds]map[string]any) {
	t.Helper()
	dir := t.TempDir()
	thousandLab(t, dir, ffmpeg, kinds)
	t.Setenv("SWATHE_EYE", eye)
	var said bytes.Buffer
	if code := run(context.Background(), []string{"measure", dir}, &said, &said); code != exitOK {
		t.Fatalf("measure ended with %d: %s", code, said.String())
	}
	for i := 1; i <= kinds; i++ {
		got, err := outcomeOf(filepath.Join(dir, "results/cluttered", fmt.Sprintf("siskin_mapped_%d", i)))
		must(t, err)
		want[i%kinds] = got
	}
	return want
}

// outcomeOf reads a result but for what names its run. Its pictures must be whole.
func outcomeOf(dir string) (map[string]any, error) {
	raw, err := os.ReadFile(filepath.Join(dir, "run.json"))
	if err != nil {
		return nil, err
	}
	var out map[string]any
	if err := json.Unmarshal(raw, &out); err != nil {
		return nil, fmt.Errorf("%s: %w", dir, err)
	}
	delete(out, "trial")
	delete(out, "recording")
	for _, f := range []string{"trace.csv", "curve.csv", "events.csv", "missed.geojson", "setup.yaml"} {
		text, err := os.ReadFile(filepath.Join(dir, f))
		if err != nil {
			return nil, err
		}
		out[f] = string(text)
	}
	for _, f := range []string{"passes.png", "path.png", "curve.png"} {
		raw, err := os.ReadFile(filepath.Join(dir, f))
		if err != nil || !bytes.HasSuffix(raw, []byte("IEND\xaeB`\x82")) {
			return nil, fmt.Errorf("%s/%s is no whole picture: %v", dir, f, err)
		}
	}
	if _, err := os.Stat(filepath.Join(dir, "made.json")); err != nil {
		return nil, err
	}
	return out, nil
}

// repeats counts recordings that workers finished more than once, and how often
// the most.
func repeats(t *testing.T, dir, address string) (again, most int) {
	t.Helper()
	driver, at := "pgx", address
	if address == "" {
		driver, at = "sqlite", filepath.Join(dir, "results/.queue.sqlite")
	}
	db, err := sql.Open(driver, at)
	must(t, err)
	defer db.Close()
	rows, err := db.Query("select count(*) from swathe_outcome group by run")
	must(t, err)
	defer rows.Close()
	for rows.Next() {
		var n int
		must(t, rows.Scan(&n))
		if n > 1 {
			again++
		}
		most = max(most, n)
	}
	must(t, rows.Err())
	return again, most
}
