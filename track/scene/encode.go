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
	mux    *muxer       // nil: raw pictures
	timed  bool         // raw pictures, each behind its time
	ended  bool
	failed error
}

func startProcess(name string, args []string) (*process, error) {
	p := &process{cmd: exec.Command(name, args...)}
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
	var err error
	if p.mux != nil {
		err = p.mux.frame(bgr, t)
	} else {
		if p.timed {
			var head [8]byte
			binary.LittleEndian.PutUint64(head[:], math.Float64bits(t))
			_, err = p.in.Write(head[:])
		}
		if err == nil {
			_, err = p.in.Write(bgr)
		}
	}
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
	p, err := startProcess(e.Path, append(args, file))
	if err != nil {
		return nil, err
	}
	p.timed = true
	return p, nil
}

// FFmpegEncoder makes files with the ffmpeg program, which keeps each frame's
// own time; for tests.
type FFmpegEncoder struct {
	Path string   // of ffmpeg
	Args []string // for the output; nil: H.264 at a good quality
	Mark []string // for a second pass that copies what was encoded and marks it, as with a rotation; nil: none
}

// DefaultFFmpegArgs make H.264 as a camera of middling quality does.
var DefaultFFmpegArgs = []string{"-c:v", "libx264", "-preset", "veryfast", "-crf", "20", "-pix_fmt", "yuv420p"}

// Open starts ffmpeg; the file's folder is made if it is missing.
func (e FFmpegEncoder) Open(file string, w, h int, fps float64) (FrameWriter, error) {
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		return nil, err
	}
	args := []string{"-v", "error", "-y", "-f", "matroska", "-i", "-", "-vsync", "passthrough", "-enc_time_base", "1:90000"}
	if e.Args != nil {
		args = append(args, e.Args...)
	} else {
		args = append(args, DefaultFFmpegArgs...)
	}
	into := file
	if e.Mark != nil {
		into = filepath.Join(filepath.Dir(file), "plain-"+filepath.Base(file))
	}
	p, err := startProcess(e.Path, append(args, into))
	if err != nil {
		return nil, err
	}
	p.mux = &muxer{w: p.in, width: w, height: h}
	if e.Mark == nil {
		return p, nil
	}
	pass := append([]string{"-v", "error", "-y", "-i", into, "-c", "copy"}, e.Mark...)
	return &marked{p, exec.Command(e.Path, append(pass, file)...), into}, nil
}

// marked copies a finished file into another, with marks.
type marked struct {
	*process
	pass *exec.Cmd
	from string
}

func (m *marked) Close() error {
	if m.ended {
		return m.failed
	}
	if err := m.process.Close(); err != nil {
		return err
	}
	defer os.Remove(m.from)
	if out, err := m.pass.CombinedOutput(); err != nil {
		m.failed = fmt.Errorf("the encoder %s failed to mark %s: %w: %s", m.pass.Path, m.from, err, bytes.TrimSpace(out))
	}
	return m.failed
}
