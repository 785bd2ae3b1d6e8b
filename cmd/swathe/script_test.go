package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"swathe/track"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"swathe": main})
}

// TestScript runs the scripts of testdata/script, each headed by the case that
// it guards. Most use paths (.csv), which need no eye; those that need one are
// skipped with a reason unless SWATHE_EYE names it, as cmd/test.sh does.
func TestScript(t *testing.T) {
	eye := os.Getenv("SWATHE_EYE")
	maple, err := filepath.Abs("../../testdata/maple")
	if err != nil {
		t.Fatal(err)
	}
	base, err := filepath.Abs("testdata/lab")
	if err != nil {
		t.Fatal(err)
	}
	// What writes Parquet is a program of its own.
	programs := t.TempDir()
	if out, err := exec.Command("go", "build", "-o", programs, "../swathe-parquet").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("MAPLE", maple)
			e.Setenv("SWATHE_PARQUET", filepath.Join(programs, "swathe-parquet"))
			e.Setenv("RESIDUE", filepath.Join(filepath.Dir(maple), "residue"))
			if eye != "" {
				e.Setenv("SWATHE_EYE", eye)
			}
			return os.CopyFS(filepath.Join(e.WorkDir, "lab"), os.DirFS(base))
		},
		Condition: func(cond string) (bool, error) {
			if cond == "eye" {
				return eye != "", nil
			}
			return false, fmt.Errorf("unknown condition %q", cond)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"whole":   whole,
			"await":   await,
			"json":    jsonField,
			"code":    code,
			"replace": replace,
		},
	})
}

// whole fails if a folder holds anything that was being written: whole DIR
func whole(ts *testscript.TestScript, neg bool, args []string) {
	root := ts.MkAbs(args[0])
	err := filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if n := d.Name(); strings.Contains(n, ".building-") || strings.Contains(n, ".aside-") || strings.Contains(n, ".writing-") {
			return fmt.Errorf("%s was left behind", p)
		}
		return nil
	})
	if err != nil {
		ts.Fatalf("%v", err)
	}
}

// await waits until a file is there, or with ! until it is gone: await FILE
func await(ts *testscript.TestScript, neg bool, args []string) {
	end := time.Now().Add(30 * time.Second)
	for time.Now().Before(end) {
		if _, err := os.Stat(ts.MkAbs(args[0])); (err == nil) != neg {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	ts.Fatalf("waited 30 s for %s", args[0])
}

// jsonField fails unless a field of a JSON file (or of stdout) has a value as
// Go's %v prints it: json FILE runs.0.outcome measured
func jsonField(ts *testscript.TestScript, neg bool, args []string) {
	var doc any
	dec := json.NewDecoder(strings.NewReader(ts.ReadFile(args[0])))
	if err := dec.Decode(&doc); err != nil {
		ts.Fatalf("%s is no JSON: %v", args[0], err)
	}
	if dec.More() {
		ts.Fatalf("%s holds more than one JSON document", args[0])
	}
	for _, key := range strings.Split(args[1], ".") {
		switch v := doc.(type) {
		case map[string]any:
			var ok bool
			if doc, ok = v[key]; !ok {
				ts.Fatalf("%s has no field %s", args[0], args[1])
			}
		case []any:
			i := 0
			if _, err := fmt.Sscan(key, &i); err != nil || i >= len(v) {
				ts.Fatalf("%s has no element %s", args[0], args[1])
			}
			doc = v[i]
		default:
			ts.Fatalf("%s has no field %s", args[0], args[1])
		}
	}
	if got := fmt.Sprint(doc); (got == args[2]) == neg {
		ts.Fatalf("%s: %s is %s, want %s (not: %v)", args[0], args[1], got, args[2], neg)
	}
}

// code fails unless a call ends with an exit code: code 1 swathe measure lab
func code(ts *testscript.TestScript, neg bool, args []string) {
	want := args[0]
	err := ts.Exec(args[1], args[2:]...)
	got := "0"
	if err != nil {
		got = strings.TrimPrefix(err.Error(), "exit status ")
	}
	if got != want {
		ts.Fatalf("%s ended with %s, want %s", strings.Join(args[1:], " "), got, want)
	}
}

// replace replaces text in a file: replace OLD NEW FILE
func replace(ts *testscript.TestScript, neg bool, args []string) {
	file := ts.MkAbs(args[2])
	data, err := os.ReadFile(file)
	ts.Check(err)
	if !strings.Contains(string(data), args[0]) {
		ts.Fatalf("%s does not hold %q", args[2], args[0])
	}
	ts.Check(os.WriteFile(file, []byte(strings.Replace(string(data), args[0], args[1], 1)), 0o644))
}

// The eye that tests name must be there, or scripts would be skipped for ever.
func TestEyeIsThere(t *testing.T) {
	if os.Getenv("SWATHE_EYE") == "" {
		t.Skip("SWATHE_EYE is not set: the scripts that need the eye are skipped; cmd/test.sh sets it")
	}
	p, err := track.FindEye()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(p); err != nil {
		t.Fatal(err)
	}
}

// A call ends with its context even where no signal can be sent.
func TestStoppedBeforeItBegan(t *testing.T) {
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS("testdata/lab")); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	var out, errs strings.Builder
	if c := run(ctx, []string{"measure", dir}, &out, &errs); c != exitFailed {
		t.Errorf("exit code %d, want %d\n%s%s", c, exitFailed, &out, &errs)
	}
	if _, err := os.Stat(filepath.Join(dir, "results", "den")); err == nil {
		t.Errorf("something was written")
	}
}

// A full disk: every write fails at some point, and nothing half-written stays.
func TestFullDisk(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=200k"); err != nil {
		t.Skipf("a small file system can't be mounted here (%v); the limit on a file's size stands in for it in testdata/script", err)
	}
	defer syscall.Unmount(dir, 0)
	if err := os.CopyFS(dir, os.DirFS("testdata/lab")); err != nil {
		t.Fatal(err)
	}
	var out, errs strings.Builder
	if c := run(context.Background(), []string{"measure", dir}, &out, &errs); c != exitFailed {
		t.Errorf("exit code %d, want %d\n%s%s", c, exitFailed, &out, &errs)
	}
	if !strings.Contains(out.String(), "the disk is full") {
		t.Errorf("not told: %s%s", &out, &errs)
	}
	found, err := filepath.Glob(filepath.Join(dir, "results", "den", "*"))
	hidden, err2 := filepath.Glob(filepath.Join(dir, "results", "den", ".*"))
	if err != nil || err2 != nil || len(found)+len(hidden) > 0 {
		t.Errorf("left behind: %v %v", found, hidden)
	}
}

// Starting costs little: it is what every call pays.
func BenchmarkHelp(b *testing.B) {
	for b.Loop() {
		var out strings.Builder
		run(context.Background(), []string{"--help"}, &out, &out)
	}
}
