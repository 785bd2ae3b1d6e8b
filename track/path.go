package track

import (
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"

	"swathe/geom"
)

// Limits of a path measured elsewhere.
const (
	// pathGap is the longest time between two rows over which the path is taken
	// to be straight, s.
	pathGap = 1.0
	// MaxSpeed is the fastest that a floor cleaner drives, m/s: IEC
	// 62849:2025, on the performance of household robots, ends its scope there. A
	// faster step is a slip of the measurement.
	MaxSpeed = 1.5
	// maxPathTime bounds t_s, s: a clock of the day or of an epoch is not a time
	// from the first frame.
	maxPathTime = 1e7
)

// MeasurePath reads a path measured elsewhere (motion capture, a robot's own log,
// another camera): a .csv with the columns t_s, x_m, y_m and, if known,
// heading_deg, on the floor. Rows are in increasing time. A row whose x_m and
// y_m are empty says that the robot was not found then. Between two rows more
// than a second apart, or farther apart than 1.5 m/s allows, the path is Lost.
//
// Without a heading the direction of travel serves, held while the robot stands.
//
// Parts are joined with their gaps, what lies before Start and after End is left
// out, and the end is told docked where the plan has a dock. Camera and Robot of
// the job are not used. The error is a *Failure.
func MeasurePath(job Job) (*Result, error) {
	rec := Recording{Files: job.Files}
	var rows []pathRow
	given := false
	for i, file := range job.Files {
		part, sum, err := readRows(file)
		if err != nil {
			return nil, err
		}
		rec.SHA256 = append(rec.SHA256, sum)
		if i > 0 {
			if part[0].heading != given {
				return nil, unusable(file, "this part %s heading_deg, the one before %s. Give it for both or neither", has(part[0].heading), has(given))
			}
			gap := (part[len(part)-1].T - part[0].T) / float64(max(1, len(part)-1))
			if i-1 < len(job.Gaps) && !math.IsNaN(job.Gaps[i-1]) {
				gap = job.Gaps[i-1]
			}
			shift := rows[len(rows)-1].T + max(gap, 1e-6) - part[0].T
			for j := range part {
				part[j].T += shift
			}
		}
		given = part[0].heading
		rows = append(rows, part...)
	}
	rec.Frames = len(rows)
	rec.Duration = rows[len(rows)-1].T
	file := job.Files[0]
	rows = slices.DeleteFunc(rows, func(r pathRow) bool { return r.T < job.Start || r.T > job.End })
	if len(rows) < 2 {
		return nil, unusable(file, "fewer than two rows lie between start_s and end_s. Correct them, or the times of the path")
	}
	tr, warnings := traceOf(rows, given)
	if tr == nil {
		return nil, unusable(file, "no two neighbouring rows hold a place. Fill in x_m and y_m")
	}
	var dock *geom.Pose
	if job.Plan != nil {
		dock = job.Plan.Dock
	}
	if !pathBounds(tr, dock) {
		return nil, &Failure{Kind: NeverMoved, File: file, T: math.NaN(),
			Message: "the path stays within 5 mm and 3 degrees of its start. Check that it is the right file, in metres"}
	}
	return &Result{Trace: tr, Recording: rec, Warnings: warnings}, nil
}

func has(yes bool) string {
	if yes {
		return "has"
	}
	return "lacks"
}

func unusable(file, format string, args ...any) *Failure {
	return &Failure{Kind: PathUnusable, File: file, T: math.NaN(), Message: fmt.Sprintf(format, args...) + "."}
}

// pathRow is one row of the file: a place, or none (X and Y NaN).
type pathRow struct {
	T, X, Y float64
	H       float64 // rad as given; NaN if this row has none
	heading bool    // whether the file has the column
}

// readRows reads the file's rows and its SHA-256.
func readRows(file string) ([]pathRow, string, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, "", unusable(file, "the path can't be opened: %v", err)
	}
	defer f.Close()
	hash := sha256.New()
	rows, err := parsePath(io.TeeReader(f, hash))
	if err != nil {
		return nil, "", unusable(file, "%v", err)
	}
	if _, err := io.Copy(hash, f); err != nil {
		return nil, "", unusable(file, "the path can't be read: %v", err)
	}
	return rows, hex.EncodeToString(hash.Sum(nil)), nil
}

// parsePath reads rows; an error names the line and has no full stop.
func parsePath(in io.Reader) ([]pathRow, error) {
	r := csv.NewReader(in)
	r.FieldsPerRecord = -1
	r.TrimLeadingSpace = true
	r.ReuseRecord = true
	const want = "the first row should name the columns t_s,x_m,y_m and, if known, heading_deg"
	head, err := r.Read()
	if err == io.EOF {
		return nil, errors.New("the file is empty: " + want)
	} else if err != nil {
		return nil, lineError(err)
	}
	columns := [4]int{-1, -1, -1, -1}
	names := [4]string{"t_s", "x_m", "y_m", "heading_deg"}
	for i, h := range head {
		h = strings.TrimSpace(strings.TrimPrefix(h, "\ufeff"))
		at := slices.Index(names[:], h)
		if at < 0 {
			continue // a log may hold more than is needed
		}
		if columns[at] >= 0 {
			return nil, fmt.Errorf("line 1: the column %s appears twice. Keep one", h)
		}
		columns[at] = i
	}
	for i, c := range columns[:3] {
		if c < 0 {
			return nil, fmt.Errorf("line 1: the column %s is missing; %s", names[i], want)
		}
	}
	var rows []pathRow
	last := math.Inf(-1)
	for {
		fields, err := r.Read()
		if err == io.EOF {
			break
		} else if err != nil {
			return nil, lineError(err)
		}
		line, _ := r.FieldPos(0)
		row := pathRow{heading: columns[3] >= 0}
		for i, to := range []*float64{&row.T, &row.X, &row.Y, &row.H} {
			if *to, err = pathField(fields, columns[i], names[i], i > 0); err != nil {
				return nil, fmt.Errorf("line %d: %w", line, err)
			}
		}
		switch {
		case math.Abs(row.T) > maxPathTime:
			return nil, fmt.Errorf("line %d: t_s is %g; subtract the first row's time: t_s counts seconds from the first frame", line, row.T)
		case row.T <= last:
			return nil, fmt.Errorf("line %d: t_s is %g after %g in the row before; times should increase. Sort the rows, and keep one of each time", line, row.T, last)
		case math.IsNaN(row.X) != math.IsNaN(row.Y):
			return nil, fmt.Errorf("line %d: x_m or y_m is empty. Give both, or neither where the robot was not found", line)
		case math.Abs(row.X) > 1e4 || math.Abs(row.Y) > 1e4:
			return nil, fmt.Errorf("line %d: (%g, %g) is more than 10 km away. Give positions in metres on the floor", line, row.X, row.Y)
		}
		last = row.T
		row.H = geom.Radians(row.H)
		rows = append(rows, row)
	}
	if len(rows) < 2 {
		return nil, fmt.Errorf("it has %d rows of data; a path needs two or more", len(rows))
	}
	return rows, nil
}

// pathField reads one number; NaN if it is empty (or so called) and may be.
func pathField(fields []string, column int, name string, mayLack bool) (float64, error) {
	if column < 0 {
		return math.NaN(), nil
	}
	word := ""
	if column < len(fields) {
		word = strings.TrimSpace(fields[column])
	}
	if mayLack && (word == "" || strings.EqualFold(word, "nan") || strings.EqualFold(word, "null")) {
		return math.NaN(), nil
	}
	v, err := strconv.ParseFloat(word, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		if strings.Contains(word, ",") {
			return 0, fmt.Errorf("%s is %q; write a decimal point, not a comma", name, word)
		}
		return 0, fmt.Errorf("%s is %q; it should be a number", name, word)
	}
	return v, nil
}

func lineError(err error) error {
	var pe *csv.ParseError
	if errors.As(err, &pe) {
		return fmt.Errorf("line %d: this is not a comma-separated row (%w). Check the quotes", pe.Line, pe.Err)
	}
	return fmt.Errorf("it can't be read: %w", err)
}

// traceOf makes a trace of rows; nil if no step of it is known.
func traceOf(rows []pathRow, given bool) (*geom.Trace, []string) {
	tr := &geom.Trace{Length: rows[len(rows)-1].T}
	rows = slices.DeleteFunc(slices.Clone(rows), func(r pathRow) bool { return math.IsNaN(r.X) })
	if len(rows) < 2 {
		return nil, nil
	}
	unwrapped := given && alreadyUnwrapped(rows)
	known, fast := 0, 0
	heading := math.NaN()
	for i, r := range rows {
		if i > 0 {
			p := rows[i-1]
			dt, step := r.T-p.T, math.Hypot(r.X-p.X, r.Y-p.Y)
			reason := ""
			switch {
			case dt > pathGap:
				reason = fmt.Sprintf("no row for %.1f s", dt)
			case step > MaxSpeed*dt:
				reason = fmt.Sprintf("a step of %.2f m in %.3f s", step, dt)
				fast++
			}
			if reason == "" {
				known++
			} else {
				// Nothing is known next to a lost sample: one in the middle
				// takes the whole step out of the sweep.
				tr.Samples = append(tr.Samples, geom.Sample{T: p.T + dt/2, X: math.NaN(), Y: math.NaN(),
					Heading: math.NaN(), Sigma: math.NaN(), SigmaH: math.NaN(), State: geom.Lost})
				tr.Reasons = append(tr.Reasons, geom.Gap{Span: geom.Span{From: p.T, To: r.T}, State: geom.Lost, Reason: reason})
			}
		}
		s := geom.Sample{T: r.T, X: r.X, Y: r.Y, Heading: math.NaN(), Sigma: math.NaN(), SigmaH: math.NaN()}
		if given && !math.IsNaN(r.H) {
			switch {
			case math.IsNaN(heading) || unwrapped:
				heading = r.H
			default:
				heading += geom.WrapAngle(r.H - heading)
			}
			s.Heading, s.Source = heading, geom.HeadingGiven
		}
		tr.Samples = append(tr.Samples, s)
	}
	if known == 0 {
		return nil, nil
	}
	if !given {
		travelHeading(tr.Samples)
	}
	pathSpeed(tr.Samples)
	var warnings []string
	if len(tr.Reasons) > 0 {
		w := fmt.Sprintf("the path is lost in %d stretches, the first from %.1f s", len(tr.Reasons), tr.Reasons[0].From)
		if fast > 0 {
			w += fmt.Sprintf("; %d of them are steps faster than %.1f m/s", fast, MaxSpeed)
		}
		warnings = append(warnings, w+".")
	}
	return tr, warnings
}

// alreadyUnwrapped tells whether headings run on past a whole turn, so that a
// large step is a large turn and not a wrap.
func alreadyUnwrapped(rows []pathRow) bool {
	low, high := math.Inf(1), math.Inf(-1)
	for _, r := range rows {
		if !math.IsNaN(r.H) {
			low, high = math.Min(low, r.H), math.Max(high, r.H)
		}
	}
	// Rounding in the file must not make a wrapped heading of 0 to 360 pass.
	return high-low > 2*math.Pi*(1+1e-3)
}

// pathSpeed fills in the speed: over the two steps round a sample, one at the
// ends, 0 where neither is known.
func pathSpeed(s []geom.Sample) {
	known := func(i, j int) bool {
		return i >= 0 && j < len(s) && s[i].State == geom.Seen && s[j].State == geom.Seen
	}
	for i := range s {
		from, to := i, i
		if known(i-1, i) {
			from = i - 1
		}
		if known(i, i+1) {
			to = i + 1
		}
		length := 0.0
		for j := from; j < to; j++ {
			length += math.Hypot(s[j+1].X-s[j].X, s[j+1].Y-s[j].Y)
		}
		if to > from {
			s[i].Speed = length / (s[to].T - s[from].T)
		}
	}
}
