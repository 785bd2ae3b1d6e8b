//go:build cgo && customenv

package cv

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"gocv.io/x/gocv"

	"swathe/track"
	"swathe/track/residue"
)

// stillSpan is the stretch of a recording whose median is a picture, s, and
// stillFrames how many frames of it are taken: what moves through is gone, and
// noise is down to a third.
const (
	stillSpan   = 1.0
	stillFrames = 9
)

// ReadStill reads a picture, turned upright as it says itself, or the median of a
// second of a recording; then the medians of thirds of that second follow, whose
// frames lie between each other.
func ReadStill(s track.Still) ([]*residue.Picture, error) {
	name := filepath.Base(s.File)
	if s.T == nil {
		if _, err := os.Stat(s.File); err != nil {
			return nil, fmt.Errorf("%s cannot be opened: %w", name, err)
		}
		m := gocv.IMRead(s.File, gocv.IMReadColor)
		defer m.Close()
		if m.Empty() || m.Type() != gocv.MatTypeCV8UC3 {
			return nil, fmt.Errorf("%s cannot be read as a picture; give JPEG, PNG or TIFF, or FILE@SECONDS for a recording", name)
		}
		return []*residue.Picture{{W: m.Cols(), H: m.Rows(), Pix: swapped(m.ToBytes())}}, nil
	}
	a, err := OpenAlbum(append([]string{s.File}, s.More...), s.Gaps)
	if err != nil {
		return nil, err
	}
	defer a.Close()
	var frames [][]byte
	last := -1.0
	for i := range stillFrames {
		bgr, t, err := a.At(max(0, *s.T+stillSpan*(float64(i)/(stillFrames-1)-0.5)))
		if err != nil {
			return nil, fmt.Errorf("%s at %.2f s: %w", name, *s.T, err)
		}
		if t != last {
			frames = append(frames, slices.Clone(bgr))
		}
		last = t
	}
	w, h := a.Size()
	out := []*residue.Picture{{W: w, H: h, Pix: swapped(medianOf(frames))}}
	if len(frames) < stillFrames {
		return out, nil
	}
	for k := range 3 {
		var third [][]byte
		for i := k; i < len(frames); i += 3 {
			third = append(third, frames[i])
		}
		out = append(out, &residue.Picture{W: w, H: h, Pix: swapped(medianOf(third))})
	}
	return out, nil
}

// medianOf is the median of each byte over frames of one size.
func medianOf(frames [][]byte) []byte {
	out := slices.Clone(frames[0])
	v := make([]byte, len(frames))
	for i := range out {
		for k, f := range frames {
			v[k] = f[i]
		}
		slices.Sort(v)
		out[i] = v[len(v)/2]
	}
	return out
}

// swapped turns BGR to RGB in place.
func swapped(b []byte) []byte {
	for i := 0; i+2 < len(b); i += 3 {
		b[i], b[i+2] = b[i+2], b[i]
	}
	return b
}
