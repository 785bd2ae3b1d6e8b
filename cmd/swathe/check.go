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
	args:  "LAB | LAB --recording FILE | LAB --against OTHERLAB | --marker FILE.png [LAB]",
	brief: "judge the set-up or a test recording before a day of trials",
	about: `Checks LAB/lab.yaml, solves the cameras and reports how far they can be trusted:
  - the residual at every mark, and where the other marks put it when it is left
    out (a mistyped or shifted mark stands out)
  - the tapes, and what the marks settled and what not
  - the size of a pixel on the floor and how well a place is known
  - the open floor that the camera cannot see, and how large each robot appears
  - results that belong to another set-up, and recordings that are not runs

A camera that looks straight down cannot tell its height from its focal length.
Give the measured height, or raise some marks above the floor.

--recording FILE judges a recording from some of its frames, in less than half a
minute: light and exposure, whether the robot stands out from this floor, whether
it is as wide as its entry says, and whether the camera still hangs where its
marks were surveyed. Record a minute before a day of trials and check it. FILE is
a recording of the lab, or any file with --layout and --robot. Exit code 1 means
that there is a problem to fix. With --keep the
room that it shows becomes the reference picture of the survey, in LAB/survey/ and
named in lab.yaml: every later recording is compared with it, so that a knocked
camera is noticed and corrected. Keep it on the day of the survey, from a recording
of the empty room.

--against OTHERLAB reports how far two people agree who surveyed the same camera
and rooms independently: cameras, outlines, robots, and the figures of the runs
that both have measured.

--marker FILE.png writes a sheet with a printed marker for a robot's top, at true
size. A robot that carries one has its place and heading from it too.`,
	groups: []optionGroup{{"A recording", []string{"recording", "layout", "keep"}}, {"Another survey", []string{"against"}},
		{"A printed marker", []string{"marker", "robot", "dictionary", "id", "side"}}},
	examples: `swathe check my-lab
swathe check my-lab --recording test.mp4 --layout cluttered --robot linden
swathe check --marker linden.png my-lab --robot linden`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		var mark markerOptions
		recording := fs.String("recording", "", "judge the recording `FILE`")
		layout := fs.String("layout", "", "for --recording: `NAME` of the layout, if the file is not under recordings/")
		keep := fs.Bool("keep", false, "with --recording: keep the room that it shows as the reference picture of the survey, and name it in lab.yaml")
		against := fs.String("against", "", "compare this set-up with that of another `LAB`")
		out := fs.String("out", "", "draw the floor that each camera sees, into `DIR`")
		mark.addFlags(fs)
		return func(c *call) (any, error) {
			asked := 0
			for _, o := range []string{mark.file, *recording, *against} {
				if o != "" {
					asked++
				}
			}
			if asked > 1 {
				return nil, usage("--marker, --recording and --against ask for different things; give one of them")
			}
			if *keep && *recording == "" {
				return nil, usage("--keep takes the room from a recording; name one with --recording FILE, best of the empty room on the day of the survey")
			}
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
			if *recording != "" {
				return checkRecording(c, l, *recording, *layout, mark.robot, *keep)
			}
			if *against != "" {
				return checkAgainst(c, l, *against)
			}
			j, err := work.Judge(c.ctx, l, newEye())
			if err != nil {
				return nil, err
			}
			if *out != "" {
				if err := drawSeen(c, l, j, *out); err != nil {
					return nil, err
				}
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
		if m.SigmaM != nil {
			note = fmt.Sprintf("  surveyed to %s mm", mm(m.SigmaM))
		}
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
