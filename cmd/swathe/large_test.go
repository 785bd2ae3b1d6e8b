package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// largeLab makes a lab of 200 robots and 1,000 measured runs out of one run, for
// benchmarks: each run is a copy under another name.
func largeLab(b *testing.B) string {
	b.Helper()
	dir := b.TempDir()
	must := func(err error) {
		b.Helper()
		if err != nil {
			b.Fatal(err)
		}
	}
	must(os.CopyFS(dir, os.DirFS("testdata/lab")))
	text, err := os.ReadFile(filepath.Join(dir, "lab.yaml"))
	must(err)
	lab, robots := string(text), &strings.Builder{}
	for i := range 200 {
		fmt.Fprintf(robots, "  robin%03d: {diameter: 0.34, height: 0.1, tools: {brush: {width: 0.2, ahead: 0.02}}}\n", i)
	}
	lab = strings.Replace(lab, "robots:\n", "robots:\n"+robots.String(), 1)
	must(os.WriteFile(filepath.Join(dir, "lab.yaml"), []byte(lab), 0o644))
	must(os.Remove(filepath.Join(dir, "recordings", "den", "tern_mapping_1.csv")))
	var out strings.Builder
	if code := run(context.Background(), []string{"measure", dir}, &out, &out); code != exitOK {
		b.Fatal(out.String())
	}
	from := filepath.Join(dir, "results", "den", "tern_mapped_1")
	files, err := os.ReadDir(from)
	must(err)
	rec, err := os.ReadFile(filepath.Join(dir, "recordings", "den", "tern_mapped_1.csv"))
	must(err)
	for i := range 200 {
		for trial := 1; trial <= 5; trial++ {
			name := fmt.Sprintf("robin%03d_mapped_%d", i, trial)
			to := filepath.Join(dir, "results", "den", name)
			must(os.Mkdir(to, 0o755))
			for _, f := range files {
				if filepath.Ext(f.Name()) == ".png" {
					continue
				}
				data, err := os.ReadFile(filepath.Join(from, f.Name()))
				must(err)
				data = bytes.ReplaceAll(data, []byte("tern_mapped_1"), []byte(name))
				data = bytes.ReplaceAll(data, []byte("tern"), fmt.Appendf(nil, "robin%03d", i))
				data = bytes.Replace(data, []byte(`"trial": 1`), fmt.Appendf(nil, `"trial": %d`, trial), 1)
				must(os.WriteFile(filepath.Join(to, f.Name()), data, 0o644))
			}
			must(os.WriteFile(filepath.Join(dir, "recordings", "den", name+".csv"), rec, 0o644))
		}
	}
	must(os.WriteFile(filepath.Join(dir, "plan.yaml"), []byte("phases: [mapped]\ntrials: 6\nseed: 1\n"), 0o644))
	var sheet strings.Builder
	sheet.WriteString("robot,trial,quantity,value,unit\n")
	for i := range 200 {
		for trial := 1; trial <= 5; trial++ {
			fmt.Fprintf(&sheet, "robin%03d,%d,suction,%g,kPa\n", i, trial, 1+float64(i+trial)/100)
		}
	}
	must(os.WriteFile(filepath.Join(dir, "sheet.csv"), []byte(sheet.String()), 0o644))
	for _, args := range [][]string{{"bench", dir, "--import", filepath.Join(dir, "sheet.csv")}, {"plan", dir}, {"dossier", dir, "robin007"}} {
		out.Reset()
		if code := run(context.Background(), args, &out, &out); code != exitOK {
			b.Fatal(out.String())
		}
	}
	return dir
}

// Of 1,000 runs of 200 robots, read before: the index and the hashes are there.
func BenchmarkLargeLab(b *testing.B) {
	dir := largeLab(b)
	for _, args := range [][]string{{"plan", dir}, {"dossier", dir, "robin007"}, {"robots", dir}} {
		b.Run(args[0], func(b *testing.B) {
			before := cpuSeconds()
			for b.Loop() {
				var out strings.Builder
				if code := run(context.Background(), args, &out, &out); code != exitOK {
					b.Fatal(out.String())
				}
			}
			b.ReportMetric(1000*(cpuSeconds()-before)/float64(b.N), "cpu-ms/op") // of all cores, whatever else the machine does
		})
	}
}

// A path of four hours in a hall of 200 m2, at ten places a second, all settings as
// they are: rows up and down and then across, again and again.
func BenchmarkHall(b *testing.B) {
	const hours, rate, speed = 4, 10, 0.3
	const wide, deep, inset, pitch = 20.0, 10.0, 0.3, 0.25
	dir := b.TempDir()
	write := func(name, text string) {
		b.Helper()
		name = filepath.Join(dir, name)
		if err := errors.Join(os.MkdirAll(filepath.Dir(name), 0o755), os.WriteFile(name, []byte(text), 0o644)); err != nil {
			b.Fatal(err)
		}
	}
	write("lab.yaml", `layouts:
  hall:
    room: [[0, 0], [20, 0], [20, 10], [0, 10]]
    obstacles:
      crate: {outline: [[6, 4], [7, 4], [7, 5], [6, 5]], height: 0.5}
robots:
  tern: {diameter: 0.34, height: 0.1, tools: {brush: {width: 0.2, ahead: 0.02}}}
`)
	path := &strings.Builder{}
	path.WriteString("t_s,x_m,y_m,heading_deg\n")
	x, y, heading, n := inset, inset, 0.0, 0
	place := func() {
		fmt.Fprintf(path, "%.2f,%.4f,%.4f,%.2f\n", float64(n)/rate, x, y, heading)
		n++
	}
	last := hours * 3600 * rate
	place()
	to := func(tx, ty float64) {
		want := math.Atan2(ty-y, tx-x) * 180 / math.Pi
		for turn := math.Remainder(want-heading, 360); math.Abs(turn) > 1e-9 && n < last; turn = math.Remainder(want-heading, 360) {
			heading += math.Max(-9, math.Min(9, turn))
			place()
		}
		for d := math.Hypot(tx-x, ty-y); d > 1e-9 && n < last; d = math.Hypot(tx-x, ty-y) {
			s := math.Min(1, speed/rate/d)
			x, y = x+s*(tx-x), y+s*(ty-y)
			place()
		}
	}
	free := func(v float64) bool { return v < 3.7 || v > 5.3 } // the crate's rows are left out
	for n < last {
		for v := inset; v <= deep-inset; v += 2 * pitch {
			if free(v) && free(v+pitch) {
				to(inset, v)
				to(wide-inset, v)
				to(wide-inset, v+pitch)
				to(inset, v+pitch)
			}
		}
		to(inset, inset)
	}
	write("recordings/hall/tern_mapped_1.csv", path.String())
	self, err := os.Executable()
	if err != nil {
		b.Fatal(err)
	}
	peak := 0.0
	for b.Loop() {
		cmd := exec.Command(self, "measure", dir, "--again")
		cmd.Env = append(os.Environ(), "SWATHE_TEST_AS=swathe")
		if out, err := cmd.CombinedOutput(); err != nil {
			b.Fatalf("%v\n%s", err, out)
		}
		if u, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage); ok {
			peak = max(peak, float64(u.Maxrss)/1024)
		}
		b.ReportMetric(cmd.ProcessState.UserTime().Seconds()+cmd.ProcessState.SystemTime().Seconds(), "cpu-s/op")
	}
	b.ReportMetric(peak, "peak-MB")
}

// cpuSeconds is the time that this process has had of all cores.
func cpuSeconds() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return float64(u.Utime.Sec+u.Stime.Sec) + float64(u.Utime.Usec+u.Stime.Usec)/1e6
}
