package main

import (
	"fmt"
	"io"
	"os"
	"sort"
	"strings"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"

	"swathe/track"
)

// barSteps is how finely the bar counts one recording.
const barSteps = 1000

// bar shows how the work on several recordings goes: recording, share done,
// speed and time left. It shows nothing where there is no terminal.
type bar struct {
	p      *progressbar.ProgressBar // nil: show nothing
	total  int
	done   int
	active map[string]track.Progress
}

// newBar makes a bar for total recordings that draws on w.
func newBar(w io.Writer, total int) *bar {
	b := &bar{total: total, active: map[string]track.Progress{}}
	f, ok := w.(*os.File)
	if !ok || total == 0 || !term.IsTerminal(int(f.Fd())) {
		return b
	}
	b.p = newTerminalBar(w, int64(total)*barSteps)
	return b
}

func newTerminalBar(w io.Writer, steps int64) *progressbar.ProgressBar {
	return progressbar.NewOptions64(steps,
		progressbar.OptionSetWriter(w),
		progressbar.OptionSetWidth(24),
		progressbar.OptionThrottle(100*time.Millisecond),
		progressbar.OptionSetPredictTime(true),
		progressbar.OptionSetElapsedTime(true),
		progressbar.OptionClearOnFinish(),
		progressbar.OptionSetTheme(progressbar.Theme{Saucer: "=", SaucerHead: ">", SaucerPadding: " ", BarStart: "[", BarEnd: "]"}),
	)
}

func (b *bar) started(run string) {
	b.active[run] = track.Progress{}
	b.draw()
}

func (b *bar) progress(run string, p track.Progress) {
	b.active[run] = p
	b.draw()
}

func (b *bar) finished(run string) {
	delete(b.active, run)
	b.done++
	b.draw()
}

// above clears the bar so that a line can be printed, and draws it again below.
func (b *bar) above(printLine func()) {
	if b.p != nil {
		_ = b.p.Clear()
	}
	printLine()
	if b.p != nil && b.done < b.total {
		_ = b.p.RenderBlank()
	}
}

func (b *bar) close() {
	if b.p != nil {
		_ = b.p.Clear()
	}
}

func (b *bar) draw() {
	if b.p == nil {
		return
	}
	steps := float64(b.done)
	names := make([]string, 0, len(b.active))
	for run, p := range b.active {
		steps += p.Share
		name := run
		if p.Speed > 0 {
			name = fmt.Sprintf("%s %.1fx", run, p.Speed)
		}
		names = append(names, name)
	}
	sort.Strings(names)
	b.p.Describe(fmt.Sprintf("%d of %d  %s", min(b.done+1, b.total), b.total, strings.Join(names, ", ")))
	_ = b.p.Set64(int64(steps * barSteps))
}
