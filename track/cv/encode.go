//go:build cgo && customenv

package cv

import (
	"errors"
	"fmt"
	"runtime"

	"gocv.io/x/gocv"
)

// Writer encodes frames as H.264 in mp4, which browsers play.
type Writer struct {
	v    *gocv.VideoWriter
	w, h int
}

// Create starts a recording of the given size and frame rate.
func Create(file string, w, h int, fps float64) (*Writer, error) {
	if w <= 0 || h <= 0 || w%2 != 0 || h%2 != 0 {
		return nil, fmt.Errorf("a recording of %d x %d px cannot be encoded: both must be even", w, h)
	}
	if fps <= 0 {
		return nil, errors.New("the frame rate must be above 0")
	}
	v, err := gocv.VideoWriterFile(file, "avc1", fps, w, h, true)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be written: %w", file, err)
	}
	if !v.IsOpened() {
		v.Close()
		return nil, fmt.Errorf("%s cannot be written as H.264; is the folder there, and is the disk full?", file)
	}
	return &Writer{v, w, h}, nil
}

// Write adds one frame of packed BGR, w*h*3 bytes.
func (w *Writer) Write(bgr []byte) error {
	if len(bgr) != w.w*w.h*3 {
		return fmt.Errorf("a frame of %d bytes, %d expected", len(bgr), w.w*w.h*3)
	}
	m, err := gocv.NewMatFromBytes(w.h, w.w, gocv.MatTypeCV8UC3, bgr)
	if err != nil {
		return err
	}
	defer m.Close()
	err = w.v.Write(m)
	runtime.KeepAlive(bgr)
	return err
}

// Close ends the file.
func (w *Writer) Close() error { return w.v.Close() }
