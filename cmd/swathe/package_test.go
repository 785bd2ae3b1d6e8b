package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"swathe/cmd/internal/packing"
)

// swatheOK runs a verb in this process and fails the test unless it ends with
// the code.
func swatheCode(t *testing.T, want int, args ...string) string {
	t.Helper()
	var out, errs strings.Builder
	if code := run(context.Background(), args, &out, &errs); code != want {
		t.Fatalf("swathe %s ended with %d, want %d\n%s%s", strings.Join(args, " "), code, want, &out, &errs)
	}
	return out.String() + errs.String()
}

func measuredLab(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS("testdata/lab")); err != nil {
		t.Fatal(err)
	}
	swatheCode(t, exitOK, "measure", dir)
	return dir
}

// A package says the same each time it is made, describes every column, and
// whatever is changed in it is found.
func TestPackage(t *testing.T) {
	dir := measuredLab(t)
	if got := swatheCode(t, exitWrong, "package", dir); !strings.Contains(got, "laboratory: {name: ..., licence: CC-BY-4.0}") {
		t.Errorf("without a publisher: %s", got)
	}
	f, err := os.OpenFile(filepath.Join(dir, "lab.yaml"), os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	_, err = f.WriteString("laboratory: {name: Reed Street Test Room, licence: CC-BY-4.0}\n")
	if err != nil || f.Close() != nil {
		t.Fatal(err)
	}
	swatheCode(t, exitOK, "bench", dir, "tern", "suction", "5", "kPa")
	zip := filepath.Join(dir, "reports", "package.zip")
	swatheCode(t, exitOK, "package", dir)
	first, err := os.ReadFile(zip)
	if err != nil {
		t.Fatal(err)
	}
	swatheCode(t, exitOK, "package", dir)
	if again, _ := os.ReadFile(zip); !bytes.Equal(first, again) {
		t.Error("made again it is another file")
	}
	if got := swatheCode(t, exitOK, "verify", zip); !strings.Contains(got, "No differences found.") {
		t.Errorf("verify: %s", got)
	}
	if got := swatheCode(t, exitOK, "verify", zip, "--recordings", dir); !strings.Contains(got, "2 measured again") {
		t.Errorf("measured again: %s", got)
	}
	p, err := packing.Read(zip)
	if err != nil {
		t.Fatal(err)
	}
	var sheet struct {
		Resources []struct {
			Path   string
			Schema *struct {
				Fields []struct{ Name, Description string }
			}
		}
	}
	if err := json.Unmarshal(p.Files["datapackage.json"], &sheet); err != nil {
		t.Fatal(err)
	}
	tables := 0
	for _, r := range sheet.Resources {
		isTable := strings.HasSuffix(r.Path, ".csv") && !strings.HasPrefix(r.Path, "recordings/")
		if isTable && r.Schema == nil {
			t.Errorf("%s has no description", r.Path)
		}
		if r.Schema == nil {
			continue
		}
		tables++
		for _, c := range r.Schema.Fields {
			if c.Description == "" {
				t.Errorf("%s: the column %s has no description", r.Path, c.Name)
			}
		}
	}
	if tables < 8 {
		t.Errorf("%d tables are described, want those of two runs and of the whole", tables)
	}
	for _, c := range []struct {
		name   string
		change func(*packing.Package)
		want   string
	}{
		{"a figure", func(p *packing.Package) {
			p.Files["figures.csv"] = bytes.Replace(p.Files["figures.csv"], []byte("covered_share,0."), []byte("covered_share,0.9"), 1)
		}, "figures.csv was changed"},
		{"a figure in the result", func(p *packing.Package) {
			n := "results/den/tern_mapped_1/run.json"
			p.Files[n] = bytes.Replace(p.Files[n], []byte(`"covered_share": 0.`), []byte(`"covered_share": 0.9`), 1)
		}, "the result gives"},
		{"a reading, with its hash made to fit", func(p *packing.Package) {
			p.Files["bench.csv"] = bytes.Replace(p.Files["bench.csv"], []byte(",5,kPa"), []byte(",6,kPa"), 1)
			p.Resum()
		}, "bench_figures.csv:2: tern,,,,,1,,suction,5,kPa,,; the result gives tern,,,,,1,,suction,6,kPa,,"},
		{"a file less", func(p *packing.Package) { delete(p.Files, "bench.csv") }, "bench.csv is missing"},
		{"a file more", func(p *packing.Package) { p.Files["more.txt"] = nil }, "more.txt was added"},
	} {
		q, err := packing.Read(zip)
		if err != nil {
			t.Fatal(err)
		}
		c.change(q)
		bad := filepath.Join(t.TempDir(), "bad.zip")
		var b bytes.Buffer
		if err := q.Write(&b); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(bad, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		if got := swatheCode(t, exitFailed, "verify", bad); !strings.Contains(got, c.want) {
			t.Errorf("%s: %s, want %q", c.name, got, c.want)
		}
	}
	// Another recording under the name of the first is told, not measured as it.
	rec := filepath.Join(dir, "recordings", "den", "tern_mapped_1.csv")
	data, err := os.ReadFile(rec)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(rec, append(data, '\n'), 0o644); err != nil {
		t.Fatal(err)
	}
	if got := swatheCode(t, exitFailed, "verify", zip, "--recordings", filepath.Join(dir, "recordings")); !strings.Contains(got, "is another recording") || !strings.Contains(got, "1 measured again") {
		t.Errorf("another recording: %s", got)
	}
}

// A dossier of a lab with one robot says what it cannot: no rank, no average,
// nothing planned; and it is not called final while something is missing.
func TestDossier(t *testing.T) {
	dir := measuredLab(t)
	if got := swatheCode(t, exitWrong, "dossier", dir, "turn"); !strings.Contains(got, `Did you mean "tern"?`) {
		t.Errorf("another robot: %s", got)
	}
	swatheCode(t, exitOK, "dossier", dir, "tern")
	page, err := os.ReadFile(filepath.Join(dir, "reports", "dossiers", "tern", "index.html"))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"no other robot", "no rank", "claim conformity with no standard", "The lab has no plan", "Missing for a final report", "the date of issue: write laboratory: {issued: ...}"} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	for _, bad := range []string{"NaN", "Inf", "http://", "https://", "<script"} {
		if strings.Contains(regexp.MustCompile(`data:image/png;base64,[^"]*`).ReplaceAllString(string(page), ""), bad) {
			t.Errorf("the page holds %q", bad)
		}
	}
	text, err := os.ReadFile(filepath.Join(dir, "reports", "dossiers", "tern", "dossier.md"))
	if err != nil || !strings.Contains(string(text), "![Plan of the room den") {
		t.Errorf("the text for an editor: %v", err)
	}
	got := swatheCode(t, exitWrong, "dossier", dir, "tern", "--final")
	for _, want := range []string{"name of the laboratory: write laboratory: {name: ...} in lab.yaml", "operator of den/tern_mapped_1, den/tern_mapping_1"} {
		if !strings.Contains(got, want) {
			t.Errorf("--final: %s, want %q", got, want)
		}
	}
}

// The made-up laboratory is one by the program's own rules: its set-up opens,
// its plan is kept but for what is meant, its readings are taken.
func TestTrialDemo(t *testing.T) {
	if os.Getenv("SWATHE_LONG") == "" {
		t.Skip("measuring a whole laboratory takes half a minute of two cores; SWATHE_LONG=1 runs it")
	}
	dir := filepath.Join(t.TempDir(), "lab")
	swatheCode(t, exitOK, "demo", dir, "--trial")
	got := swatheCode(t, exitOK, "plan", dir)
	for _, want := range []string{"1 due, 1 deviating, 40 done", "mode is quiet; the plan requires standard", "studio/dittany_single_3.csv", "Not in the plan: parlour/alder_mapped_4"} {
		if !strings.Contains(got, want) {
			t.Errorf("plan: %s, want %q", got, want)
		}
	}
	swatheCode(t, exitOK, "verify", filepath.Join(dir, "reports", "package.zip"), "--recordings", dir)
	for robot, want := range map[string][]string{
		"alder":   {"firmware 1.5", "9 of 9", "Changes between firmware versions", "Complete, by the path and by the tester: 15 of 15 runs"},
		"bryony":  {"Not in these tables: bryony mapped (mode quiet)", "mode is quiet; the plan requires standard"},
		"cicely":  {"Failures: 1 of 12 runs", "trapped: it stopped away from its dock", "≥ 44.2 %"},
		"dittany": {"studio/dittany_single_1 recharged: it returned to the dock twice", "studio/dittany_single_3: planned, not yet recorded"},
	} {
		text, err := os.ReadFile(filepath.Join(dir, "reports", "dossiers", robot, "dossier.md"))
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range want {
			if !strings.Contains(string(text), w) {
				t.Errorf("the dossier of %s lacks %q", robot, w)
			}
		}
	}
}
