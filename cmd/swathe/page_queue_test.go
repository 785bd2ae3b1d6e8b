package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"swathe/cmd/internal/queue"
)

// TestPageQueue guards that the page shows who works on the queue and what waits,
// and that its buttons do what swathe queue does: a paused queue begins nothing,
// what is stopped stays so, and all else is measured once it goes on.
func TestPageQueue(t *testing.T) {
	dir := t.TempDir()
	killLab(t, dir)
	for n := range 3 { // paths, of which there is no picture to ask for
		must(t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("recordings/hall/rowan_single_%d.csv", n+1)), []byte("t_s,x_m,y_m\n0,0.5,0.5\n1,0.5,0.5\n2,0.7,0.5\n3,0.9,0.5\n4,1.1,0.5\n5,1.3,0.5\n"), 0o644))
	}
	q, err := queue.Open(t.Context(), dir, "")
	must(t, err)
	defer q.Close()
	must(t, q.Pause(t.Context()))
	p := startServe(t, dir)
	defer func() { p.kill() }()
	b := browserTab(t, p.address, 1024, 800, false)
	b.open(p.address, "#queue")
	self, err := os.Executable()
	must(t, err)
	helper := exec.Command(self, "work", dir)
	helper.Env = append(os.Environ(), "SWATHE_TEST_AS=swathe", "SWATHE_EYE="+self)
	must(t, helper.Start())
	defer func() { _ = helper.Process.Kill(); _ = helper.Wait() }()
	b.until("both workers are shown", `document.querySelectorAll('#workers li').length === 2`, 20*time.Second)
	b.until("what waits and the pause are told", `document.getElementById('queue-line').textContent.includes('3 recordings wait, 2 workers. Paused: nothing new is begun.') && document.getElementById('pause').textContent === 'Resume'`, 20*time.Second)
	b.shot("queue-paused")
	b.click(`tr[data-id="hall/rowan_single_2"] button[data-do="stop"]`)
	b.until("two wait", `document.getElementById('queue-line').textContent.includes('2 recordings wait')`, 20*time.Second)
	b.click("#pause")
	b.until("it goes on", `document.getElementById('pause').textContent === 'Pause'`, 20*time.Second)
	b.until("what was not stopped is measured", `document.querySelectorAll('#rows tr[data-state="measured"]').length === 2 && !!document.querySelector('#rows tr[data-id="hall/rowan_single_2"][data-state="stopped"]')`, 60*time.Second)
	if whole, _ := filepath.Glob(filepath.Join(dir, "results/hall/*/made.json")); len(whole) != 2 {
		t.Errorf("results: %v; one was stopped", whole)
	}
	b.cut.Store(true) // the page goes first
}
