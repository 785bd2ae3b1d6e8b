package lab

import (
	"errors"
	"fmt"
	"slices"

	"github.com/goccy/go-yaml/ast"

	"swathe/geom"
)

// maxRobot bounds the lengths of a robot, m: a floor cleaner for a hall is
// below it, and a length typed in millimetres or centimetres above.
const maxRobot = 3.0

const metresHint = "Lengths are metres: 340 mm is 0.34."

// markerSizes holds how many markers each dictionary of OpenCV's aruco module
// has (docs.opencv.org, "cv::aruco::PredefinedDictionaryType").
var markerSizes = map[string]int{
	"4x4_50": 50, "4x4_100": 100, "4x4_250": 250, "4x4_1000": 1000,
	"5x5_50": 50, "5x5_100": 100, "5x5_250": 250, "5x5_1000": 1000,
	"6x6_50": 50, "6x6_100": 100, "6x6_250": 250, "6x6_1000": 1000,
	"7x7_50": 50, "7x7_100": 100, "7x7_250": 250, "7x7_1000": 1000,
	"aruco_original": 1024, "apriltag_16h5": 30, "apriltag_25h9": 35, "apriltag_36h10": 2320, "apriltag_36h11": 587,
}

// length reads a robot's length: a number of metres, or {value, tolerance}.
func (r *reader) length(n ast.Node, what string, low, high float64, open bool) (value, tolerance float64, ok bool) {
	var m *block
	switch r.resolve(n).(type) {
	case *ast.MappingNode, *ast.MappingValueNode:
		m, ok = r.block(n, n, what, "value", "tolerance")
		if !ok || !m.need("value", "Write {value: 0.18, tolerance: 0.002}.") {
			return 0, 0, false
		}
		n = m.val("value")
	}
	value, ok = r.between(n, what, "m", bounds{low, high, open}, metresHint)
	if m != nil && m.has("tolerance") {
		tolerance, _ = r.between(m.val("tolerance"), what+": tolerance", "m", bounds{0, 0.5, false}, "Write half the width of its range, in metres.")
	}
	return value, tolerance, ok
}

// robot reads one robot; n is its block, anchor where to point without one.
func (r *reader) robot(name string, n, anchor ast.Node) *Robot {
	out := &Robot{Robot: geom.Robot{Name: name}, Tolerances: map[string]float64{}}
	b, ok := r.block(n, anchor, "robot "+name, "diameter", "outline", "height", "shoulder", "tools", "side_brushes", "marker")
	if !ok {
		return out
	}
	note := func(key string, tol float64) {
		if tol > 0 {
			out.Tolerances[key] = tol
		}
	}
	sized := false
	switch {
	case b.has("diameter") && b.has("outline"):
		r.refuse(b.key("outline"), "%s has both a diameter and an outline. Keep diameter if it is round, outline if not.", b.what)
	case b.has("diameter"):
		var tol float64
		out.Diameter, tol, sized = r.length(b.val("diameter"), b.label("diameter"), 0, maxRobot, true)
		out.DiameterTol = tol
		note("diameter", tol)
	case b.has("outline"):
		out.Outline, sized = r.bodyOutline(b)
	default:
		r.refuse(b.node, "%s has neither diameter nor outline. Write diameter: 0.34, or its outline about the turning centre.", b.what)
	}
	if b.need("height", "Write its height, in metres; the camera sees its top displaced by it.") {
		var tol float64
		out.Height, tol, _ = r.length(b.val("height"), b.label("height"), 0, maxRobot, true)
		out.HeightTol = tol
		note("height", tol)
	}
	if b.has("shoulder") {
		most := out.Height
		if most <= 0 {
			most = maxRobot
		}
		out.Shoulder, _ = r.between(b.val("shoulder"), b.label("shoulder"), "m", bounds{0, most, true}, "Measure from the floor to where its side ends and the slope of its top begins, at most its height.")
	}
	width := maxRobot
	if sized {
		width = 2 * out.Radius()
	}
	if b.need("tools", "Write at least one: tools: {brush: {width: 0.18}}.") {
		r.tools(b, out, width, sized, note)
	}
	if b.has("side_brushes") {
		r.sideBrushes(b, out, note)
	}
	if b.has("marker") {
		r.marker(b, out, note)
	}
	return out
}

func (r *reader) bodyOutline(b *block) ([]geom.Point2, bool) {
	pts, ok := r.polygon(b.val("outline"), b.label("outline"))
	if !ok {
		return nil, false
	}
	n := len(pts)
	if n > 3 && pts[0] == pts[n-1] {
		pts = pts[:n-1]
	}
	for _, p := range pts {
		if p.Norm() > maxRobot {
			r.refuse(b.val("outline"), "%s: a corner lies %.3g m from the turning centre. %s", b.label("outline"), p.Norm(), metresHint)
			return nil, false
		}
	}
	// The body's frame is a plane like the floor's: let the plan judge the ring.
	ring, err := geom.NewPlan(geom.PlanSpec{Name: "body", Room: pts})
	if err != nil {
		reason := err.Error()
		var pe *geom.PlanError
		if errors.As(err, &pe) {
			reason = pe.Reason
		}
		r.refuse(b.val("outline"), "%s: %s.", b.label("outline"), reason)
		return nil, false
	}
	return geom.RingCorners(ring.Room), true
}

func (r *reader) tools(b *block, out *Robot, width float64, sized bool, note func(string, float64)) {
	list, ok := r.entries(b.val("tools"), b.key("tools"), b.label("tools"), "a block with one key for each tool, such as brush: {width: 0.18}")
	if !ok {
		return
	}
	if len(list) == 0 {
		r.refuse(b.key("tools"), "%s has no tools. Write at least one: tools: {brush: {width: 0.18}}.", b.what)
	}
	for _, e := range list {
		if !r.name(e, "a tool") {
			continue
		}
		what := b.what + ": tool " + e.name
		if e.name == "with_side_brushes" {
			r.refuse(e.key, "%s: that name is reserved for the first tool together with the side brushes. Choose another.", what)
			continue
		}
		m, ok := r.block(e.value, e.key, what, "width", "ahead", "left")
		if !ok {
			continue
		}
		t := geom.Tool{Name: e.name}
		if m.need("width", "Write the width of floor that it cleans, in metres.") {
			t.Width, t.WidthTol, ok = r.length(m.val("width"), m.label("width"), 0, 3*maxRobot, true)
			note("tools."+e.name+".width", t.WidthTol)
			if ok && sized && t.Width > 3*width {
				r.refuse(m.val("width"), "%s is %g m on a robot %.3g m wide, more than three times as wide. %s", m.label("width"), t.Width, width, metresHint)
			}
		}
		for _, side := range []struct {
			key string
			to  *float64
		}{{"ahead", &t.Ahead}, {"left", &t.Left}} {
			if m.has(side.key) {
				var tol float64
				*side.to, tol, _ = r.length(m.val(side.key), m.label(side.key), -maxRobot, maxRobot, false)
				t.OffsetTol = max(t.OffsetTol, tol)
				note("tools."+e.name+"."+side.key, tol)
			}
		}
		out.Tools = append(out.Tools, t)
	}
}

func (r *reader) sideBrushes(b *block, out *Robot, note func(string, float64)) {
	list, ok := r.list(b.val("side_brushes"), b.label("side_brushes"), "a list of {ahead: 0.11, left: -0.10, reach: 0.08}")
	if !ok {
		return
	}
	for i, n := range list {
		m, ok := r.block(n, n, fmt.Sprintf("%s: side brush %d", b.what, i+1), "ahead", "left", "reach")
		if !ok {
			continue
		}
		var s geom.SideBrush
		for _, f := range []struct {
			key  string
			to   *float64
			low  float64
			open bool
		}{{"ahead", &s.Ahead, -maxRobot, false}, {"left", &s.Left, -maxRobot, false}, {"reach", &s.Reach, 0, true}} {
			if m.need(f.key, "Write it in metres; ahead and left are measured from the turning centre.") {
				var tol float64
				*f.to, tol, _ = r.length(m.val(f.key), m.label(f.key), f.low, maxRobot, f.open)
				note(fmt.Sprintf("side_brushes.%d.%s", i+1, f.key), tol)
			}
		}
		out.SideBrushes = append(out.SideBrushes, s)
	}
}

func (r *reader) marker(b *block, out *Robot, note func(string, float64)) {
	m, ok := r.block(b.val("marker"), b.key("marker"), b.label("marker"), "dictionary", "id", "side", "height", "ahead", "left", "turn")
	if !ok {
		return
	}
	k := &geom.Marker{Height: out.Height}
	count := 1000
	if m.need("dictionary", "Write its dictionary, such as 4x4_50.") {
		if word, ok := r.text(m.val("dictionary"), m.label("dictionary")); ok {
			k.Dictionary = word
			names := sortedKeys(markerSizes)
			if !slices.Contains(names, word) {
				r.refuse(m.val("dictionary"), "%s: there is no dictionary %q.%s", b.label("marker"), word, DidYouMean(word, names))
			} else {
				count = markerSizes[word]
			}
		}
	}
	if m.need("id", "Write the marker's number in its dictionary.") {
		k.ID, _ = r.whole(m.val("id"), m.label("id"), 0, count-1)
	}
	if m.need("side", "Write the side of its black square in metres.") {
		var tol float64
		k.Side, tol, _ = r.length(m.val("side"), m.label("side"), 0, 1, true)
		note("marker.side", tol)
	}
	for _, f := range []struct {
		key string
		to  *float64
		low float64
	}{{"height", &k.Height, 0}, {"ahead", &k.Ahead, -maxRobot}, {"left", &k.Left, -maxRobot}} {
		if m.has(f.key) {
			var tol float64
			*f.to, tol, _ = r.length(m.val(f.key), m.label(f.key), f.low, maxRobot, false)
			note("marker."+f.key, tol)
		}
	}
	if m.has("turn") {
		deg, _ := r.between(m.val("turn"), m.label("turn"), "degrees", bounds{-360, 360, false}, "")
		k.Turn = geom.Radians(deg)
	}
	out.Marker = k
}
