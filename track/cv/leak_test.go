//go:build cgo && customenv && matprofile

package cv

import "gocv.io/x/gocv"

// leaked is the number of OpenCV matrices that are still open.
func leaked() int { return gocv.MatProfile.Count() }
