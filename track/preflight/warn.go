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
		say("add light, or expose longer if the robot stays sharp: the floor is too dark (grey level %.0f of 255, %.0f %% of it near black)", *l.FloorGrey, 100**l.DarkShare)
	}
	if over(l.ClippedShare, clippedPart) {
		say("expose less, or shade the window or lamp: %.0f %% of the floor is clipped to white, so nothing can be seen there", 100**l.ClippedShare)
	}
	if over(l.UnevenRatio, unevenLight) {
		say("light the room from above and from several sides: the brightest part of the floor is %.1f times as bright as the darkest", *l.UnevenRatio)
	}
	if over(l.ChangeRatio, changing) {
		say("lock the camera's exposure and keep out sunlight: the light changes by a factor of %.1f during the recording", *l.ChangeRatio)
	}
	if over(f.Noise, muchNoise) {
		say("add light or reduce the gain: the picture is noisy, %.1f grey levels from frame to frame", *f.Noise)
	}
	switch {
	case r.Found == 0 && f.Frames > 0:
		say("the robot was found in none of %d frames. Check that it is in the picture, that the file's name is right, and that its diameter and height are", f.Frames)
	case 4*r.Found < 3*f.Frames:
		say("the robot was found in only %d of %d frames. Check that nothing hides it and that it contrasts with the floor%s", r.Found, f.Frames, contrast(r))
	}
	if under(r.Edge, weakEdge) || r.Edge != nil && f.Noise != nil && *r.Edge < edgeNoise**f.Noise {
		say("change the light, or put a strip of contrasting tape around the robot's rim: it hardly contrasts with this floor (%.1f grey levels per pixel at its outline)", *r.Edge)
	}
	if under(r.RadiusPx, fewPx) {
		say("record at a higher resolution, or lower the camera: the robot's radius is %.0f pixels, and below %.0f its heading comes from the direction of travel alone", *r.RadiusPx, fewPx)
	} else if under(r.Texture, flatTop) && set.Robot.Marker == nil {
		say("stick something on the robot's top, best a printed marker (swathe check --marker FILE.png): without markings its heading comes from the direction of travel alone")
	}
	if s := f.Size; s.Ratio != nil && math.Abs(*s.Ratio-1) > math.Max(otherSize, 3**s.Sigma) {
		d := 2000 * set.Robot.Radius()
		say("measure the robot's diameter and height again: it appears %.0f mm across, its entry says %.0f mm. A height 10 mm too low makes it appear 0.4 %% wider under a lens at 2.5 m", d**s.Ratio, d)
	}
	switch c := f.Camera; {
	case c.During == nil && surveyed:
		say("survey the camera's marks again in a frame of this recording: it does not match the reference picture of the survey, so the camera moved too far to be corrected, or moved during the recording")
	case c.During == nil:
		say("record again with the camera fixed: the frames do not match each other, so the camera moved too far to be corrected, or this is another room")
	case *c.During > movedPx:
		say("fasten the camera and switch off its stabilisation: it moved by %.1f px during the recording; this is corrected", *c.During)
	}
	if over(f.Camera.Px, movedPx) {
		say("survey the marks again if this grows: the camera has moved by %.1f px (%.0f mm on the floor) since; this is corrected", *f.Camera.Px, 1000**f.Camera.M)
	}
}

// contrast says how robot and floor differ where it was found.
func contrast(r Robot) string {
	if r.TopGrey == nil || r.Around == nil {
		return ""
	}
	return fmt.Sprintf(" (its top is at grey level %.0f, the floor around it at %.0f)", *r.TopGrey, *r.Around)
}
