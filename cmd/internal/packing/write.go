// Package packing makes of a lab one zip that a reader can check without it:
// every figure with its trace and set-up, the plan, the conditions, the bench,
// the definitions with every threshold, the versions, a data sheet of all
// columns, licence and citation, and SHA-256 of every file. Recordings are in it
// by their hash. Verify recomputes what can be recomputed.
package packing

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"swathe/cmd/internal/bench"
	"swathe/cmd/internal/lab"
	"swathe/coverage/compare"
	"swathe/report"
	"swathe/report/docs"
)

// SumsFile lists the SHA-256 of every other file, in the form that sha256sum -c
// reads.
const SumsFile = "SHA256SUMS"

// resultFiles are what the package takes of a result.
var resultFiles = []string{report.RunFile, "trace.csv", "curve.csv", "events.csv", "missed.geojson", report.SetupFile, lab.MadeName}

// Package is a package before it is written: its files by name.
type Package struct {
	Files map[string][]byte
	Title string
	Runs  int
}

// New gathers the package of a lab; versions are those of the programs.
func New(l *lab.Lab, versions map[string]string) (*Package, error) {
	if l.Laboratory["name"] == "" || l.Laboratory["licence"] == "" {
		return nil, fmt.Errorf("%s does not name the publisher and the licence. Write laboratory: {name: ..., licence: CC-BY-4.0}", lab.SetupFile)
	}
	ids, err := report.RequireResults(l.ResultsDir())
	if err != nil {
		return nil, err
	}
	runs, unread := report.Indexed(l.ResultsDir(), ids)
	if len(unread) > 0 {
		return nil, fmt.Errorf("%s can't be read: %w", unread[0].Run, unread[0].Err)
	}
	p := &Package{Files: map[string][]byte{}, Title: "Coverage of robot floor cleaners, measured by " + l.Laboratory["name"], Runs: len(runs)}
	if err := p.copies(l, ids); err != nil {
		return nil, err
	}
	if err := p.recordings(l); err != nil {
		return nil, err
	}
	p.Files["figures.csv"] = figuresCSV(runs)
	p.Files["conditions.csv"] = conditionsCSV(l, runs)
	if t := residueCSV(l, ids); t != nil {
		p.Files["residue.csv"] = t
	}
	readings, err := bench.Load(l, "")
	if err != nil {
		return nil, err
	}
	if len(readings) > 0 {
		var b bytes.Buffer
		if err := bench.WriteCSV(&b, readings); err != nil {
			return nil, err
		}
		p.Files["bench.csv"] = b.Bytes()
		p.Files["bench_figures.csv"] = benchFiguresCSV(l, readings)
	}
	if p.Files["definitions.md"], err = p.definitions(l); err != nil {
		return nil, err
	}
	if p.Files["versions.json"], err = json.MarshalIndent(versions, "", "  "); err != nil {
		return nil, err
	}
	issued := l.Laboratory["issued"]
	newest := ""
	for _, r := range runs {
		if t, _, err := lab.ParseDate(r.Conditions[lab.CondDate]); err == nil {
			newest = max(newest, t.Format("2006-01-02"))
		}
	}
	if issued != "" {
		newest = issued
	}
	p.Files["CITATION.cff"] = citation(l, p.Title, newest)
	p.Files["LICENCE.txt"] = fmt.Appendf(nil, "%s\n\nThe data in this package are published by %s under %s.\nRecordings are not part of it.\n", p.Title, l.Laboratory["name"], l.Laboratory["licence"])
	p.Files["README.md"] = readme(l, p, len(readings))
	if p.Files["datapackage.json"], err = p.dataSheet(l); err != nil {
		return nil, err
	}
	p.Resum()
	return p, nil
}

// copies takes over what stands in the lab's folder.
func (p *Package) copies(l *lab.Lab, ids []string) error {
	take := func(rel string, must bool) error {
		data, err := os.ReadFile(filepath.Join(l.Dir, filepath.FromSlash(rel)))
		if errors.Is(err, fs.ErrNotExist) && !must {
			return nil
		} else if err != nil {
			return fmt.Errorf("%s can't be read: %w", rel, err)
		}
		p.Files[rel] = data
		return nil
	}
	for _, f := range []string{lab.SetupFile, lab.PlanFile, lab.DaysFile} {
		if err := take(f, f == lab.SetupFile); err != nil {
			return err
		}
	}
	for _, pattern := range []string{"robots/*.y*ml", "recordings/*/" + lab.RunSheet, "recordings/*/*.y*ml"} {
		found, err := filepath.Glob(filepath.Join(l.Dir, filepath.FromSlash(pattern)))
		if err != nil {
			return err
		}
		for _, f := range found {
			if err := take(l.Rel(f), true); err != nil {
				return err
			}
		}
	}
	for _, id := range ids {
		for _, f := range resultFiles {
			if err := take("results/"+id+"/"+f, f == report.RunFile); err != nil {
				return err
			}
		}
	}
	return nil
}

// recordings lists the recordings by their hash.
func (p *Package) recordings(l *lab.Lab) error {
	runs, _, err := l.Recordings()
	if err != nil {
		return err
	}
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write(names(tables["recordings.csv"]))
	for _, r := range runs {
		hashes, err := l.Hashes(r)
		if err != nil {
			return err
		}
		for i, f := range r.Files {
			st, err := os.Stat(f)
			if err != nil {
				return err
			}
			_ = w.Write([]string{r.ID(), l.Rel(f), strconv.FormatInt(st.Size(), 10), hashes[i]})
		}
	}
	w.Flush()
	p.Files["recordings.csv"] = b.Bytes()
	return w.Error()
}

func names(cs []column) []string {
	var out []string
	for _, c := range cs {
		out = append(out, c.name)
	}
	return out
}

// figuresCSV writes a row for each figure of each run.
func figuresCSV(runs []compare.Run) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write(names(tables["figures.csv"]))
	num := func(v float64, ok bool) string {
		if !ok || v != v {
			return ""
		}
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	for _, r := range runs {
		for _, f := range compare.Figures {
			v, okV := r.Values[f.Name]
			u, okU := r.U[f.Name]
			iv, okI := r.Interval[f.Name]
			_ = w.Write([]string{r.ID, r.Layout, r.Robot, r.Phase, strconv.Itoa(r.Trial), r.Started, r.Ended, f.Name, num(v, okV), string(f.Unit), num(u, okU), num(iv.Lo, okI), num(iv.Hi, okI)})
		}
	}
	w.Flush() // into memory: it can't fail
	return b.Bytes()
}

// benchFiguresCSV writes what follows from the readings, trial by trial: sums over
// passes, shares, limits.
func benchFiguresCSV(l *lab.Lab, rs []bench.Reading) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write(names(tables["bench_figures.csv"]))
	num := func(v float64) string {
		if v != v {
			return ""
		}
		return strconv.FormatFloat(v, 'g', 9, 64)
	}
	for _, v := range bench.Values(bench.Quantities(l), rs) {
		_ = w.Write([]string{v.Robot, v.Sample, v.Firmware, v.Layout, v.Phase, strconv.Itoa(v.Trial), v.Surface, v.Quantity, num(v.Of.Unit.FromSI(v.SI)), v.Of.Unit.Name, num(v.U / v.Of.Unit.Factor), v.Reason})
	}
	w.Flush()
	return b.Bytes()
}

func conditionsCSV(l *lab.Lab, runs []compare.Run) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write(names(tables["conditions.csv"]))
	for _, r := range runs {
		var keys []string
		for k := range r.Conditions {
			keys = append(keys, k)
		}
		slices.Sort(keys)
		for _, k := range keys {
			_ = w.Write([]string{r.ID, k, r.Conditions[k], l.ConditionUnit(k)})
		}
	}
	w.Flush()
	return b.Bytes()
}

// definitions says what each figure means and every threshold that it rests on.
func (p *Package) definitions(l *lab.Lab) ([]byte, error) {
	var b strings.Builder
	b.WriteString("# Definitions\n\n## Figures\n\n| name | meaning | unit |\n| --- | --- | --- |\n")
	for _, f := range compare.Figures {
		fmt.Fprintf(&b, "| %s | %s | %s |\n", f.Name, f.Words, f.Unit)
	}
	b.WriteString("\n## Quantities of the bench\n\n| name | meaning | unit | calculated from |\n| --- | --- | --- | --- |\n")
	for _, q := range bench.Quantities(l) {
		fmt.Fprintf(&b, "| %s | %s | %s | %s |\n", q.Name, q.Words, q.Unit.Name, q.Follows)
	}
	b.WriteString("\n## Thresholds\n\nAs set in this lab today; the values that each run was measured with are in its setup.yaml.\n\n| name | value | unit | what it does |\n| --- | --- | --- | --- |\n")
	for _, s := range lab.SettingList {
		fmt.Fprintf(&b, "| %s | %s | %s | %s |\n", s.Name, s.Spell(&l.Settings), s.Unit, s.Doc)
	}
	for _, t := range docs.Topics() {
		if t.Name == "figures" || t.Name == "comparing" || t.Name == "residue" && p.Files["residue.csv"] != nil {
			raw, err := docs.Raw(t.Name)
			if err != nil {
				return nil, err
			}
			b.WriteString("\n---\n\n" + raw)
		}
	}
	return []byte(b.String()), nil
}

// citation is in the Citation File Format, version 1.2.0.
func citation(l *lab.Lab, title, date string) []byte {
	var b strings.Builder
	quote := func(s string) string { return strconv.Quote(s) }
	fmt.Fprintf(&b, "cff-version: 1.2.0\nmessage: If you use these data, please cite them as below.\ntype: dataset\ntitle: %s\nauthors:\n  - name: %s\n", quote(title), quote(l.Laboratory["name"]))
	if a := l.Laboratory["address"]; a != "" {
		fmt.Fprintf(&b, "    address: %s\n", quote(a))
	}
	if date != "" {
		fmt.Fprintf(&b, "date-released: %s\n", date)
	}
	fmt.Fprintf(&b, "license: %s\n", quote(l.Laboratory["licence"]))
	return []byte(b.String())
}

func readme(l *lab.Lab, p *Package, readings int) []byte {
	return fmt.Appendf(nil, `# %s

%d runs and %d readings of the bench.

- figures.csv: every figure of every run with its uncertainty; conditions.csv: the circumstances
- bench.csv: readings of the bench; bench_figures.csv: what follows from them, trial by trial
- residue.csv: what was left on the patches after each crossing, if there are patches
- results/: each run with its path, events and the set-up of its day
- definitions.md: what each figure means, and every threshold
- datapackage.json: every column of every table
- recordings.csv: the recordings by name and SHA-256; they are not part of the package
- SHA256SUMS: check with: sha256sum -c SHA256SUMS

Check it all with swathe verify FILE.zip. If you have the recordings, measure them
again with swathe verify FILE.zip --recordings FOLDER

The figures compare robots tested alike in the same rooms. They claim conformity with
no standard.
`, p.Title, p.Runs, readings)
}

// Resum makes the list of hashes fit the files as they are.
func (p *Package) Resum() { p.Files[SumsFile] = p.sums() }

// sums lists the hash of every file but itself.
func (p *Package) sums() []byte {
	var b bytes.Buffer
	for _, n := range p.Names() {
		if n != SumsFile {
			fmt.Fprintf(&b, "%s  %s\n", hashOf(p.Files[n]), n)
		}
	}
	return b.Bytes()
}

func hashOf(data []byte) string {
	h := sha256.Sum256(data)
	return hex.EncodeToString(h[:])
}

// Names lists the files in order.
func (p *Package) Names() []string {
	var out []string
	for n := range p.Files {
		out = append(out, n)
	}
	slices.Sort(out)
	return out
}

// Write writes the zip. The same content gives the same bytes: no time of day is
// in it.
func (p *Package) Write(w io.Writer) error {
	z := zip.NewWriter(w)
	for _, n := range p.Names() {
		f, err := z.CreateHeader(&zip.FileHeader{Name: n, Method: zip.Deflate})
		if err != nil {
			return err
		}
		if _, err := f.Write(p.Files[n]); err != nil {
			return err
		}
	}
	return z.Close()
}

// field is a column in the data sheet (Frictionless Table Schema).
type field struct {
	Name        string `json:"name"`
	Type        string `json:"type"`
	Unit        string `json:"unit,omitempty"`
	Description string `json:"description"`
}

type tableSchema struct {
	Fields        []field  `json:"fields"`
	MissingValues []string `json:"missingValues"`
}

type resource struct {
	Name   string       `json:"name"`
	Path   string       `json:"path"`
	Format string       `json:"format"`
	Bytes  int          `json:"bytes"`
	Hash   string       `json:"hash"`
	Schema *tableSchema `json:"schema,omitempty"`
}

// dataSheet describes every file, and every column of every table, as a
// Frictionless Data Package.
func (p *Package) dataSheet(l *lab.Lab) ([]byte, error) {
	doc := struct {
		Profile   string              `json:"profile"`
		Name      string              `json:"name"`
		Title     string              `json:"title"`
		Licenses  []map[string]string `json:"licenses"`
		Sources   []map[string]string `json:"contributors"`
		Resources []resource          `json:"resources"`
	}{Profile: "data-package", Name: "swathe-package", Title: p.Title,
		Licenses: []map[string]string{{"name": l.Laboratory["licence"]}}, Sources: []map[string]string{{"title": l.Laboratory["name"], "role": "publisher"}}}
	for _, n := range p.Names() {
		ext := strings.TrimPrefix(path.Ext(n), ".")
		r := resource{Name: resourceName(n), Path: n, Format: ext, Bytes: len(p.Files[n]), Hash: "sha256:" + hashOf(p.Files[n])}
		if cs, ok := tables[path.Base(n)]; ok && ext == "csv" {
			s, err := schemaOf(n, p.Files[n], cs)
			if err != nil {
				return nil, err
			}
			r.Schema = s
		}
		doc.Resources = append(doc.Resources, r)
	}
	return json.MarshalIndent(doc, "", "  ")
}

// schemaOf describes the columns that a table really has, in its order.
func schemaOf(name string, data []byte, cs []column) (*tableSchema, error) {
	head, err := csv.NewReader(bytes.NewReader(data)).Read()
	if err != nil {
		return nil, fmt.Errorf("%s has no header row: %w", name, err)
	}
	s := &tableSchema{MissingValues: []string{""}}
	for _, h := range head {
		f := field{Name: h, Type: text, Description: ""}
		if i := slices.IndexFunc(cs, func(c column) bool { return c.name == h }); i >= 0 {
			f = field{h, cs[i].kind, cs[i].unit, cs[i].means}
		}
		s.Fields = append(s.Fields, f)
	}
	return s, nil
}

// resourceName is a path as the data sheet wants names: lower case, no slashes.
func resourceName(p string) string {
	return strings.Map(func(c rune) rune {
		if c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '.' || c == '-' || c == '_' {
			return c
		}
		return '-'
	}, strings.ToLower(p))
}
