package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"swathe/report/docs"
)

const topText = `swathe - from overhead recordings of robot floor cleaners to coverage figures

A camera above the room records the robot while it cleans. Swathe finds the
robot's path in the recording, works out which floor its brush has passed and
how often, and writes figures, tables and pictures of it: one folder a run.

Usage:
  swathe VERB [OPTION...] ARGUMENT...

Verbs:
%s
A lab is a folder with a file lab.yaml that describes cameras, layouts and
robots, and recordings under recordings/<layout>/, each called
<robot>_<phase>_<trial>.mp4 with the phase mapping, mapped or single. README
shows one, and "swathe demo DIR" makes one.

Begin with:
  swathe demo my-demo          make a demonstration lab
  swathe measure my-demo       measure its recordings
  swathe VERB --help           the page of one verb
  swathe help TOPIC            the page of a topic

Topics:
%s
%s
`

// width is how wide a page is, columns.
const width = 80

func topHelp() string {
	left := 0
	for _, v := range verbs {
		left = max(left, len(v.name+" "+v.args))
	}
	var b strings.Builder
	for _, v := range verbs {
		fmt.Fprintf(&b, "  %-*s  %s\n", left, strings.TrimSpace(v.name+" "+v.args), v.brief)
	}
	var t strings.Builder
	for _, topic := range docs.Topics() {
		fmt.Fprintf(&t, "  %-10s  %s\n", topic.Name, topic.Title)
	}
	return fmt.Sprintf(topText, b.String(), t.String(), exitHelp)
}

// topic is the page of a topic; ok is false if there is none of that name.
func topic(name string) (page string, ok bool) {
	page, err := docs.Text(name, width)
	if err == nil && slices.Contains(verbNames(), name) {
		page += fmt.Sprintf("\nThe verb and its options: swathe %s --help\n", name)
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
	return fmt.Sprintf("swathe %s - %s\n\nUsage:\n  swathe %s\n\n%s\n\nOptions:\n%s\n%s\n",
		v.name, v.brief, strings.TrimSpace(v.name+" [OPTION...] "+v.args), strings.TrimSpace(v.about), options(fs), exitHelp)
}

// options lists the options with their texts in a column of their own.
func options(fs *pflag.FlagSet) string {
	var names, texts []string
	left := 0
	fs.VisitAll(func(f *pflag.Flag) {
		value, text := pflag.UnquoteUsage(f)
		name := "--" + f.Name
		if f.Shorthand != "" {
			name = "-" + f.Shorthand + ", " + name
		}
		if f.Value.Type() != "bool" {
			name += " " + strings.ToUpper(value)
			if f.DefValue != "" && f.DefValue != "[]" {
				text += fmt.Sprintf(" (default %s)", f.DefValue)
			}
		}
		names, texts = append(names, name), append(texts, text)
		left = max(left, len(name))
	})
	var b strings.Builder
	for i, name := range names {
		for j, line := range wrap(texts[i], width-left-4) {
			if j > 0 {
				name = ""
			}
			fmt.Fprintf(&b, "  %-*s  %s\n", left, name, line)
		}
	}
	return b.String()
}

// wrap breaks text into lines of at most n columns, at spaces.
func wrap(text string, n int) []string {
	var lines []string
	line := ""
	for _, w := range strings.Fields(text) {
		if line != "" && len(line)+1+len(w) > n {
			lines, line = append(lines, line), ""
		}
		if line != "" {
			line += " "
		}
		line += w
	}
	return append(lines, line)
}
