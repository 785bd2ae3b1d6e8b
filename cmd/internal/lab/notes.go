package lab

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"swathe/geom"
)

// Conditions that a recording's notes may give, in the order of run.json.
var conditionKeys = []string{"sample", "firmware", "mode", "charge", "light"}

var noteKeys = append([]string{"robot", "phase", "trial", "start_s", "end_s", "gap_s", "camera", "tool_off", "carried", "note"}, conditionKeys...)

// Notes is what stands about a recording in the file beside it and in the run
// sheet. The file beside it wins where both speak.
type Notes struct {
	Robot, Phase string            // empty if not given
	Trial        int               // 0 if not given
	Start, End   float64           // s; NaN if not given
	Gap          []float64         // s between the parts: one for all, or one each; nil if not given
	Camera       string            // empty: the layout's
	ToolOff      []geom.Span       // s, driving without cleaning
	Carried      []geom.Span       // s, a person carries the robot, beside what is seen of it
	Conditions   map[string]string // sample, firmware, mode, charge, light as given
	Note         string
}

func noNotes() Notes {
	return Notes{Start: math.NaN(), End: math.NaN(), Conditions: map[string]string{}}
}

// text spells the notes in one canonical way, for the hash that tells whether a
// result is up to date.
func (n Notes) text() string {
	s := fmt.Sprintf("%q %q %d %v %v %v %q %v %q %q", n.Robot, n.Phase, n.Trial, n.Start, n.End, n.Gap, n.Camera, n.ToolOff, n.Conditions, n.Note)
	if len(n.Carried) > 0 {
		s += fmt.Sprint(" carried ", n.Carried)
	}
	return s
}

// measured is text without what figures do not rest on: conditions, but for the
// sample, and the note.
func (n Notes) measured() string {
	m := n
	m.Note, m.Conditions = "", map[string]string{}
	if s := n.Conditions["sample"]; s != "" {
		m.Conditions["sample"] = s
	}
	return m.text()
}

// over returns n with whatever m gives put over it.
func (n Notes) over(m Notes) Notes {
	pick := func(a *string, b string) {
		if b != "" {
			*a = b
		}
	}
	pick(&n.Robot, m.Robot)
	pick(&n.Phase, m.Phase)
	pick(&n.Camera, m.Camera)
	pick(&n.Note, m.Note)
	if m.Trial != 0 {
		n.Trial = m.Trial
	}
	if !math.IsNaN(m.Start) {
		n.Start = m.Start
	}
	if !math.IsNaN(m.End) {
		n.End = m.End
	}
	if m.Gap != nil {
		n.Gap = m.Gap
	}
	if m.ToolOff != nil {
		n.ToolOff = m.ToolOff
	}
	if m.Carried != nil {
		n.Carried = m.Carried
	}
	both := map[string]string{}
	for _, from := range []map[string]string{n.Conditions, m.Conditions} {
		for k, v := range from {
			both[k] = v
		}
	}
	n.Conditions = both
	return n
}

// check refuses notes that contradict themselves.
func (n Notes) check() error {
	if n.End <= n.Start {
		return fmt.Errorf("end_s (%g) should be later than start_s (%g)", n.End, n.Start)
	}
	return nil
}

// sidecar reads <same name>.yaml; ok is false if there is none.
func (l *Lab) sidecar(rel string) (n Notes, ok bool, err error) {
	n = noNotes()
	data, err := os.ReadFile(filepath.Join(l.Dir, filepath.FromSlash(rel)))
	if errors.Is(err, os.ErrNotExist) {
		return n, false, nil
	} else if err != nil {
		return n, true, fmt.Errorf("%s can't be read: %w", rel, err)
	}
	var problems Problems
	r, body := parse(rel, data, &problems)
	if body != nil {
		r.notes(l, &n, body)
	}
	if len(problems.List) > 0 {
		return n, true, &problems
	}
	return n, true, nil
}

func (r *reader) notes(l *Lab, out *Notes, body ast.Node) {
	conditions := l.ConditionNames()
	b, ok := r.block(body, body, "the recording's notes", slices.Concat(noteKeys, conditions[len(conditionKeys):])...)
	if !ok {
		return
	}
	for _, f := range []struct {
		key string
		to  *string
	}{{"robot", &out.Robot}, {"phase", &out.Phase}, {"camera", &out.Camera}, {"note", &out.Note}} {
		if b.has(f.key) {
			*f.to, _ = r.text(b.val(f.key), f.key)
		}
	}
	if out.Phase != "" && !slices.Contains(Phases, out.Phase) {
		r.refuse(b.val("phase"), "phase is %q; it should be %s.", out.Phase, strings.Join(Phases, ", "))
	}
	if b.has("trial") {
		out.Trial, _ = r.whole(b.val("trial"), "trial", 1, 1e6)
	}
	if b.has("start_s") {
		out.Start, _ = r.between(b.val("start_s"), "start_s", "s", bounds{0, 1e7, false}, "It counts from the first frame.")
	}
	if b.has("end_s") {
		out.End, _ = r.between(b.val("end_s"), "end_s", "s", bounds{0, 1e7, false}, "It counts from the first frame.")
	}
	if b.has("gap_s") {
		if _, isList := r.resolve(b.val("gap_s")).(*ast.SequenceNode); isList {
			out.Gap, _ = r.numbers(b.val("gap_s"), "gap_s", "the seconds from each part to the next", 1, 1000)
		} else if v, ok := r.number(b.val("gap_s"), "gap_s", "seconds"); ok {
			out.Gap = []float64{v}
		}
		for _, g := range out.Gap {
			if g < 0 {
				r.refuse(b.val("gap_s"), "gap_s is %g; it should be 0 or more: a part begins after the one before it ends.", g)
			}
		}
	}
	if b.has("tool_off") {
		out.ToolOff = r.spans(b, "tool_off")
	}
	if b.has("carried") {
		out.Carried = r.spans(b, "carried")
	}
	for _, k := range conditions {
		if b.has(k) {
			out.Conditions[k] = r.conditionValue(l, b.val(k), k)
		}
	}
	if out.End <= out.Start {
		r.refuse(b.val("end_s"), "end_s should be later than start_s.")
	}
}

// spans reads a list of stretches of time.
func (r *reader) spans(b *block, key string) []geom.Span {
	list, _ := r.list(b.val(key), key, "a list of [from_s, to_s]")
	out := []geom.Span{}
	for _, s := range list {
		p, ok := r.point(s, key, "[from_s, to_s]")
		if ok && (p.X < 0 || p.Y <= p.X) {
			r.refuse(s, "%s: from_s should be 0 or more and to_s later.", key)
		}
		out = append(out, geom.Span{From: p.X, To: p.Y})
	}
	return out
}

// sheetRow is one row of a run sheet.
type sheetRow struct {
	line  int
	file  string
	part  int // 0 if not given
	notes Notes
}

// runSheet reads runs.csv of a layout's recordings; rows that are wrong are told
// in bad, by file where the row names one.
func (l *Lab) runSheet(rel string) (rows []sheetRow, bad []Problem) {
	f, err := os.Open(filepath.Join(l.Dir, filepath.FromSlash(rel)))
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	} else if err != nil {
		return nil, []Problem{{File: rel, Message: fmt.Sprintf("the run sheet can't be read: %v.", err)}}
	}
	defer f.Close()
	refuse := func(line int, format string, args ...any) {
		bad = append(bad, Problem{File: rel, Line: line, Message: fmt.Sprintf(format, args...)})
	}
	r := csv.NewReader(SkipBOM(f))
	r.FieldsPerRecord = -1
	r.TrimLeadingSpace = true
	known := slices.Concat([]string{"file", "part"}, noteKeys, l.ConditionNames()[len(conditionKeys):])
	var columns []string
	seen := map[string]int{}
	for {
		fields, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			line := 0
			var pe *csv.ParseError
			if errors.As(err, &pe) {
				line = pe.Line
			}
			refuse(line, "this is not a comma-separated row: %v. Check the quotes.", err)
			break
		}
		line, _ := r.FieldPos(0)
		for i := range fields {
			fields[i] = strings.TrimSpace(fields[i])
		}
		if columns == nil {
			for _, c := range fields {
				if !slices.Contains(known, c) {
					refuse(line, "the run sheet has no column %q.%s", c, hint(c, known))
				}
				if slices.Contains(columns, c) {
					refuse(line, "the run sheet has the column %q twice. Keep one.", c)
				}
				columns = append(columns, c)
			}
			if !slices.Contains(columns, "file") {
				refuse(line, "the column file is missing. Begin the run sheet with the row: file,robot,phase,trial")
			}
			if len(bad) > 0 {
				return nil, bad
			}
			continue
		}
		if strings.Join(fields, "") == "" {
			continue
		}
		if len(fields) > len(columns) {
			refuse(line, "this row has %d fields for %d columns. Put quotes around a field that contains a comma.", len(fields), len(columns))
			continue
		}
		row, err := l.readRow(columns, fields)
		if err != nil {
			refuse(line, "%v.", err)
			continue
		}
		row.line = line
		if before, twice := seen[row.file]; twice {
			refuse(line, "%s is already in line %d. Keep one of the two rows.", row.file, before)
			continue
		}
		seen[row.file] = line
		rows = append(rows, row)
	}
	return rows, bad
}

func (l *Lab) readRow(columns, fields []string) (sheetRow, error) {
	row := sheetRow{notes: noNotes()}
	n := &row.notes
	for i, v := range fields {
		if v == "" {
			continue
		}
		var err error
		switch c := columns[i]; c {
		case "file":
			row.file = v
			if v != filepath.Base(v) {
				err = fmt.Errorf("file is %q; write only the file name, without a folder", v)
			}
		case "part":
			row.part, err = wholeField(c, v)
		case "trial":
			n.Trial, err = wholeField(c, v)
		case "robot":
			n.Robot = v
		case "phase":
			n.Phase = strings.ToLower(v)
			if !slices.Contains(Phases, n.Phase) {
				err = fmt.Errorf("phase is %q; it should be %s", v, strings.Join(Phases, ", "))
			}
		case "start_s":
			n.Start, err = secondsField(c, v)
		case "end_s":
			n.End, err = secondsField(c, v)
		case "gap_s":
			var g float64
			g, err = secondsField(c, v)
			n.Gap = []float64{g}
		case "camera":
			n.Camera = v
		case "tool_off":
			n.ToolOff, err = spansField(c, v)
		case "carried":
			n.Carried, err = spansField(c, v)
		case "note":
			n.Note = v
		default:
			n.Conditions[c] = v
			if why := l.condition(c).fault(v); why != "" {
				err = errors.New(strings.TrimSuffix(why, "."))
			}
		}
		if err != nil {
			return row, err
		}
	}
	if row.file == "" {
		return row, errors.New("this row names no file")
	}
	return row, n.check()
}

func wholeField(name, v string) (int, error) {
	n, err := strconv.Atoi(v)
	if err != nil || n < 1 || n > 1e6 {
		return 0, fmt.Errorf("%s is %q; it should be a whole number, 1 or more", name, v)
	}
	return n, nil
}

func secondsField(name, v string) (float64, error) {
	s, err := strconv.ParseFloat(v, 64)
	if err != nil || !(s >= 0 && s <= 1e7) {
		return 0, fmt.Errorf("%s is %q; it should be a number of seconds, 0 or more", name, v)
	}
	return s, nil
}

// spansField reads "[[10, 20], [35, 40]]", brackets optional: pairs of seconds.
func spansField(name, v string) ([]geom.Span, error) {
	words := strings.FieldsFunc(v, func(c rune) bool { return strings.ContainsRune("[]();, ", c) })
	bad := fmt.Errorf("%s is %q; write pairs of seconds, such as [[10, 20], [35, 40]], with quotes around the field", name, v)
	if len(words) == 0 || len(words)%2 != 0 {
		return nil, bad
	}
	var out []geom.Span
	for i := 0; i < len(words); i += 2 {
		a, err1 := secondsField(name, words[i])
		b, err2 := secondsField(name, words[i+1])
		if err1 != nil || err2 != nil || b <= a {
			return nil, bad
		}
		out = append(out, geom.Span{From: a, To: b})
	}
	return out, nil
}

// SkipBOM drops the byte order mark that spreadsheets put before UTF-8.
func SkipBOM(r io.Reader) io.Reader {
	head := make([]byte, 3)
	n, _ := io.ReadFull(r, head)
	if n == 3 && string(head) == "\xef\xbb\xbf" {
		return r
	}
	return io.MultiReader(strings.NewReader(string(head[:n])), r)
}
