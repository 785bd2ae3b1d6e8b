package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"swathe/cmd/internal/queue"
)

// Workers are killed at random while they measure, by the lab's own queue and by
// PostgreSQL, whose server is stopped for a while besides: every recording is
// measured, none is half there, and none is noted as failed.
func TestQueueSurvivesKills(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	check := func(t *testing.T, n uint64, address string, outage func()) {
		self, err := os.Executable()
		if err != nil {
			t.Fatal(err)
		}
		dir, trials := t.TempDir(), []int{1, 2, 3, 4, 5, 6} // the fake eye aborts on 9
		killLab(t, dir, trials...)
		killWorkers(t, rand.New(rand.NewPCG(seed, n)), killing{dir: dir, address: address, eye: self, workers: 2, every: 700 * time.Millisecond, peace: true, outage: outage, limit: 5 * time.Minute})
		if whole := noHalf(t, dir, trials...); whole != len(trials) {
			t.Errorf("%d of %d recordings have a result", whole, len(trials))
		}
		if failed, _ := filepath.Glob(filepath.Join(dir, "results/hall/*.failed.json")); len(failed) > 0 {
			t.Errorf("noted as failed: %v", failed)
		}
	}
	t.Run("embedded", func(t *testing.T) { check(t, 1, "", nil) })
	t.Run("PostgreSQL", func(t *testing.T) {
		address, outage := postgres(t, 3*time.Second)
		check(t, 2, address, outage)
	})
}

// postgres starts a server for this test, and returns its address and what stops
// it for a while.
func postgres(t *testing.T, away time.Duration) (address string, outage func()) {
	t.Helper()
	if found, _ := filepath.Glob("/usr/lib/postgresql/*/bin/initdb"); len(found) == 0 {
		if os.Getenv("SWATHE_EYE") == "" {
			t.Skip("PostgreSQL is not installed; cmd/test.sh installs it")
		}
		t.Fatal("PostgreSQL is not installed; cmd/test.sh installs it")
	}
	dir, err := os.MkdirTemp("/tmp", "swathe-queue-")
	if err != nil {
		t.Fatal(err)
	}
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	port := fmt.Sprint(ln.Addr().(*net.TCPAddr).Port)
	ln.Close()
	script := func(args ...string) string {
		// The server keeps the pipe of what it inherits, so it gets a file.
		log := filepath.Join(t.TempDir(), "log")
		f, err := os.Create(log)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		cmd := exec.Command("bash", append([]string{"../postgres.sh"}, args...)...)
		cmd.Stdout, cmd.Stderr = f, f
		err = cmd.Run()
		out, _ := os.ReadFile(log)
		if err != nil {
			t.Fatalf("cmd/postgres.sh %s: %v\n%s", args[0], err, out)
		}
		lines := strings.Split(strings.TrimSpace(string(out)), "\n")
		return lines[len(lines)-1]
	}
	address = script("start", dir, port)
	t.Cleanup(func() {
		script("stop", dir)
		os.RemoveAll(dir)
	})
	if err := queue.Migrate(context.Background(), address); err != nil {
		t.Fatal(err)
	}
	return address, func() {
		script("stop", dir)
		time.Sleep(away)
		script("start", dir, port)
	}
}

// killing says how workers are killed while they empty a queue.
type killing struct {
	dir, address, eye string
	workers           int
	every             time.Duration // between kills
	peace             bool          // four kills, and no more: so that a short test ends
	outage            func()        // stops the database for a while; nil: none is stopped
	limit             time.Duration // for all
}

// killWorkers has workers empty the queue of a lab while they are killed at random.
func killWorkers(t *testing.T, rng *rand.Rand, k killing) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	swathe := func(args ...string) *exec.Cmd {
		cmd := exec.Command(self, args...)
		cmd.Env = append(os.Environ(), "SWATHE_TEST_AS=swathe", "SWATHE_EYE="+k.eye, "SWATHE_QUEUE="+k.address)
		return cmd
	}
	if out, err := swathe("queue", k.dir, "add").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	q, err := queue.Open(t.Context(), k.dir, k.address)
	if err != nil {
		t.Fatal(err)
	}
	defer q.Close()
	said, err := os.Create(filepath.Join(t.TempDir(), "said"))
	if err != nil {
		t.Fatal(err)
	}
	defer said.Close()
	start := func() *exec.Cmd {
		cmd := swathe("work", k.dir, "--tries", "1") // each death leads to the last try
		cmd.Stderr = said
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		return cmd
	}
	var at []*exec.Cmd
	for range k.workers {
		at = append(at, start())
	}
	defer func() {
		for _, c := range at {
			_ = c.Process.Kill()
			_ = c.Wait()
		}
	}()
	kills, began, told := 0, time.Now(), time.Now()
	for n := 1; ; n++ {
		time.Sleep(k.every)
		left, err := q.Open(context.Background())
		if err == nil && left == 0 {
			break
		}
		if time.Since(began) > k.limit {
			words, _ := os.ReadFile(said.Name())
			t.Fatalf("%d recordings are not done in time; workers said: %s", left, words)
		}
		if time.Since(told) > time.Minute {
			told = time.Now()
			t.Logf("after %.0f s %d are left (%v), %d kills", time.Since(began).Seconds(), left, err, kills)
		}
		if n == 3 && k.outage != nil {
			k.outage()
		}
		if n <= 4 || !k.peace {
			i := rng.IntN(k.workers)
			_ = at[i].Process.Kill()
			_ = at[i].Wait()
			at[i] = start()
			kills++
		}
	}
	t.Logf("%d workers, %d kills, %.0f s", k.workers, kills, time.Since(began).Seconds())
}
