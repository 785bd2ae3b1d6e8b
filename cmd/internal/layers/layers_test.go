// Package layers holds the test that keeps the packages' arrows pointing one
// way.
package layers

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const (
	root   = "../../.."
	module = "swathe/"
)

// arrows says which of the project's folders each may import: the folder itself
// or what lies below. The longest match counts.
var arrows = map[string][]string{
	"geom":           {"geom"},
	"coverage":       {"coverage", "geom"},
	"track":          {"track", "geom"},
	"track/scene":    {"track/scene", "geom"},
	"track/sight":    {"track/sight", "track/decide", "track/snapshot", "track/paint", "geom"},
	"track/decide":   {},
	"track/snapshot": {},
	"track/paint":    {"geom"},
	"track/cv":       {"track", "geom"},
	"report":         {"report", "coverage", "track", "geom"},
	"cmd":            {"cmd", "report", "coverage", "track", "geom"},
	"report/figure":  {"report/figure", "report/language", "report/words", "coverage", "track", "geom"},
	"report/sheet":   {"report/sheet", "report/figure", "report/words"},
	"report/words":   {},
	// Texts are put into another language where they are shown, by no other means.
	"report/language": {"report/words"},
}

// whyArrows is told when an arrow runs the wrong way.
const whyArrows = "cmd imports everything; report imports coverage, track's pure types and geom; track and coverage import geom and never each other, so that a saved path can be analysed with no video"

// guarded modules may be imported from these folders only.
var guarded = []struct {
	module  string
	only    []string
	tests   bool // whether any test may import it as well
	because string
}{
	{"gocv.io/x/gocv", []string{"track/cv"}, false, "OpenCV is linked by one leaf package, so that the rest builds and is tested without C"},
	{"gonum.org/v1/plot", []string{"report/figure"}, false, "pictures are drawn in one place"},
	{"codeberg.org/go-pdf/fpdf", []string{"report/figure"}, false, "pictures are drawn in one place"},
	{"github.com/paulmach/orb", []string{"geom"}, true, "orb's traps (points on edges, empty polygons, lon/lat) stay behind geom, which checks on entry"},
	{"github.com/goccy/go-yaml", []string{"cmd"}, true, "files that users write are read by cmd/internal/lab, which tells file and line"},
	{"gocloud.dev", []string{"cmd/swathe-store"}, false, "it would take most of the time that swathe may take to start; swathe-store is started when a store is named"},
	{"github.com/aws", []string{"cmd/swathe-store"}, false, "it would take most of the time that swathe may take to start; swathe-store is started when a store is named"},
	{"github.com/johannesboyne/gofakes3", nil, true, "it stands in for an object store in tests"},
	{"github.com/riverqueue/river", []string{"cmd/internal/queue"}, false, "the queue's workings stay in one place"},
	{"github.com/jackc/pgx/v5", []string{"cmd/internal/queue"}, false, "the queue alone speaks to PostgreSQL"},
	{"github.com/schollz/progressbar/v3", []string{"cmd"}, false, "printing is the commands' work"},
	{"modernc.org/sqlite", []string{"cmd/internal/bench", "cmd/internal/queue"}, false, "the bench and the queue are kept in it; everything else is folders and CSV"},
	{"gonum.org/v1/gonum/unit", []string{"cmd/internal/units"}, false, "units are known in one place"},
	{"github.com/go-json-experiment", []string{"report"}, false, "results are written and read by one set of rules, those of report/json.go"},
	{"github.com/spf13/pflag", []string{"cmd"}, false, "options of the command line are the commands' work"},
	{"github.com/gomarkdown/markdown", []string{"report/docs"}, false, "the pages of help are read in one place"},
	{"swathe/track/scene/scenetest", nil, true, "it is for tests"},
	{"swathe/track/cv/oracle", nil, true, "it is for tests"},
	{"swathe/cmd/internal/labtest", nil, true, "it is for tests"},
	{"github.com/peterstace/simplefeatures", nil, true, "it is the outside oracle of the tests; the program must not lean on it"},
	{"pgregory.net/rapid", nil, true, "it is for tests"},
	{"github.com/parquet-go/parquet-go", []string{"cmd/swathe-parquet"}, true, "linked into the program it would cost every start ten milliseconds; swathe-parquet is started when such a file is asked for"},
	{"github.com/google/go-cmp", nil, true, "it is for tests"},
	{"github.com/chromedp", nil, true, "it is for tests"},
	{"github.com/lucasb-eyer/go-colorful", nil, true, "it is for tests"},
	{"github.com/rogpeppe/go-internal", nil, true, "it is for tests"},
}

// trackForReport are track's pure types; report must not reach for the eye, the
// pixels or the drawn scenes.
var trackForReport = []string{"track"}

// within tells whether folder is top or lies below it.
func within(folder, top string) bool { return folder == top || strings.HasPrefix(folder, top+"/") }

// judge returns what is wrong with a file of folder that imports path, or "".
func judge(folder, path string, test bool) string {
	for _, g := range guarded {
		if path != g.module && !strings.HasPrefix(path, g.module+"/") {
			continue
		}
		if test && g.tests || slices.ContainsFunc(g.only, func(o string) bool { return within(folder, o) }) {
			return ""
		}
		return g.because
	}
	target, ours := strings.CutPrefix(path, module)
	if !ours {
		return ""
	}
	best := ""
	for from := range arrows {
		if within(folder, from) && len(from) > len(best) {
			best = from
		}
	}
	// A test may hold a package against scenes with known truth, and against
	// what stands on the same level; it is no part of the program.
	if test && !strings.HasPrefix(target, "cmd") && !(within(folder, "coverage") && within(target, "track")) && !(within(folder, "track") && within(target, "coverage")) {
		return ""
	}
	if within(folder, "report") && within(target, "track") && !slices.Contains(trackForReport, target) {
		return whyArrows
	}
	if slices.ContainsFunc(arrows[best], func(to string) bool { return within(target, to) }) {
		return ""
	}
	return whyArrows
}

func TestArrows(t *testing.T) {
	files := 0
	fset := token.NewFileSet()
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name := d.Name()
		if d.IsDir() {
			if name == "testdata" || path != root && strings.HasPrefix(name, ".") {
				return filepath.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(name, ".go") {
			return nil
		}
		files++
		rel, err := filepath.Rel(root, filepath.Dir(path))
		if err != nil {
			return err
		}
		// Build tags are not looked at: a file for OpenCV counts like any other.
		f, err := parser.ParseFile(fset, path, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, i := range f.Imports {
			target, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				return err
			}
			if why := judge(filepath.ToSlash(rel), target, strings.HasSuffix(name, "_test.go")); why != "" {
				t.Errorf("%s imports %s: %s", fset.Position(i.Pos()), target, why)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if files < 20 {
		t.Errorf("only %d files were read; is %s the project's folder?", files, root)
	}
}

// The rules themselves: what must be let through and what must not.
func TestJudge(t *testing.T) {
	for _, c := range []struct {
		folder, path string
		test, ok     bool
	}{
		{"cmd/swathe", "swathe/report", false, true},
		{"report", "swathe/coverage", false, true},
		{"report", "swathe/track", false, true},
		{"report", "swathe/track/cv", false, false},
		{"report", "swathe/cmd/internal/lab", false, false},
		{"report", "swathe/cmd/internal/lab", true, false},
		{"track", "swathe/geom", false, true},
		{"track", "swathe/coverage", false, false},
		{"track", "swathe/coverage", true, false},
		{"coverage", "swathe/track", false, false},
		{"coverage", "swathe/track/scene", true, false},
		{"coverage", "swathe/geom", false, true},
		{"geom", "swathe/coverage", false, false},
		{"track/scene", "swathe/track", false, false},
		{"track/cv", "gocv.io/x/gocv", false, true},
		{"cmd/swathe-eye", "gocv.io/x/gocv", false, false},
		{"report", "gonum.org/v1/plot/vg", false, false},
		{"report/figure", "gonum.org/v1/plot/vg", false, true},
		{"coverage", "github.com/paulmach/orb", false, false},
		{"geom", "github.com/paulmach/orb/planar", false, true},
		{"geom", "github.com/peterstace/simplefeatures/geom", false, false},
		{"geom", "github.com/peterstace/simplefeatures/geom", true, true},
		{"geom", "fmt", false, true},
	} {
		if why := judge(c.folder, c.path, c.test); (why == "") != c.ok {
			t.Errorf("%s importing %s (test %v): judged %q", c.folder, c.path, c.test, why)
		}
	}
}

// What may stand at the top of the repository, beside names with a dot before.
var top = []string{"cmd", "track", "coverage", "geom", "report", "testdata", "go.mod", "go.sum", "README.md", "DEVELOPERS.md"}

func TestTopLevel(t *testing.T) {
	ignored, err := os.ReadFile(filepath.Join(root, ".gitignore"))
	if err != nil {
		t.Fatal(err)
	}
	entries, err := os.ReadDir(root)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".") || slices.Contains(top, e.Name()) || matches(string(ignored), e) {
			continue
		}
		t.Errorf("%s stands at the top of the repository; put it into one of %s", e.Name(), strings.Join(top[:6], ", "))
	}
}

// matches tells whether a line of .gitignore names the entry: such things are
// made by the programs and not tracked.
func matches(ignore string, e fs.DirEntry) bool {
	for _, line := range strings.Split(ignore, "\n") {
		p := strings.TrimSpace(line)
		if strings.HasSuffix(p, "/") && !e.IsDir() {
			continue
		}
		p = strings.Trim(p, "/")
		if ok, err := filepath.Match(p, e.Name()); p != "" && err == nil && ok {
			return true
		}
	}
	return false
}
