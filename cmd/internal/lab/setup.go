package lab

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"swathe/geom"
)

// num spells a number so that reading it gives the same value.
func num(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// degrees spells an angle in radians; twelve digits hide what the conversion adds.
func degrees(rad float64) string { return strconv.FormatFloat(geom.Degrees(rad), 'g', 12, 64) }

func list(v ...float64) string {
	s := make([]string, len(v))
	for i, x := range v {
		s[i] = num(x)
	}
	return "[" + strings.Join(s, ", ") + "]"
}

// Setup returns the part of the set-up that a run of robot in layout rests on,
// spelt in one canonical way: the same values give the same bytes however
// lab.yaml arranges them, and comments count for nothing. It is a lab.yaml in
// itself and is kept in each result as setup.yaml.
//
// camera is the one that looked, empty for the layout's own. Names that do not
// exist are left out, so that a set-up without them differs.
func (l *Lab) Setup(layout, robot, camera string) []byte {
	var b strings.Builder
	lay := l.Layouts[layout]
	if lay != nil {
		if camera == "" {
			camera = lay.Camera
		}
		if c := l.Cameras[camera]; c != nil {
			b.WriteString("cameras:\n")
			l.writeCamera(&b, c)
		}
		if lay.Plan != nil {
			b.WriteString("layouts:\n")
			writeLayout(&b, lay, camera)
		}
	}
	if r := l.Robots[robot]; r != nil {
		b.WriteString("robots:\n")
		writeRobot(&b, r)
	}
	b.WriteString("settings:\n")
	for _, d := range SettingList {
		fmt.Fprintf(&b, "  %s: %s\n", d.Name, d.text(&l.Settings))
	}
	return []byte(b.String())
}

// SetupHash returns the SHA-256 of Setup, lower-case hex.
func (l *Lab) SetupHash(layout, robot, camera string) string {
	return hashOf(l.Setup(layout, robot, camera))
}

func hashOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// writeCamera is writeSurvey, and the picture of the room.
func (l *Lab) writeCamera(b *strings.Builder, c *Camera) {
	l.writeSurvey(b, c.Spec)
	if c.Room == "" {
		return
	}
	h, err := l.hashes.Sum(l.inLab(c.Room))
	if err != nil {
		h = "unreadable"
	}
	fmt.Fprintf(b, "    %s: %s\n    # sha256 %s\n", roomKey, strconv.Quote(c.Room), h)
}

func (l *Lab) writeSurvey(b *strings.Builder, s geom.CameraSpec) {
	fmt.Fprintf(b, "  %s:\n    frame: [%d, %d]\n", strconv.Quote(s.Name), s.Width, s.Height)
	if !math.IsNaN(s.LensHeight) {
		fmt.Fprintf(b, "    height: %s\n", num(s.LensHeight))
	}
	b.WriteString("    marks:\n")
	for _, m := range s.Marks {
		fmt.Fprintf(b, "      - {floor: %s, pixel: %s", list(m.Floor.X, m.Floor.Y, m.Floor.Z), list(m.Pixel.X, m.Pixel.Y))
		if m.Sigma > 0 {
			fmt.Fprintf(b, ", sigma: %s", num(m.Sigma))
		}
		b.WriteString("}\n")
	}
	if s.Lens != nil {
		d := s.Lens.Dist[:]
		if s.Model == geom.Fisheye {
			d = d[:4]
		}
		fmt.Fprintf(b, "    lens: {model: %s, focal: %s, centre: %s, distortion: %s}\n", s.Model,
			list(s.Lens.Fx, s.Lens.Fy), list(s.Lens.Cx, s.Lens.Cy), list(d...))
	} else if s.Model == geom.Fisheye {
		b.WriteString("    lens: {model: fisheye}\n")
	}
	if s.Board != nil {
		fmt.Fprintf(b, "    board: {columns: %d, rows: %d, square: %s, pictures: %s}\n", s.Board.Columns, s.Board.Rows,
			num(s.Board.Square), strconv.Quote(commonPattern(l.Dir, s.Board.Pictures)))
		for _, p := range s.Board.Pictures {
			h, err := l.hashes.Sum(p)
			if err != nil {
				h = "unreadable"
			}
			fmt.Fprintf(b, "    # %s sha256 %s\n", filepath.Base(p), h)
		}
	}
	for i, t := range s.Tapes {
		if i == 0 {
			b.WriteString("    tapes:\n")
		}
		fmt.Fprintf(b, "      - {pixels: [%s, %s], length: %s}\n", list(t.From.X, t.From.Y), list(t.To.X, t.To.Y), num(t.Length))
	}
}

// commonPattern names the folder of board pictures relative to the lab.
func commonPattern(dir string, files []string) string {
	if len(files) == 0 {
		return ""
	}
	folder := filepath.Dir(files[0])
	if rel, err := filepath.Rel(dir, folder); err == nil {
		folder = rel
	}
	return filepath.ToSlash(filepath.Join(folder, "*"+filepath.Ext(files[0])))
}

// writeLayout names the camera that looked, which may be another than the
// layout's own.
func writeLayout(b *strings.Builder, lay *Layout, camera string) {
	p := lay.Plan
	fmt.Fprintf(b, "  %s:\n", strconv.Quote(lay.Name))
	if camera != "" {
		fmt.Fprintf(b, "    camera: %s\n", strconv.Quote(camera))
	}
	fmt.Fprintf(b, "    room: %s\n", ring(p.Room))
	if p.Dock != nil {
		fmt.Fprintf(b, "    dock: {at: %s, heading: %s}\n", list(p.Dock.X, p.Dock.Y), degrees(p.Dock.Heading))
	}
	for i, group := range [][]geom.Piece{p.Obstacles, p.Overhead, p.Areas, p.TestObjects} {
		for j, q := range group {
			if j == 0 {
				fmt.Fprintf(b, "    %s:\n", pieceGroups[i])
			}
			fmt.Fprintf(b, "      %s: {outline: %s, height: %s", strconv.Quote(q.Name), ring(q.Outline), num(q.Height))
			if q.Kind != "" {
				fmt.Fprintf(b, ", kind: %s", q.Kind)
			}
			b.WriteString("}\n")
		}
	}
}

// ring spells a closed ring by its corners, the last left out.
func ring[P ~[2]float64](r []P) string {
	var s []string
	for _, c := range r[:max(0, len(r)-1)] {
		s = append(s, list(c[0], c[1]))
	}
	return "[" + strings.Join(s, ", ") + "]"
}

func writeRobot(b *strings.Builder, r *Robot) {
	length := func(key string, v float64) string {
		if tol := r.Tolerances[key]; tol > 0 {
			return fmt.Sprintf("{value: %s, tolerance: %s}", num(v), num(tol))
		}
		return num(v)
	}
	fmt.Fprintf(b, "  %s:\n", strconv.Quote(r.Name))
	if r.Round() {
		fmt.Fprintf(b, "    diameter: %s\n", length("diameter", r.Diameter))
	} else {
		var s []string
		for _, p := range r.Outline {
			s = append(s, list(p.X, p.Y))
		}
		fmt.Fprintf(b, "    outline: [%s]\n", strings.Join(s, ", "))
	}
	fmt.Fprintf(b, "    height: %s\n", length("height", r.Height))
	if r.Shoulder > 0 {
		fmt.Fprintf(b, "    shoulder: %s\n", num(r.Shoulder))
	}
	b.WriteString("    tools:\n")
	for _, t := range r.Tools {
		k := "tools." + t.Name + "."
		fmt.Fprintf(b, "      %s: {width: %s, ahead: %s, left: %s}\n", strconv.Quote(t.Name),
			length(k+"width", t.Width), length(k+"ahead", t.Ahead), length(k+"left", t.Left))
	}
	for i, s := range r.SideBrushes {
		if i == 0 {
			b.WriteString("    side_brushes:\n")
		}
		k := fmt.Sprintf("side_brushes.%d.", i+1)
		fmt.Fprintf(b, "      - {ahead: %s, left: %s, reach: %s}\n", length(k+"ahead", s.Ahead), length(k+"left", s.Left), length(k+"reach", s.Reach))
	}
	if m := r.Marker; m != nil {
		fmt.Fprintf(b, "    marker: {dictionary: %s, id: %d, side: %s, height: %s, ahead: %s, left: %s, turn: %s}\n", m.Dictionary, m.ID,
			length("marker.side", m.Side), length("marker.height", m.Height), length("marker.ahead", m.Ahead), length("marker.left", m.Left), degrees(m.Turn))
	}
}
