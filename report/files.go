package report

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"

	"swathe/coverage"
	"swathe/geom"
	"swathe/report/figure"
	"swathe/report/words"
)

// Names of the files of a result folder, besides RunFile.
const (
	TraceFile  = "trace.csv"
	CurveFile  = "curve.csv"
	EventsFile = "events.csv"
	MissedFile = "missed.geojson"
	SetupFile  = "setup.yaml"
	StoryFile  = "story.md"
)

// WriteRun writes every file of a result into the folder dir, which exists and
// is the caller's to make appear at once. The first error ends it; what was
// written until then stays.
func WriteRun(dir string, in RunInput) error {
	if err := writeTables(dir, in); err != nil {
		return err
	}
	return writePictures(dir, in.FigureRun())
}

// Relabel writes other conditions into the run.json of a result folder; all else in
// it stays, to the digit.
func Relabel(dir string, conditions map[string]string) error {
	file := filepath.Join(dir, RunFile)
	raw, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	// A value at a time, in their order: what this program does not know is kept too.
	d := json.NewDecoder(bytes.NewReader(raw))
	if t, err := d.Token(); err != nil || t != json.Delim('{') {
		return fmt.Errorf("%s cannot be read as a result: measure the recording again with --again", file)
	}
	out := []byte{'{'}
	for d.More() {
		name, err := d.Token()
		if err != nil {
			return fmt.Errorf("%s: %w: measure the recording again with --again", file, err)
		}
		var v json.RawMessage
		if err := d.Decode(&v); err != nil {
			return fmt.Errorf("%s: %w: measure the recording again with --again", file, err)
		}
		if name == "conditions" {
			if v, err = json.Marshal(orEmpty(conditions)); err != nil {
				return err
			}
		}
		key, err := json.Marshal(name)
		if err != nil {
			return err
		}
		if len(out) > 1 {
			out = append(out, ',')
		}
		out = append(append(append(out, key...), ':'), v...)
	}
	var pretty bytes.Buffer
	if err := json.Indent(&pretty, append(out, '}'), "", "  "); err != nil {
		return err
	}
	return os.WriteFile(file, append(pretty.Bytes(), '\n'), 0o644)
}

// writeTables writes all but the pictures.
func writeTables(dir string, in RunInput) error {
	run, err := NewRun(in)
	if err != nil {
		return err
	}
	doc, err := MarshalIndent(run)
	if err != nil {
		return err
	}
	files := []struct {
		name  string
		write func(io.Writer) error
	}{
		{RunFile, func(w io.Writer) error { _, err := w.Write(append(doc, '\n')); return err }},
		{TraceFile, func(w io.Writer) error { return writeTrace(w, in.Trace) }},
		{CurveFile, func(w io.Writer) error { return writeCurve(w, in.Coverage.Curve) }},
		{EventsFile, func(w io.Writer) error { return writeEvents(w, run.Events) }},
		{MissedFile, func(w io.Writer) error { return writeMissed(w, in.Coverage.Missed) }},
		{SetupFile, func(w io.Writer) error { _, err := w.Write(in.Setup); return err }},
	}
	if in.Doubt != nil && len(in.Doubt.Common) > 0 {
		files = append(files, struct {
			name  string
			write func(io.Writer) error
		}{SharedFile, func(w io.Writer) error { return writeShared(w, in.Doubt.Common) }})
	}
	if in.Conduct != nil {
		files = append(files, struct {
			name  string
			write func(io.Writer) error
		}{StoryFile, func(w io.Writer) error { _, err := io.WriteString(w, storyFile(run, in.Plan)); return err }})
	}
	for _, f := range files {
		if err := writeFile(filepath.Join(dir, f.name), f.write); err != nil {
			return err
		}
	}
	return nil
}

// writePictures draws the three pictures of a result, side by side.
func writePictures(dir string, run figure.Run) error {
	opt := figure.DefaultOptions()
	kinds := []func(figure.Run, figure.Options) (*figure.Picture, error){figure.Passes, figure.Path, figure.Curve}
	errs := make(chan error, len(kinds))
	for _, draw := range kinds {
		go func() {
			p, err := draw(run, opt)
			if err == nil {
				err = writeFile(filepath.Join(dir, p.Name+".png"), func(w io.Writer) error { return p.Write(w, "png") })
			}
			errs <- err
		}()
	}
	var first error
	for range kinds {
		if err := <-errs; err != nil && first == nil {
			first = err
		}
	}
	return first
}

// writeFile writes a file and reports an error of its closing too.
func writeFile(file string, write func(io.Writer) error) (err error) {
	f, err := os.Create(file)
	if err != nil {
		return err
	}
	defer func() {
		if e := f.Close(); err == nil {
			err = e
		}
	}()
	w := bufio.NewWriterSize(f, 1<<16)
	if err := write(w); err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	return w.Flush()
}

// num writes a value for a CSV cell; NaN is an empty cell.
func num(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	return trimmed(v, decimals)
}

// Decimals kept in the tables: tenths of a millisecond, hundredths of a
// millimetre, thousandths of a degree.
const (
	decS   = 4
	decM   = 5
	decDeg = 3
)

var traceHeader = []string{"t_s", "x_m", "y_m", "heading_deg", "speed_mps", "state", "sigma_m", "heading_source"}

func writeTrace(w io.Writer, t *geom.Trace) error {
	c := csv.NewWriter(w)
	if err := c.Write(traceHeader); err != nil {
		return err
	}
	for i := range t.Samples {
		if err := c.Write(traceRow(&t.Samples[i], words.Metre)); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

func writeCurve(w io.Writer, pts []coverage.CurvePoint) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"t_s", "covered_share", "reachable_share", "swept_m2", "distance_m"}); err != nil {
		return err
	}
	for _, p := range pts {
		if err := c.Write([]string{num(p.T, decS), num(p.CoveredShare, 6), num(p.ReachableShare, 6), num(p.SweptM2, 6), num(p.DistanceM, decM)}); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

func writeEvents(w io.Writer, es []Event) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"kind", "start_s", "end_s", "x_m", "y_m", "size", "unit", "sentence"}); err != nil {
		return err
	}
	for _, e := range es {
		if err := c.Write([]string{
			e.Kind, num(e.StartS, decS), num(e.EndS, decS), num(e.X, decM), num(e.Y, decM),
			num(e.Size, decM), e.Unit, e.Sentence,
		}); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// geojson is the part of RFC 7946 that missed.geojson uses. Its positions are
// floor metres, not longitude and latitude, which the member "frame" says.
type geojson struct {
	Type     string    `json:"type"`
	Frame    string    `json:"frame"`
	Features []feature `json:"features"`
}

type feature struct {
	Type       string         `json:"type"`
	Geometry   geometry       `json:"geometry"`
	Properties coverage.Patch `json:"properties"`
}

type geometry struct {
	Type        string         `json:"type"`
	Coordinates [][][2]float64 `json:"coordinates"`
}

func writeMissed(w io.Writer, patches []coverage.Patch) error {
	doc := geojson{Type: "FeatureCollection", Frame: "floor, metres, x right and y up the plan", Features: []feature{}}
	for _, p := range patches {
		g := geometry{Type: "Polygon", Coordinates: [][][2]float64{}}
		for _, ring := range p.Polygon {
			var out [][2]float64
			for _, q := range ring {
				out = append(out, [2]float64{q.X, q.Y})
			}
			if len(out) > 0 {
				out = append(out, out[0])
			}
			g.Coordinates = append(g.Coordinates, out)
		}
		doc.Features = append(doc.Features, feature{"Feature", g, p})
	}
	raw, err := Marshal(doc)
	if err != nil {
		return err
	}
	_, err = w.Write(append(raw, '\n'))
	return err
}

// ReadTrace reads the path of a result folder back, with the run's bounds from
// run.json. Speeds and uncertainties that are empty become NaN, as does a
// heading; the headings' uncertainty is not kept in the file.
func ReadTrace(dir string) (*geom.Trace, error) {
	run, err := ReadRun(dir)
	if err != nil {
		return nil, err
	}
	file := filepath.Join(dir, TraceFile)
	raw, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	t := &geom.Trace{
		Run:     geom.Span{From: run.Run.StartS, To: run.Run.EndS},
		Started: run.Run.Started, Ended: run.Run.Ended, Length: run.Recording.DurationS,
	}
	if t.Samples, err = parseTrace(raw); err != nil {
		return nil, fmt.Errorf("%s: %w: measure the recording again with --again", file, err)
	}
	return t, nil
}

func parseTrace(raw []byte) ([]geom.Sample, error) {
	c := csv.NewReader(bytes.NewReader(raw))
	c.FieldsPerRecord = len(traceHeader)
	c.ReuseRecord = true
	head, err := c.Read()
	if err != nil {
		return nil, fmt.Errorf("no header line: %w", err)
	}
	for i, h := range traceHeader {
		if head[i] != h {
			return nil, fmt.Errorf("line 1: column %d is %q, not %q", i+1, head[i], h)
		}
	}
	var out []geom.Sample
	for {
		row, err := c.Read()
		if err == io.EOF {
			return out, nil
		}
		if err != nil {
			return nil, err
		}
		line, _ := c.FieldPos(0)
		var v [7]float64
		for _, i := range []int{0, 1, 2, 3, 4, 6} {
			v[i] = math.NaN()
			if row[i] == "" {
				continue
			}
			if v[i], err = strconv.ParseFloat(row[i], 64); err != nil {
				return nil, fmt.Errorf("line %d: %s is %q, not a number", line, traceHeader[i], row[i])
			}
			if math.IsInf(v[i], 0) || (traceHeader[i] == "speed_mps" || traceHeader[i] == "sigma_m") && v[i] < 0 {
				return nil, fmt.Errorf("line %d: %s is %q, which can't be", line, traceHeader[i], row[i])
			}
		}
		state, ok := geom.ParseState(row[5])
		if !ok {
			return nil, fmt.Errorf("line %d: state is %q", line, row[5])
		}
		source, ok := geom.ParseHeadingSource(row[7])
		if !ok {
			return nil, fmt.Errorf("line %d: heading_source is %q", line, row[7])
		}
		if n := len(out); math.IsNaN(v[0]) || n > 0 && v[0] <= out[n-1].T {
			return nil, fmt.Errorf("line %d: the time %q does not follow the one before", line, row[0])
		}
		out = append(out, geom.Sample{T: v[0], X: v[1], Y: v[2], Heading: geom.Radians(v[3]), Speed: v[4], Sigma: v[6], SigmaH: math.NaN(), State: state, Source: source})
	}
}
