package main

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/pflag"

	"swathe/report/docs"
	"swathe/report/words"
)

// Every page fits 80 columns, names the verb's options in groups that exist, and
// ends with examples that name options and verbs which exist.
func TestHelp(t *testing.T) {
	pages := map[string]string{"": topHelp()}
	for _, v := range verbs() {
		fs := pflag.NewFlagSet(v.name, pflag.ContinueOnError)
		v.new(fs)
		for _, g := range v.groups {
			for _, n := range g.names {
				if fs.Lookup(n) == nil {
					t.Fatalf("%s: the group %q names --%s, which is no option", v.name, g.title, n)
				}
			}
		}
		fs.VisitAll(func(f *pflag.Flag) {
			value, text := pflag.UnquoteUsage(f)
			if f.Value.Type() != "bool" && value != strings.ToUpper(value) && !strings.Contains(value, "x") && !strings.Contains(value, ".") {
				t.Errorf("%s --%s: the value is called %q; write it in capitals", v.name, f.Name, value)
			}
			if strings.HasSuffix(text, ".") || text == "" {
				t.Errorf("%s --%s: %q: say in a phrase what it does", v.name, f.Name, text)
			}
		})
		var out bytes.Buffer
		if code := run(context.Background(), []string{v.name, "--help"}, &out, &out); code != exitOK {
			t.Fatalf("%s --help ended with %d", v.name, code)
		}
		pages[v.name] = out.String()
		for _, line := range strings.Split(v.examples, "\n") {
			words := strings.Fields(line)
			for i, w := range words {
				if name, ok := strings.CutPrefix(w, "--"); ok && name != "" && fs.Lookup(name) == nil {
					t.Errorf("%s: the example names %s, which is no option", v.name, w)
				}
				if w == "swathe" && i+1 < len(words) && !strings.Contains(strings.Join(verbNames(), " "), words[i+1]) {
					t.Errorf("%s: the example calls %s, which is no verb", v.name, words[i+1])
				}
			}
		}
	}
	for name, page := range pages {
		for _, line := range strings.Split(page, "\n") {
			if words.Columns(line) > width {
				t.Errorf("swathe %s --help has a line of %d columns: %s", name, words.Columns(line), line)
			}
		}
	}
}

// A slip gives the nearest verb, topic or option; a value of the wrong kind says
// what it should be.
func TestSlips(t *testing.T) {
	for call, says := range map[string]string{
		"mesure lab":         `Did you mean "measure"?`,
		"measure --agian":    "there is no option --agian. Did you mean --again?",
		"measure --jobs two": `--jobs is "two"; it should be a whole number`,
		"measure --jobs":     "--jobs needs a value: --jobs N",
		"export -x":          "Options begin with two dashes",
		"export --speed x l": `--speed is "x"; it should be a number`,
		"help cautoins":      `Did you mean "cautions"?`,
		"completion tcsh":    "bash, zsh or fish",
	} {
		var out, err bytes.Buffer
		if code := run(context.Background(), strings.Fields(call), &out, &err); code != exitWrong || !strings.Contains(err.String(), says) {
			t.Errorf("swathe %s: code %d, %q does not say %q", call, code, err.String(), says)
		}
	}
}

// The completion scripts are good syntax to the shells that are here, and bash
// and fish complete verbs, options, topics and the runs of a lab with them.
func TestCompletion(t *testing.T) {
	dir := t.TempDir()
	script := func(shell string) string {
		var out bytes.Buffer
		if code := run(context.Background(), []string{"completion", shell}, &out, &out); code != exitOK {
			t.Fatal(out.String())
		}
		file := filepath.Join(dir, shell)
		if err := os.WriteFile(file, out.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		return file
	}
	for shell, check := range map[string]string{"bash": "-n", "zsh": "-n", "fish": "--no-execute"} {
		file := script(shell)
		if _, err := exec.LookPath(shell); err != nil {
			t.Logf("%s is not on this machine: its script was written, not tried", shell)
			continue
		}
		if out, err := exec.Command(shell, check, file).CombinedOutput(); err != nil {
			t.Errorf("%s: %v\n%s", shell, err, out)
		}
	}
	if _, err := exec.LookPath("bash"); err != nil {
		t.Skip("bash is not on this machine")
	}
	// The script asks the program for runs; a stand-in answers.
	if err := os.WriteFile(filepath.Join(dir, "swathe"), []byte("#!/bin/sh\n[ \"$3\" = lab ] && echo den/tern_mapped_1\n"), 0o755); err != nil {
		t.Fatal(err)
	}
	for line, want := range map[string]string{
		"swathe mea": "measure",
		"swathe help " + docs.Topics()[0].Name[:2]: docs.Topics()[0].Name,
		"swathe export lab --film-s":               "--film-size",
		"swathe export lab den/te":                 "den/tern_mapped_1",
		"swathe completion z":                      "zsh",
	} {
		w := strings.Fields(line)
		quoted := "'" + strings.Join(w, "' '") + "'"
		cmd := exec.Command("bash", "-c", `. "$1"; COMP_WORDS=(`+quoted+`); COMP_CWORD=$((${#COMP_WORDS[@]}-1)); _swathe; printf '%s\n' "${COMPREPLY[@]}"`, "-", filepath.Join(dir, "bash"))
		cmd.Env = append(os.Environ(), "PATH="+dir+":"+os.Getenv("PATH"))
		out, err := cmd.CombinedOutput()
		if err != nil || !strings.Contains(string(out), want+"\n") {
			t.Errorf("%s: completed as %q (%v), want %q among them", line, out, err, want)
		}
		if _, err := exec.LookPath("fish"); err != nil {
			continue
		}
		cmd = exec.Command("fish", "--no-config", "-c", `source $argv[1]; complete -C $argv[2]`, filepath.Join(dir, "fish"), line)
		cmd.Env = append(os.Environ(), "PATH="+dir+":"+os.Getenv("PATH"))
		if out, err := cmd.CombinedOutput(); err != nil || !strings.Contains(string(out), want) {
			t.Errorf("%s: fish completed it as %q (%v), want %q among them", line, out, err, want)
		}
	}
}
