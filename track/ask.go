package track

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"swathe/geom"
)

// ask puts a question to the eye: a verb and its arguments, a request as JSON on
// its standard input, and its standard output to hear. The error tells what the
// eye complained of; cancelling ctx ends it.
func ask(ctx context.Context, eye string, request any, hear func(out io.Reader) error, verb ...string) error {
	in, err := json.Marshal(request)
	if err != nil {
		return err
	}
	cmd := exec.CommandContext(ctx, eye, verb...)
	cmd.WaitDelay = 2 * time.Second
	cmd.Stdin = bytes.NewReader(in)
	var complaint tail
	cmd.Stderr = &complaint
	out, err := cmd.StdoutPipe()
	if err != nil {
		return err
	}
	if err := cmd.Start(); errors.Is(err, exec.ErrNotFound) {
		return &Failure{Kind: EyeMissing, File: eye, T: math.NaN(), Message: "it cannot be started: " + err.Error()}
	} else if err != nil {
		return err
	}
	heard := hear(out)
	_, _ = io.Copy(io.Discard, out) // or it would wait for somebody to listen
	if err := cmd.Wait(); err != nil {
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
		return errors.New(oneLine(complaint.String()))
	}
	return heard
}

// answer is ask for a verb that answers with one document.
func answer[R any](ctx context.Context, eye, verb, about string, request any) (*R, error) {
	r := new(R)
	err := ask(ctx, eye, request, func(out io.Reader) error {
		if err := json.NewDecoder(out).Decode(r); err != nil {
			return fmt.Errorf("swathe-eye's reply about the %s cannot be read: %w", about, err)
		}
		return nil
	}, verb)
	if err != nil {
		return nil, err
	}
	return r, nil
}

// FindCorners asks the eye for the inner corners of a chessboard in a frame.
func FindCorners(ctx context.Context, eye string, q CornersRequest) (*CornersReply, error) {
	return answer[CornersReply](ctx, eye, "corners", "corners", q)
}

// SolveBoard asks the eye for the lens that a camera's board pictures show. The
// error is a whole sentence for the tester.
func SolveBoard(ctx context.Context, eye string, spec geom.CameraSpec) (*BoardReply, error) {
	if spec.Board == nil {
		return nil, errors.New("the camera has no board")
	}
	b := spec.Board
	r, err := answer[BoardReply](ctx, eye, "board", "board", BoardRequest{Pictures: b.Pictures, Columns: b.Columns, Rows: b.Rows, Square: b.Square,
		Width: spec.Width, Height: spec.Height, Model: spec.Model})
	if err == nil && r.Fail != "" {
		return nil, errors.New(r.Fail)
	}
	return r, err
}

// Describe says in words what the board settled.
func (r *BoardReply) Describe() string {
	pm := func(i int) string {
		if i < len(r.Sigma) && r.Sigma[i] != nil {
			return fmt.Sprintf(" +- %.1f", *r.Sigma[i])
		}
		return ""
	}
	focal := fmt.Sprintf("focal length %.1f%s px", r.Lens.Fx, pm(0))
	if !r.Square {
		focal = fmt.Sprintf("focal lengths %.1f%s and %.1f%s px", r.Lens.Fx, pm(0), r.Lens.Fy, pm(1))
	}
	terms := "k1, k2, p1, p2, k3"
	if r.Lens.Model == geom.Fisheye {
		terms = "k1, k2, k3, k4 of a fisheye"
	}
	return fmt.Sprintf("lens, from the board in %d of %d pictures: %s, centre (%.1f%s, %.1f%s), %s; corners fit to %.2f px",
		r.Used, len(r.Pictures), focal, r.Lens.Cx, pm(2), r.Lens.Cy, pm(3), terms, r.RMS)
}

// Unused names the pictures in which no board was found, with the reason.
func (r *BoardReply) Unused() []string {
	var out []string
	for _, p := range r.Pictures {
		if !p.Found {
			out = append(out, filepath.Base(p.File)+": "+strings.TrimSuffix(p.Why, "."))
		}
	}
	return out
}

// MarkerRequest asks the eye for the cells of a printed marker.
type MarkerRequest struct {
	Dictionary string `json:"dictionary"`
	ID         int    `json:"id"`
}

// MarkerReply holds a marker's cells from its top, true for black, its border
// included.
type MarkerReply struct {
	Cells [][]bool `json:"cells"`
}

// MarkerCells asks the eye for the cells of a printed marker.
func MarkerCells(ctx context.Context, eye, dictionary string, id int) ([][]bool, error) {
	r, err := answer[MarkerReply](ctx, eye, "marker", "marker", MarkerRequest{dictionary, id})
	if err != nil {
		return nil, err
	}
	return r.Cells, nil
}
