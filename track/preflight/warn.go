package preflight

import (
	"fmt"
	"math"

	"swathe/track/sight"
)

// Thresholds of the warnings. They are where, on drawn recordings, paths begin
// to be worse than in an ordinary room, with some room to spare.
const (
	darkFloor   = 35   // grey levels: below, noise is as large as a floor's pattern
	darkPart    = 0.1  // share of the floor
	clippedPart = 0.02 // share of the floor
	unevenLight = 3.0  // brightest half metre over darkest
	changing    = 1.5  // brightest frame over darkest
	weakEdge    = 4.0  // grey levels a pixel: at this an edge counts half in the fit
	edgeNoise   = 2.0  // of the noise
	muchNoise   = 6.0  // grey levels
	flatTop     = 2.0  // grey levels, of the top's markings
	fewPx       = 25.0 // px of radius
	otherSize   = 0.015
	movedPx     = 0.5
)

func (f *Finding) warn(set *sight.Setup, surveyed bool) {
	say := func(format string, a ...any) { f.Warnings = append(f.Warnings, fmt.Sprintf(format, a...)) }
	over := func(v *float64, limit float64) bool { return v != nil && *v > limit }
	under := func(v *float64, limit float64) bool { return v != nil && *v < limit }
	l, r := f.Light, f.Robot
	if under(l.FloorGrey, darkFloor) || over(l.DarkShare, darkPart) {
		say("the floor is too dark: grey level %.0f of 255, %.0f %% of it near black. More light, or a longer exposure if the robot is not smeared by it", *l.FloorGrey, 100**l.DarkShare)
	}
	if over(l.ClippedShare, clippedPart) {
		say("%.0f %% of the floor is clipped to white: nothing shows there. Expose less, or shade the window or lamp that shines on it", 100**l.ClippedShare)
	}
	if over(l.UnevenRatio, unevenLight) {
		say("the light is uneven: the brightest part of the floor is %.1f times as bright as the darkest. Light it from above and from more than one side", *l.UnevenRatio)
	}
	if over(l.ChangeRatio, changing) {
		say("the light changes during the recording by a factor of %.1f. Lock the camera's exposure, and draw curtains if it is the sun", *l.ChangeRatio)
	}
	if over(f.Noise, muchNoise) {
		say("the picture is noisy: %.1f grey levels from frame to frame. More light, or less gain", *f.Noise)
	}
	switch {
	case r.Found == 0:
		say("the robot was not found in any of %d frames. Is it in the picture, is it the robot that the file's name says, and do its diameter and height fit?", f.Frames)
	case 4*r.Found < 3*f.Frames:
		say("the robot was found in %d of %d frames only. Is something in its way, or does it hardly differ from the floor%s?", r.Found, f.Frames, contrast(r))
	}
	if under(r.Edge, weakEdge) || r.Edge != nil && f.Noise != nil && *r.Edge < edgeNoise**f.Noise {
		say("the robot hardly stands out from this floor: its outline is %.1f grey levels a pixel. Light it so that floor and robot differ, or put a strip of contrasting tape around its rim", *r.Edge)
	}
	if under(r.RadiusPx, fewPx) {
		say("the robot shows with a radius of %.0f pixels; under %.0f its heading rests on the direction of travel alone. Record at a finer resolution, or nearer", *r.RadiusPx, fewPx)
	} else if under(r.Texture, flatTop) && set.Robot.Marker == nil {
		say("the robot's top has no markings that its turning could be read from; the heading rests on the direction of travel. Stick something on it: a printed marker is best (swathe check --marker FILE.png)")
	}
	if s := f.Size; s.Ratio != nil && math.Abs(*s.Ratio-1) > math.Max(otherSize, 3**s.Sigma) {
		d := 2000 * set.Robot.Radius()
		say("the robot shows %.0f mm across, its entry says %.0f mm. Measure its diameter again, and its height: one that is 10 mm too low makes it show 0.4 %% wider under a lens at 2.5 m", d**s.Ratio, d)
	}
	switch c := f.Camera; {
	case c.During == nil && surveyed:
		say("the recording does not match the reference picture of the survey: the camera has moved since by more than can be corrected, or during the recording. Survey its marks again in a frame of this recording")
	case c.During == nil:
		say("the frames do not match each other: the camera moved during the recording by more than can be corrected, or it shows another room")
	case *c.During > movedPx:
		say("the camera moved by %.1f px during the recording. This is corrected; fasten the camera and switch off its stabilisation", *c.During)
	}
	if over(f.Camera.Px, movedPx) {
		say("the camera has moved by %.1f px (%.0f mm on the floor) since its marks were surveyed. This is corrected; if it grows, survey the marks again", *f.Camera.Px, 1000**f.Camera.M)
	}
}

// contrast says how robot and floor differ where it was found.
func contrast(r Robot) string {
	if r.TopGrey == nil || r.Around == nil {
		return ""
	}
	return fmt.Sprintf(" (its top shows at grey level %.0f, the floor round it at %.0f)", *r.TopGrey, *r.Around)
}
