//go:build cgo && customenv

package cv

/*
#include <stdlib.h>
#include "fillconvex.h"
*/
import "C"

import (
	"errors"
	"unsafe"
)

// FillConvex sets the cells of quadrilaterals in an empty nx x ny raster by
// OpenCV's fillConvexPoly and returns how many cells are set. quads: x and y of
// four corners each, in cells, centres at whole numbers. It is what the sweep of
// package coverage is timed against; it counts no passes, and it also sets the
// cells that an edge only touches.
func FillConvex(quads []float64, nx, ny int) (int, error) {
	if len(quads) == 0 || len(quads)%8 != 0 || nx < 1 || ny < 1 {
		return 0, errors.New("there are no quadrilaterals to fill, or no raster to fill them in")
	}
	msg := (*C.char)(C.malloc(256))
	defer C.free(unsafe.Pointer(msg))
	n := C.sw_fill_convex(C.long(len(quads)/8), (*C.double)(&quads[0]), C.int(nx), C.int(ny), msg, 256)
	if n < 0 {
		return 0, errors.New(C.GoString(msg))
	}
	return int(n), nil
}
