//go:build cgo && customenv

package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
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
	if err := fs.Parse(args); err != nil {
		return err
	}
	if fs.NArg() != 1 || *w <= 0 || *h <= 0 {
		return errors.New("encode --width W --height H --fps F FILE")
	}
	enc, err := cv.Create(fs.Arg(0), *w, *h, *fps)
	if err != nil {
		return err
	}
	buf := make([]byte, *w**h*3)
	in := bufio.NewReaderSize(os.Stdin, 1<<20)
	for {
		_, err := io.ReadFull(in, buf)
		if err == io.EOF {
			return enc.Close()
		}
		if err != nil {
			enc.Close()
			return fmt.Errorf("the last frame is not whole: %w", err)
		}
		if err := enc.Write(buf); err != nil {
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
