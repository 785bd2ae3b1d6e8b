//go:build cgo && customenv

package cv

/*
#include "calib.h"
*/
import "C"

import (
	"errors"
	"fmt"
	"image"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"unsafe"

	"gocv.io/x/gocv"

	"swathe/geom"
	"swathe/track"
)

// BoardOptions steer Board.
type BoardOptions struct {
	// Window is half the side of the square within which a corner is refined,
	// px. The samples that come with OpenCV use 11; a smaller one fits the
	// same pictures with a lower residual and another focal length (532.8 px
	// instead of 536.1 px on its left01..left14), so that figures compare only
	// at the same window. It is made smaller where corners stand closer.
	Window int
	// Unequal is how far apart, in shares, two separately solved focal lengths
	// must lie before the pixels are taken not to be square.
	Unequal float64
	// Least is the least number of pictures with a board.
	Least int
}

// DefaultBoardOptions returns the options used throughout.
func DefaultBoardOptions() BoardOptions { return BoardOptions{Window: 11, Unequal: 0.005, Least: 3} }

// Validate says what is wrong with options, nil if nothing is.
func (o BoardOptions) Validate() error {
	switch {
	case o.Window < 2 || o.Window > 100:
		return fmt.Errorf("board options: Window is %d px; it should be 2 to 100", o.Window)
	case !(o.Unequal > 0):
		return fmt.Errorf("board options: Unequal is %g; it should be above 0", o.Unequal)
	case o.Least < 1:
		return fmt.Errorf("board options: Least is %d; it should be 1 or more", o.Least)
	}
	return nil
}

// Board finds a lens from pictures of a chessboard. A picture that cannot be
// used is named in the reply with its reason; too few usable ones, or a lens
// that does not settle, is a reply whose Fail is set. The error is for a
// request that makes no sense.
func Board(q track.BoardRequest, o BoardOptions) (track.BoardReply, error) {
	var reply track.BoardReply
	if err := o.Validate(); err != nil {
		return reply, err
	}
	switch {
	case q.Columns < 3 || q.Rows < 3 || q.Columns > 100 || q.Rows > 100:
		return reply, fmt.Errorf("a board of %d x %d inner corners cannot be found: both must be 3 to 100", q.Columns, q.Rows)
	case !(q.Square > 0) || math.IsInf(q.Square, 1):
		return reply, fmt.Errorf("the side of a square is %g m; it should be above 0", q.Square)
	case q.Model != geom.Brown && q.Model != geom.Fisheye && q.Model != "":
		return reply, fmt.Errorf("lens model %q is not known", q.Model)
	}
	var views [][]geom.Point2
	var of []int
	for _, f := range q.Pictures {
		p := track.BoardPicture{File: f}
		c, err := boardCorners(f, q, o)
		if err != nil {
			p.Why = err.Error()
		} else {
			p.Found = true
			views = append(views, c)
			of = append(of, len(reply.Pictures))
		}
		reply.Pictures = append(reply.Pictures, p)
	}
	reply.Used = len(views)
	if len(views) < o.Least {
		reply.Fail = fmt.Sprintf("the board of %d x %d inner corners was found in %d of %d pictures; %d or more are needed. Take a dozen that show the whole board, tilted in different directions, out to the corners of the picture%s",
			q.Columns, q.Rows, len(views), len(q.Pictures), o.Least, firstWhy(reply.Pictures))
		return reply, nil
	}
	l, per, err := solveBoard(views, q, o)
	if err != nil {
		reply.Fail = fmt.Sprintf("no lens fits the corners of %d pictures (%v); take more, with the board tilted by 20 to 45 degrees in some", len(views), err)
		return reply, nil
	}
	reply.Lens, reply.RMS, reply.Square = lensOf(&l), float64(l.rms), l.square != 0
	for i := range per {
		reply.Pictures[of[i]].RMS = &per[i]
	}
	for _, s := range l.sd {
		if v := float64(s); v >= 0 {
			reply.Sigma = append(reply.Sigma, &v)
		} else {
			reply.Sigma = append(reply.Sigma, nil)
		}
	}
	judgeBoard(&reply, views, q)
	return reply, nil
}

func firstWhy(p []track.BoardPicture) string {
	for _, x := range p {
		if !x.Found {
			return fmt.Sprintf(" (%s: %s)", filepath.Base(x.File), x.Why)
		}
	}
	return ""
}

// smallest is the least side of a picture that is looked at, px: OpenCV's
// refinement needs twice its window and five more.
const smallest = 64

// boardCorners finds the inner corners in one picture, row by row.
func boardCorners(file string, q track.BoardRequest, o BoardOptions) ([]geom.Point2, error) {
	if st, err := os.Stat(file); err != nil {
		return nil, fmt.Errorf("it cannot be opened: %w", err)
	} else if st.IsDir() || st.Size() == 0 {
		return nil, errors.New("it is empty, or a folder")
	}
	m := gocv.IMRead(file, gocv.IMReadGrayScale)
	defer m.Close()
	if m.Empty() || m.Type() != gocv.MatTypeCV8UC1 {
		return nil, errors.New("it is not a picture that can be read")
	}
	if m.Cols() != q.Width || m.Rows() != q.Height {
		return nil, fmt.Errorf("it is %d x %d px, the camera's frame is %d x %d: take it with the same camera in the same setting", m.Cols(), m.Rows(), q.Width, q.Height)
	}
	return cornersIn(m, q.Columns, q.Rows, o)
}

// cornersIn finds the inner corners in a grey picture, row by row.
func cornersIn(m gocv.Mat, columns, rows int, o BoardOptions) ([]geom.Point2, error) {
	if m.Cols() < smallest || m.Rows() < smallest {
		return nil, fmt.Errorf("it is only %d x %d px", m.Cols(), m.Rows())
	}
	found := gocv.NewMat()
	defer found.Close()
	size := image.Pt(columns, rows)
	if !findBoard(m, size, &found) {
		return nil, fmt.Errorf("no board of %d x %d inner corners found; show the whole board, sharp, with its white border", columns, rows)
	}
	n := columns * rows
	if found.Total() != n || found.Type() != gocv.MatTypeCV32F+gocv.MatChannels2 {
		return nil, errors.New("its corners were not all found")
	}
	// A window that reaches the next corner is drawn towards it.
	near := closest(points(found, n), columns)
	if win := min(o.Window, int(0.51*near), (min(m.Cols(), m.Rows())-5)/2); win >= 2 {
		gocv.CornerSubPix(m, &found, image.Pt(win, win), image.Pt(-1, -1), gocv.NewTermCriteria(gocv.Count+gocv.EPS, 30, 1e-4))
	} else {
		return nil, fmt.Errorf("its squares are only %.0f px wide; move the board nearer", near)
	}
	return points(found, n), nil
}

// Corners finds the inner corners of a chessboard in one frame of a run. A board
// that is not found is a reply whose Fail is set; the error is for a request that
// makes no sense or a recording that cannot be read.
func Corners(q track.CornersRequest, o BoardOptions) (track.CornersReply, error) {
	var reply track.CornersReply
	if err := o.Validate(); err != nil {
		return reply, err
	}
	if q.Columns < 3 || q.Rows < 3 || q.Columns > 100 || q.Rows > 100 {
		return reply, fmt.Errorf("a board of %d x %d inner corners cannot be found: both must be 3 to 100", q.Columns, q.Rows)
	}
	a, err := OpenAlbum(q.Files, nil)
	if err != nil {
		return reply, err
	}
	defer a.Close()
	bgr, _, err := a.At(q.T)
	if err != nil {
		return reply, err
	}
	w, h := a.Size()
	colour, err := gocv.NewMatFromBytes(h, w, gocv.MatTypeCV8UC3, bgr)
	if err != nil {
		return reply, err
	}
	defer colour.Close()
	grey := gocv.NewMat()
	defer grey.Close()
	gocv.CvtColor(colour, &grey, gocv.ColorBGRToGray)
	found, err := cornersIn(grey, q.Columns, q.Rows, o)
	runtime.KeepAlive(bgr)
	if err != nil {
		reply.Fail = err.Error()
		return reply, nil
	}
	for _, p := range found {
		reply.Corners = append(reply.Corners, [2]float64{p.X, p.Y})
	}
	return reply, nil
}

// findBoard looks in a picture of at most some 1,600 px a side, for the time
// that a miss takes grows with the fourth power; the refinement follows in the
// picture itself.
func findBoard(m gocv.Mat, size image.Point, found *gocv.Mat) bool {
	const flags = gocv.CalibCBAdaptiveThresh | gocv.CalibCBNormalizeImage
	k := 1
	for max(m.Cols(), m.Rows())/k > 1600 {
		k *= 2
	}
	if k == 1 {
		return gocv.FindChessboardCorners(m, size, found, flags)
	}
	small := gocv.NewMat()
	defer small.Close()
	gocv.Resize(m, &small, image.Pt(m.Cols()/k, m.Rows()/k), 0, 0, gocv.InterpolationArea)
	if !gocv.FindChessboardCorners(small, size, found, flags) {
		return gocv.FindChessboardCorners(m, size, found, flags|gocv.CalibCBFastCheck)
	}
	f := float32(k)
	for i := 0; i < found.Total(); i++ {
		v := found.GetVecfAt(i, 0)
		found.SetFloatAt(i, 0, (v[0]+0.5)*f-0.5)
		found.SetFloatAt(i, 1, (v[1]+0.5)*f-0.5)
	}
	return true
}

func points(m gocv.Mat, n int) []geom.Point2 {
	out := make([]geom.Point2, n)
	for i := range out {
		v := m.GetVecfAt(i, 0)
		out[i] = geom.Point2{X: float64(v[0]), Y: float64(v[1])}
	}
	return out
}

// closest is the least distance between neighbouring corners, px.
func closest(c []geom.Point2, columns int) float64 {
	best := math.Inf(1)
	for i := range c {
		if (i+1)%columns != 0 {
			best = math.Min(best, c[i].Dist(c[i+1]))
		}
		if i+columns < len(c) {
			best = math.Min(best, c[i].Dist(c[i+columns]))
		}
	}
	return best
}

// moreTerms is the share that two more terms must lower the residual to.
const moreTerms = 0.95

// solveBoard calibrates: with square pixels, as nearly all cameras have, unless
// two focal lengths solved apart differ beyond doubt.
func solveBoard(views [][]geom.Point2, q track.BoardRequest, o BoardOptions) (C.sw_lens, []float64, error) {
	var l C.sw_lens
	if q.Model == geom.Fisheye {
		// Four terms bend wildly where no corner holds them, so two must do
		// unless the corners say otherwise.
		l.fisheye = 2
		per, err := calibrate(views, q, &l)
		four := C.sw_lens{fisheye: 1}
		if p, e := calibrate(views, q, &four); e == nil && (err != nil || float64(four.rms) < moreTerms*float64(l.rms)) {
			return four, p, nil
		}
		return l, per, err
	}
	per, err := calibrate(views, q, &l)
	if err != nil || math.Abs(float64(l.f[0]/l.f[1])-1) > o.Unequal {
		return l, per, err
	}
	l = C.sw_lens{square: 1}
	per, err = calibrate(views, q, &l)
	return l, per, err
}

func calibrate(views [][]geom.Point2, q track.BoardRequest, l *C.sw_lens) ([]float64, error) {
	n := q.Columns * q.Rows
	object := make([]C.float, 0, 3*n*len(views))
	pixels := make([]C.float, 0, 2*n*len(views))
	for _, v := range views {
		for i, p := range v {
			object = append(object, C.float(float64(i%q.Columns)*q.Square), C.float(float64(i/q.Columns)*q.Square), 0)
			pixels = append(pixels, C.float(p.X), C.float(p.Y))
		}
	}
	per := make([]float64, len(views))
	var why [256]C.char
	if C.sw_calibrate(C.int(len(views)), C.int(n), &object[0], &pixels[0], C.int(q.Width), C.int(q.Height), l,
		(*C.double)(unsafe.Pointer(&per[0])), &why[0], C.int(len(why))) != 0 {
		return nil, errors.New(C.GoString(&why[0]))
	}
	return per, nil
}

func lensOf(l *C.sw_lens) geom.Lens {
	g := geom.Lens{Model: geom.Brown, Fx: float64(l.f[0]), Fy: float64(l.f[1]), Cx: float64(l.c[0]), Cy: float64(l.c[1])}
	if l.fisheye != 0 {
		g.Model = geom.Fisheye
	}
	for i := range g.Dist {
		g.Dist[i] = float64(l.dist[i])
	}
	return g
}

// The bounds of judgeBoard.
const (
	fewBoards  = 8   // pictures: fewer leave focal length and distance bound together
	shortReach = 0.8 // half diagonals: beyond the farthest corner the lens is a guess
	poorBoard  = 1.0 // px, of all corners
	oddPicture = 4   // times the median picture's residual
)

// judgeBoard warns of what makes a lens less good than its residual says.
func judgeBoard(r *track.BoardReply, views [][]geom.Point2, q track.BoardRequest) {
	mid := geom.Point2{X: (float64(q.Width) - 1) / 2, Y: (float64(q.Height) - 1) / 2}
	for _, v := range views {
		for _, p := range v {
			r.Reach = math.Max(r.Reach, p.Dist(mid)/math.Hypot(mid.X, mid.Y))
		}
	}
	warn := func(format string, a ...any) { r.Warnings = append(r.Warnings, fmt.Sprintf(format, a...)) }
	if r.Used < fewBoards {
		warn("the board was found in %d pictures only; take a dozen", r.Used)
	}
	if r.Reach < shortReach {
		warn("take pictures with the board in the picture's corners: its corners reach only %.0f %% of the way there, and beyond that the lens is extrapolated", 100*r.Reach)
	}
	for _, p := range []geom.Point2{{X: 0, Y: 0}, {X: 2 * mid.X, Y: 0}, {X: 0, Y: 2 * mid.Y}, {X: 2 * mid.X, Y: 2 * mid.Y}} {
		if _, _, ok := r.Lens.Undistort(p); !ok {
			warn("take pictures with the board at the picture's corner (%.0f, %.0f): the lens found is not plausible there", p.X, p.Y)
		}
	}
	if r.RMS > poorBoard {
		warn("the corners lie %.1f px RMS from where the lens puts them; check that the board is flat and the pictures are sharp", r.RMS)
	}
	for _, p := range r.Pictures {
		if !p.Found {
			warn("%s was not used: %s", filepath.Base(p.File), p.Why)
		}
	}
	med := medianRMS(r.Pictures)
	for _, p := range r.Pictures {
		if p.RMS != nil && *p.RMS > oddPicture*med {
			warn("%s fits far worse than the others (%.2f px against %.2f px); remove it if it is blurred", filepath.Base(p.File), *p.RMS, med)
		}
	}
}

func medianRMS(p []track.BoardPicture) float64 {
	var v []float64
	for _, x := range p {
		if x.RMS != nil {
			v = append(v, *x.RMS)
		}
	}
	return geom.Median(v)
}
