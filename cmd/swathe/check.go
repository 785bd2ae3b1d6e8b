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
    out, which shows a mistyped or shifted mark
  - the tapes, and what could and could not be solved from the marks
  - the size of a pixel on the floor and the uncertainty of a position
  - the open floor that the camera cannot see, and each robot's size in pixels
  - results that belong to another set-up, and recordings that cannot be used

A camera that looks straight down cannot tell its height from its focal length.
Give the measured height, or raise some marks above the floor.

--recording FILE judges some frames of a recording, in less than half a minute:
light and exposure, whether the robot contrasts with this floor, whether its
width matches its entry, and whether the camera has moved since its marks were
surveyed. Record a minute before a day of trials and check it. FILE is a
recording of the lab, or any file with --layout and --robot. Exit code 1 means
that there is a problem to fix.

--keep saves the room as it appears in that recording as the reference picture
of the survey, in LAB/survey/ and named in lab.yaml. Later recordings are
compared with it, so that a camera that was moved is noticed and corrected. Do
this on the day of the survey, with the room empty.

--against OTHERLAB reports how well two independent surveys of the same camera
and rooms agree: cameras, outlines, robots, and the figures of the runs that
both have measured.

--marker FILE.png writes a sheet with a printed marker for a robot's top, at
true size. With it swathe always knows the heading and which robot it is.`,
	groups: []optionGroup{{"A recording", []string{"recording", "layout", "keep"}}, {"Another survey", []string{"against"}},
		{"A printed marker", []string{"marker", "robot", "dictionary", "id", "side"}}},
	examples: `swathe check my-lab
swathe check my-lab --recording test.mp4 --layout cluttered --robot linden
swathe check --marker linden.png my-lab --robot linden`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		var mark markerOptions
		recording := fs.String("recording", "", "judge the recording `FILE`")
		layout := fs.String("layout", "", "for --recording: `NAME` of the layout, if the file is not under recordings/")
		keep := fs.Bool("keep", false, "with --recording: save its room as the reference picture of the survey, named in lab.yaml")
		against := fs.String("against", "", "compare this survey with that of another `LAB`")
		out := fs.String("out", "", "write pictures of the floor that each camera sees into `DIR`")
		mark.addFlags(fs)
		return func(c *call) (any, error) {
			asked := 0
			for _, o := range []string{mark.file, *recording, *against} {
				if o != "" {
					asked++
				}
			}
			if asked > 1 {
				return nil, usage("give only one of --marker, --recording and --against")
			}
			if *keep && *recording == "" {
				return nil, usage("--keep needs --recording FILE, best a recording of the empty room on the day of the survey")
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
				return checkRecording(c, l, work.ToJudge{Name: *recording, Layout: *layout, Robot: mark.robot, Keep: *keep})
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
				c.print("Measured with an earlier set-up (swathe measure --again measures them with today's):\n  %s", strings.Join(j.Differs, "\n  "))
			}
			for _, b := range j.Bad {
				c.print("Cannot be used: %s: %s", b.Recording, firstLine(b.Reason))
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
  Secure a camera over people with a second tether, and keep its cables out of
  the way. Follow the site's rules for ladders. Tell people in the picture that
  they are recorded, and follow local privacy law. Follow the makers'
  instructions for robots, chargers and batteries. Swathe measures coverage; it
  says nothing about safety or conformity. Where a contract or law names a
  standard, follow that standard's text and use a qualified laboratory.`

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
	c.print("  fit of the marks: %s px, %s mm RMS; each mark left out: %s mm RMS", px(j.MarkRMSPx), mm(j.MarkRMSM), mm(j.LeaveOneOutM))
	c.print("  mark        x        y        z   residual            left out")
	for _, m := range j.Marks {
		note := ""
		if m.SigmaM != nil {
			note = fmt.Sprintf("  survey uncertainty %s mm", mm(m.SigmaM))
		}
		if m.Unused {
			note = "  not used: does not fit"
		}
		c.print("  %4d %8.3f %8.3f %8.3f   %6s px %6s mm %7s mm%s", m.Mark, m.Floor[0], m.Floor[1], m.Floor[2], px(m.ResidualPx), mm(m.ResidualM), mm(m.LeaveOneOutM), note)
	}
	for i, t := range j.Tapes {
		seen := "one of its ends is not on the visible floor"
		if t.ErrorM != nil {
			seen = fmt.Sprintf("in the picture %.3f m, %+.1f mm (%+.2f %%)", t.LengthM+*t.ErrorM, *t.ErrorM*1000, *t.ErrorM/t.LengthM*100)
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
		c.print("  pixel size on the floor: %s to %s mm, median %s mm", mm(j.PixelM[0]), mm(j.PixelM[2]), mm(j.PixelM[1]))
	}
	if j.FloorSigma != nil {
		c.print("  standard uncertainty of a position on the floor, from the camera alone: median %s mm, largest %s mm", mm(j.FloorSigma), mm(j.FarSigma))
	}
	if j.UnseenM2 != nil {
		c.print("  open floor that the camera cannot see: %.2f m2; under overhead pieces: %.2f m2", math.Abs(*j.UnseenM2), math.Abs(*j.UnderM2))
	}
	for _, r := range j.Robots {
		if r.RadiusPx != nil {
			c.print("  robot %s: radius at least %.0f pixels", r.Name, math.Floor(*r.RadiusPx))
		}
	}
	for _, w := range j.Warnings {
		c.print("  warning: %s", w)
	}
}
