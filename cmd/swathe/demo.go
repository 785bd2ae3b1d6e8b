package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/schollz/progressbar/v3"
	"github.com/spf13/pflag"
	"golang.org/x/term"

	"swathe/cmd/internal/lab"
	"swathe/track"
	"swathe/track/scene"
)

var demoVerb = verb{
	name:  "demo",
	args:  "DIR",
	brief: "make a demonstration lab with known truth",
	about: `Makes a lab in DIR: a made-up room with made-up robots under a ceiling camera,
once empty and once furnished, with a mapping and a mapped run in each. The
recordings are drawn with perspective, lens, light, shadow, noise and people,
then encoded as video. DIR/truth holds what really happened. DIR must not hold a
lab yet.

With --trial it makes a whole laboratory: four robots, two layouts, a plan of
three trials, readings of the bench, a run that got stuck, a firmware update.
Its recordings are paths, so measuring needs seconds and no swathe-eye. Every
page is made.`,
	examples: `swathe demo my-demo && swathe measure my-demo
swathe demo my-trial --trial`,
	new: func(flags *pflag.FlagSet) func(*call) (any, error) {
		trial := flags.Bool("trial", false, "make a whole laboratory: plan, runs, bench and every page")
		return func(c *call) (any, error) {
			if len(c.args) != 1 {
				return nil, usage("demo needs a folder to make the lab in")
			}
			dir := filepath.Clean(c.args[0])
			if there, err := os.ReadDir(dir); err == nil && len(there) > 0 {
				return nil, fmt.Errorf("%s is not empty. Name a new folder", dir)
			} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
				return nil, fmt.Errorf("the lab can't be made in %s: %w", dir, err)
			}
			if *trial {
				return trialDemo(c, dir)
			}
			eye, err := track.FindEye()
			if err != nil {
				return nil, err
			}
			if err := makeDemo(c, dir, eye); err != nil {
				return nil, err
			}
			l, err := lab.Open(dir)
			if err != nil {
				return nil, err
			}
			runs, _, err := l.Recordings()
			if err != nil {
				return nil, err
			}
			doc := struct {
				Verb string   `json:"verb"`
				Lab  string   `json:"lab"`
				Runs []string `json:"runs"`
			}{"demo", l.Dir, []string{}}
			for _, r := range runs {
				doc.Runs = append(doc.Runs, r.ID())
			}
			c.print("%s holds a lab with %d recordings. Measure it: swathe measure %s", dir, len(runs), dir)
			return doc, nil
		}
	},
}

// makeDemo makes the lab beside dir and renames it, so that dir is a whole lab
// or nothing, however the making ends.
func makeDemo(c *call, dir, eye string) (err error) {
	making := fmt.Sprintf("%s.making-%d", dir, os.Getpid())
	defer func() {
		if err != nil {
			os.RemoveAll(making)
		}
	}()
	show := demoProgress(c)
	defer show.close()
	if err := scene.MakeDemo(c.ctx, making, scene.EyeEncoder{Path: eye}, show.tell); err != nil {
		if c.ctx.Err() != nil {
			return errors.New("stopped; nothing was written")
		}
		return fmt.Errorf("the demonstration can't be made: %w", err)
	}
	if err := os.Remove(dir); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return os.Rename(making, dir)
}

// demoBar shows how the drawing goes, on a terminal.
type demoBar struct{ p *progressbar.ProgressBar }

func demoProgress(c *call) *demoBar {
	b := &demoBar{}
	if f, ok := c.err.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		b.p = newTerminalBar(c.err, 1)
	}
	return b
}

func (b *demoBar) tell(done, total int, what string) {
	if b.p == nil {
		return
	}
	b.p.ChangeMax(total)
	b.p.Describe(what)
	_ = b.p.Set(done)
}

func (b *demoBar) close() {
	if b.p != nil {
		_ = b.p.Clear()
	}
}
