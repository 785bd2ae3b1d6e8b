package scene

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
)

// Encoder makes video files.
type Encoder interface {
	// Open starts a file of w x h pictures at fps frames a second.
	Open(file string, w, h int, fps float64) (FrameWriter, error)
}

// FrameWriter takes the pictures of one file.
type FrameWriter interface {
	// WriteFrame adds a picture of W*H*3 bytes, blue green red, that is to be
	// shown at t seconds. A writer of constant rate leaves t aside.
	WriteFrame(bgr []byte, t float64) error
	// Close finishes the file; without it the file is not to be used.
	Close() error
}

// RenderTo draws the scene into a video file. progress, if not nil, is told
// the frames done and their number.
func RenderTo(ctx context.Context, s *Scene, enc Encoder, file string, progress func(done, total int)) error {
	w, err := enc.Open(file, s.Camera.Width, s.Camera.Height, s.Timing.FPS)
	if err != nil {
		return err
	}
	total := len(s.Frames())
	err = Render(ctx, s, func(f Frame) error {
		if err := w.WriteFrame(f.BGR, f.T); err != nil {
			return err
		}
		if progress != nil {
			progress(f.N+1, total)
		}
		return nil
	})
	if e := w.Close(); err == nil {
		err = e
	}
	return err
}

// process is a program that takes pictures on its standard input.
type process struct {
	cmd    *exec.Cmd
	in     io.WriteCloser
	stderr bytes.Buffer // to be read once the program has ended
	write  func(w io.Writer, bgr []byte, t float64) error
	ended  bool
	failed error
}

// StartEncoder starts a program that takes pictures on its standard input, as
// write puts them there.
func StartEncoder(name string, args []string, write func(w io.Writer, bgr []byte, t float64) error) (FrameWriter, error) {
	p := &process{cmd: exec.Command(name, args...), write: write}
	p.cmd.Stderr = &p.stderr
	in, err := p.cmd.StdinPipe()
	if err != nil {
		return nil, err
	}
	p.in = in
	if err := p.cmd.Start(); err != nil {
		return nil, fmt.Errorf("cannot start the encoder %s: %w", name, err)
	}
	return p, nil
}

func (p *process) WriteFrame(bgr []byte, t float64) error {
	err := p.write(p.in, bgr, t)
	if err == nil {
		return nil
	}
	// What the program said tells more than a broken pipe.
	if e := p.Close(); e != nil {
		return e
	}
	return fmt.Errorf("the encoder %s takes no more pictures: %w", p.cmd.Path, err)
}

// Close waits for the program's end; called again it says the same.
func (p *process) Close() error {
	if p.ended {
		return p.failed
	}
	p.ended = true
	p.failed = p.in.Close()
	if e := p.cmd.Wait(); e != nil {
		p.failed = fmt.Errorf("the encoder %s failed: %w: %s", p.cmd.Path, e, strings.TrimSpace(p.stderr.String()))
	}
	return p.failed
}

// EyeEncoder makes files with the project's own program for pixels, each frame
// with its own time.
type EyeEncoder struct {
	Path string   // of swathe-eye
	Args []string // more of its encode verb's options; nil: a good quality
}

// Open starts the eye; the file's folder is made if it is missing.
func (e EyeEncoder) Open(file string, w, h int, fps float64) (FrameWriter, error) {
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		return nil, err
	}
	args := append([]string{"encode", "--timed", "--width", strconv.Itoa(w), "--height", strconv.Itoa(h),
		"--fps", strconv.FormatFloat(fps, 'g', -1, 64)}, e.Args...)
	return StartEncoder(e.Path, append(args, file), func(w io.Writer, bgr []byte, t float64) error {
		var head [8]byte
		binary.LittleEndian.PutUint64(head[:], math.Float64bits(t))
		if _, err := w.Write(head[:]); err != nil {
			return err
		}
		_, err := w.Write(bgr)
		return err
	})
}
