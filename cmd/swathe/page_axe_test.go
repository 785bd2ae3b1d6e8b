package main

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"strings"
	"testing"
)

// axeHash is that of the published file (testdata/axe/README.md).
const axeHash = "29348999450cdf2849a8e70b7912fc2da85a849da39c0d0d5394f51d4a9ed95c"

func axeScript(t *testing.T) string {
	t.Helper()
	raw, err := os.ReadFile("testdata/axe/axe.min.js")
	if err != nil {
		t.Fatal(err)
	}
	if sum := sha256.Sum256(raw); hex.EncodeToString(sum[:]) != axeHash {
		t.Fatal("axe.min.js is not the published file")
	}
	return string(raw)
}

// axe judges the page that is open by all rules of axe-core (WCAG 2.0 to 2.2, A
// and AA, and its best practices) and returns what it finds.
func (b *tab) axe(script string) []string {
	b.t.Helper()
	b.value(script+";void 0", nil)
	// What lies beneath a bar that stays in view is scrolled clear of it.
	stays := func(position string) {
		b.value(`void document.querySelectorAll('.always, .clock').forEach(e => { e.style.position = '`+position+`'; })`, nil)
	}
	stays("static")
	defer stays("")
	var found []string
	b.value(`axe.run(document, { resultTypes: ['violations'], runOnly: { type: 'tag', values: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22a', 'wcag22aa', 'best-practice'] }, rules: { 'label-content-name-mismatch': { enabled: true }, 'target-size': { enabled: true } } })
		.then(r => r.violations.flatMap(v => v.nodes.map(n => v.id + ': ' + n.target.join(' ') + ' ' + n.html.slice(0, 120))))`, &found)
	return found
}

// TestAxeFinds guards that the judge works: a page with a known fault is not passed.
func TestAxeFinds(t *testing.T) {
	dir := t.TempDir()
	b := browserTab(t, served(t, dir), 800, 600, false)
	b.open("data:text/html,<html><title>x</title><main><h1>A</h1><h3>B</h3><button></button><img src=x></main>", "h1")
	found := strings.Join(b.axe(axeScript(t)), "\n")
	for _, want := range []string{"button-name", "image-alt", "html-has-lang", "heading-order"} {
		if !strings.Contains(found, want) {
			t.Errorf("%s is not found: %s", want, found)
		}
	}
}
