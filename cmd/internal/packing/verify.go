package packing

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"swathe/cmd/internal/bench"
	"swathe/cmd/internal/lab"
	"swathe/coverage/compare"
	"swathe/report"
	"swathe/track"
)

// maxUnpacked bounds what a package may unpack to, bytes: one that claims more
// is not unpacked.
const maxUnpacked = 8 << 30

// Verdict is what came of checking a package.
type Verdict struct {
	Files    int      `json:"files"`     // whose hash was recomputed
	Runs     int      `json:"runs"`      // in figures.csv
	Measured int      `json:"measured"`  // anew, from their recordings
	NotThere []string `json:"not_there"` // recordings that were not found
	Differ   []string `json:"differ"`    // sentences: what is not as the package says
	Notes    []string `json:"notes"`     // what could not be checked, and why
}

// Read unpacks a package in memory.
func Read(file string) (*Package, error) {
	z, err := zip.OpenReader(file)
	if err != nil {
		return nil, fmt.Errorf("%s can't be opened as a package: %w", file, err)
	}
	defer z.Close()
	p := &Package{Files: map[string][]byte{}}
	var size uint64
	for _, f := range z.File {
		if size += f.UncompressedSize64; size > maxUnpacked {
			return nil, fmt.Errorf("%s would unpack to more than %d GB and is not read", file, maxUnpacked>>30)
		}
		if !filepath.IsLocal(filepath.FromSlash(f.Name)) || strings.Contains(f.Name, `\`) {
			return nil, fmt.Errorf("%s contains a file called %q, which leads out of the package. It is not read", file, f.Name)
		}
		r, err := f.Open()
		if err != nil {
			return nil, fmt.Errorf("%s of %s can't be read: %w", f.Name, file, err)
		}
		data, err := io.ReadAll(io.LimitReader(r, int64(f.UncompressedSize64)+1))
		r.Close()
		if err != nil {
			return nil, fmt.Errorf("%s of %s is damaged: %w", f.Name, file, err)
		}
		p.Files[f.Name] = data
	}
	return p, nil
}

// Check recomputes every hash, and the table of figures from the results.
func (p *Package) Check() (*Verdict, error) {
	v := &Verdict{NotThere: []string{}, Differ: []string{}, Notes: []string{}}
	sums, ok := p.Files[SumsFile]
	if !ok {
		return nil, errors.New("" + SumsFile + " is missing: this is not a package of swathe, or the file was removed")
	}
	listed := map[string]bool{}
	for i, line := range strings.Split(strings.TrimRight(string(sums), "\n"), "\n") {
		sum, name, ok := strings.Cut(line, "  ")
		if !ok {
			return nil, fmt.Errorf("%s:%d: this line should hold a hash and a name", SumsFile, i+1)
		}
		listed[name] = true
		data, there := p.Files[name]
		switch {
		case !there:
			v.Differ = append(v.Differ, name+" is missing")
		case hashOf(data) != sum:
			v.Differ = append(v.Differ, name+" was changed: its SHA-256 is not the one that "+SumsFile+" has")
		}
		v.Files++
	}
	for _, n := range p.Names() {
		if !listed[n] && n != SumsFile {
			v.Differ = append(v.Differ, n+" was added: "+SumsFile+" does not name it")
		}
	}
	return v, p.checkFigures(v)
}

// checkFigures reads run.json of every result and makes figures.csv of them
// again.
func (p *Package) checkFigures(v *Verdict) error {
	dir, err := os.MkdirTemp("", "swathe-verify-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	runs, err := p.runs(dir)
	if err != nil {
		return err
	}
	v.Runs = len(runs)
	v.Differ = append(v.Differ, tableDiffers("figures.csv", p.Files["figures.csv"], figuresCSV(runs))...)
	return p.checkBench(v, dir)
}

// checkBench makes the figures of the bench again from its readings, by the
// quantities of the package's own lab.yaml. dir is an empty folder beside results/.
func (p *Package) checkBench(v *Verdict, dir string) error {
	was, there := p.Files["bench_figures.csv"]
	if !there {
		return nil // no reading, or a package made before there was such a table
	}
	if err := p.unpack(dir, func(n string) bool { return n == lab.SetupFile || strings.HasPrefix(n, "robots/") }); err != nil {
		return err
	}
	l, err := lab.Open(dir)
	if err != nil {
		v.Notes = append(v.Notes, fmt.Sprintf("the figures of the bench were not calculated again: the lab.yaml of the package can't be used: %v", err))
		return nil
	}
	rs, err := bench.ReadCSV(l, "bench.csv", bytes.NewReader(p.Files["bench.csv"]))
	if err != nil {
		v.Differ = append(v.Differ, fmt.Sprintf("the readings are refused: %v", err))
		return nil
	}
	v.Differ = append(v.Differ, tableDiffers("bench_figures.csv", was, benchFiguresCSV(l, rs))...)
	return nil
}

// runs unpacks the results into dir and reads them.
func (p *Package) runs(dir string) ([]compare.Run, error) {
	if err := p.unpack(dir, func(n string) bool { return strings.HasPrefix(n, "results/") }); err != nil {
		return nil, err
	}
	ids, err := report.ResultIDs(filepath.Join(dir, "results"))
	if err != nil {
		return nil, err
	}
	runs, unread := report.Indexed(filepath.Join(dir, "results"), ids)
	if len(unread) > 0 {
		return nil, fmt.Errorf("%s can't be read: %w", unread[0].Run, unread[0].Err)
	}
	return runs, nil
}

func (p *Package) unpack(dir string, which func(string) bool) error {
	for _, n := range p.Names() {
		if !which(n) {
			continue
		}
		to := filepath.Join(dir, filepath.FromSlash(n))
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			return err
		}
		if err := os.WriteFile(to, p.Files[n], 0o644); err != nil {
			return err
		}
	}
	return nil
}

// tableDiffers lists the first rows in which two tables are not the same.
func tableDiffers(name string, was, is []byte) []string {
	if bytes.Equal(was, is) {
		return nil
	}
	a, err1 := csv.NewReader(bytes.NewReader(was)).ReadAll()
	b, err2 := csv.NewReader(bytes.NewReader(is)).ReadAll()
	if err1 != nil || err2 != nil || len(a) != len(b) {
		return []string{fmt.Sprintf("%s does not follow from the results: it has %d rows, the results give %d", name, len(a), len(b))}
	}
	var out []string
	const most = 5
	n := 0
	for i := range a {
		if !slices.Equal(a[i], b[i]) {
			if n++; n <= most {
				out = append(out, fmt.Sprintf("%s:%d: %s; the result gives %s", name, i+1, strings.Join(a[i], ","), strings.Join(b[i], ",")))
			}
		}
	}
	if n > most {
		out = append(out, fmt.Sprintf("%s: %d more rows differ", name, n-most))
	}
	return out
}

// Again lays out a lab in dir (made, empty) with the package's set-up and the
// recordings found under from (a lab's folder, or its recordings folder), so
// that it can be measured anew. A recording with another hash than the package
// has counts as not there.
func (p *Package) Again(v *Verdict, from, dir string) (runs []string, err error) {
	if err := p.unpack(dir, func(n string) bool { return !strings.HasPrefix(n, "results/") }); err != nil {
		return nil, err
	}
	rows, err := csv.NewReader(bytes.NewReader(p.Files["recordings.csv"])).ReadAll()
	if err != nil || len(rows) == 0 {
		return nil, errors.New("the package's recordings.csv can't be read")
	}
	for _, r := range rows[1:] {
		if len(r) != 4 || !filepath.IsLocal(filepath.FromSlash(r[1])) {
			return nil, errors.New("the package's recordings.csv is invalid")
		}
		found := ""
		for _, base := range []string{from, filepath.Dir(filepath.Clean(from))} {
			f := filepath.Join(base, filepath.FromSlash(r[1]))
			if h, err := track.HashFile(f); err == nil && h == r[3] {
				found = f
			} else if err == nil && found == "" {
				v.Differ = append(v.Differ, r[1]+" is another recording: its SHA-256 differs from that in the package")
			}
		}
		if found == "" {
			v.NotThere = append(v.NotThere, r[1])
			continue
		}
		abs, err := filepath.Abs(found)
		if err != nil {
			return nil, err
		}
		to := filepath.Join(dir, filepath.FromSlash(r[1]))
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			return nil, err
		}
		if err := os.Symlink(abs, to); err != nil {
			return nil, err
		}
		runs = append(runs, r[0])
	}
	return runs, nil
}

// Against holds what was measured anew in dir against the package's figures.
func (p *Package) Against(v *Verdict, dir string) error {
	old, err := os.MkdirTemp("", "swathe-verify-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(old)
	was, err := p.runs(old)
	if err != nil {
		return err
	}
	results := filepath.Join(dir, "results")
	ids, err := report.ResultIDs(results)
	if err != nil {
		return err
	}
	is, _ := report.Indexed(results, ids)
	for _, a := range was {
		i := slices.IndexFunc(is, func(b compare.Run) bool { return b.ID == a.ID })
		if i < 0 {
			continue
		}
		v.Measured++
		b := is[i]
		if a.Definition != b.Definition {
			v.Notes = append(v.Notes, fmt.Sprintf("%s was measured with version %s of the analysis, this program has version %s; figures may differ for that reason", a.ID, a.Definition, b.Definition))
		}
		if a.Setup != b.Setup {
			v.Notes = append(v.Notes, a.ID+": its set-up differs from lab.yaml, with which it was measured again")
		}
		for _, f := range compare.Figures {
			x, y := a.Value(f.Name), b.Value(f.Name)
			if !sameNumber(x, y) {
				v.Differ = append(v.Differ, fmt.Sprintf("%s: %s is %.6g in the package and %.6g measured again", a.ID, f.Name, x, y))
			}
		}
	}
	return nil
}

// sameNumber allows for the rounding of another processor and nothing more.
func sameNumber(a, b float64) bool {
	if math.IsNaN(a) || math.IsNaN(b) {
		return math.IsNaN(a) == math.IsNaN(b)
	}
	return math.Abs(a-b) <= 1e-9*math.Max(math.Abs(a), math.Abs(b))
}
