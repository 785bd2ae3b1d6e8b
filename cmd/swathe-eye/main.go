//go:build cgo && customenv

// Command swathe-eye is the part of swathe that needs pixels: it opens
// recordings, looks at their frames and says what it saw, one JSON document a
// line on standard output. Testers never call it; swathe starts it, limits it
// and survives it.
package main

import (
	"encoding/json"
	"fmt"
	"os"
	"os/signal"
	"sort"
	"syscall"
)

type verb struct {
	help string
	run  func(args []string) error
}

var verbs = map[string]verb{
	"look":    {"find the robot in recordings: a job on standard input, detections on standard output", look},
	"encode":  {"write raw BGR frames from standard input as a recording", encode},
	"board":   {"find a lens from pictures of a chessboard: a request on standard input", answer(board)},
	"corners": {"find the corners of a chessboard in a frame: a request on standard input", answer(corners)},
	"marker":  {"the cells of a printed marker: a request on standard input", answer(marker)},
	"film":    {"paint what was measured onto a recording: a request on standard input", answer(makeFilm)},
	"frame":   {"frames of a run as pictures: a request on standard input", frame},
	"judge":   {"judge a recording by some frames, before it is measured: a request on standard input", answer(judge)},
	"pace":    {"say when the frames of recordings are shown", pace},
	"probe":   {"say what a recording is", probe},
	"residue": {"measure what was left on the floor from pictures: a request on standard input", answer(left)},
}

func main() {
	if len(os.Args) < 2 || verbs[os.Args[1]].run == nil {
		fmt.Fprintln(os.Stderr, "swathe starts swathe-eye to read recordings. Its calls:")
		names := []string{}
		for n := range verbs {
			names = append(names, n)
		}
		sort.Strings(names)
		for _, n := range names {
			fmt.Fprintf(os.Stderr, "  %-8s %s\n", n, verbs[n].help)
		}
		os.Exit(2)
	}
	// The parent decides when to stop: an interrupt meant for it reaches the
	// whole group. Without a parent, its closed pipe ends the eye.
	signal.Ignore(syscall.SIGINT)
	err := limitMemory()
	if err == nil {
		err = confine()
	}
	if err == nil {
		err = verbs[os.Args[1]].run(os.Args[2:])
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// answer is a verb that is asked one thing on standard input and answers it.
func answer[Q, R any](reply func(Q) (R, error)) func([]string) error {
	return func([]string) error {
		var q Q
		if err := json.NewDecoder(os.Stdin).Decode(&q); err != nil {
			return fmt.Errorf("the request cannot be read: %w", err)
		}
		r, err := reply(q)
		if err != nil {
			return err
		}
		return emit(r)
	}
}

func emit(v any) error { return json.NewEncoder(os.Stdout).Encode(v) }
