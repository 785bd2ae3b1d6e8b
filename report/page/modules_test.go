package page

import (
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// TestModulesPointOneWay guards that no two of the browser's modules need each other,
// whether at once or by way of others: each can be read, and taken away, by itself.
func TestModulesPointOneWay(t *testing.T) {
	files, err := fs.Glob(embedded, "assets/*.js")
	if err != nil || len(files) < 10 {
		t.Fatalf("%d modules, %v", len(files), err)
	}
	needs := map[string][]string{}
	for _, f := range files {
		text, err := fs.ReadFile(embedded, f)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`(?m)^import [^;]*'\./([a-z]+\.js)'`).FindAllStringSubmatch(string(text), -1) {
			needs[path.Base(f)] = append(needs[path.Base(f)], m[1])
		}
	}
	if !slices.Contains(needs["setup.js"], "draft.js") {
		t.Fatalf("the imports are not read: %v", needs)
	}
	var walk func(way []string)
	walk = func(way []string) {
		for _, n := range needs[way[len(way)-1]] {
			if i := slices.Index(way, n); i >= 0 {
				t.Fatalf("%s need each other", strings.Join(append(way[i:], n), " and "))
			}
			walk(append(slices.Clone(way), n))
		}
	}
	for f := range needs {
		walk([]string{f})
	}
}
