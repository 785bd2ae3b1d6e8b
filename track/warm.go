package track

import (
	"bufio"
	"context"
	"encoding/json"
	"io"
	"os/exec"
	"slices"
	"sync"
	"time"
)

// Warm keeps eyes that wait for questions about frames: to start one takes longer
// than to answer, and one that has a recording open answers the next question
// about it sooner. It is safe for use by several goroutines; Close it.
type Warm struct {
	find func() (string, error)

	mu     sync.Mutex
	idle   []*waitingEye // the one used last at the end
	closed bool
}

// What Warm holds at most: eyes that wait, and for how long one keeps the
// recording open that it was asked about, with the memory of its decoder.
const (
	mostIdle = 2
	idleTime = time.Minute
	answerIn = time.Minute // after that an eye that nobody waits for any more is given up
)

// waitingEye is an eye that can be asked.
type waitingEye struct {
	path  string
	cmd   *exec.Cmd
	in    io.WriteCloser
	out   *bufio.Reader
	files []string // of the last question
	used  time.Time
}

// NewWarm returns a Warm that finds the eye by find, such as FindEye.
func NewWarm(find func() (string, error)) *Warm { return &Warm{find: find} }

func startWaiting(eye string) (*waitingEye, error) {
	w := &waitingEye{path: eye, cmd: exec.Command(eye, "frame")}
	var err error
	if w.in, err = w.cmd.StdinPipe(); err != nil {
		return nil, err
	}
	out, err := w.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	w.out = bufio.NewReaderSize(out, 1<<16)
	if err := w.cmd.Start(); err != nil {
		return nil, err
	}
	return w, nil
}

// Frames is the function Frames with an eye that waits, or a fresh one if there
// is none or it does not answer.
func (w *Warm) Frames(ctx context.Context, q FrameRequest) ([]FramePicture, error) {
	if err := q.Validate(); err != nil {
		return nil, err
	}
	eye, err := w.find()
	if err != nil {
		return nil, err
	}
	e := w.take(eye, q.Files)
	if e == nil {
		defer w.Prepare()
		return Frames(ctx, eye, q)
	}
	type answer struct {
		pics []FramePicture
		err  error
	}
	got := make(chan answer, 1)
	go func() {
		pics, err := e.ask(q)
		got <- answer{pics, err}
	}()
	select {
	case a := <-got:
		if a.err != nil {
			// One that is asked at once says why, or does better.
			e.end()
			defer w.Prepare()
			return Frames(ctx, eye, q)
		}
		w.give(e)
		return a.pics, nil
	case <-ctx.Done():
		// It answers into the void and is of use again.
		go func() {
			limit := time.NewTimer(answerIn)
			defer limit.Stop()
			select {
			case a := <-got:
				if a.err == nil {
					w.give(e)
					return
				}
			case <-limit.C:
			}
			e.end()
			w.Prepare()
		}()
		return nil, context.Cause(ctx)
	}
}

// take returns an eye that waits, rather one that has the recording open.
func (w *Warm) take(eye string, files []string) *waitingEye {
	w.mu.Lock()
	defer w.mu.Unlock()
	for i := len(w.idle) - 1; i >= 0; i-- {
		if w.idle[i].path != eye {
			w.idle[i].end()
			w.idle = slices.Delete(w.idle, i, i+1)
		}
	}
	if len(w.idle) == 0 {
		return nil
	}
	k := 0
	for i, e := range w.idle {
		if slices.Equal(e.files, files) {
			k = i
		}
	}
	e := w.idle[k]
	w.idle = slices.Delete(w.idle, k, k+1)
	e.files = slices.Clone(files)
	return e
}

// give puts an eye back that has answered.
func (w *Warm) give(e *waitingEye) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.closed || len(w.idle) >= mostIdle {
		e.end()
		return
	}
	e.used = time.Now()
	w.idle = append(w.idle, e)
	time.AfterFunc(idleTime, w.tidy)
}

// tidy ends eyes that have waited for long after their last answer, and has a
// fresh one wait.
func (w *Warm) tidy() {
	w.mu.Lock()
	n := len(w.idle)
	w.idle = slices.DeleteFunc(w.idle, func(e *waitingEye) bool {
		old := !e.used.IsZero() && time.Since(e.used) >= idleTime-time.Second
		if old {
			e.end()
		}
		return old
	})
	none := n > 0 && len(w.idle) == 0
	w.mu.Unlock()
	if none {
		w.Prepare()
	}
}

// Prepare starts an eye that waits, unless one does already.
func (w *Warm) Prepare() {
	eye, err := w.find()
	if err != nil {
		return
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.closed || len(w.idle) > 0 {
		return
	}
	if e, err := startWaiting(eye); err == nil {
		w.idle = append(w.idle, e)
	}
}

// Close ends the eyes that wait.
func (w *Warm) Close() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.closed = true
	for _, e := range w.idle {
		e.end()
	}
	w.idle = nil
}

// ask puts a question and reads its answer.
func (e *waitingEye) ask(q FrameRequest) ([]FramePicture, error) {
	if err := json.NewEncoder(e.in).Encode(q); err != nil {
		return nil, err
	}
	return readFrames(e.out, len(q.Shots))
}

func (e *waitingEye) end() {
	_ = e.in.Close()
	_ = e.cmd.Process.Kill()
	go func() { _ = e.cmd.Wait() }()
}
