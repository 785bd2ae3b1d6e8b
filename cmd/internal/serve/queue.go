package serve

import (
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"slices"

	"swathe/cmd/internal/lab"
	"swathe/report/page"
)

// queue is what must be remembered through a restart besides what the folders
// tell: everything without an up-to-date result waits by itself.
type queue struct {
	Held  []string `json:"held"`  // stopped by the tester: not begun until asked for
	Again []string `json:"again"` // to be measured although there is a result
}

func (d *Desk) queueFile() string { return filepath.Join(d.results(), ".queue.json") }

func readQueue(file string) queue {
	var q queue
	if raw, err := os.ReadFile(file); err == nil {
		_ = json.Unmarshal(raw, &q) // a damaged file costs what it remembered
	}
	return q
}

// saveQueue writes the queue; d.mu is held.
func (d *Desk) saveQueue() {
	raw, err := json.MarshalIndent(d.queue, "", "  ")
	if err == nil {
		err = lab.WriteWhole(d.queueFile(), append(raw, '\n'))
	}
	if err != nil {
		d.say("What was stopped and what is to be measured again can't be remembered for the next start: %v", err)
	}
}

// Measure asks for a run.
func (d *Desk) Measure(run string, again bool) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if _, ok := d.items[run]; !ok {
		return page.Refuse(http.StatusNotFound, "There is no recording of %s in this lab, or the set-up can't be used.", run)
	}
	if d.active[run] != nil {
		return nil
	}
	d.queue.Held = without(d.queue.Held, run)
	if again && !slices.Contains(d.queue.Again, run) {
		d.queue.Again = append(d.queue.Again, run)
	}
	d.saveQueue()
	d.nudge()
	return nil
}

// Stop ends a run, or takes it out of those that wait.
func (d *Desk) Stop(run string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if _, ok := d.items[run]; !ok {
		return page.Refuse(http.StatusNotFound, "There is no recording of %s in this lab.", run)
	}
	d.queue.Again = without(d.queue.Again, run)
	if !slices.Contains(d.queue.Held, run) {
		d.queue.Held = append(d.queue.Held, run)
	}
	d.saveQueue()
	if g := d.active[run]; g != nil {
		g.cancel()
	} else {
		d.leave(run)
		d.put(run, page.Held)
	}
	d.nudge()
	return nil
}

// Arrived has the loop look for a recording that was received.
func (d *Desk) Arrived() { d.nudge() }
