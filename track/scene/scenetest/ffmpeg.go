package scenetest

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"

	"swathe/track/scene"
)

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
func (e FFmpegEncoder) Open(file string, w, h int, fps float64) (scene.FrameWriter, error) {
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
	mux := muxer{width: w, height: h}
	p, err := scene.StartEncoder(e.Path, append(args, into), mux.frame)
	if err != nil || e.Mark == nil {
		return p, err
	}
	pass := append([]string{"-v", "error", "-y", "-i", into, "-c", "copy"}, e.Mark...)
	return &marked{p, exec.Command(e.Path, append(pass, file)...), into}, nil
}

// marked copies a finished file into another, with marks.
type marked struct {
	scene.FrameWriter
	pass *exec.Cmd
	from string
}

func (m *marked) Close() error {
	if err := m.FrameWriter.Close(); err != nil {
		return err
	}
	defer os.Remove(m.from)
	if out, err := m.pass.CombinedOutput(); err != nil {
		return fmt.Errorf("the encoder %s failed to mark %s: %w: %s", m.pass.Path, m.from, err, bytes.TrimSpace(out))
	}
	return nil
}
