//go:build cgo && customenv

package cv

/*
#cgo LDFLAGS: -lavformat -lavcodec -lavutil -lswscale -lm
#include <stdlib.h>
#include "reader.h"
*/
import "C"

import (
	"errors"
	"fmt"
	"math"
	"unsafe"

	"swathe/track/sight"
)

// Info is what a recording says of itself before it is read.
type Info struct {
	Width, Height int     // pixels, after the rotation that the container asks for
	FPS           float64 // average; 0 if the container gives none
	Duration      float64 // s; 0 if the container gives none
	Frames        int     // 0 if the container gives none
	Rotation      int     // quarter turns clockwise that were applied
	Codec         string
}

// Reader reads the frames of one recording in the order of their presentation,
// each with its own presentation time. It goes on behind damaged frames.
//
// The libraries that OpenCV's own capture stands on are called directly:
// OpenCV hides which frames are damaged, reports time 0 for the last frames of
// a file with B-frames, and turns every frame it hands out into BGR, a third of
// the cost, where the luminance plane is there for nothing.
type Reader struct {
	c     *C.sw_reader
	info  Info
	first float64 // s, the file's clock at its first frame
	begun bool
	last  float64
	count int
}

// Frame is one decoded frame. It holds C memory: Free it.
type Frame struct {
	T     float64 // s from the first frame of this file
	Index int     // counted since Open or the last Seek
	Key   bool
	Bad   bool // decoded with errors
	c     C.sw_frame
	r     *Reader
}

// Open opens a recording with the given number of decoding threads. With more
// than one, which of the frames are damaged is not certain: the decoder's
// threads tell each other too late.
func Open(file string, threads int) (*Reader, error) { return open(file, threads, false) }

// open opens a recording. With explode Bad counts every damage, though not in
// which frame it is, and frames may be missing that Open would patch up.
func open(file string, threads int, explode bool) (*Reader, error) {
	p := C.CString(file)
	defer C.free(unsafe.Pointer(p))
	buf := (*C.char)(C.malloc(256))
	defer C.free(unsafe.Pointer(buf))
	r := &Reader{}
	strict := C.int(0)
	if explode {
		strict = 1
	}
	if C.sw_open(p, C.int(threads), strict, &r.c, buf, 256) != 0 {
		return nil, errors.New(C.GoString(buf))
	}
	var i C.sw_info
	C.sw_get_info(r.c, &i)
	r.info = Info{Width: int(i.width), Height: int(i.height), FPS: float64(i.fps), Duration: float64(i.duration),
		Frames: int(i.frames), Rotation: int(i.rotation), Codec: C.GoString(&i.codec[0])}
	return r, nil
}

// Info returns what the recording says of itself.
func (r *Reader) Info() Info { return r.info }

// Bad returns how many packets or frames could not be decoded so far.
func (r *Reader) Bad() int { return int(C.sw_bad_count(r.c)) }

// Close frees the reader. Frames still held stay valid, their planes do not.
func (r *Reader) Close() {
	C.sw_close(r.c)
	r.c = nil
}

// Next returns the next frame, or nil at the end. The caller frees it.
func (r *Reader) Next() (*Frame, error) {
	f := &Frame{r: r}
	switch e := C.sw_next(r.c, &f.c); {
	case e == 0:
		return nil, nil
	case e < 0:
		return nil, errors.New("the decoder gave up")
	}
	t := float64(f.c.t)
	if f.c.has_time == 0 {
		step := 1.0 / 30
		if r.info.FPS > 0 {
			step = 1 / r.info.FPS
		}
		t = r.last + step
	}
	if !r.begun {
		r.begun, r.first = true, t
	}
	r.last = t
	r.count += int(f.c.skipped)
	f.T, f.Index, f.Key, f.Bad = t-r.first, r.count, f.c.key != 0, f.c.bad != 0
	r.count++
	return f, nil
}

// Thin leaves out, undecoded, the frames that no other rests on and that k
// would not take. Of codecs other than H.264 nothing is left out.
func (r *Reader) Thin(k sight.Picker) { C.sw_thin(r.c, C.double(k.Step), C.double(k.Every)) }

// Count returns how many frames there were so far, those left out included,
// and the time of the last, s from the first. At the end it is all of them.
func (r *Reader) Count() (n int, last float64) {
	var t C.double
	rest := int(C.sw_rest(r.c, &t))
	last = r.last - r.first
	if rest > 0 {
		last = math.Max(last, float64(t)-r.first)
	}
	return r.count + rest, last
}

// Seek goes to the last key frame at or before t (s from the first frame, which
// must have been read once); the next frame read is that one.
func (r *Reader) Seek(t float64) error {
	if e := C.sw_seek(r.c, C.double(t+r.first)); e < 0 {
		return fmt.Errorf("cannot go to %.1f s", t)
	}
	r.count = 0
	return nil
}

// Hurry leaves out, until time t (s from the first frame), the frames that no
// other one rests on: half of them or more in a recording with B-frames. Rough
// also leaves out the smoothing of block edges in the others, a third of the
// work, at the price of a coarser picture until the next key frame. A Seek ends it.
func (r *Reader) Hurry(t float64, rough bool) {
	n := C.int(0)
	if rough {
		n = 1
	}
	C.sw_hurry(r.c, C.double(t+r.first), n)
}

// Free gives the frame's memory back.
func (f *Frame) Free() { C.sw_free_frame(&f.c) }

// Picture returns the frame's planes, halved the given number of times. They
// are C memory, valid until Free or the next call of Picture on this reader.
func (f *Frame) Picture(halve int) (*sight.Picture, error) {
	var p [3]C.sw_plane
	if C.sw_planes(f.r.c, &f.c, C.int(halve), &p[0]) != 0 {
		return nil, fmt.Errorf("the frame at %.2f s has no usable picture", f.T)
	}
	var pl [3]sight.Plane
	for i := range pl {
		n := int(p[i].stride)*(int(p[i].height)-1) + int(p[i].width)
		if n <= 0 {
			return nil, fmt.Errorf("the frame at %.2f s is empty", f.T)
		}
		pl[i] = sight.Plane{W: int(p[i].width), H: int(p[i].height), Stride: int(p[i].stride),
			Pix: unsafe.Slice((*uint8)(unsafe.Pointer(p[i].pix)), n)}
	}
	return &sight.Picture{T: f.T, Y: pl[0], U: pl[1], V: pl[2]}, nil
}

// BGR writes the frame, turned as the container asks, into dst of
// width*height*3 bytes.
func (f *Frame) BGR(dst []byte) error {
	if len(dst) < f.r.info.Width*f.r.info.Height*3 {
		return errors.New("the buffer is too small for the frame")
	}
	if C.sw_bgr(f.r.c, &f.c, (*C.uint8_t)(unsafe.Pointer(&dst[0]))) != 0 {
		return fmt.Errorf("the frame at %.2f s cannot be converted", f.T)
	}
	return nil
}

// Length returns the duration as well as it is known, NaN if it is not.
func (i Info) Length() float64 {
	switch {
	case i.Duration > 0:
		return i.Duration
	case i.Frames > 0 && i.FPS > 0:
		return float64(i.Frames) / i.FPS
	}
	return math.NaN()
}
