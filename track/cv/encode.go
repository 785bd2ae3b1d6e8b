//go:build cgo && customenv

package cv

/*
#include <stdlib.h>
#include "writer.h"
*/
import "C"

import (
	"errors"
	"fmt"
	"math"
	"os"
	"unsafe"
)

// WriterOptions say how hard the encoder tries.
type WriterOptions struct {
	// Preset is x264's: ultrafast, superfast, veryfast, faster, fast, medium, slow and slower.
	Preset string
	// CRF is x264's constant rate factor, 0 (nothing lost) to 51 (worst).
	CRF int
	// Kind is h264 (also ""), or with alpha png, prores and vp9.
	Kind string
	// Timecode is that of the first frame, as HH:MM:SS:FF; "": none.
	Timecode string
	// Colour is the matrix of the source's colours, which films of less than 720
	// lines keep; "": not known.
	Colour string
}

// DefaultWriterOptions return settings under which an edge in the picture stays
// where it was and a frame of 960 x 540 costs a few milliseconds.
func DefaultWriterOptions() WriterOptions {
	return WriterOptions{Preset: "veryfast", CRF: 18, Kind: "h264"}
}

// presets are those that Validate lets through; x264 has more, slower still.
var presets = []string{"ultrafast", "superfast", "veryfast", "faster", "fast", "medium", "slow", "slower"}

// Validate says what is wrong with the options.
func (o WriterOptions) Validate() error {
	if o.CRF < 0 || o.CRF > 51 {
		return fmt.Errorf("the crf is %d; it should be from 0 (lossless) to 51", o.CRF)
	}
	for _, p := range presets {
		if o.Preset == p {
			return nil
		}
	}
	return fmt.Errorf("there is no preset %q; choose from %v", o.Preset, presets)
}

// Writer encodes frames as H.264 with planar 4:2:0 pictures, which browsers
// play, or with alpha as ProRes 4444 or VP9, or takes them as PNG, into a container
// that the file's name chooses (.mp4 and .mov: their index at the front). Each frame
// keeps its own presentation time: to the tick where times are even, to 0.01 ms where
// they are not.
type Writer struct {
	c    *C.sw_writer
	file string
	w, h int
	fps  float64
	n    int
	each int // bytes of a pixel
}

// Create starts a recording of w x h pixels, both even, at a nominal rate of
// fps frames a second.
func Create(file string, w, h int, fps float64, o WriterOptions) (*Writer, error) {
	if err := o.Validate(); err != nil {
		return nil, err
	}
	if w <= 0 || h <= 0 || w%2 != 0 || h%2 != 0 || w > 16384 || h > 16384 {
		return nil, fmt.Errorf("a recording of %d x %d px cannot be encoded: both must be even, and 16384 at most", w, h)
	}
	if !(fps >= 0.1 && fps <= 1000) {
		return nil, fmt.Errorf("a frame rate of %g cannot be encoded: it should be from 0.1 to 1000", fps)
	}
	if o.Kind == "" {
		o.Kind = "h264"
	}
	out := &Writer{file: file, w: w, h: h, fps: fps, each: 3}
	if o.Kind != "h264" {
		out.each = 4
	}
	var held []*C.char
	text := func(s string) *C.char {
		held = append(held, C.CString(s))
		return held[len(held)-1]
	}
	defer func() {
		for _, p := range held {
			C.free(unsafe.Pointer(p))
		}
	}()
	plan := C.sw_plan{kind: text(o.Kind), width: C.int(w), height: C.int(h), fps: C.double(fps), preset: text(o.Preset), crf: C.int(o.CRF),
		timecode: text(o.Timecode), colour: text(o.Colour)}
	said := newSaid()
	defer said.free()
	if C.sw_create(text(file), &plan, &out.c, said.buf, said.n) != 0 {
		return nil, fmt.Errorf("%s: %s", file, said)
	}
	return out, nil
}

// Write adds one frame of packed BGR, w*h*3 bytes (with alpha BGRA, w*h*4), at its even time: frame n at n/fps.
func (w *Writer) Write(bgr []byte) error { return w.WriteAt(bgr, float64(w.n)/w.fps) }

// WriteAt adds one frame to be shown at t seconds; times must rise.
func (w *Writer) WriteAt(bgr []byte, t float64) error {
	if len(bgr) != w.w*w.h*w.each {
		return fmt.Errorf("a frame of %d bytes, %d expected", len(bgr), w.w*w.h*w.each)
	}
	return w.add(t, func(s said) C.int {
		return C.sw_write(w.c, (*C.uint8_t)(unsafe.Pointer(&bgr[0])), C.double(t), s.buf, s.n)
	})
}

// Put adds the next frame, at its even time, to a file of kind png, as such a picture.
func (w *Writer) Put(png []byte) error {
	t := float64(w.n) / w.fps
	return w.add(t, func(s said) C.int {
		return C.sw_put(w.c, (*C.uint8_t)(unsafe.Pointer(&png[0])), C.int(len(png)), C.double(t), s.buf, s.n)
	})
}

// Again shows the frame before once more, in a file of kind prores: it is not encoded again.
func (w *Writer) Again() error {
	t := float64(w.n) / w.fps
	return w.add(t, func(s said) C.int { return C.sw_again(w.c, C.double(t), s.buf, s.n) })
}

func (w *Writer) add(t float64, give func(said) C.int) error {
	switch {
	case w.c == nil:
		return os.ErrClosed
	case !(math.Abs(t) < 1e7):
		return fmt.Errorf("frame %d has no usable time (%v s)", w.n, t)
	}
	said := newSaid()
	defer said.free()
	if give(said) != 0 {
		return fmt.Errorf("%s: frame %d at %.3f s: %s", w.file, w.n, t, said)
	}
	w.n++
	return nil
}

// Close ends the file; without it the file cannot be played. Called again it
// does nothing.
func (w *Writer) Close() error {
	if w.c == nil {
		return nil
	}
	said := newSaid()
	defer said.free()
	e := C.sw_finish(w.c, said.buf, said.n)
	w.c = nil
	if e != 0 {
		return fmt.Errorf("%s: %s", w.file, said)
	}
	if w.n == 0 {
		return errors.New(w.file + ": no frame was written")
	}
	return nil
}

// said is a buffer in which C says what went wrong.
type said struct {
	buf *C.char
	n   C.int
}

func newSaid() said           { return said{(*C.char)(C.calloc(1, 256)), 256} }
func (s said) free()          { C.free(unsafe.Pointer(s.buf)) }
func (s said) String() string { return C.GoString(s.buf) }
