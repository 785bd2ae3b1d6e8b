package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/lab"
)

var completionVerb = verb{
	name:  "completion",
	args:  "bash | zsh | fish | runs LAB",
	brief: "print the completion script for bash, zsh or fish",
	about: `Prints a script that completes verbs, options, topics of help, and the runs of a
lab. "runs LAB" prints the names of the lab's results, one a line; the scripts
call it.`,
	examples: `source <(swathe completion bash)     this bash, now
swathe completion bash > ~/.local/share/bash-completion/completions/swathe
swathe completion zsh > ~/.zfunc/_swathe     with ~/.zfunc in fpath
swathe completion fish > ~/.config/fish/completions/swathe.fish`,
	new: func(*pflag.FlagSet) func(*call) (any, error) {
		return func(c *call) (any, error) {
			if len(c.args) == 2 && c.args[0] == "runs" {
				return nil, printRuns(c, c.args[1])
			}
			if len(c.args) == 1 {
				switch c.args[0] {
				case "bash":
					return nil, bashCompletion(c.out)
				case "zsh":
					return nil, zshCompletion(c.out)
				case "fish":
					return nil, fishCompletion(c.out)
				}
			}
			return nil, usage("completion needs the name of a shell: bash, zsh or fish")
		}
	},
}

func printRuns(c *call, dir string) error {
	l, err := lab.Open(dir)
	if err != nil {
		return err
	}
	runs, err := l.Results()
	for _, r := range runs {
		fmt.Fprintln(c.out, r)
	}
	return err
}

// optionNames are a verb's options, with their dashes.
func (v verb) optionNames() []string {
	fs := pflag.NewFlagSet(v.name, pflag.ContinueOnError)
	fs.SortFlags = false
	v.new(fs)
	out := []string{}
	fs.VisitAll(func(f *pflag.Flag) { out = append(out, "--"+f.Name) })
	return append(out, "--json", "--help")
}

// takesRuns tells whether the arguments after the lab are runs.
func (v verb) takesRuns() bool {
	return strings.Contains(v.args, "RUN") || strings.Contains(v.args, "RECORDING...")
}

func bashCompletion(w io.Writer) error {
	var cases strings.Builder
	for _, v := range verbs() {
		fmt.Fprintf(&cases, "    %s) options=%q; runs=%t ;;\n", v.name, strings.Join(v.optionNames(), " "), v.takesRuns())
	}
	_, err := fmt.Fprintf(w, `_swathe() {
  local word=${COMP_WORDS[COMP_CWORD]} verb=${COMP_WORDS[1]} options= runs=false
  COMPREPLY=()
  if [ "$COMP_CWORD" -eq 1 ]; then
    COMPREPLY=($(compgen -W "%[1]s help" -- "$word")); return
  fi
  case $verb in
    help) COMPREPLY=($(compgen -W "%[1]s %[2]s" -- "$word")); return ;;
    completion) COMPREPLY=($(compgen -W "bash zsh fish runs" -- "$word")); return ;;
%[3]s  esac
  case $word in
    -*) COMPREPLY=($(compgen -W "$options" -- "$word")); return ;;
  esac
  if [ "$runs" = true ] && [ "$COMP_CWORD" -gt 2 ]; then
    COMPREPLY=($(compgen -W "$(swathe completion runs "${COMP_WORDS[2]}" 2>/dev/null)" -- "$word"))
    [ ${#COMPREPLY[@]} -gt 0 ] && return
  fi
  COMPREPLY=($(compgen -f -- "$word"))
}
complete -o filenames -F _swathe swathe
`, strings.Join(verbNames(), " "), strings.Join(topicNames(), " "), strings.Replace(cases.String(), "    completion)", "    completion_)", 1))
	return err
}

// zshQuote quotes a text for a zsh description in single quotes.
func zshQuote(s string) string {
	return strings.NewReplacer("'", "", ":", "\\:").Replace(s)
}

func zshCompletion(w io.Writer) error {
	var list, cases strings.Builder
	for _, v := range verbs() {
		fmt.Fprintf(&list, "    '%s:%s'\n", v.name, zshQuote(v.brief))
		fmt.Fprintf(&cases, "    %s) options=(%s); runs=%t ;;\n", v.name, strings.Join(v.optionNames(), " "), v.takesRuns())
	}
	_, err := fmt.Fprintf(w, `#compdef swathe
_swathe() {
  local -a list options found
  local runs=false
  list=(
%[1]s    'help:a page on a verb or topic'
  )
  if (( CURRENT == 2 )); then
    _describe verb list; return
  fi
  case $words[2] in
%[2]s    help) compadd -- %[3]s; return ;;
  esac
  if [[ $words[2] == completion ]]; then compadd -- bash zsh fish runs; return; fi
  if [[ $words[CURRENT] == -* ]]; then
    compadd -- $options; return
  fi
  if [[ $runs == true ]] && (( CURRENT > 3 )); then
    found=(${(f)"$(swathe completion runs $words[3] 2>/dev/null)"})
    (( $#found )) && { compadd -- $found; return }
  fi
  _files
}
if [ "$funcstack[1]" = _swathe ]; then _swathe "$@"; else compdef _swathe swathe; fi
`, list.String(), cases.String(), strings.Join(append(verbNames(), topicNames()...), " "))
	return err
}

func fishCompletion(w io.Writer) error {
	var b strings.Builder
	names := strings.Join(verbNames(), " ")
	quote := func(s string) string { return "'" + strings.ReplaceAll(s, "'", "\\'") + "'" }
	fmt.Fprintf(&b, "complete -c swathe -n 'not __fish_seen_subcommand_from %s help' -f -a help -d 'a page on a verb or topic'\n", names)
	fmt.Fprintf(&b, "complete -c swathe -n '__fish_seen_subcommand_from help' -f -a %s\n", quote(names+" "+strings.Join(topicNames(), " ")))
	fmt.Fprintf(&b, "complete -c swathe -n '__fish_seen_subcommand_from completion' -f -a 'bash zsh fish runs'\n")
	for _, v := range verbs() {
		fmt.Fprintf(&b, "complete -c swathe -n 'not __fish_seen_subcommand_from %s help' -f -a %s -d %s\n", names, v.name, quote(v.brief))
		for _, o := range v.optionNames() {
			fmt.Fprintf(&b, "complete -c swathe -n '__fish_seen_subcommand_from %s' -l %s\n", v.name, strings.TrimPrefix(o, "--"))
		}
		if v.takesRuns() {
			fmt.Fprintf(&b, "complete -c swathe -n '__fish_seen_subcommand_from %s' -a '(swathe completion runs (commandline -opc)[3] 2>/dev/null)'\n", v.name)
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}
