//go:build cgo && customenv

package cv

/*
#include "marker.h"
*/
import "C"

import (
	"errors"
	"fmt"
	"math"
	"runtime"
	"unsafe"

	"swathe/geom"
	"swathe/track/sight"
)

// dictionaries are the predefined ones, in the order of
// cv::aruco::PREDEFINED_DICTIONARY_NAME (docs.opencv.org, "ArUco Marker
// Detection"), by their names there in lower case without DICT_.
var dictionaries = []string{
	"4x4_50", "4x4_100", "4x4_250", "4x4_1000",
	"5x5_50", "5x5_100", "5x5_250", "5x5_1000",
	"6x6_50", "6x6_100", "6x6_250", "6x6_1000",
	"7x7_50", "7x7_100", "7x7_250", "7x7_1000",
	"aruco_original", "apriltag_16h5", "apriltag_25h9", "apriltag_36h10", "apriltag_36h11",
}

// MarkerFinder finds one printed marker. It is for one goroutine. Close it.
type MarkerFinder struct {
	c       *C.sw_marker
	ID      int
	corners [8 * maxMarkers]C.float
	ids     [maxMarkers]C.int
}

// maxMarkers is how many markers of a dictionary are told apart in one look.
const maxMarkers = 32

// NewMarkerFinder returns a finder for marker id of a dictionary, which must
// have it.
func NewMarkerFinder(dictionary string, id int) (*MarkerFinder, error) {
	for i, name := range dictionaries {
		if name != dictionary {
			continue
		}
		m := &MarkerFinder{ID: id}
		var why [256]C.char
		if C.sw_marker_new(C.int(i), &m.c, &why[0], C.int(len(why))) != 0 {
			return nil, errors.New(C.GoString(&why[0]))
		}
		if n := int(C.sw_marker_count(m.c)); id < 0 || id >= n {
			m.Close()
			return nil, fmt.Errorf("dictionary %s has markers 0 to %d, not %d", dictionary, n-1, id)
		}
		return m, nil
	}
	return nil, fmt.Errorf("there is no dictionary %q; there are %v", dictionary, dictionaries)
}

// Close frees the finder.
func (m *MarkerFinder) Close() {
	if m.c != nil {
		C.sw_marker_free(m.c)
		m.c = nil
	}
}

// Cells is how many cells the marker is wide, its black border included.
func (m *MarkerFinder) Cells() int { return int(C.sw_marker_cells(m.c)) + 2 }

// Found is one marker in a picture.
type Found struct {
	ID      int
	Corners [4]geom.Point2 // px: top left, top right, bottom right, bottom left as printed
}

// Detect returns the markers of the dictionary in a rectangle of a plane,
// enlarged so many times (1 or more) before they are looked for.
func (m *MarkerFinder) Detect(p *sight.Plane, x0, y0, x1, y1, enlarge int) ([]Found, error) {
	x0, y0, x1, y1 = max(0, x0), max(0, y0), min(p.W, x1), min(p.H, y1)
	if x1-x0 < 8 || y1-y0 < 8 {
		return nil, nil // nothing of the size of a marker
	}
	if len(p.Pix) < (y1-1)*p.Stride+x1 {
		return nil, errors.New("the plane is shorter than its size says")
	}
	enlarge = min(max(1, enlarge), 8)
	var why [256]C.char
	n := int(C.sw_marker_find(m.c, (*C.uint8_t)(unsafe.Pointer(&p.Pix[y0*p.Stride+x0])), C.int(x1-x0), C.int(y1-y0), C.int(p.Stride),
		C.int(enlarge), &m.corners[0], &m.ids[0], maxMarkers, &why[0], C.int(len(why))))
	runtime.KeepAlive(p.Pix)
	if n < 0 {
		return nil, errors.New(C.GoString(&why[0]))
	}
	out := make([]Found, n)
	for i := range out {
		out[i].ID = int(m.ids[i])
		for k := range out[i].Corners {
			out[i].Corners[k] = geom.Point2{X: float64(m.corners[8*i+2*k]) + float64(x0), Y: float64(m.corners[8*i+2*k+1]) + float64(y0)}
		}
	}
	return out, nil
}

// wellSeen is the side at which a marker is looked at, px: one that shows
// smaller is enlarged first.
const wellSeen = 60

// Find is sight.MarkerEye's.
func (m *MarkerFinder) Find(p *sight.Plane, lo, hi geom.Point2, side float64) (c [4]geom.Point2, ok bool) {
	if !(side > 4) || math.IsNaN(lo.X+lo.Y+hi.X+hi.Y) {
		return c, false
	}
	enlarge := min(4, int(math.Ceil(wellSeen/side)))
	x0, y0, x1, y1 := clampInt(lo.X, p.W), clampInt(lo.Y, p.H), clampInt(hi.X+1, p.W), clampInt(hi.Y+1, p.H)
	for (x1-x0)*(y1-y0)*enlarge*enlarge > 8<<20 && enlarge > 1 {
		enlarge-- // a whole large picture: time before reach
	}
	found, err := m.Detect(p, x0, y0, x1, y1, enlarge)
	if err != nil {
		return c, false
	}
	best := math.Inf(1)
	for _, f := range found {
		if f.ID != m.ID {
			continue
		}
		// Of two the one whose size fits better.
		s := 0.0
		for k := range f.Corners {
			s += f.Corners[k].Dist(f.Corners[(k+1)%4]) / 4
		}
		if d := math.Abs(math.Log(s / side)); d < best {
			best, c, ok = d, f.Corners, true
		}
	}
	return c, ok
}

func clampInt(v float64, n int) int { return int(math.Max(0, math.Min(float64(n), v))) }

// Draw returns the marker with its black border, side x side pixels of 0 or
// 255; side must be a whole number of cells.
func (m *MarkerFinder) Draw(side int) ([]uint8, error) {
	if side <= 0 || side%m.Cells() != 0 || side > 1<<14 {
		return nil, fmt.Errorf("a marker of %d cells cannot be drawn %d px wide", m.Cells(), side)
	}
	out := make([]uint8, side*side)
	var why [256]C.char
	if C.sw_marker_draw(m.c, C.int(m.ID), C.int(side), (*C.uint8_t)(unsafe.Pointer(&out[0])), &why[0], C.int(len(why))) != 0 {
		return nil, errors.New(C.GoString(&why[0]))
	}
	return out, nil
}

// Pose finds the marker in a picture and returns the robot's pose: near its
// place if one is given, else anywhere. cam is scaled to the picture.
func (m *MarkerFinder) Pose(pic *sight.Picture, cam *geom.Camera, mk geom.Marker, near *geom.Point2) (sight.MarkerFix, bool) {
	return sight.MarkerSearch{Camera: cam, Marker: mk, Near: near}.In(m, &pic.Y)
}

// Rows returns the marker's cells from its top, true for black, its border
// included.
func (m *MarkerFinder) Rows() ([][]bool, error) {
	const cell = 4
	n := m.Cells()
	pix, err := m.Draw(n * cell)
	if err != nil {
		return nil, err
	}
	out := make([][]bool, n)
	for r := range out {
		out[r] = make([]bool, n)
		for c := range out[r] {
			out[r][c] = pix[(r*cell+cell/2)*n*cell+c*cell+cell/2] < 128
		}
	}
	return out, nil
}
