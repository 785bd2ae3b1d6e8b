package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/lab"
	"swathe/report/docs"
	"swathe/report/words"
)

const topText = `swathe - measures robot floor cleaners from a ceiling camera's recordings

It finds the robot's path in each recording, calculates which floor the cleaning
tool has passed and how often, and writes figures with their uncertainty,
tables and pictures: one folder for each run.

Usage:
  swathe VERB [OPTION...] ARGUMENT...
  swathe VERB --help           options and examples of a verb
  swathe help TOPIC            a page on a topic

%s
Topics:
%s
Examples:
  swathe demo my-demo          make a demonstration lab
  swathe measure my-demo       measure its recordings
  swathe serve my-lab          set up a lab of your own, in the browser

%s
`

// width is how wide a page is, columns.
const width = 80

// optionGroup is a title and the options that stand under it.
type optionGroup struct {
	title string
	names []string
}

func topHelp() string {
	left := 0
	for _, v := range verbs() {
		left = max(left, len(v.name))
	}
	var b strings.Builder
	for _, g := range verbGroups {
		b.WriteString(g.title + ":\n")
		for _, v := range g.verbs {
			column(&b, v.name, v.brief, left)
		}
	}
	var t strings.Builder
	for _, topic := range docs.Topics() {
		column(&t, topic.Name, topic.Title, left)
	}
	return fmt.Sprintf(topText, b.String(), t.String(), exitHelp)
}

// column writes a name and its text in a column of its own.
func column(b *strings.Builder, name, text string, left int) {
	for i, line := range words.Wrap(text, width-left-4) {
		if i > 0 {
			name = ""
		}
		b.WriteString(strings.TrimRight(fmt.Sprintf("  %-*s  %s", left, name, line), " ") + "\n")
	}
}

// topic is the page of a topic; ok is false if there is none of that name.
func topic(name string) (page string, ok bool) {
	page, err := docs.Text(name, width)
	if err == nil && slices.Contains(verbNames(), name) {
		page += fmt.Sprintf("\nOptions of the verb: swathe %s --help\n", name)
	}
	return page, err == nil
}

func topicNames() []string {
	var out []string
	for _, t := range docs.Topics() {
		out = append(out, t.Name)
	}
	return out
}

// page is the verb's manual page.
func (v verb) page(fs *pflag.FlagSet) string {
	var b strings.Builder
	fmt.Fprintf(&b, "swathe %s - %s\n\nUsage:\n", v.name, v.brief)
	for _, a := range strings.Split(v.args, " | ") {
		b.WriteString("  " + strings.TrimRight("swathe "+v.name+" [OPTION...] "+a, " ") + "\n")
	}
	b.WriteString("\n" + reflow(v.about) + "\n")
	grouped := map[string]bool{}
	for _, g := range v.groups {
		for _, n := range g.names {
			grouped[n] = true
		}
	}
	var others []string
	fs.VisitAll(func(f *pflag.Flag) {
		if !grouped[f.Name] {
			others = append(others, f.Name)
		}
	})
	for _, g := range append(v.groups, optionGroup{"Options", others}) {
		b.WriteString(g.title + ":\n" + options(fs, g.names) + "\n")
	}
	if v.examples != "" {
		b.WriteString("Examples:\n")
		for _, line := range strings.Split(strings.TrimSpace(v.examples), "\n") {
			b.WriteString("  " + strings.TrimSpace(line) + "\n")
		}
		b.WriteString("\n")
	}
	return b.String() + exitHelp + "\n"
}

// reflow breaks paragraphs at the page's width; indented lines, which are lists
// and tables, stay as they are.
func reflow(text string) string {
	var b strings.Builder
	var para []string
	flush := func() {
		if len(para) > 0 {
			b.WriteString(strings.Join(words.Wrap(strings.Join(para, " "), width), "\n") + "\n")
		}
		para = nil
	}
	for _, line := range strings.Split(strings.TrimSpace(text), "\n") {
		if line == "" || strings.HasPrefix(line, " ") {
			flush()
			b.WriteString(line + "\n")
			continue
		}
		para = append(para, line)
	}
	flush()
	return b.String()
}

// options lists options with their texts in a column of their own; one whose
// name is long has its text on the lines below.
func options(fs *pflag.FlagSet, names []string) string {
	const left = 24
	var b strings.Builder
	for _, n := range names {
		f := fs.Lookup(n)
		value, text := pflag.UnquoteUsage(f)
		name := "--" + f.Name
		if f.Shorthand != "" {
			name = "-" + f.Shorthand + ", " + name
		}
		if f.Value.Type() != "bool" {
			name += " " + value
			if f.DefValue != "" && f.DefValue != "[]" {
				text += fmt.Sprintf(" (default: %s)", strings.Trim(f.DefValue, "[]"))
			}
		}
		if len(name) > left {
			b.WriteString("  " + name + "\n")
			name = ""
		}
		column(&b, name, text, left)
	}
	return b.String()
}

// optionError says what is wrong with an option, and which was meant.
func optionError(fs *pflag.FlagSet, err error) error {
	var none *pflag.NotExistError
	var lacks *pflag.ValueRequiredError
	var bad *pflag.InvalidValueError
	switch {
	case errors.As(err, &none):
		var known []string
		fs.VisitAll(func(f *pflag.Flag) { known = append(known, f.Name) })
		name := none.GetSpecifiedName()
		if none.GetSpecifiedShortnames() != "" {
			return fmt.Errorf("there is no option -%s. Options begin with two dashes: --%s", name, name)
		}
		if meant := lab.Nearest(name, known); meant != "" {
			return fmt.Errorf("there is no option --%s. Did you mean --%s?", name, meant)
		}
		return fmt.Errorf("there is no option --%s", name)
	case errors.As(err, &lacks):
		f := lacks.GetFlag()
		value, _ := pflag.UnquoteUsage(f)
		return fmt.Errorf("--%s needs a value: --%s %s", f.Name, f.Name, value)
	case errors.As(err, &bad):
		f := bad.GetFlag()
		want := map[string]string{"int": "a whole number", "int64": "a whole number", "float64": "a number", "duration": "a time such as 3s or 2m", "bool": "true or false"}[f.Value.Type()]
		if want != "" {
			return fmt.Errorf("--%s is %q; it should be %s", f.Name, bad.GetValue(), want)
		}
	}
	return err
}
