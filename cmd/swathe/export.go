package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/disk"
	"swathe/cmd/internal/export"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
	"swathe/report"
	"swathe/report/figure"
	"swathe/report/language"
	"swathe/report/words"
)

var exportVerb = verb{
	name:  "export",
	args:  "LAB RUN...",
	brief: "pictures, films, pages and tables at a chosen size",
	about: `Draws finished results at exactly the size that you choose. RUN is
<layout>/<robot>_<phase>_<trial>, with * and ? as wildcards.

Pictures of one run
  passes        how often each spot was cleaned
  path          the path, coloured by time; with --slices in equal time spans
  curve         share cleaned over time
  seconds       how long each spot was under the robot
  minutes       time by activity, as one bar
  missed        the missed patches, numbered
  edges         how closely walls and obstacles were followed
  events        where events happened

Pictures of several runs
  test_objects  outcome of each test object, a row each, over the trials
  agreement     in how many of the runs each spot was cleaned, for each layout
  difference    floor that only one of two runs cleaned
  plate         two to six pass maps side by side
  others        a robot against all others measured in its layout and phase

Colours mean the same for every run and robot. Text is never under 7 points in
print. pictures.csv describes each picture in words.

Films show the recording with the cleaned floor painted onto it in perspective.
With a film option, pictures are made only if --picture names them. --blur covers
what may be a person and leaves robot, furniture and test objects. A person who is
in the picture throughout without moving is taken for furniture: --cover hides such
a place. Watch the film before you publish it.`,
	groups: []optionGroup{
		{"Pictures", []string{"picture", "size", "dpi", "format", "theme", "labels", "same-scale", "transparent", "turn", "slices", "language", "language-template"}},
		{"Films", []string{"film", "beside", "clips", "poster", "layer", "layer-format", "alone", "blur", "cover", "speed", "fps", "crop", "film-size", "span", "handles", "tail"}},
		{"Tables, pages and markers", []string{"tables", "trace", "page", "markers"}},
	},
	examples: `swathe export my-lab 'cluttered/*' --out print --size 3000x2000 --dpi 300
swathe export my-lab cluttered/linden_mapped_1 --film --speed 8 --blur
swathe export my-lab '*/*' --picture none --tables --trace csv,parquet`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		req := export.DefaultRequest()
		out := fs.String("out", "export", "write into `DIR`")
		pictures := fs.StringSlice("picture", req.Pictures, "`KIND[,KIND...]` of pictures, all or none")
		size := fs.String("size", fmt.Sprintf("%dx%d", req.Options.Width, req.Options.Height), "width and height in pixels, `WxH`")
		fs.IntVar(&req.Options.DPI, "dpi", req.Options.DPI, "`N` dots per inch: the printed size is the pixels divided by it")
		fs.StringSliceVar(&req.Formats, "format", req.Formats, "`KIND[,KIND...]` of files: png, svg, pdf")
		themes := fs.StringSlice("theme", []string{"light"}, "`THEME[,THEME...]`: light, dark, print")
		labels := fs.String("labels", string(req.Options.Labels), "text on a picture, `AMOUNT`: none, short or full")
		unit := fs.String("unit", string(req.Options.Unit), "`UNIT` of lengths: m or ft")
		tongue := fs.String("language", "en", "`LANGUAGE` of pictures, films and markers: en, de, or a file that ends in .po")
		template := fs.String("language-template", "", "write all texts into the new file `FILE.po` for a translator, and do nothing else")
		fs.BoolVar(&req.SameScale, "same-scale", false, "draw all plans at one scale")
		fs.BoolVar(&req.Options.Transparent, "transparent", false, "leave the background transparent")
		fs.Float64Var(&req.Options.TurnDeg, "turn", 0, "turn the plan counter-clockwise by `DEGREES`, to match the recording")
		fs.IntVar(&req.Options.Slices, "slices", 1, "cut the path into `N` equal time spans")
		tool := fs.String("tool", "", "show the floor cleaned by the tool `NAME` of the robot, instead of its first one")
		fs.BoolVar(&req.Page, "page", false, "write one HTML page for each run; it needs no network")
		fs.BoolVar(&req.Tables, "tables", false, "write CSV tables for a spreadsheet")
		fs.StringSliceVar(&req.Traces, "trace", nil, "write the path of each run as `KIND[,KIND...]`: csv, parquet")
		fs.StringSliceVar(&req.Markers, "markers", nil, "event markers for video editing, `KIND[,KIND...]`: otio, edl, chapters, captions")
		var films filmOptions
		films.addFlags(fs)
		return func(c *call) (any, error) {
			if *template != "" {
				return writeTemplate(c, *template)
			}
			if len(c.args) < 2 {
				return nil, usage("export needs the lab's folder and at least one run")
			}
			var err error
			if req.Options.Width, req.Options.Height, err = parseSize(*size); err != nil {
				return nil, usageError{err}
			}
			said, err := language.Open(*tongue)
			if err != nil {
				return nil, usageError{err}
			}
			req.Options.Language, films.Language = said, said
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
				for _, name := range []string{"speed", "fps", "crop", "film-size", "span", "handles", "tail", "alone", "blur", "cover", "layer-format"} {
					if fs.Changed(name) {
						return nil, usage("--%s applies only to films: add --film, --beside, --clips, --poster or --layer", name)
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
			if !films.wanted() || req.Wanted() {
				if err := req.Validate(); err != nil {
					return nil, usageError{err}
				}
			}
			if *tool != "" {
				if err := toolFits(req); err != nil {
					return nil, err
				}
			}
			doc, err := runExport(c, *out, *tool, req, &films)
			if lacks := said.Missing(); len(lacks) > 0 {
				c.say("%s has no words for %d texts, which stay English: %s", *tongue, len(lacks), strings.Join(lacks, "; "))
			}
			return doc, err
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
	moving := &export.Outcome{Files: []export.File{}, Notes: []string{}}
	var lacking error // some film could not be made
	if films.wanted() {
		moving, err = films.write(c, l, ids, out)
		if err != nil && !errors.Is(err, errSomeFailed) {
			return stopped(c, out, ids, moving, err)
		}
		lacking = err
	}
	if !req.Wanted() {
		return exportDoc{"export", out, ids, moving}, lacking
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
	req.Clock = func(ctx context.Context, k *work.Kept) (report.SourceClock, error) {
		return studio(l).SourceClock(ctx, k)
	}
	done, err := export.Write(c.ctx, out, runs, all, req, func(f export.File) { c.print("%s", filepath.Join(out, f.Name)) })
	if err != nil {
		if done != nil {
			done.Files = append(done.Files, moving.Files...)
		}
		return stopped(c, out, ids, done, err)
	}
	for _, n := range done.Notes {
		c.say("%s", n)
	}
	if len(done.Files) == 0 {
		return nil, fmt.Errorf("none of the pictures could be drawn")
	}
	done.Files, done.Notes = append(done.Files, moving.Files...), append(done.Notes, moving.Notes...)
	return exportDoc{"export", out, ids, done}, lacking
}

// stopped tells of an export that ended early. Where somebody stopped it, what is
// finished is kept and named, and that is no error of the call; any other err is.
func stopped(c *call, out string, ids []string, done *export.Outcome, err error) (any, error) {
	if c.ctx.Err() == nil || done == nil {
		return nil, err
	}
	c.say("stopped; files complete in %s: %d. No incomplete file was left", out, len(done.Files))
	if done.Files == nil {
		done.Files = []export.File{}
	}
	return exportDoc{"export", out, ids, done}, errSomeFailed
}

// writeTemplate writes the file that a translator fills in.
func writeTemplate(c *call, file string) (any, error) {
	if filepath.Ext(file) != ".po" {
		return nil, usage("--language-template is %q; the file's name should end in .po", file)
	}
	if _, err := os.Stat(file); err == nil {
		return nil, usage("%s exists already; choose another name, so that no translation is lost", file)
	}
	raw, err := language.Template()
	if err != nil {
		return nil, err
	}
	if err := disk.WriteWhole(file, raw); err != nil {
		return nil, err
	}
	c.print("%s", file)
	return nil, nil
}

// planOptions refuses options of plans, or of the path, where no picture that was
// asked for has one.
func planOptions(fs *pflag.FlagSet, pictures []string) error {
	if len(pictures) == 0 {
		return nil
	}
	if fs.Changed("slices") && !slices.Contains(pictures, "path") {
		return usage("--slices applies only to the picture \"path\": add it to --picture")
	}
	for _, p := range pictures {
		if !slices.Contains([]string{"curve", "minutes", "others"}, p) {
			return nil
		}
	}
	for _, name := range []string{"turn", "same-scale"} {
		if fs.Changed(name) {
			return usage("--%s applies only to plans of the room, and %s show none: add one to --picture", name, strings.Join(pictures, ", "))
		}
	}
	return nil
}

// toolFits refuses what a chosen tool would leave as it is: tables and pages hold
// every tool, and what is told of the run rests on the first.
func toolFits(req export.Request) error {
	for _, p := range req.Pictures {
		if !slices.Contains(export.ToolKinds(), p) {
			return usage("%q can't be drawn for a chosen tool. --tool applies to films and to %s", p, strings.Join(export.ToolKinds(), ", "))
		}
	}
	if req.Page || req.Tables {
		return usage("--tool applies only to pictures and films; pages and tables hold every tool. Export them in a separate call")
	}
	if len(req.Traces) > 0 {
		return usage("--tool applies only to pictures and films; the path is the same for every tool. Export it in a separate call")
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
