// Package language puts the texts of pictures, films and markers into another
// language. They are made in English; each is looked up as a whole where it is shown,
// in a catalogue of sentences with places for what changes:
//
//	msgid "it paused {1} for {2}, then went on"
//	msgstr "er hielt {2} lang an ({1}) und fuhr weiter"
//
// A catalogue is a file of the format PO (GNU gettext's manual, section 10), which
// translators' programs open. What stands in a place is put into the language in its
// turn; names of the lab are left as they are. A sentence that the catalogue lacks
// stays English and is reported by Missing.
package language

import (
	"embed"
	"fmt"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"swathe/report/words"
)

//go:embed *.po
var own embed.FS

// Own lists the languages that the program has by itself.
func Own() []string { return []string{"en", "de"} }

// Catalogue is the texts of one language. A nil Catalogue is English.
type Catalogue struct {
	Name    string // as the file says: de
	Decimal string // the sign before decimals
	exact   map[string]string
	form    []form

	mu      sync.Mutex
	names   []string // longest first
	said    map[string]result
	missing map[string]bool
}

// form is a sentence with places.
type form struct {
	id, says string
	match    *regexp.Regexp // nil until it is needed
	place    []int          // of each group of match: the place's number, below 0 of a name
	letters  int            // outside of places
}

// Open returns a language by its name, one of Own, or by its file, which ends in .po.
func Open(name string) (*Catalogue, error) {
	if name == "en" || name == "" {
		return nil, nil
	}
	if slices.Contains(Own(), name) {
		raw, err := own.ReadFile(name + ".po")
		if err != nil {
			return nil, err
		}
		return parse(name+".po", string(raw))
	}
	if !strings.HasSuffix(name, ".po") {
		return nil, fmt.Errorf("there is no language %q. Give one of %s, or a file that ends in .po", name, strings.Join(Own(), ", "))
	}
	raw, err := os.ReadFile(name)
	if err != nil {
		return nil, fmt.Errorf("the language file can't be read: %w", err)
	}
	return parse(name, string(raw))
}

// Template is an empty catalogue to be filled in: every sentence of the language that
// is complete, with its translation left out.
func Template() ([]byte, error) {
	raw, err := own.ReadFile("de.po")
	if err != nil {
		return nil, err
	}
	list, err := entries("de.po", string(raw))
	if err != nil {
		return nil, err
	}
	var b strings.Builder
	b.WriteString("# Texts of swathe's pictures, films and markers. Write each msgstr in your language; {1}, {2}\n# are what changes and may stand in any order, {=1} is a name. Leave empty what stays English.\n")
	b.WriteString("msgid \"\"\nmsgstr \"\"\n\"Language: xx\\n\"\n\"Content-Type: text/plain; charset=UTF-8\\n\"\n\"X-Decimal-Sign: ,\\n\"\n")
	for _, e := range list {
		if e.id != "" {
			fmt.Fprintf(&b, "\nmsgid %s\nmsgstr \"\"\n", strconv.Quote(e.id))
		}
	}
	return []byte(b.String()), nil
}

type entry struct {
	id, says string
	line     int
}

// entries reads the entries of a file of the format PO: msgid and msgstr, strings in
// quotes that may go on over lines. Contexts and plurals are not used.
func entries(file, text string) (out []entry, err error) {
	var into *string
	for i, line := range strings.Split(text, "\n") {
		line = strings.TrimSpace(line)
		key, rest, _ := strings.Cut(line, " ")
		switch {
		case line == "" || strings.HasPrefix(line, "#"):
			continue
		case key == "msgid":
			out = append(out, entry{line: i + 1})
			into = &out[len(out)-1].id
		case key == "msgstr" && into != nil:
			into = &out[len(out)-1].says
		case strings.HasPrefix(line, `"`) && into != nil:
			rest = line
		default:
			return nil, fmt.Errorf("%s:%d: a line begins with msgid, msgstr, # or a quotation mark", file, i+1)
		}
		s, err := strconv.Unquote(strings.TrimSpace(rest))
		if err != nil {
			return nil, fmt.Errorf("%s:%d: the text is not one string in quotation marks", file, i+1)
		}
		*into += s
	}
	return out, nil
}

var place = regexp.MustCompile(`\{(=?)(\d)\}`)

func parse(file, text string) (*Catalogue, error) {
	list, err := entries(file, text)
	if err != nil {
		return nil, err
	}
	c := &Catalogue{Decimal: ".", exact: map[string]string{}, said: map[string]result{}, missing: map[string]bool{}}
	seen := map[string]int{}
	for _, e := range list {
		if e.id == "" { // the head
			for _, l := range strings.Split(e.says, "\n") {
				k, v, _ := strings.Cut(l, ":")
				switch v = strings.TrimSpace(v); k {
				case "Language":
					c.Name = v
				case "X-Decimal-Sign":
					c.Decimal = v
				}
			}
			continue
		}
		if was := seen[e.id]; was > 0 {
			return nil, fmt.Errorf("%s:%d: %q is in line %d already", file, e.line, e.id, was)
		}
		seen[e.id] = e.line
		if e.says == "" {
			continue
		}
		for _, m := range place.FindAllStringSubmatch(e.says, -1) {
			if !strings.Contains(e.id, m[0]) {
				return nil, fmt.Errorf("%s:%d: %s is in the translation and not in %q", file, e.line, m[0], e.id)
			}
		}
		if !place.MatchString(e.id) {
			c.exact[lowerFirst(e.id)] = e.says
			continue
		}
		f := newForm(e)
		if f.letters == 0 { // it would be its own part for ever
			return nil, fmt.Errorf("%s:%d: %q has no word of its own; take the entry out", file, e.line, e.id)
		}
		c.form = append(c.form, f)
	}
	if c.Name == "" || len(c.Decimal) > 1 {
		return nil, fmt.Errorf("%s: its head must name the language, and one sign before decimals, such as \"Language: de\\nX-Decimal-Sign: ,\\n\"", file)
	}
	// The sentence that says most by itself is tried first.
	slices.SortStableFunc(c.form, func(a, b form) int { return b.letters - a.letters })
	return c, nil
}

func newForm(e entry) form {
	f := form{id: lowerFirst(e.id), says: e.says, letters: len(place.ReplaceAllString(e.id, ""))}
	for _, m := range place.FindAllStringSubmatch(f.id, -1) {
		n, _ := strconv.Atoi(m[2])
		if m[1] == "=" {
			n = -n
		}
		f.place = append(f.place, n)
	}
	return f
}

// pattern is what finds a form: where a name stands it must be one of names.
func (f *form) pattern(names []string) *regexp.Regexp {
	if f.match != nil {
		return f.match
	}
	literal := func(s string) string {
		return strings.ReplaceAll(regexp.QuoteMeta(s), " ", "["+words.NB+" ]")
	}
	var known []string
	for _, n := range names {
		known = append(known, literal(n))
	}
	p, at := "^", 0
	for i, m := range place.FindAllStringIndex(f.id, -1) {
		p += literal(f.id[at:m[0]])
		switch {
		case f.place[i] > 0:
			p += "(.+?)"
		case len(known) == 0:
			p += `([^\s\S])` // nothing is a name
		case i == 0 && m[0] == 0: // lowered with the text
			p += "((?i:" + strings.Join(known, "|") + "))"
		default:
			p += "(" + strings.Join(known, "|") + ")"
		}
		at = m[1]
	}
	f.match = regexp.MustCompile(p + literal(f.id[at:]) + "$")
	return f.match
}

// Keep says what is a name: it stays as it is.
func (c *Catalogue) Keep(names ...string) {
	if c == nil {
		return
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, n := range names {
		if n != "" && !slices.Contains(c.names, n) {
			c.names = append(c.names, n)
		}
	}
	slices.SortFunc(c.names, func(a, b string) int { return len(b) - len(a) })
	for i := range c.form {
		c.form[i].match = nil
	}
	clear(c.said)
}

// Missing lists the texts that the catalogue lacks, of those that were asked for.
func (c *Catalogue) Missing() (out []string) {
	if c == nil {
		return nil
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	for s := range c.missing {
		out = append(out, s)
	}
	slices.Sort(out)
	return out
}

// Say is a text in the language, as it is where c is nil.
func (c *Catalogue) Say(s string) string {
	if c == nil || s == "" {
		return s
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	r := c.say(s)
	for _, l := range r.lacks {
		c.missing[l] = true
	}
	return r.out
}

// result is a text in the language, and the parts of it that the catalogue lacks.
type result struct {
	out   string
	lacks []string
}

// say is Say of a text or a part of one; each part is looked up once.
func (c *Catalogue) say(s string) result {
	if r, ok := c.said[s]; ok {
		return r
	}
	r := c.find(s)
	c.said[s] = r
	return r
}

func (c *Catalogue) find(s string) result {
	if slices.Contains(c.names, s) {
		return result{out: s}
	}
	if plain(s) {
		return result{out: c.number(s)}
	}
	best, found := result{s, []string{s}}, false
	better := func(r result) (done bool) {
		if !found || len(r.lacks) < len(best.lacks) {
			best, found = r, true
		}
		return len(best.lacks) == 0
	}
	// A sign or a space at an end is no part of what is looked up.
	for _, end := range []string{".", ":", ",", " "} {
		if t, ok := strings.CutSuffix(s, end); ok && t != "" {
			r := c.say(t)
			if better(result{r.out + end, r.lacks}) {
				return best
			}
		}
	}
	if r, ok := c.whole(s); ok && better(r) {
		return best
	}
	for _, sep := range []string{". ", "; ", " \u00b7 ", "  ", ": ", ", ", " and "} {
		between := sep
		if w := c.exact["and"]; w != "" && sep == " and " {
			between = " " + w + " "
		}
		for at := 0; ; {
			i := strings.Index(s[at:], sep)
			if i < 0 {
				break
			}
			at += i + len(sep)
			if at == len(sep) || at == len(s) {
				continue
			}
			x, y := c.say(s[:at-len(sep)]), c.say(s[at:])
			if better(result{x.out + between + y.out, append(slices.Clone(x.lacks), y.lacks...)}) {
				return best
			}
		}
	}
	return best
}

// whole looks a text up as one sentence.
func (c *Catalogue) whole(s string) (best result, ok bool) {
	key := lowerFirst(s)
	capital := func(r result) (result, bool) {
		if key != s {
			r.out = upperFirst(r.out)
		}
		return r, true
	}
	if out, ok := c.exact[strings.ReplaceAll(key, words.NB, " ")]; ok {
		return capital(result{out: out})
	}
	if len(key) != len(s) {
		return best, false
	}
	for i := range c.form {
		f := &c.form[i]
		// A place holds a part of one sentence: what is divided further is looked up
		// part by part.
		if slices.ContainsFunc([]string{". ", "; ", ": "}, func(sep string) bool { return strings.Count(s, sep) > strings.Count(f.id, sep) }) {
			continue
		}
		at := f.pattern(c.names).FindStringSubmatchIndex(key)
		if at == nil {
			continue
		}
		part, lacks := map[int]string{}, []string(nil)
		for i, n := range f.place {
			v := s[at[2*i+2]:at[2*i+3]] // a name keeps its capital
			if n > 0 {
				r := c.say(v)
				v, lacks = r.out, append(lacks, r.lacks...)
			}
			part[n] = v
		}
		if ok && len(lacks) >= len(best.lacks) {
			continue
		}
		ok = true
		best = result{place.ReplaceAllStringFunc(f.says, func(p string) string {
			n, _ := strconv.Atoi(strings.Trim(p, "{=}"))
			if strings.HasPrefix(p, "{=") {
				n = -n
			}
			return part[n]
		}), lacks}
		if len(lacks) == 0 {
			break
		}
	}
	if !ok {
		return best, false
	}
	return capital(best)
}

// units are the words of values that are the same in every language.
var units = regexp.MustCompile(`^(?:[mx]|mm|cm|cm\x{b2}|m\x{b2}|in|in\x{b2}|ft|ft\x{b2}|m/s|ft/s|s|min|h|px|dpi)$`)

var letters = regexp.MustCompile(`[\pL][\pL/\x{b2}]*`)

// plain tells whether a text is numbers, signs and units alone.
func plain(s string) bool {
	for _, w := range letters.FindAllString(s, -1) {
		if !units.MatchString(w) {
			return false
		}
	}
	return true
}

var point = regexp.MustCompile(`(\d)\.(\d+)(\.\d)?`)

// number writes the numbers in a text with the language's sign before decimals; what
// has two points is none.
func (c *Catalogue) number(s string) string {
	if c.Decimal == "." {
		return s
	}
	return point.ReplaceAllStringFunc(s, func(v string) string {
		if strings.Count(v, ".") != 1 {
			return v
		}
		return strings.Replace(v, ".", c.Decimal, 1)
	})
}

func lowerFirst(s string) string {
	r := []rune(s)
	if len(r) > 0 && !(len(r) > 1 && strings.ToUpper(string(r[1])) == string(r[1]) && strings.ToLower(string(r[1])) != string(r[1])) {
		r[0] = []rune(strings.ToLower(string(r[0])))[0]
	}
	return string(r)
}

func upperFirst(s string) string {
	r := []rune(s)
	if len(r) > 0 {
		r[0] = []rune(strings.ToUpper(string(r[0])))[0]
	}
	return string(r)
}
