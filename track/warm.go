package track

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"os/exec"
	"sync"
	"time"
)

// Warm keeps one eye started and waiting for a question about frames: to start
// one takes longer than to answer. It is safe for use by several goroutines;
// Close it.
type Warm struct {
	find   func() (string, error)
	mu     sync.Mutex
	ready  *waitingEye
	closed bool
}

// waitingEye is an eye that has been started and has not been asked yet.
type waitingEye struct {
	cmd       *exec.Cmd
	in        io.WriteCloser
	out       bytes.Buffer
	complaint tail
	ended     chan error
}

// NewWarm returns a Warm that finds the eye by find, such as FindEye.
func NewWarm(find func() (string, error)) *Warm { return &Warm{find: find} }

func startWaiting(eye string) (*waitingEye, error) {
	w := &waitingEye{cmd: exec.Command(eye, "frame"), ended: make(chan error, 1)}
	w.cmd.WaitDelay = 2 * time.Second
	w.cmd.Stdout, w.cmd.Stderr = &w.out, &w.complaint
	var err error
	if w.in, err = w.cmd.StdinPipe(); err != nil {
		return nil, err
	}
	if err := w.cmd.Start(); err != nil {
		return nil, err
	}
	go func() { w.ended <- w.cmd.Wait() }()
	return w, nil
}

// Frames is the function Frames with the eye that waits, or a fresh one if
// there is none or it does not answer.
func (w *Warm) Frames(ctx context.Context, q FrameRequest) ([]FramePicture, error) {
	if err := q.Validate(); err != nil {
		return nil, err
	}
	eye, err := w.find()
	if err != nil {
		return nil, err
	}
	w.mu.Lock()
	e := w.ready
	w.ready = nil
	w.mu.Unlock()
	// The next one starts while this one answers, and does not take its time.
	defer w.Prepare()
	if e == nil || e.cmd.Path != eye {
		e.end()
		return Frames(ctx, eye, q)
	}
	raw, err := json.Marshal(q)
	if err != nil {
		return nil, err
	}
	if _, err = e.in.Write(raw); err == nil {
		err = e.in.Close()
	}
	if err == nil {
		select {
		case err = <-e.ended:
		case <-ctx.Done():
			e.end()
			return nil, context.Cause(ctx)
		}
	} else {
		e.end()
	}
	if err != nil {
		// It may have died while it waited; one that is asked at once says why.
		return Frames(ctx, eye, q)
	}
	return readFrames(e.out.Bytes(), len(q.Shots))
}

// Prepare starts an eye that waits, unless one does already.
func (w *Warm) Prepare() {
	eye, err := w.find()
	if err != nil {
		return
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.closed || w.ready != nil {
		return
	}
	if e, err := startWaiting(eye); err == nil {
		w.ready = e
	}
}

// Close ends the eye that waits.
func (w *Warm) Close() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.closed = true
	w.ready.end()
	w.ready = nil
}

func (e *waitingEye) end() {
	if e != nil {
		_ = e.in.Close()
		_ = e.cmd.Process.Kill()
	}
}
