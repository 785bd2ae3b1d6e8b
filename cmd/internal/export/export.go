// Package export draws the pictures, pages and tables of finished results at a
// chosen size and look into a folder. The export verb and the local page share
// it.
package export

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"swathe/cmd/internal/columns"
	"swathe/cmd/internal/disk"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
	"swathe/coverage"
	"swathe/report"
	"swathe/report/figure"
)

// Request says what to export and how it looks.
type Request struct {
	Pictures  []string       // of Kinds
	Formats   []string       // of figure.Formats
	Themes    []figure.Theme // one picture each
	Options   figure.Options // the theme in it is not used
	SameScale bool           // plans of all runs at one scale, for each kind of picture
	Tables    bool           // CSV for spreadsheets
	Page      bool           // one HTML page a run
	Traces    []string       // the path of each run: of TraceFormats
	Markers   []string       // the events of each run: of report.MarkerFormats
	// Clock reads how the recording of a run counts its frames; nil: from 0 on.
	Clock func(ctx context.Context, k *work.Kept) (report.SourceClock, error)
}

// TraceFormats lists what the path of a run can be written as.
func TraceFormats() []string { return []string{"csv", "parquet"} }

// DefaultRequest is the three pictures of a result, as PNG.
func DefaultRequest() Request {
	return Request{Pictures: []string{"passes", "path", "curve"}, Formats: []string{"png"}, Themes: []figure.Theme{figure.Light}, Options: figure.DefaultOptions()}
}

// Validate returns what is wrong with the request, in a sentence.
func (r Request) Validate() error {
	for _, p := range r.Pictures {
		if !slices.Contains(Kinds(), p) {
			return fmt.Errorf("there is no picture %q.%s Choose from %s", p, lab.DidYouMean(p, Kinds()), strings.Join(Kinds(), ", "))
		}
	}
	if err := r.validLook(); err != nil {
		return err
	}
	for _, f := range r.Traces {
		if !slices.Contains(TraceFormats(), f) {
			return fmt.Errorf("paths cannot be written as %q. Choose from %s", f, strings.Join(TraceFormats(), ", "))
		}
	}
	for _, f := range r.Markers {
		if !slices.Contains(report.MarkerFormats(), f) {
			return fmt.Errorf("markers cannot be written as %q. Choose from %s", f, strings.Join(report.MarkerFormats(), ", "))
		}
	}
	if !r.Wanted() {
		return fmt.Errorf("nothing to export: ask for a picture, a page, tables, paths or markers")
	}
	return nil
}

// validLook is Validate of how pictures look.
func (r Request) validLook() error {
	for _, f := range r.Formats {
		if !slices.Contains(figure.Formats(), f) {
			return fmt.Errorf("pictures cannot be written as %q. Choose from %s", f, strings.Join(figure.Formats(), ", "))
		}
	}
	if len(r.Pictures) > 0 && (len(r.Formats) == 0 || len(r.Themes) == 0) {
		return fmt.Errorf("pictures need a format and a theme")
	}
	for _, t := range r.Themes {
		opt := r.Options
		opt.Theme = t
		if err := opt.Validate(); err != nil {
			return err
		}
	}
	return nil
}

// Wanted tells whether the request asks for anything.
func (r Request) Wanted() bool {
	return len(r.Pictures) > 0 || r.Tables || r.Page || len(r.Traces) > 0 || len(r.Markers) > 0
}

// File is one file that was written.
type File struct {
	Name  string `json:"file"`  // from the folder
	Shows string `json:"shows"` // in a sentence, for readers who cannot see it; empty of a table
}

// Outcome is what an export gave.
type Outcome struct {
	Files []File   `json:"files"`
	Notes []string `json:"notes"` // what was asked for and could not be drawn, with the reason
}

// Adjust has what a request needs worked out when results are read back, and
// leaves out what it does not.
func (r Request) Adjust(o *coverage.Options) {
	o.Dwell = o.Dwell || slices.Contains(r.Pictures, "seconds")
	// Both stand in run.json.
	o.Raster, o.WidthStep = false, 0
}

// Write exports runs into dir, which it makes. all gives the figures of every
// result of the lab, for the picture "others"; told is called with each file.
func Write(ctx context.Context, dir string, runs []*work.Kept, all func() ([]*report.Run, error), r Request, told func(File)) (*Outcome, error) {
	if err := r.Validate(); err != nil {
		return nil, err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("the export folder can't be made: %w. Choose another with --out", err)
	}
	e := &exporter{dir: dir, req: r, told: told, out: &Outcome{Files: []File{}, Notes: []string{}}}
	for _, k := range runs {
		r.Options.Language.Keep(k.Names()...)
	}
	var sheets []sheet
	for _, kind := range r.Pictures {
		jobs, err := e.jobs(kind, runs, all)
		if err != nil {
			return e.out, err
		}
		sheets = append(sheets, e.sheets(jobs)...)
	}
	if err := e.pictures(ctx, sheets); err != nil {
		return e.out, err
	}
	if r.Page {
		for _, k := range runs {
			if err := ctx.Err(); err != nil {
				return e.out, err
			}
			s := report.RunSheet(sheetInput(k, r))
			if err := e.file(k.FileName()+"_page.html", s.Lead, s.Write); err != nil {
				return e.out, err
			}
		}
	}
	if r.Tables {
		if err := e.tables(runs); err != nil {
			return e.out, err
		}
	}
	for _, k := range runs {
		for _, format := range r.Traces {
			write := func(w io.Writer) error {
				return columns.Write(w, report.TraceColumns(k.Run, k.Figure.Trace, r.Options.Unit))
			}
			if format == "csv" {
				write = report.TraceTable(k.Figure.Trace, r.Options.Unit).Write
			}
			if err := e.file(k.FileName()+"_trace."+format, "", write); err != nil {
				return e.out, err
			}
		}
		clock, err := e.clock(ctx, k)
		if err != nil {
			return e.out, err
		}
		events := report.Markers{Run: k.Run, Plan: k.Figure.Plan, Unit: r.Options.Unit, Language: r.Options.Language, Clock: clock}
		for _, format := range r.Markers {
			name := k.FileName() + "_markers." + format
			if format == "chapters" || format == "captions" {
				name = k.FileName() + "_" + format + ".vtt"
			}
			var buf bytes.Buffer
			if err := events.Write(&buf, format); err != nil {
				e.out.Notes = append(e.out.Notes, fmt.Sprintf("%s: not written: %v", name, err))
				continue
			}
			if err := e.file(name, "", func(w io.Writer) error { _, err := buf.WriteTo(w); return err }); err != nil {
				return e.out, err
			}
		}
	}
	return e.out, e.index()
}

// clock is how a run's recording counts its frames, if any marker is counted in them.
// Where it can't be read that is noted.
func (e *exporter) clock(ctx context.Context, k *work.Kept) (report.SourceClock, error) {
	if e.req.Clock == nil || k.Camera == nil || !slices.ContainsFunc(e.req.Markers, report.CountsFrames) {
		return report.SourceClock{}, nil
	}
	c, err := e.req.Clock(ctx, k)
	if err != nil {
		if ctx.Err() != nil {
			return c, ctx.Err()
		}
		e.out.Notes = append(e.out.Notes, fmt.Sprintf("%s: markers count from 00:00:00:00, for the recording's own time code can't be read: %v", k.ID, err))
	}
	return c, nil
}

func sheetInput(k *work.Kept, r Request) report.SheetInput {
	return report.SheetInput{Run: k.Run, Figure: k.Figure, Unit: r.Options.Unit, Setup: k.Setup, ConditionUnit: k.ConditionUnit}
}

type exporter struct {
	dir  string
	req  Request
	told func(File)
	out  *Outcome
}

// file writes one file, whole or not at all: what stood there before stays until
// the new one is complete.
func (e *exporter) file(name, shows string, write func(io.Writer) error) error {
	goal := filepath.Join(e.dir, name)
	if err := disk.WriteWholeBy(goal, write); err != nil {
		return fmt.Errorf("%s can't be written: %w", goal, err)
	}
	done := File{name, shows}
	e.out.Files = append(e.out.Files, done)
	if e.told != nil {
		e.told(done)
	}
	return nil
}

// job is one picture to draw.
type job struct {
	name string // base of the file's name
	draw func(figure.Options) (*figure.Picture, error)
}

// sheet is one file of a picture.
type sheet struct {
	name, format string
	opt          figure.Options
	draw         func(figure.Options) (*figure.Picture, error)
}

// sheets lists the files of jobs of one kind, at one scale if that was asked
// for. What cannot be drawn is noted and left out.
func (e *exporter) sheets(jobs []job) []sheet {
	opt := e.req.Options
	opt.Theme = e.req.Themes[0]
	var ready []job
	scale := 0.0
	for _, j := range jobs {
		p, err := j.draw(opt)
		if err != nil {
			e.out.Notes = append(e.out.Notes, fmt.Sprintf("%s: not drawn: %v", j.name, err))
			continue
		}
		ready = append(ready, j)
		if e.req.SameScale {
			scale = max(scale, p.MetresPerPixel())
		}
	}
	if e.req.SameScale && opt.MPerPx == 0 {
		opt.MPerPx = scale
	}
	var out []sheet
	for _, j := range ready {
		for _, theme := range e.req.Themes {
			opt.Theme = theme
			name := j.name
			if len(e.req.Themes) > 1 {
				name += "_" + string(theme)
			}
			for _, format := range e.req.Formats {
				out = append(out, sheet{name, format, opt, j.draw})
			}
		}
	}
	return out
}

// together is how many pixels may be drawn at a time, 8 bytes of memory each.
const together = 60e6

// pictures draws sheets on all processors, as many at a time as memory allows,
// and writes them in their order.
func (e *exporter) pictures(ctx context.Context, sheets []sheet) error {
	type drawn struct {
		alt string
		raw []byte
		err error
	}
	pixels := float64(e.req.Options.Width) * float64(e.req.Options.Height)
	workers := max(1, min(runtime.GOMAXPROCS(0), int(together/pixels)))
	// A result waits in its place until those before it are written; a worker
	// is let go on only then, so that no more than workers of them wait.
	free := make(chan struct{}, workers)
	places := make([]chan drawn, len(sheets))
	for i := range places {
		places[i] = make(chan drawn, 1)
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	go func() {
		for i, s := range sheets {
			select {
			case free <- struct{}{}:
			case <-ctx.Done():
				return
			}
			go func() {
				var d drawn
				var buf bytes.Buffer
				p, err := s.draw(s.opt)
				if err == nil {
					d.alt, err = p.Alt, p.Write(&buf, s.format)
				}
				d.raw, d.err = buf.Bytes(), err
				places[i] <- d
			}()
		}
	}()
	for i, s := range sheets {
		if err := ctx.Err(); err != nil {
			return err
		}
		select {
		case d := <-places[i]:
			if d.err != nil {
				return d.err
			}
			err := e.file(s.name+"."+s.format, d.alt, func(w io.Writer) error {
				_, err := w.Write(d.raw)
				return err
			})
			if err != nil {
				return err
			}
			<-free
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return nil
}

func (e *exporter) tables(runs []*work.Kept) error {
	var all []*report.Run
	var inputs []report.SheetInput
	for _, k := range runs {
		all = append(all, k.Run)
		inputs = append(inputs, sheetInput(k, e.req))
	}
	unit := e.req.Options.Unit
	tables := []report.CSVTable{report.FiguresTable(all, unit), report.CurveTable(inputs, unit)}
	for _, k := range runs {
		for _, t := range report.RunTables(k.Run, k.Figure.Plan, unit) {
			t.Name = k.FileName() + "_" + t.Name
			tables = append(tables, t)
		}
	}
	for _, t := range tables {
		if err := e.file(t.Name+".csv", "", t.Write); err != nil {
			return err
		}
	}
	return nil
}

// index writes what each picture and page shows, for captions and for readers
// who cannot see it.
func (e *exporter) index() error {
	rows := [][]string{{"file", "shows"}}
	for _, f := range e.out.Files {
		if f.Shows != "" {
			rows = append(rows, []string{f.Name, f.Shows})
		}
	}
	if len(rows) == 1 {
		return nil
	}
	return e.file("pictures.csv", "", func(w io.Writer) error {
		if _, err := io.WriteString(w, "\ufeff"); err != nil {
			return err
		}
		c := csv.NewWriter(w)
		c.UseCRLF = true
		return c.WriteAll(rows)
	})
}
