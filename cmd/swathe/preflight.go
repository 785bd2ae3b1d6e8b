package main

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"

	"swathe/cmd/internal/disk"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
	"swathe/report/figure"
	"swathe/track"
	"swathe/track/preflight"
)

// checkRecording looks at some frames of a recording.
func checkRecording(c *call, l *lab.Lab, to work.ToJudge) (any, error) {
	eye, err := track.FindEye()
	if err != nil {
		return nil, err
	}
	if to.Keep {
		release, err := l.Lock()
		if err != nil {
			return nil, err
		}
		defer release()
	}
	j, err := work.JudgeOne(c.ctx, l, to, newEye(), func(ctx context.Context, q track.JudgeRequest) (*track.JudgeReply, error) {
		return track.JudgeRecording(ctx, eye, q)
	})
	if err != nil {
		return nil, err
	}
	printRecording(c, l, j)
	doc := struct {
		Verb string `json:"verb"`
		Lab  string `json:"lab"`
		*work.RecordingJudgement
	}{"check", l.Dir, j}
	if len(j.Finding.Warnings) > 0 {
		return doc, errSomeFailed
	}
	return doc, nil
}

// grey writes a grey level, "not known" where there is none.
func grey(v *float64) string { return metres(v, 0) }

func printRecording(c *call, l *lab.Lab, j *work.RecordingJudgement) {
	f := j.Finding
	rate := "frame rate unknown"
	if j.FPS > 0 {
		rate = fmt.Sprintf("%.4g frames a second", j.FPS)
	}
	c.print("%s: robot %s, layout %s, camera %s; %d x %d pixels, %s, %s", j.File, j.Robot, j.Layout, j.Camera, j.Width, j.Height, rate, j.Codec)
	c.print("  frames judged: %d", f.Frames)
	if f.Cut != "" {
		c.print("         %s", f.Cut)
	}
	c.print("  light: floor at grey level %s of 255; %s of it near black, %s clipped", grey(f.Light.FloorGrey), percent(f.Light.DarkShare), percent(f.Light.ClippedShare))
	c.print("         brightest to darkest part of the floor: %s; brightest to darkest frame: %s", metres(f.Light.UnevenRatio, 2), metres(f.Light.ChangeRatio, 2))
	c.print("  noise: %s grey levels from frame to frame", metres(f.Noise, 1))
	radius := ""
	if f.Robot.RadiusPx != nil {
		radius = fmt.Sprintf(", radius %.0f pixels", *f.Robot.RadiusPx)
	}
	c.print("  robot: found in %d of %d frames%s", f.Robot.Found, f.Frames, radius)
	c.print("         top at grey level %s, floor around it at %s; outline %s grey levels per pixel, found on %s of its length", grey(f.Robot.TopGrey), grey(f.Robot.Around), metres(f.Robot.Edge, 1), percent(f.Robot.Outline))
	c.print("         markings on its top: %s grey levels", metres(f.Robot.Texture, 1))
	c.print("  size:  %s", sizeWords(f.Size, 2*l.Robots[j.Robot].Radius()))
	switch m := f.Camera; {
	case m.Px != nil:
		c.print("  camera: moved %.1f px (%s mm on the floor) since its marks were surveyed", math.Abs(*m.Px), mm(m.M))
	default:
		c.print("  camera: movement since the survey unknown: lab.yaml names no reference picture (make one on the day of the survey, with --keep)")
	}
	if j.Kept != nil {
		c.print("Saved %s as the reference picture of the survey and named it in %s.", *j.Kept, lab.SetupFile)
	}
	if len(f.Warnings) == 0 {
		c.print("No problems found; recordings like this can be measured.")
		return
	}
	for _, w := range f.Warnings {
		c.print("warning: %s", w)
	}
}

func sizeWords(s preflight.Size, entry float64) string {
	switch b := s.Best; {
	case s.Ratio != nil:
	case b != nil:
		return fmt.Sprintf("not known. What fits best is %.0f mm across, at (%.2f, %.2f) m in the frame at %.1f s, with a score of %.2f of 1 (an outline that is surely the robot's has 0.5 and more); the entry says %.0f mm",
			1000*entry*b.Ratio, b.X, b.Y, b.T, b.Score, 1000*entry)
	default:
		return "not known: nothing of about the robot's size differs from the room in these frames"
	}
	return fmt.Sprintf("measured %.0f mm across (+- %.0f mm), entered %.0f mm", 1000*entry**s.Ratio, math.Max(1, 1000*entry**s.Sigma), 1000*entry)
}

func percent(v *float64) string {
	if v == nil {
		return "not known"
	}
	return fmt.Sprintf("%.0f %%", 100**v)
}

// checkAgainst holds two people's set-ups against each other.
func checkAgainst(c *call, l *lab.Lab, dir string) (any, error) {
	other, err := lab.Open(dir)
	if err != nil {
		return nil, fmt.Errorf("the other lab: %w", err)
	}
	a, err := work.Against(c.ctx, l, other, newEye())
	if err != nil {
		return nil, err
	}
	for _, s := range a.Layouts {
		printSpread(c, s)
	}
	for _, r := range a.Robots {
		c.print("Robot %s: width %.1f and %.1f mm, height %.1f and %.1f mm; %s %.1f and %.1f mm wide, %.1f and %.1f mm ahead", r.Robot,
			1000*r.WidthM[0], 1000*r.WidthM[1], 1000*r.Height[0], 1000*r.Height[1], r.Tool, 1000*r.ToolM[0], 1000*r.ToolM[1], 1000*r.AheadM[0], 1000*r.AheadM[1])
	}
	for _, r := range a.Runs {
		var parts []string
		for _, f := range r.Figures {
			if f.Values[0] != nil && f.Values[1] != nil {
				parts = append(parts, fmt.Sprintf("%s %.4f and %.4f", f.Figure, *f.Values[0], *f.Values[1]))
			}
		}
		c.print("Run %s: %s", r.Run, strings.Join(parts, ", "))
	}
	if len(a.Runs) == 0 {
		c.print("No recording was measured in both labs. Measure one in each to see the effect on the figures.")
	}
	for _, s := range a.OneOnly {
		c.print("Note: %s", s)
	}
	return struct {
		Verb string `json:"verb"`
		Lab  string `json:"lab"`
		*work.Agreement
	}{"check", l.Dir, a}, nil
}

func printSpread(c *call, s work.LayoutSpread) {
	c.print("Layout %s", s.Layout)
	if s.RMSM != nil {
		c.print("  positions by the two cameras (%d places, %s m above the floor): %s mm apart (RMS), at most %s mm, at (%s, %s)",
			s.Places, metres(s.HeightM, 3), mm(s.RMSM), mm(s.WorstM), metres(s.WorstX, 2), metres(s.WorstY, 2))
		c.print("  the other survey's origin is shifted %s mm along x and %s mm along y, its axes are turned %s degrees, its lengths are %+.2f %% longer",
			mm(s.ShiftX), mm(s.ShiftY), metres(s.TurnDeg, 2), 100**s.ScaleShare)
		c.print("  with origin and axes aligned: %s mm apart, at most %s mm; expected from the marks' uncertainty: up to %s mm", mm(s.AlignedRMSM), mm(s.AlignedWorst), mm(s.ExpectedM))
	}
	c.print("  %-20s %9s %9s %9s   outlines apart, largest", "area", "here m2", "there m2", "differ")
	for _, a := range s.Areas {
		differ := "-"
		if a.M2[0] > 0 {
			differ = fmt.Sprintf("%+.2f %%", 100*(a.M2[1]-a.M2[0])/a.M2[0])
		}
		apart := ""
		if a.RMSM != nil {
			apart = fmt.Sprintf("   %s mm, %s mm", mm(a.RMSM), mm(a.WorstM))
		}
		c.print("  %-20s %9.3f %9.3f %9s%s", a.Name, a.M2[0], a.M2[1], differ, apart)
	}
}

// drawSeen draws which floor the cameras see, one picture a layout.
func drawSeen(c *call, l *lab.Lab, j *work.Judgement, dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("the pictures can't be written: %w", err)
	}
	for _, name := range l.LayoutNames {
		v := j.View(name)
		if v == nil {
			continue
		}
		p, err := figure.Seen(l.Layouts[name].Plan, l.Layouts[name].Camera, v, figure.DefaultOptions())
		if err != nil {
			return err
		}
		var b bytes.Buffer
		if err := p.Write(&b, "png"); err != nil {
			return err
		}
		file := filepath.Join(dir, "seen_"+name+".png")
		if err := disk.WriteWhole(file, b.Bytes()); err != nil {
			return err
		}
		c.print("%s: %s", file, p.Alt)
	}
	return nil
}
