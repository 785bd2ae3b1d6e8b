package main

import (
	"fmt"
	"math"
	"strings"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
)

var checkVerb = verb{
	name:  "check",
	args:  "LAB | --marker FILE.png [LAB]",
	brief: "judge the set-up before anything is recorded with it",
	about: `Reads LAB/lab.yaml, solves the cameras and says how far they can be trusted:
the residual at every mark in pixels and on the floor, where the other marks
would put each mark if it were left out (a mistyped or shifted mark stands out),
the tapes, what the marks settled and what not, how large a pixel is on the
floor, how well a place on the floor is known, which open floor the camera can't
see, and how large each robot shows. Also which results belong to another set-up
than today's, and which recordings are no run.

A camera that looks straight down can't tell its height from its focal length:
a measured height, or marks that stand above the floor, settle it.

With --marker FILE.png it writes a sheet with a printed marker for a robot's top
instead, at its true size and with a ruler to check the printer by. A robot that
carries one has its place and heading from it, too.`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		var mark markerOptions
		mark.addFlags(fs)
		return func(c *call) (any, error) {
			if mark.file != "" {
				return mark.write(c)
			}
			if len(c.args) != 1 {
				return nil, usage("check needs the lab's folder and nothing else")
			}
			l, err := lab.Open(c.args[0])
			if err != nil {
				return nil, err
			}
			j, err := work.Judge(c.ctx, l, newEye())
			if err != nil {
				return nil, err
			}
			for _, cam := range j.Cameras {
				printCamera(c, cam)
			}
			for _, lay := range j.Layouts {
				printLayout(c, lay)
			}
			if len(j.Differs) > 0 {
				c.print("Measured with another set-up than today's (measure --again makes them anew):\n  %s", strings.Join(j.Differs, "\n  "))
			}
			for _, b := range j.Bad {
				c.print("No run: %s: %s", b.Recording, firstLine(b.Reason))
			}
			c.print("\n%s", cautions)
			return struct {
				Verb string `json:"verb"`
				Lab  string `json:"lab"`
				*work.Judgement
				Cautions string `json:"cautions"`
			}{"check", l.Dir, j, cautions}, nil
		}
	},
}

const cautions = `Cautions
  A camera over people is held by a second tether, its cables are out of the
  way, and ladders are used by the site's rules. People in the picture know that
  they are recorded, and recordings are kept by local privacy law. Robots,
  chargers and batteries are used by their makers' instructions. Swathe measures
  coverage; it says nothing about safety or conformity. Where a contract or a law
  names a standard, follow that standard's own text and a qualified laboratory.`

// mm writes metres as millimetres with one decimal; "-" where not measured.
func mm(v *float64) string {
	if v == nil {
		return "-"
	}
	return fmt.Sprintf("%.1f", *v*1000)
}

func px(v *float64) string {
	if v == nil {
		return "-"
	}
	return fmt.Sprintf("%.2f", *v)
}

func metres(v *float64, decimals int) string {
	if v == nil {
		return "not known"
	}
	return fmt.Sprintf("%.*f", decimals, *v)
}

func printCamera(c *call, j work.CameraJudgement) {
	c.print("Camera %s: %d x %d pixels, %d marks, lens %s m above the floor", j.Name, j.Frame[0], j.Frame[1], len(j.Marks), metres(j.HeightM, 3))
	for _, s := range j.Solved {
		c.print("  solved: %s", s)
	}
	for _, s := range j.NotSolved {
		c.print("  not solved: %s", s)
	}
	c.print("  fit over the marks: %s px, %s mm (root mean square); each left out: %s mm", px(j.MarkRMSPx), mm(j.MarkRMSM), mm(j.LeaveOneOutM))
	c.print("  mark        x        y        z   residual            left out")
	for _, m := range j.Marks {
		note := ""
		if m.Unused {
			note = "  not used: too far off"
		}
		c.print("  %4d %8.3f %8.3f %8.3f   %6s px %6s mm %7s mm%s", m.Mark, m.Floor[0], m.Floor[1], m.Floor[2], px(m.ResidualPx), mm(m.ResidualM), mm(m.LeaveOneOutM), note)
	}
	for i, t := range j.Tapes {
		seen := "its ends do not both show the floor"
		if t.ErrorM != nil {
			seen = fmt.Sprintf("seen as %.3f m, %+.1f mm (%+.2f %%)", t.LengthM+*t.ErrorM, *t.ErrorM*1000, *t.ErrorM/t.LengthM*100)
		}
		c.print("  tape %d: measured %.3f m, %s", i+1, t.LengthM, seen)
	}
	for _, w := range j.Warnings {
		c.print("  warning: %s", w)
	}
}

func printLayout(c *call, j work.LayoutJudgement) {
	c.print("Layout %s: %s m2 of open floor", j.Name, metres(j.OpenM2, 2))
	if j.PixelM[0] != nil {
		c.print("  a pixel is %s to %s mm on the floor, %s mm in the middle of the range", mm(j.PixelM[0]), mm(j.PixelM[2]), mm(j.PixelM[1]))
	}
	if j.FloorSigma != nil {
		c.print("  a place on the floor is known to %s mm (standard uncertainty from the camera alone; %s mm at the worst place)", mm(j.FloorSigma), mm(j.FarSigma))
	}
	if j.UnseenM2 != nil {
		c.print("  open floor that the camera can't see: %.2f m2; under overhead pieces: %.2f m2", math.Abs(*j.UnseenM2), math.Abs(*j.UnderM2))
	}
	for _, r := range j.Robots {
		if r.RadiusPx != nil {
			c.print("  robot %s shows with a radius of %.0f pixels or more", r.Name, math.Floor(*r.RadiusPx))
		}
	}
	for _, w := range j.Warnings {
		c.print("  warning: %s", w)
	}
}
