package proof

import (
	"context"

	"swathe/cmd/internal/lab"
	"swathe/report"
	"swathe/track/preflight"
)

// looks is what a drawn recording is to look like.
type looks struct {
	fps        float64
	appearance *preflight.Appearance
	from       []string
	usual      []string
}

// usualFPS is the frame rate that is drawn where no recording tells.
const usualFPS = 30

func (k looks) words() report.ProofLook {
	out := report.ProofLook{From: k.from, Usual: k.usual, FloorGrey: report.NaN, RobotGrey: report.NaN, NoiseGrey: report.NaN, RobotTexture: report.NaN}
	a := k.appearance
	if a == nil {
		return out
	}
	if a.Floor != nil {
		out.FloorGrey = report.Float(a.Floor.Grey())
	}
	if a.Top != nil {
		out.RobotGrey = report.Float(a.Top.Grey())
	}
	if a.Noise != nil {
		out.NoiseGrey = report.Float(*a.Noise)
	}
	if a.TopTexture != nil {
		out.RobotTexture = report.Float(*a.TopTexture)
	}
	return out
}

// finder asks the eye for the looks of recordings, once each.
type finder struct {
	ctx context.Context
	lab *lab.Lab
	opt Options
}

func newFinder(ctx context.Context, l *lab.Lab, opt Options) *finder {
	return &finder{ctx: ctx, lab: l, opt: opt}
}

// looks returns the looks of a robot in a layout.
func (f *finder) looks(layout, robot string) looks {
	return looks{fps: usualFPS, from: []string{}, usual: []string{"floor and furniture", "the robot's top", "light and noise", "frame rate"}}
}
