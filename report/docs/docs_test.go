package docs

import (
	"regexp"
	"strings"
	"testing"

	"swathe/report/words"
)

// Every page has a title and a first paragraph, fits a terminal, and leads only
// to pages that are there.
func TestPages(t *testing.T) {
	if len(Topics()) == 0 {
		t.Fatal("there is no page")
	}
	name := regexp.MustCompile(`^[a-z][a-z-]*$`)
	leads := regexp.MustCompile(`href="[^"]*\.md`)
	link := regexp.MustCompile(`\]\(([^)]*)\)`)
	for _, topic := range Topics() {
		raw, err := files.ReadFile(topic.Name + ".md")
		if err != nil {
			t.Fatal(err)
		}
		lines := strings.Split(string(raw), "\n")
		if !name.MatchString(topic.Name) || !strings.HasPrefix(lines[0], "# ") || lines[1] != "" || lines[2] == "" || strings.HasPrefix(lines[2], "#") {
			t.Errorf("%s.md: begin with a heading, an empty line and a paragraph that says what the page is about", topic.Name)
		}
		for _, m := range link.FindAllStringSubmatch(string(raw), -1) {
			to, ok := topicOf(m[1])
			to, _, _ = strings.Cut(to, "#")
			if _, there := Find(to); !ok || !there {
				t.Errorf("%s.md leads to %q, which is no page", topic.Name, m[1])
			}
		}
		text, err := Text(topic.Name, 80)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range strings.Split(text, "\n") {
			if words.Columns(l) > 80 {
				t.Errorf("%s: a line of %d columns: %s", topic.Name, words.Columns(l), l)
			}
		}
		html, err := HTML(topic.Name)
		if err != nil || !strings.Contains(string(html), "<h1 ") || leads.MatchString(string(html)) || strings.Contains(string(html), "raw HTML omitted") {
			t.Errorf("%s: the page reads %.200s (%v)", topic.Name, html, err)
		}
	}
	if _, err := Text("nothing", 80); err == nil {
		t.Error("a topic that is not there has a page")
	}
	if _, err := HTML("../docs"); err == nil {
		t.Error("a path is a topic")
	}
}

// The text of a page: headings, lists, code, tables and links without marks.
func TestText(t *testing.T) {
	got, err := Text("cautions", 60)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Cautions and limits\n===================\n", "\nLimits\n------\n", "\n- Secure the camera with a second tether.", "\n  has passed. It does not measure", "swathe check --marker FILE.png"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is not in\n%s", want, got)
		}
	}
}
