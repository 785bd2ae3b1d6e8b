//go:build cgo && customenv

package main

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"

	"github.com/spf13/pflag"

	"swathe/track/cv"
)

// encode writes raw BGR24 frames from standard input as an H.264 recording.
func encode(args []string) error {
	fs := pflag.NewFlagSet("encode", pflag.ContinueOnError)
	w := fs.Int("width", 0, "pixels")
	h := fs.Int("height", 0, "pixels")
	fps := fs.Float64("fps", 30, "frames a second")
	timed := fs.Bool("timed", false, "each frame follows its time in seconds (8 bytes, float64, little-endian)")
	opt := cv.DefaultWriterOptions()
	fs.StringVar(&opt.Preset, "preset", opt.Preset, "speed of the encoder, from ultrafast to slower")
	fs.IntVar(&opt.CRF, "crf", opt.CRF, "quality of the encoder, 0 (lossless) to 51")
	if err := fs.Parse(args); err != nil {
		return err
	}
	if fs.NArg() != 1 || *w <= 0 || *h <= 0 {
		return errors.New("encode --width W --height H --fps F [--timed] [--preset P] [--crf N] FILE")
	}
	enc, err := cv.Create(fs.Arg(0), *w, *h, *fps, opt)
	if err != nil {
		return err
	}
	head := 0
	if *timed {
		head = 8
	}
	buf := make([]byte, head+*w**h*3)
	for {
		_, err := io.ReadFull(os.Stdin, buf)
		if err == io.EOF {
			return enc.Close()
		}
		switch {
		case err != nil:
			err = fmt.Errorf("the last frame is not whole: %w", err)
		case *timed:
			err = enc.WriteAt(buf[head:], math.Float64frombits(binary.LittleEndian.Uint64(buf)))
		default:
			err = enc.Write(buf)
		}
		if err != nil {
			enc.Close()
			return err
		}
	}
}

// probe says what a recording is, for check and the page.
func probe(args []string) error {
	if len(args) != 1 {
		return errors.New("probe FILE")
	}
	r, err := cv.Open(args[0], 1)
	if err != nil {
		return err
	}
	defer r.Close()
	return emit(r.Info())
}
