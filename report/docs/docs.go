// Package docs holds the pages that tell a user how swathe is used and what its
// figures mean. Every Markdown file of this folder is a topic, named by the file:
// its first heading is the title, its first paragraph says what it is about.
// "swathe help TOPIC" prints it and the local page shows it under Help, so a page
// is added by writing its file. Links between topics name the file: [..](lab.md).
package docs

import (
	"embed"
	"fmt"
	"html/template"
	"io"
	"path"
	"slices"
	"strings"

	"github.com/gomarkdown/markdown"
	"github.com/gomarkdown/markdown/ast"
	"github.com/gomarkdown/markdown/html"
	"github.com/gomarkdown/markdown/parser"
)

//go:embed *.md
var files embed.FS

// Topic is one page.
type Topic struct {
	Name  string // of the file, without .md
	Title string // its first heading
}

// readingOrder puts what a newcomer needs first; topics that it does not name
// follow by name.
var readingOrder = []string{"lab", "setup", "figures", "comparing", "trial", "bench", "publishing", "cautions"}

// Topics lists the pages in the order in which to read them.
func Topics() []Topic {
	list, _ := files.ReadDir(".")
	var out []Topic
	for _, f := range list {
		raw, _ := files.ReadFile(f.Name())
		name := strings.TrimSuffix(f.Name(), ".md")
		first, _, _ := strings.Cut(string(raw), "\n")
		out = append(out, Topic{name, strings.TrimSpace(strings.TrimPrefix(first, "#"))})
	}
	place := func(t Topic) int {
		if i := slices.Index(readingOrder, t.Name); i >= 0 {
			return i
		}
		return len(readingOrder)
	}
	slices.SortStableFunc(out, func(a, b Topic) int { return place(a) - place(b) })
	return out
}

// Find returns the topic called name.
func Find(name string) (Topic, bool) {
	for _, t := range Topics() {
		if t.Name == name {
			return t, true
		}
	}
	return Topic{}, false
}

// parse returns a page as a tree. Errors: no such topic.
func parse(name string) (ast.Node, error) {
	raw, err := files.ReadFile(name + ".md")
	if err != nil {
		return nil, fmt.Errorf("there is no topic %q", name)
	}
	// A parser is for one page.
	return parser.NewCommonMarkWithExtensions(parser.Tables | parser.AutoHeadingIDs).Parse(raw), nil
}

// Raw returns a page as it was written. Errors: no such topic.
func Raw(name string) (string, error) {
	raw, err := files.ReadFile(name + ".md")
	if err != nil {
		return "", fmt.Errorf("there is no topic %q", name)
	}
	return string(raw), nil
}

// HTML returns a page for the local page: links to other topics lead to
// /help/<topic>. Errors: no such topic.
func HTML(name string) (template.HTML, error) {
	doc, err := parse(name)
	if err != nil {
		return "", err
	}
	ast.WalkFunc(doc, func(n ast.Node, entering bool) ast.WalkStatus {
		if l, ok := n.(*ast.Link); ok && entering {
			if to, ok := topicOf(string(l.Destination)); ok {
				l.Destination = []byte("/help/" + to)
			}
		}
		return ast.GoToNext
	})
	// The renderer passes no HTML of the source through, and the source is ours.
	return template.HTML(markdown.Render(doc, html.NewRenderer(html.RendererOptions{Flags: html.SkipHTML, RenderNodeHook: byKeys}))), nil
}

// byKeys lets a table take the focus: on a narrow screen it scrolls by itself.
func byKeys(w io.Writer, n ast.Node, entering bool) (ast.WalkStatus, bool) {
	if _, ok := n.(*ast.Table); !ok || !entering {
		return ast.GoToNext, false
	}
	_, _ = io.WriteString(w, "<table tabindex=\"0\">\n")
	return ast.GoToNext, true
}

// topicOf tells which topic a link leads to.
func topicOf(link string) (string, bool) {
	file, at, _ := strings.Cut(link, "#")
	if strings.Contains(file, "/") || path.Ext(file) != ".md" {
		return "", false
	}
	to := strings.TrimSuffix(file, ".md")
	if at != "" {
		to += "#" + at
	}
	return to, true
}
