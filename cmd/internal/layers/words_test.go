package layers

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// deny lists words that users are not to read, each with what to write. One
// thing has one name, and sentences are plain.
var deny = []struct {
	word   *regexp.Regexp
	better string
}{
	{regexp.MustCompile(`(?i)\bwithin reach\b|\b(it|robot|tool|each|runs?|them) (can|could) reach\b`), "reachable floor"},
	{regexp.MustCompile(`(?i)\bprops?\b|\bsmall things?\b`), "test object"},
	{regexp.MustCompile(`(?i)\bstall(s|ed)?\b`), "pause"},
	{regexp.MustCompile(`(?i)\bran into\b`), "contact, met"},
	{regexp.MustCompile(`\bkeep_out\b`), "off_limits"},
	{regexp.MustCompile(`(?i)\bsecond coat\b`), "second layer"},
	{regexp.MustCompile(`(?i)\bround obstacles\b`), "around obstacles"},
	{regexp.MustCompile(`(?i)\bway through cleaned floor\b`), "transit over cleaned floor"},
	{regexp.MustCompile(`(?i)\bhesitation\b`), "turning, standing, reversing"},
	{regexp.MustCompile(`(?i)\bthe eye\b|(^|[^-\w])eye (is|was|said|stopped|sent)\b`), "swathe-eye"},
	{regexp.MustCompile(`(?i)\bsightings?\b`), "detection"},
	{regexp.MustCompile(`(?i)\bat hand\b`), "found, available"},
	{regexp.MustCompile(`(?i)\b(come|came) near\b`), "approached"},
	{regexp.MustCompile(`(?i)\bmakes? no sense\b`), "invalid"},
	{regexp.MustCompile(`(?i)\bcan't be had\b`), "could not be read"},
	{regexp.MustCompile(`(?i)\bsought\b`), "analysed"},
	{regexp.MustCompile(`(?i)\bnot told\b|\btold once\b`), "unknown"},
	{regexp.MustCompile(`(?i)\bthings? happened\b`), "events"},
	{regexp.MustCompile(`(?i)\bcame to (its|their) floor\b`), "coverage over time"},
	{regexp.MustCompile(`(?i)\bstood still for good\b`), "stopped and did not move again"},
	{regexp.MustCompile(`(?i)\bput right\b`), "corrected"},
	{regexp.MustCompile(`(?i)\bmend(ed|s)?\b`), "fix"},
	{regexp.MustCompile(`(?i)\btake out\b|\btaken out\b`), "remove"},
	{regexp.MustCompile(`(?i)\bthat is it\b|\bleave it\b|\bwords on it\b|^besides$`), "Save, Cancel, Labels, Also write"},
	{regexp.MustCompile(`(?i)\bwhat became of\b`), "outcome"},
	{regexp.MustCompile(`(?i)\bruns? scatter by\b`), "standard deviation between runs"},
	{regexp.MustCompile(`(?i)\bstands? against\b`), "problems found"},
	{regexp.MustCompile(`(?i)\balmost nothing new\b`), "time to 99 % of final coverage"},
	{regexp.MustCompile(`(?i)\btold\b`), "reported, listed, distinguished"},
	{regexp.MustCompile(`(?i)\banew\b`), "again"},
	{regexp.MustCompile(`(?i)\bnought\b`), "zero"},
	{regexp.MustCompile(`(?i)\b(whoever|nobody|likewise|beforehand|thereby|meanwhile)\b`), "a plainer word"},
	{regexp.MustCompile(`(?i)\bhalf[- ]written\b`), "incomplete"},
	{regexp.MustCompile(`(?i)\bworked out\b`), "calculated"},
	{regexp.MustCompile(`(?i)\bwithout a word\b|\ball the same\b|\bsays? so\b`), "a plainer sentence"},
	{regexp.MustCompile(`(?i)\bin no mean\b`), "not averaged"},
	{regexp.MustCompile(`(?i)\bstands? (there )?twice\b|\bstands? in line\b`), "appears twice, is already in line"},
	{regexp.MustCompile(`(?i)\ba tab stands\b|\btakes? (the|a|this|that) (row|column|key) out\b|\btakes? it out\b`), "is indented with a tab; remove"},
	{regexp.MustCompile(`(?i)\b(put|puts) in (anew|what|every|these|the rest)\b`), "add"},
	{regexp.MustCompile(`(?i)\bround (the|a|an|its|their|it)\b`), "around"},
	{regexp.MustCompile(`(?i)\bwants\b`), "requires, needs"},
	{regexp.MustCompile(`(?i)\b(look|looks|were|was) exchanged\b`), "swapped"},
	{regexp.MustCompile(`(?i)\bshows? (at (pixel|grey)|with a radius|as small|as less|whole)\b`), "appears, is"},
	{regexp.MustCompile(`(?i)\b(mark|marks|draws|marker on top) (hardly )?settles?\b|\bsettles? (a|the) (camera|floor)\b`), "determine, solve, give"},
	{regexp.MustCompile(`(?i)\bheld (against|near|to)\b|\btaken as (given|0)\b|\btaken off the\b`), "compared with, kept near, set to, subtracted"},
	{regexp.MustCompile(`(?i)\blaid (on|over) each other\b|\blay (one )?over (the|each) other\b`), "overlaid, aligned"},
	{regexp.MustCompile(`(?i)\blooked (into|through)\b`), "searched"},
	{regexp.MustCompile(`(?i)\bout of (its )?reach\b`), "not reachable"},
	{regexp.MustCompile(`(?i)\bput back\b|\btook up again\b|\btaken up again\b`), "restored"},
	{regexp.MustCompile(`(?i)\bthe driven\b|\bas it ran\b|\bgot (so far|there)\b`), "reached it"},
	{regexp.MustCompile(`(?i)\bat the (least|most)\b`), "at least, at most"},
	{regexp.MustCompile(`(?i)\btakes? part\b|\bits say\b`), "included"},
	{regexp.MustCompile(`(?i)\bfigures that matter\b|\bwhat it is made of\b`), "main figures, causes"},
	{regexp.MustCompile(`(?i)\bof a call of\b|\bin a call of\b`), "in a separate call"},
}

// isNo finds "is no number"; "there is no number" is plain.
var isNo = regexp.MustCompile(`(?i)(\w*)[ "]*\b(is|are) no (\w+)`)

// judgeWords returns what is wrong with a text, or "".
func judgeWords(s string) string {
	for _, d := range deny {
		if m := d.word.FindString(s); m != "" {
			return strconv.Quote(m) + ": write " + d.better
		}
	}
	for _, m := range isNo.FindAllStringSubmatch(s, -1) {
		if strings.EqualFold(m[1], "there") || m[3] == "longer" || m[3] == "more" {
			continue
		}
		return strconv.Quote(m[0]) + ": write is not a"
	}
	return ""
}

var (
	jsString = regexp.MustCompile("'(?:[^'\\\\\n]|\\\\.)*'|\"(?:[^\"\\\\\n]|\\\\.)*\"|`(?:[^`\\\\]|\\\\.)*`")
	htmlText = regexp.MustCompile(`>[^<]+<|(?:alt|aria-label|placeholder|title)="[^"]*"`)
	template = regexp.MustCompile(`\{\{.*?\}\}`)
)

// texts returns what a user may read of a file, each with its line.
func texts(t *testing.T, path string) map[int][]string {
	t.Helper()
	out := map[int][]string{}
	add := func(line int, s string) { out[line] = append(out[line], s) }
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	lineOf := func(off int) int { return 1 + strings.Count(string(raw[:off]), "\n") }
	switch filepath.Ext(path) {
	case ".go":
		fset := token.NewFileSet()
		f, err := parser.ParseFile(fset, path, raw, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			switch v := n.(type) {
			case *ast.ImportSpec:
				return false
			case *ast.CallExpr:
				// What a program asks of itself is not read by users.
				if s, ok := v.Fun.(*ast.SelectorExpr); ok && (s.Sel.Name == "MustCompile" || s.Sel.Name == "Panic") {
					return false
				}
			case *ast.BasicLit:
				// A key of a file, one word, is judged as the others: keep_out.
				if v.Kind == token.STRING {
					if s, err := strconv.Unquote(v.Value); err == nil {
						add(fset.Position(v.Pos()).Line, s)
					}
				}
			}
			return true
		})
	case ".js":
		for _, m := range jsString.FindAllIndex(raw, -1) {
			add(lineOf(m[0]), strings.Trim(string(raw[m[0]:m[1]]), "'`\""))
		}
	case ".html":
		for _, m := range htmlText.FindAllIndex(raw, -1) {
			add(lineOf(m[0]), strings.Trim(template.ReplaceAllString(string(raw[m[0]:m[1]]), ""), "<> "))
		}
	case ".md":
		for i, line := range strings.Split(string(raw), "\n") {
			add(i+1, line)
		}
	}
	return out
}

// indexBeforePrecision is a mistake that go vet lets through.
var indexBeforePrecision = regexp.MustCompile(`%\[[0-9]+\]\.[0-9]`)

// Nothing that a user can read has a word of the deny list: strings of the
// programs, of pages, of the page's scripts, help pages, README.
func TestWords(t *testing.T) {
	if judgeWords("the floor that it can reach") == "" || judgeWords(`"x" is no file`) == "" || judgeWords("There is no recording yet; a robot that is no longer there") != "" {
		t.Fatal("the test does not see what it should")
	}
	seen := 0
	// SWATHE_TEXTS=1 go test -v prints every text, to be read.
	show := os.Getenv("SWATHE_TEXTS") != ""
	judge := func(path string) {
		for line, list := range texts(t, path) {
			for _, s := range list {
				seen++
				if show && strings.Contains(s, " ") {
					fmt.Printf("%s:%d: %q\n", strings.TrimPrefix(path, root+"/"), line, s)
				}
				if m := indexBeforePrecision.FindString(s); m != "" && filepath.Ext(path) == ".go" {
					t.Errorf("%s:%d: %s prints BADINDEX: an argument's number stands right before its verb, %%.1[2]f", strings.TrimPrefix(path, root+"/"), line, m)
				}
				if wrong := judgeWords(s); wrong != "" {
					t.Errorf("%s:%d: %s, in: %.120s", strings.TrimPrefix(path, root+"/"), line, wrong, s)
				}
			}
		}
	}
	judge(filepath.Join(root, "README.md"))
	for _, top := range []string{"cmd", "coverage", "geom", "report", "track"} {
		err := filepath.WalkDir(filepath.Join(root, top), func(path string, d fs.DirEntry, err error) error {
			if err != nil {
				return err
			}
			if d.IsDir() && (d.Name() == "testdata" || d.Name() == "scene" || strings.HasPrefix(d.Name(), ".")) {
				return filepath.SkipDir
			}
			ext := filepath.Ext(path)
			// The old names stand where they are refused.
			if ext == ".go" && (strings.HasSuffix(path, "_test.go") || strings.HasSuffix(path, "renamed.go")) {
				return nil
			}
			if ext == ".go" || ext == ".js" || ext == ".html" || ext == ".md" && strings.Contains(path, "report/docs") {
				judge(path)
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d texts read", seen)
	if seen < 3000 {
		t.Errorf("only %d texts were read", seen)
	}
}
