//go:build cgo && customenv

package cv

/*
#include <stdlib.h>
#include "pace.h"
*/
import "C"

import (
	"fmt"
	"unsafe"

	"swathe/track"
)

// ReadPace reads when the frames of a recording are shown, its start time code and
// its colours, from its container; nothing is decoded.
func ReadPace(file string) (track.Pace, error) {
	p := C.CString(file)
	defer C.free(unsafe.Pointer(p))
	said := newSaid()
	defer said.free()
	var c C.sw_pace
	if C.sw_pace_read(p, &c, said.buf, said.n) != 0 {
		return track.Pace{}, fmt.Errorf("%s: %s", file, said)
	}
	defer C.free(unsafe.Pointer(c.times))
	times := make([]float64, 0, int(c.count))
	const none = -1 << 63 // libav's AV_NOPTS_VALUE
	for _, v := range unsafe.Slice((*int64)(unsafe.Pointer(c.times)), int(c.count)) {
		if v != none {
			times = append(times, float64(v)*float64(c.tick))
		}
	}
	q := track.PaceOf(times, float64(c.tick))
	q.Timecode, q.Colour = C.GoString(&c.timecode[0]), C.GoString(&c.colour[0])
	return q, nil
}
