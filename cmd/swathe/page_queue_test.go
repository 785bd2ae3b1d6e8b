package main

import (
	"os"
	"os/exec"
	"testing"
	"time"

	"swathe/cmd/internal/queue"
)

// TestPageQueue guards that the page shows who works on the queue and what waits,
// and that its buttons do what swathe queue does: a paused queue begins nothing,
// what is stopped stays so, and all else is measured once it goes on.
func TestPageQueue(t *testing.T) {
	dir := t.TempDir()
	killLab(t, dir, 1, 2, 3)
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
	if n := noHalf(t, dir, 1, 2, 3); n != 2 {
		t.Errorf("%d results, of which one was stopped", n)
	}
}
