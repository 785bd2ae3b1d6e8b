//go:build cgo && customenv

// Package oracle holds what OpenCV works out itself and this project's own
// functions are held against and timed against. Tests alone import it; it is a
// package because a test file cannot link C.
package oracle

/*
#include "oracle.h"
*/
import "C"

import (
	"errors"
	"math"

	"swathe/geom"
)

// Project is OpenCV's own projectPoints (or fisheye::projectPoints) for a
// solved camera: the pixel at which each floor-frame point shows. It is what
// geom.Camera.Project is held against. It projects points behind the lens too.
func Project(cam *geom.Camera, pts []geom.Point3) ([]geom.Point2, error) {
	if len(pts) == 0 {
		return nil, errors.New("there are no points to project")
	}
	// OpenCV takes a rotation as a vector, which near half a turn (how a camera
	// looks down) holds only half the digits. Half a turn about one of the axes,
	// which is exact, is therefore given to the points instead.
	q, most := [3]float64{1, 1, 1}, math.Inf(-1)
	for _, f := range [4][3]float64{{1, 1, 1}, {1, -1, -1}, {-1, 1, -1}, {-1, -1, 1}} {
		if tr := cam.R[0][0]*f[0] + cam.R[1][1]*f[1] + cam.R[2][2]*f[2]; tr > most {
			q, most = f, tr
		}
	}
	in := make([]float64, 0, 3*len(pts))
	for _, p := range pts {
		in = append(in, q[0]*p.X, q[1]*p.Y, q[2]*p.Z)
	}
	var r [9]C.double
	var t [3]C.double
	at := [3]float64{cam.Centre.X, cam.Centre.Y, cam.Centre.Z}
	for i := range t {
		for j := range at {
			r[3*i+j] = C.double(cam.R[i][j] * q[j])
			t[i] -= C.double(cam.R[i][j] * at[j])
		}
	}
	l := [9]C.double{C.double(cam.Lens.Fx), C.double(cam.Lens.Fy), C.double(cam.Lens.Cx), C.double(cam.Lens.Cy)}
	for i, k := range cam.Lens.Dist {
		l[4+i] = C.double(k)
	}
	fisheye := C.int(0)
	if cam.Lens.Model == geom.Fisheye {
		fisheye = 1
	}
	out := make([]float64, 2*len(pts))
	var why [256]C.char
	if C.sw_project(C.int(len(pts)), (*C.double)(&in[0]), &r[0], &t[0], fisheye, &l[0], (*C.double)(&out[0]), &why[0], C.int(len(why))) != 0 {
		return nil, errors.New(C.GoString(&why[0]))
	}
	px := make([]geom.Point2, len(pts))
	for i := range px {
		px[i] = geom.Point2{X: out[2*i], Y: out[2*i+1]}
	}
	return px, nil
}

// FillConvex sets the cells of quadrilaterals in an empty nx x ny raster by
// OpenCV's fillConvexPoly and returns how many cells are set. quads: x and y of
// four corners each, in cells, centres at whole numbers. It is what the sweep of
// package coverage is timed against; it counts no passes, and it also sets the
// cells that an edge only touches.
func FillConvex(quads []float64, nx, ny int) (int, error) {
	if len(quads) == 0 || len(quads)%8 != 0 || nx < 1 || ny < 1 {
		return 0, errors.New("there are no quadrilaterals to fill, or no raster to fill them in")
	}
	var why [256]C.char
	n := C.sw_fill_convex(C.long(len(quads)/8), (*C.double)(&quads[0]), C.int(nx), C.int(ny), &why[0], C.int(len(why)))
	if n < 0 {
		return 0, errors.New(C.GoString(&why[0]))
	}
	return int(n), nil
}
