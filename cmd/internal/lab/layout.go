package lab

import (
	"errors"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"swathe/geom"
)

// Groups of pieces as lab.yaml spells them.
var pieceGroups = []string{"obstacles", "overhead", "areas", "test_objects"}

// layout reads one entry of layouts. Its camera must have been read before.
func (r *reader) layout(l *Lab, e entry) *Layout {
	what := "layout " + e.name
	out := &Layout{Name: e.name}
	b, ok := r.block(e.value, e.key, what, "camera", "room", "dock", "obstacles", "overhead", "areas", "test_objects", "patches", "clean_floor")
	if !ok {
		return out
	}
	before := len(r.problems.List) + r.problems.More
	if b.has("camera") {
		if name, ok := r.text(b.val("camera"), b.label("camera")); ok {
			if _, known := l.Cameras[name]; !known {
				r.refuse(b.val("camera"), "%s: there is no camera %q.%s", what, name, DidYouMean(name, l.CameraNames))
			}
			out.Camera = name
		}
	} else if len(l.Cameras) > 0 {
		// A lab without any camera is one of paths measured elsewhere.
		b.need("camera", "Write the name of its camera: "+strings.Join(l.CameraNames, " or ")+".")
	}
	var room []geom.Point2
	if b.need("room", "Write its outline: a list of corners [x, y] in metres.") {
		room, _ = r.polygon(b.val("room"), b.label("room"))
	}
	var dock *geom.Pose
	if b.has("dock") {
		dock = r.dock(b)
	}
	groups := map[string][]geom.Piece{}
	where := map[string]ast.Node{}
	for _, g := range pieceGroups {
		if b.has(g) {
			groups[g] = r.pieces(b, g, where)
		}
	}
	if b.has("patches") {
		out.Patches = r.patches(b, room)
	}
	if b.has("clean_floor") {
		out.CleanFloor, _ = r.text(b.val("clean_floor"), b.label("clean_floor"))
	}
	if room == nil || len(r.problems.List)+r.problems.More > before {
		return out
	}
	plan, err := geom.NewPlan(geom.PlanSpec{Name: e.name, Room: room, Obstacles: groups["obstacles"], Overhead: groups["overhead"], Areas: groups["areas"], TestObjects: groups["test_objects"], Dock: dock})
	var pe *geom.PlanError
	switch {
	case errors.As(err, &pe):
		n := where[pe.Piece]
		if n == nil && pe.Piece == "dock" {
			n = b.val("dock")
		}
		if n == nil {
			n = b.val("room")
		}
		r.refuse(n, "%s: %s.", what, strings.TrimSuffix(pe.Error(), "."))
	case err != nil:
		r.refuse(b.val("room"), "%s: %s.", what, strings.TrimSuffix(err.Error(), "."))
	}
	out.Plan = plan
	return out
}

func (r *reader) dock(b *block) *geom.Pose {
	m, ok := r.block(b.val("dock"), b.key("dock"), b.label("dock"), "at", "heading")
	if !ok {
		return nil
	}
	var pose geom.Pose
	if m.need("at", "Write where the robot's centre is when docked: at: [x, y] in metres.") {
		p, _ := r.point(m.val("at"), m.label("at"), "[x, y] in metres")
		pose.X, pose.Y = p.X, p.Y
	}
	if m.need("heading", "Write the heading of the docked robot, in degrees counter-clockwise from +x.") {
		h, _ := r.between(m.val("heading"), m.label("heading"), "degrees", bounds{-360, 360, false}, "")
		pose.Heading = geom.Radians(h)
	}
	return &pose
}

// pieces reads one group of named outlines; where gets the node of each.
func (r *reader) pieces(b *block, group string, where map[string]ast.Node) []geom.Piece {
	list, ok := r.entries(b.val(group), b.key(group), b.label(group), "a block with one key for each piece")
	if !ok {
		return nil
	}
	known := []string{"outline", "height"}
	if group == "areas" {
		known = append(known, "kind")
	}
	var out []geom.Piece
	for _, e := range list {
		what := b.label(group) + " " + e.name
		if !r.name(e, "a piece of the layout") {
			continue
		}
		if _, twice := where[e.name]; twice {
			r.refuse(e.key, "%s: this layout has another piece called %q. Give each its own name.", b.what, e.name)
			continue
		}
		where[e.name] = e.key
		m, ok := r.block(e.value, e.key, what, known...)
		if !ok {
			continue
		}
		p := geom.Piece{Name: e.name}
		if m.need("outline", "Write its corners on the floor: outline: [[x, y], ...] in metres.") {
			if pts, ok := r.polygon(m.val("outline"), m.label("outline")); ok {
				p.Outline = geom.Ring(pts)
			}
			where[e.name] = m.val("outline")
		}
		needsHeight := group == "obstacles" || group == "overhead"
		if m.has("height") {
			// Ten metres is above any ceiling: such a number is in other units.
			p.Height, _ = r.between(m.val("height"), m.label("height"), "m", bounds{0, 10, group == "overhead"}, "Heights are metres above the floor.")
		} else if needsHeight {
			m.need("height", "Write its height above the floor, in metres; it decides what the piece hides from the camera.")
		}
		if group == "areas" && m.need("kind", "Write kind: surface, target or off_limits.") {
			if word, ok := r.text(m.val("kind"), m.label("kind")); ok {
				kinds := []string{geom.AreaSurface, geom.AreaTarget, geom.AreaOffLimits}
				p.Kind = word
				if now, ok := renamedKinds[word]; ok {
					r.refuse(m.val("kind"), "%s is %q, which is now called %s; rename it.", m.label("kind"), word, now)
				} else if word != kinds[0] && word != kinds[1] && word != kinds[2] {
					r.refuse(m.val("kind"), "%s is %q; it should be surface, target or off_limits.", m.label("kind"), word)
				}
			}
		}
		out = append(out, p)
	}
	return out
}
