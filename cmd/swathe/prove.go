package main

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"path"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"
	"golang.org/x/term"

	"swathe/cmd/internal/disk"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/proof"
	"swathe/report"
	"swathe/report/accuracy"
	"swathe/report/words"
	"swathe/track"
)

// proofDir is where a proof stands in a lab.
const proofDir = "proof"

var proveVerb = verb{
	name:  "prove",
	args:  "LAB [LAYOUT/ROBOT...]",
	brief: "find the accuracy to expect of this set-up",
	about: `Draws two recordings of each robot in each layout of LAB, as its camera would
show them, with known truth: a mapping run (edges, random driving, turns on the
spot, lanes) and a mapped one. It measures them and reports the errors of path,
heading, coverage, redundancy, times and events. LAYOUT/ROBOT selects, with *
for any.

Room, furniture, robots, frame size and lens are those of lab.yaml. Frame rate,
brightness of floor and robot, and noise are taken from the lab's recordings;
where there are none, or swathe-eye is not found, a default appearance is used,
and noted on the page. The camera that draws differs from the one that measures
by what the marks leave uncertain, so the error of the survey is included.

It writes LAB/proof/prove.html, LAB/proof/prove.json and a drawn frame of each
robot in each layout. Check that these frames resemble your recordings.

The drawings follow the program's own model of the world, so they show the best
that this set-up can give. Make two independent checks: push a disc of the
robot's size along a taped line of known length, and have someone else survey
the room (swathe check LAB --against OTHERLAB).

A run takes some minutes, longer with larger frames. Exit code 1 means that a
drawn run could not be measured.`,
	examples: `swathe prove my-lab
swathe prove my-lab 'cluttered/*' --encoded`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		var opt proof.Options
		fs.Float64Var(&opt.Seconds, "seconds", 90, "drive for `SECONDS` in each drawn run before returning to the dock")
		fs.Int64Var(&opt.Seed, "seed", 1, "random seed `N`; another gives other errors")
		fs.BoolVar(&opt.Encoded, "encoded", false, "encode the drawn recordings as H.264 and read them with swathe-eye: slower, and closer to a real camera")
		return func(c *call) (any, error) {
			if len(c.args) == 0 {
				return nil, usage("prove needs the lab's folder")
			}
			l, err := lab.Open(c.args[0])
			if err != nil {
				return nil, err
			}
			if opt.Pick, err = pickPairs(l, c.args[1:]); err != nil {
				return nil, err
			}
			opt.Eye, opt.Version = newEye(), fmt.Sprintf("(analysis version %d)", lab.AnalysisVersion)
			eye, err := track.FindEye()
			switch {
			case err == nil:
				opt.EyePath = eye
			case opt.Encoded:
				return nil, err
			default:
				c.say("swathe-eye not found; using a default appearance.")
			}
			return prove(c, l, opt)
		}
	},
}

// pickPairs returns what LAYOUT/ROBOT patterns pick.
func pickPairs(l *lab.Lab, patterns []string) (func(layout, robot string) bool, error) {
	if len(patterns) == 0 {
		return nil, nil
	}
	match := func(p, layout, robot string) bool {
		ok, err := path.Match(p, layout+"/"+robot)
		return ok && err == nil
	}
	for _, p := range patterns {
		hit := false
		for _, layout := range l.LayoutNames {
			for _, robot := range l.RobotNames {
				hit = hit || match(p, layout, robot)
			}
		}
		if !hit {
			return nil, usage("%q matches no robot in a layout of this lab. Give LAYOUT/ROBOT, with * for any", p)
		}
	}
	return func(layout, robot string) bool {
		for _, p := range patterns {
			if match(p, layout, robot) {
				return true
			}
		}
		return false
	}, nil
}

func prove(c *call, l *lab.Lab, opt proof.Options) (any, error) {
	show := &proofBar{}
	if f, ok := c.err.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		show.bar = demoBar{p: newTerminalBar(c.err, 1)}
	}
	res, err := proof.Prove(c.ctx, l, opt, proof.Watcher{
		Begin: func(total int) { show.total = total },
		Run:   show.tell,
		Done: func(n int, r accuracy.Run) {
			show.clear()
			if r.Failed != nil {
				c.say("%s: not measured: %s", r.Title(), oneLine(*r.Failed))
			}
		},
	})
	show.bar.close()
	if err != nil {
		if c.ctx.Err() != nil {
			return nil, errors.New("stopped; nothing was written")
		}
		return nil, err
	}
	dir := filepath.Join(l.Dir, proofDir)
	if err := accuracy.WriteProof(dir, res.Doc, res.Pictures, disk.WriteWhole); err != nil {
		return nil, err
	}
	for _, f := range res.Frames {
		data, err := framePNG(f)
		if err == nil {
			err = disk.WriteWhole(filepath.Join(dir, f.Name), data)
		}
		if err != nil {
			return nil, err
		}
	}
	printProof(c, res.Doc)
	c.print("\nFor the laboratory's records: %s", filepath.Join(dir, accuracy.SheetFile))
	doc := report.JSON{Value: struct {
		Verb string `json:"verb"`
		Page string `json:"page"`
		*accuracy.Proof
	}{"prove", filepath.Join(proofDir, accuracy.SheetFile), res.Doc}}
	for _, r := range res.Doc.Runs {
		if r.Failed != nil {
			return doc, errSomeFailed
		}
	}
	return doc, nil
}

// proofBar shows how the drawing and measuring goes, on a terminal.
type proofBar struct {
	bar   demoBar
	total int
}

func (b *proofBar) tell(n int, title string, share float64) {
	b.bar.tell(int(1000*(float64(n)+share)), 1000*max(1, b.total), title)
}

func (b *proofBar) clear() {
	if b.bar.p != nil {
		_ = b.bar.p.Clear()
	}
}

// printProof prints the table.
func printProof(c *call, p *accuracy.Proof) {
	left := len("run")
	for _, r := range p.Runs {
		left = max(left, len(r.Title()))
	}
	c.print("%-*s   path mm    95 %%  survey  heading   cleaned share   redundancy  start   end  events", left, "")
	c.print("%-*s      RMS  within     mm      deg   error, points        error      s     s  found, made up", left, "run")
	for _, r := range p.Runs {
		if r.Failed != nil {
			c.print("%-*s  not measured: %s", left, r.Title(), oneLine(*r.Failed))
			continue
		}
		x := r.Path
		drawn, found, made := 0, 0, 0
		for _, e := range r.Events {
			drawn, found, made = drawn+e.Drawn, found+e.Found, made+e.MadeUp
		}
		c.print("%-*s  %7s %7s %6s  %7s   %13s   %10s  %5s %5s  %d of %d, %d", left, r.Title(),
			scaled(x.RMSM, 1000, "%.1f"), scaled(x.P95M, 1000, "%.1f"), scaled(x.SurveyM, 1000, "%.1f"), scaled(x.HeadingRMS, 1, "%.1f"),
			scaled(figureError(r, "reachable_share"), 100, "%+.2f"), scaled(figureError(r, "redundancy"), 1, "%+.3f"),
			scaled(x.StartErrorS, 1, "%+.2f"), scaled(x.EndErrorS, 1, "%+.2f"), found, drawn, made)
	}
	for _, o := range p.Left {
		c.print("Left out: %s in %s: %s", o.Robot, o.Layout, o.Reason)
	}
	c.print("")
	for _, line := range looksOf(p) {
		c.print("%s", line)
	}
	c.print("\n%s", strings.Join(words.Wrap(p.Drawn, width), "\n"))
	c.print("\nTwo independent checks:")
	for _, o := range p.Outside {
		c.print("  - %s", strings.Join(words.Wrap(o, width-4), "\n    "))
	}
}

// looksOf says what the drawn recordings look like, each thing once.
func looksOf(p *accuracy.Proof) []string {
	var out []string
	said := map[string]bool{}
	for _, r := range p.Runs {
		s := r.Layout + ", " + r.Robot + ": " + r.Looks.Words()
		if !said[s] {
			said[s] = true
			out = append(out, strings.Join(words.Wrap(s, width), "\n  "))
		}
	}
	return out
}

func figureError(r accuracy.Run, name string) float64 {
	for _, f := range r.Figures {
		if f.Name == name {
			return f.Error
		}
	}
	return report.NaN
}

// scaled writes v times k, "-" where not measured.
func scaled(v float64, k float64, format string) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "-"
	}
	return fmt.Sprintf(format, k*v)
}

func framePNG(f proof.Frame) ([]byte, error) {
	img := image.NewRGBA(image.Rect(0, 0, f.Width, f.Height))
	for i := 0; i < f.Width*f.Height; i++ {
		img.Pix[4*i], img.Pix[4*i+1], img.Pix[4*i+2], img.Pix[4*i+3] = f.BGR[3*i+2], f.BGR[3*i+1], f.BGR[3*i], 255
	}
	var b bytes.Buffer
	err := png.Encode(&b, img)
	return b.Bytes(), err
}

// oneLine is a reason on one line.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }
