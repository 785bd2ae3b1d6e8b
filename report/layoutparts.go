package report

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"swathe/coverage/compare"
	"swathe/geom"
)

// layoutParts returns a hash of each part of a layout (compare.Parts), by its
// geometry and not by the order in which lab.yaml lists it: what must be the
// same for two runs to be compared. Of test objects the names count too, for
// their outcomes are told by name; of furniture they do not.
func layoutParts(p *geom.Plan) map[string]string {
	pieces := func(in []geom.Piece, named bool) string {
		var lines []string
		for _, x := range in {
			name := ""
			if named {
				name = x.Name
			}
			lines = append(lines, fmt.Sprintf("%s %s %.5f %v", name, x.Kind, x.Height, corners(geom.RingCorners(x.Outline))))
		}
		slices.Sort(lines)
		return strings.Join(lines, "\n")
	}
	out := map[string]string{}
	for i, text := range []string{corners(geom.RingCorners(p.Room)), pieces(p.Obstacles, false), pieces(p.Overhead, false), pieces(p.Areas, true), pieces(p.TestObjects, true)} {
		sum := sha256.Sum256([]byte(text))
		out[compare.Parts[i]] = hex.EncodeToString(sum[:8])
	}
	return out
}

// corners writes a ring from its lowest corner on, so that it does not matter
// where it begins.
func corners(c []geom.Point2) string {
	first := 0
	for i, p := range c {
		if p.X < c[first].X || p.X == c[first].X && p.Y < c[first].Y {
			first = i
		}
	}
	var b strings.Builder
	for i := range c {
		p := c[(first+i)%len(c)]
		fmt.Fprintf(&b, " %.5f,%.5f", p.X, p.Y)
	}
	return b.String()
}
