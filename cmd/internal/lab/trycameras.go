package lab

import (
	"context"

	"swathe/geom"
)

// CameraTry is what became of one camera of a set-up that may be wrong
// elsewhere or unfinished.
type CameraTry struct {
	Spec     geom.CameraSpec
	Solution *geom.Solution // nil if Err says why not, or its lens comes from board pictures
	Err      error          // a *Problems
}

// TryCameras reads and solves the cameras of a lab.yaml each by itself, whatever
// is wrong with the rest: while a set-up is being made, a camera can be looked
// through before the room is drawn.
func TryCameras(ctx context.Context, dir string, data []byte) map[string]CameraTry {
	out := map[string]CameraTry{}
	var problems Problems
	r, body := parse(SetupFile, data, &problems)
	if body == nil {
		return out
	}
	top, ok := r.block(body, body, SetupFile, "cameras", "layouts", "robots", "settings")
	if !ok || !top.has("cameras") {
		return out
	}
	list, _ := r.entries(top.val("cameras"), top.key("cameras"), "cameras", "a block with one key for each camera")
	for _, e := range list {
		if ctx.Err() != nil {
			return out
		}
		own := &Problems{}
		r.problems = own
		var t CameraTry
		if r.name(e, "a camera") {
			c := r.camera(dir, e)
			t.Spec = c.Spec
			if len(own.List) == 0 && c.Spec.Board == nil {
				s, err := geom.SolveCamera(c.Spec)
				if err != nil {
					own.add(c.refusal(err))
				} else {
					c.place(s)
				}
				t.Solution = s
			}
		}
		if len(own.List) > 0 {
			t.Err = own
		}
		out[e.name] = t
	}
	return out
}
