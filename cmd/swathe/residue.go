package main

import (
	"errors"
	"fmt"
	"path/filepath"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/bench"
	"swathe/cmd/internal/export"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/residue"
	"swathe/report/figure"
	"swathe/report/words"
)

var residueVerb = verb{
	name:  "residue",
	args:  "LAB --before FILE --after FILE",
	brief: "measure stains, debris and hair left on the floor",
	about: `Compares pictures of the patches of a layout (patches in lab.yaml: outline and
kind stain, debris or hair) taken before and after a run, and preferably one of
the clean floor, and measures what is left: of a stain its area and how much its
colour differs from the clean floor, of debris how many pieces and their area,
of hair its length.

Take the pictures with the layout's camera. For a hand-held one, put four marks
or more around the patches and give --marks FILE.json: {"marks": [{"floor": [x,
y], "pixel": [column, row]}, ...]}; all the pictures are then taken from one
place. FILE may also be a recording with a time, FILE@SECONDS; the median over
one second of it is used.

Pictures that do not show the same floor from the same place, or whose marks
disagree by more than a millimetre, are refused. With --run the soil left is
listed by the number of passes of each tool of that run. What could not be
measured is null, with the reason. See: swathe help residue

With --run and --bench the shares left are entered on the bench sheet as readings
of that run: see swathe help bench.

With --out a picture of each patch is written: before, after and how far its
colour differs from the clean floor, at one scale; with --run, PATCH_passes
shows what is left by number of passes, and plate shows all patches of the layout
on one sheet. pictures.csv describes each picture in
words.`,
	groups: []optionGroup{
		{"Pictures", []string{"out", "size", "dpi", "format", "theme", "unit"}},
	},
	examples: `swathe residue my-lab --before b.jpg --after a.jpg --clean c.jpg
swathe residue my-lab --before a.jpg --after b.jpg --run den/wren_mapped_1`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		var j residue.Job
		req := export.DefaultRequest()
		out := fs.String("out", "", "write pictures into `DIR`")
		size := fs.String("size", fmt.Sprintf("%dx%d", req.Options.Width, req.Options.Height), "width and height in pixels, `WxH`")
		fs.IntVar(&req.Options.DPI, "dpi", req.Options.DPI, "`N` dots per inch: the printed size is the pixels divided by it")
		fs.StringSliceVar(&req.Formats, "format", req.Formats, "`KIND[,KIND...]` of files: png, svg, pdf")
		themes := fs.StringSlice("theme", []string{"light"}, "`THEME[,THEME...]`: light, dark, print")
		unit := fs.String("unit", string(req.Options.Unit), "`UNIT` of lengths in the pictures: m or ft")
		fs.StringVar(&j.Layout, "layout", "", "`NAME` of the layout; not needed if the lab has only one")
		fs.StringVar(&j.Before, "before", "", "picture before the run: `FILE`, or FILE@SECONDS of a recording")
		fs.StringVar(&j.After, "after", "", "picture after the run, `FILE` or FILE@SECONDS")
		fs.StringVar(&j.Clean, "clean", "", "picture of the clean floor, `FILE` or FILE@SECONDS; without it less can be measured")
		fs.StringVar(&j.Marks, "marks", "", "marks for pictures from another camera, JSON `FILE`")
		fs.StringVar(&j.Run, "run", "", "list the soil by the passes of `RUN`: <layout>/<robot>_<phase>_<trial>")
		sheet := fs.Bool("bench", false, "enter the shares left on the bench sheet as readings of --run")
		replace := fs.Bool("replace", false, "with --bench: accept readings that differ from earlier ones; the earlier ones are kept aside")
		return func(c *call) (any, error) {
			if len(c.args) != 1 {
				return nil, usage("residue needs the lab's folder and nothing else")
			}
			if j.Before == "" || j.After == "" {
				return nil, usage("residue needs --before FILE and --after FILE")
			}
			if *out == "" {
				for _, name := range []string{"size", "dpi", "format", "theme", "unit"} {
					if fs.Changed(name) {
						return nil, usage("--%s applies only to pictures: add --out DIR", name)
					}
				}
			}
			if *sheet && j.Run == "" {
				return nil, usage("--bench enters readings of a run: name it with --run")
			}
			if *replace && !*sheet {
				return nil, usage("--replace applies only to readings: add --bench")
			}
			var err error
			if req.Options.Width, req.Options.Height, err = parseSize(*size); err != nil {
				return nil, usageError{err}
			}
			req.Options.Unit, req.Themes, j.Shots = words.Unit(*unit), nil, *out != ""
			for _, t := range *themes {
				req.Themes = append(req.Themes, figure.Theme(t))
			}
			if err := req.Validate(); err != nil {
				return nil, usageError{err}
			}
			l, err := lab.Open(c.args[0])
			if err != nil {
				return nil, err
			}
			o, err := residue.Measure(c.ctx, l, j, newEye())
			var no *residue.Refused
			if errors.As(err, &no) {
				return nil, docError{err, struct {
					Verb  string `json:"verb"`
					Error string `json:"error"`
					*residue.Outcome
				}{"residue", no.Message, no.Outcome}}
			}
			if err != nil {
				return nil, err
			}
			for _, name := range o.Names {
				printPatch(c, name, o.Patches[name])
			}
			var taken *bench.Taken
			if *sheet {
				got, err := benchPut(c, l, "the pictures", o.Readings(j), *replace)
				if err != nil {
					return nil, err
				}
				taken = &got
			}
			if o.ResidualM != nil {
				c.print("Marks agree to %.2f mm.", *o.ResidualM*1000)
			}
			drawn := &export.Outcome{Files: []export.File{}, Notes: []string{}}
			if *out != "" {
				drawn, err = export.Pictures(c.ctx, *out, o.Drawings(l), req, func(f export.File) { c.print("%s", filepath.Join(*out, f.Name)) })
				if err != nil {
					return nil, err
				}
				for _, n := range drawn.Notes {
					c.say("%s", n)
				}
			}
			for _, p := range o.Patches {
				p.Cells, p.Shots = nil, nil
			}
			return struct {
				Verb string `json:"verb"`
				Lab  string `json:"lab"`
				*residue.Outcome
				Files []export.File `json:"files"` // pictures, in the folder of --out
				Notes []string      `json:"notes"` // of pictures that could not be drawn
				Bench *bench.Taken  `json:"bench"` // what came of the readings; null: not asked for
			}{"residue", l.Dir, o, drawn.Files, drawn.Notes, taken}, nil
		}
	},
}

// printPatch tells of one patch in a few lines.
func printPatch(c *call, name string, p *residue.Patch) {
	c.print("%s (%s)", name, p.Kind)
	line := func(what, unit string, scale float64, decimals int, key string, before, after *float64) {
		if before == nil || after == nil {
			return
		}
		c.print("  %-11s before %.*f %s, after %.*f %s%s", what, decimals, *before*scale, unit, decimals, *after*scale, unit, plusMinus(p, "after_"+key, scale, decimals))
	}
	line("area:", "cm2", 1e4, 2, "m2", p.BeforeM2, p.AfterM2)
	line("length:", "m", 1, 3, "length_m", p.BeforeLengthM, p.AfterLengthM)
	if p.BeforeCount != nil && p.AfterCount != nil {
		c.print("  %-11s before %d, after %d", "count:", *p.BeforeCount, *p.AfterCount)
	}
	if p.NewLengthM != nil && *p.NewCount > 0 {
		c.print("  %-11s %.3f m in %d strands where none lay before%s", "moved:", *p.NewLengthM, *p.NewCount, plusMinus(p, "new_length_m", 1, 3))
	}
	if p.LeftShare != nil {
		c.print("  %-11s %.1f %%%s", "left:", *p.LeftShare*100, plusMinus(p, "left_share", 100, 1))
	}
	if p.DifferenceMean != nil {
		c.print("  %-11s %.1f (CIEDE2000 to the clean floor, mean; 95th percentile %.1f)%s", "colour:", *p.DifferenceMean, *p.DifferenceP95, plusMinus(p, "difference_mean", 1, 1))
	}
	for tool, t := range p.Passes {
		passed := "no soil where it passed"
		if t.Passed.LeftShare != nil {
			passed = fmt.Sprintf("%.1f %% left where it passed", *t.Passed.LeftShare*100)
		}
		c.print("  %-11s %s; %.2f cm2 left where it never passed", tool+":", passed, t.Never.AfterM2*1e4)
	}
	if p.Reason != nil {
		c.print("  note:       %s", *p.Reason)
	}
}

// plusMinus writes the 95 % interval of a figure; "" if it has none.
func plusMinus(p *residue.Patch, key string, scale float64, decimals int) string {
	iv, ok := p.Interval95[key]
	if !ok {
		return ""
	}
	return fmt.Sprintf(" (95 %%: %.*f to %.*f)", decimals, iv[0]*scale, decimals, iv[1]*scale)
}
