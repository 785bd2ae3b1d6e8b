package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/export"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
	"swathe/report"
	"swathe/report/figure"
	"swathe/report/words"
)

var exportVerb = verb{
	name:  "export",
	args:  "LAB RUN...",
	brief: "pictures, pages and tables for print, at a chosen size",
	about: `Draws finished results again, at exactly the size asked for. RUN is
<layout>/<robot>_<phase>_<trial>, with * and ? as wildcards.

Pictures of one run
  passes      how often each spot was cleaned
  path        where it drove, coloured by time; with --slices in equal spans
  curve       share cleaned against time
  seconds     how long each spot was under the robot
  minutes     where the time went, as one bar
  missed      the patches left out, numbered
  edges       the floor along walls and things
  events      where things happened
Pictures of several
  test objects       what became of small things, a row each, over the trials
  agreement   in how many of the runs each spot was cleaned, for each layout
  difference  which floor each of two runs alone cleaned
  plate       two to six pass maps side by side
  others      a robot against all others measured in its layout and phase

Colours and their meaning are the same for every run and robot. Text grows with
the picture and is never under 6 points in print. pictures.csv says in words what
each picture shows.

Films (--film, --beside, --clips) show the recording with the cleaned floor
painted onto it in true perspective; they are made instead of pictures unless
--picture names some. --alone gives what is painted as PNG files that are
see-through elsewhere, for an editor's own timeline. --blur covers people and all
else that is neither floor, furniture nor the robot, and for good whatever stood
at a place for part of the recording only; whoever is there from first frame to
last and never stirs is not told from furniture, so look before you publish.

--tool draws the floor that another tool of the robot cleaned, such as a pad; its
name then stands on films, and in the names of the files.`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		req := export.DefaultRequest()
		out := fs.String("out", "export", "write into this `folder`; it is made")
		pictures := fs.StringSlice("picture", req.Pictures, "`kinds` of pictures, separated by commas, or all")
		size := fs.String("size", fmt.Sprintf("%dx%d", req.Options.Width, req.Options.Height), "width and height in `pixels`")
		fs.IntVar(&req.Options.DPI, "dpi", req.Options.DPI, "`dots` per inch: the size in print is the pixels by this")
		fs.StringSliceVar(&req.Formats, "format", req.Formats, "`kinds` of files, separated by commas: png, svg, pdf")
		themes := fs.StringSlice("theme", []string{"light"}, "`colours`, separated by commas: light, dark, print")
		labels := fs.String("labels", string(req.Options.Labels), "how `much` is written on a picture: none, short or full")
		unit := fs.String("unit", string(req.Options.Unit), "`unit` of lengths, in words and tables: m or ft")
		fs.BoolVar(&req.SameScale, "same-scale", false, "the plans of all runs at one scale")
		fs.BoolVar(&req.Options.Transparent, "transparent", false, "no page colour behind the drawing")
		fs.Float64Var(&req.Options.TurnDeg, "turn", 0, "turn the plan counter-clockwise by `degrees`, to match the footage")
		fs.IntVar(&req.Options.Slices, "slices", 1, "cut the path into so `many` equal spans of time")
		tool := fs.String("tool", "", "pictures and films of the floor that this `tool` of the robot cleaned (the first of its entry)")
		fs.BoolVar(&req.Page, "page", false, "write one HTML page a run as well, which needs no network")
		fs.BoolVar(&req.Tables, "tables", false, "write tables as CSV for a spreadsheet as well")
		fs.StringSliceVar(&req.Traces, "trace", nil, "the path of each run as csv or parquet, or both, separated by a comma: `kinds` of files")
		var films filmOptions
		films.addFlags(fs)
		return func(c *call) (any, error) {
			if len(c.args) < 2 {
				return nil, usage("export needs the lab's folder and at least one run")
			}
			var err error
			if req.Options.Width, req.Options.Height, err = parseSize(*size); err != nil {
				return nil, usageError{err}
			}
			req.Options.Labels, req.Options.Unit = figure.Labels(*labels), words.Unit(*unit)
			req.Themes = nil
			for _, t := range *themes {
				req.Themes = append(req.Themes, figure.Theme(t))
			}
			req.Pictures = nil
			for _, p := range *pictures {
				switch p {
				case "all":
					req.Pictures = append(req.Pictures, export.Kinds()...)
				case "none", "":
				default:
					req.Pictures = append(req.Pictures, p)
				}
			}
			if err := planOptions(fs, req.Pictures); err != nil {
				return nil, err
			}
			if !films.wanted() {
				for _, name := range []string{"speed", "fps", "crop", "film-size", "span", "tail", "alone", "blur"} {
					if fs.Changed(name) {
						return nil, usage("--%s is of films, and none was asked for: add --film, --beside or --clips", name)
					}
				}
			}
			if films.wanted() {
				films.tool = *tool
				films.Unit = words.Unit(*unit)
				if err := films.read(); err != nil {
					return nil, err
				}
				if !fs.Changed("picture") {
					req.Pictures = nil // films are asked for, and nothing else
				}
			}
			if !films.wanted() || len(req.Pictures) > 0 || req.Page || req.Tables || len(req.Traces) > 0 {
				if err := req.Validate(); err != nil {
					return nil, usageError{err}
				}
			}
			if *tool != "" {
				if err := toolFits(req); err != nil {
					return nil, err
				}
			}
			return runExport(c, *out, *tool, req, &films)
		}
	},
}

func runExport(c *call, out, tool string, req export.Request, films *filmOptions) (any, error) {
	l, err := lab.Open(c.args[0])
	if err != nil {
		return nil, err
	}
	ids, err := work.Pick(l, c.args[1:])
	if err != nil {
		return nil, err
	}
	var moving []export.File
	if films.wanted() {
		if moving, err = films.write(c, l, ids, out); err != nil {
			return stopped(c, out, ids, &export.Outcome{Files: moving, Notes: []string{}}, err)
		}
	}
	if len(req.Pictures) == 0 && !req.Page && !req.Tables && len(req.Traces) == 0 {
		return exportDoc{"export", out, ids, &export.Outcome{Files: moving, Notes: []string{}}}, nil
	}
	var runs []*work.Kept
	for _, id := range ids {
		k, err := work.LoadTool(c.ctx, l, id, tool, newEye(), req.Adjust)
		if err != nil {
			return nil, err
		}
		runs = append(runs, k)
	}
	all := func() ([]*report.Run, error) {
		ids, err := l.Results()
		if err != nil {
			return nil, err
		}
		var out []*report.Run
		for _, id := range ids {
			layout, run, _ := strings.Cut(id, "/")
			r, err := report.ReadRun(l.ResultDir(layout, run))
			if err != nil {
				return nil, err
			}
			out = append(out, r)
		}
		return out, nil
	}
	done, err := export.Write(c.ctx, out, runs, all, req, func(f export.File) { c.print("%s", filepath.Join(out, f.Name)) })
	if err != nil {
		if done != nil {
			done.Files = append(done.Files, moving...)
		}
		return stopped(c, out, ids, done, err)
	}
	for _, n := range done.Notes {
		c.say("%s", n)
	}
	if len(done.Files) == 0 {
		return nil, fmt.Errorf("nothing of what was asked for could be drawn")
	}
	done.Files = append(done.Files, moving...)
	return exportDoc{"export", out, ids, done}, nil
}

// stopped tells of an export that ended early. Where somebody stopped it, what is
// finished is kept and named, and that is no error of the call; any other err is.
func stopped(c *call, out string, ids []string, done *export.Outcome, err error) (any, error) {
	if c.ctx.Err() == nil || done == nil {
		return nil, err
	}
	c.say("stopped; files finished before, in %s: %d. None is half written", out, len(done.Files))
	if done.Files == nil {
		done.Files = []export.File{}
	}
	return exportDoc{"export", out, ids, done}, errSomeFailed
}

// planOptions refuses options of plans, or of the path, where no picture that was
// asked for has one.
func planOptions(fs *pflag.FlagSet, pictures []string) error {
	if len(pictures) == 0 {
		return nil
	}
	if fs.Changed("slices") && !slices.Contains(pictures, "path") {
		return usage("--slices cuts the picture \"path\", which was not asked for: add it to --picture")
	}
	for _, p := range pictures {
		if !slices.Contains([]string{"curve", "minutes", "others"}, p) {
			return nil
		}
	}
	for _, name := range []string{"turn", "same-scale"} {
		if fs.Changed(name) {
			return usage("--%s is of plans of the room, and %s have none: add such a picture to --picture", name, strings.Join(pictures, ", "))
		}
	}
	return nil
}

// toolFits refuses what a chosen tool would leave as it is: tables and pages hold
// every tool, and what is told of the run rests on the first.
func toolFits(req export.Request) error {
	for _, p := range req.Pictures {
		if !slices.Contains(export.ToolKinds(), p) {
			return usage("%q can't be drawn of a chosen tool. --tool goes with films and with %s", p, strings.Join(export.ToolKinds(), ", "))
		}
	}
	if req.Page || req.Tables {
		return usage("--tool is of pictures and films; a page and tables hold the figures of every tool. Ask for them in a call of their own")
	}
	if len(req.Traces) > 0 {
		return usage("--tool is of pictures and films; the path is that of the robot, whatever the tool. Ask for it in a call of its own")
	}
	return nil
}

// exportDoc is what export wrote, for --json.
type exportDoc struct {
	Verb string   `json:"verb"`
	Out  string   `json:"out"`
	Runs []string `json:"runs"`
	*export.Outcome
}

// parseSize reads WIDTHxHEIGHT.
func parseSize(s string) (w, h int, err error) {
	a, b, ok := strings.Cut(strings.ToLower(s), "x")
	if ok {
		w, err = strconv.Atoi(strings.TrimSpace(a))
		if err == nil {
			h, err = strconv.Atoi(strings.TrimSpace(b))
		}
	}
	if !ok || err != nil {
		return 0, 0, fmt.Errorf("the size %q is not WIDTHxHEIGHT in pixels, such as 2400x1600", s)
	}
	return w, h, nil
}
