// Swathe turns overhead recordings of robot floor cleaners into coverage
// figures and pictures.
//
// This file holds the table of verbs and of exit codes. A verb is one file that
// declares its options, opens the lab, calls what does the work and prints; to
// add one, write that file and put its name into the table.
package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/lab"
)

// verbGroups is the table, in the order in which help lists them. It is filled
// by init: completion is one of the verbs and asks for all of them.
var verbGroups []verbGroup

type verbGroup struct {
	title string
	verbs []verb
}

func init() {
	verbGroups = []verbGroup{
		{"Set up", []verb{serveVerb, demoVerb, checkVerb, proveVerb}},
		{"Measure", []verb{planVerb, measureVerb, watchVerb, workVerb, queueVerb, benchVerb, residueVerb}},
		{"Compare", []verb{compareVerb, robotsVerb, dossierVerb}},
		{"Publish", []verb{exportVerb, packageVerb, verifyVerb}},
		{"The program itself", []verb{versionVerb, completionVerb}},
	}
}

// verbs are all of them.
func verbs() []verb {
	var out []verb
	for _, g := range verbGroups {
		out = append(out, g.verbs...)
	}
	return out
}

// Exit codes.
const (
	exitOK     = 0 // all well
	exitFailed = 1 // some recording failed or was stopped, the others are done
	exitWrong  = 2 // the call or lab.yaml is wrong, nothing done
)

const exitHelp = `Exit code:
  0  all done
  1  a recording failed or was stopped; the others are done
  2  the call or lab.yaml is wrong, or the lab cannot be written; nothing done`

// verb is one thing that swathe can do.
type verb struct {
	name  string
	args  string // after the name in the usage line
	brief string // one line
	about string // the manual page's text
	// groups names options that belong together, each by its title and options;
	// the others stand under Options.
	groups   []optionGroup
	examples string // lines of calls, each with what it does
	// new declares the verb's options on fs and returns what runs it once they
	// are read. What runs returns a document for --json and an error; a document
	// may come with errSomeFailed.
	new func(fs *pflag.FlagSet) func(c *call) (doc any, err error)
}

// call is one call of a verb.
type call struct {
	ctx      context.Context
	args     []string  // what stands after the options
	out, err io.Writer // standard output and standard error
	json     bool      // out is for one JSON document and nothing else
}

// print writes a line for people: to standard output, or to nowhere with --json.
func (c *call) print(format string, args ...any) {
	if !c.json {
		fmt.Fprintf(c.out, format+"\n", args...)
	}
}

// say writes a message to standard error.
func (c *call) say(format string, args ...any) { fmt.Fprintf(c.err, format+"\n", args...) }

// errSomeFailed makes the exit code 1; what failed has been told.
var errSomeFailed = errors.New("some recordings failed")

// usageError is a call that is wrong.
type usageError struct{ error }

// docError is an error that says more in --json than its message.
type docError struct {
	error
	doc any
}

func usage(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	// A second Ctrl-C ends the program at once: what it was writing is a folder
	// that nobody takes for a result.
	context.AfterFunc(ctx, stop)
	os.Exit(run(ctx, os.Args[1:], outlet{os.Stdout, stop}, os.Stderr))
}

// outlet is standard output. Who reads it and goes away stops the program: it ends,
// and tidies up, as after Ctrl-C.
type outlet struct {
	io.Writer
	stop func()
}

// The signal of a broken pipe says nothing of which one it was: a browser that goes
// away and a swathe-eye that ends break theirs too, and there the write's error is
// dealt with. Asked for and left unread, it ends nothing, and programs that are
// started still get it.
func init() { signal.Notify(make(chan os.Signal, 1), syscall.SIGPIPE) }

func (o outlet) Write(p []byte) (int, error) {
	n, err := o.Writer.Write(p)
	if errors.Is(err, syscall.EPIPE) {
		o.stop()
	}
	return n, err
}

// run is main without the process: it returns the exit code.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	if len(args) == 0 {
		fmt.Fprint(stderr, topHelp())
		return exitWrong
	}
	switch args[0] {
	case "--help", "-h":
		fmt.Fprint(stdout, topHelp())
		return exitOK
	case "help":
		if len(args) == 1 {
			fmt.Fprint(stdout, topHelp())
			return exitOK
		}
		if page, ok := topic(args[1]); ok {
			fmt.Fprint(stdout, page)
			return exitOK
		}
		if !slices.Contains(verbNames(), args[1]) {
			fmt.Fprintf(stderr, "swathe: there is no topic and no verb %q.%s See: swathe help\n", args[1], lab.DidYouMean(args[1], append(topicNames(), verbNames()...)))
			return exitWrong
		}
		args = []string{args[1], "--help"}
	case "--version":
		args = []string{"version"}
	}
	for _, v := range verbs() {
		if v.name == args[0] {
			return v.call(ctx, args[1:], stdout, stderr)
		}
	}
	fmt.Fprintf(stderr, "swathe: there is no verb %q.%s See: swathe --help\n", args[0], lab.DidYouMean(args[0], verbNames()))
	return exitWrong
}

func verbNames() []string {
	var out []string
	for _, v := range verbs() {
		out = append(out, v.name)
	}
	return out
}

func (v verb) call(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	fs := pflag.NewFlagSet("swathe "+v.name, pflag.ContinueOnError)
	fs.SortFlags = false
	fs.SetOutput(io.Discard)
	work := v.new(fs)
	asJSON := fs.Bool("json", false, "print the outcome as one JSON document, and nothing else, on standard output")
	help := fs.BoolP("help", "h", false, "show this page")
	err := fs.Parse(args)
	if *help {
		fmt.Fprint(stdout, v.page(fs))
		return exitOK
	}
	if err != nil {
		// An unknown option stops the reading, so --json is looked for by hand.
		for _, a := range args {
			*asJSON = *asJSON || a == "--json"
		}
		err = usageError{optionError(fs, err)}
	}
	c := &call{ctx: ctx, args: fs.Args(), out: stdout, err: stderr, json: *asJSON}
	var doc any
	if err == nil {
		doc, err = work(c)
	}
	code := exitOK
	switch {
	case errors.Is(err, errSomeFailed):
		code = exitFailed
	case err != nil:
		code = exitWrong
		fmt.Fprintf(stderr, "swathe: %s\n", strings.TrimRight(err.Error(), "\n"))
		var ue usageError
		if errors.As(err, &ue) {
			fmt.Fprintf(stderr, "Usage: swathe %s %s\nSee: swathe %s --help\n", v.name, v.args, v.name)
		}
		doc = errorDoc(v.name, err)
		var de docError
		if errors.As(err, &de) {
			doc = de.doc
		}
	}
	if c.json {
		if werr := writeJSON(stdout, doc); werr != nil {
			fmt.Fprintf(stderr, "swathe: the result can't be written to standard output: %v\n", werr)
			return exitWrong
		}
	}
	return code
}

func writeJSON(w io.Writer, doc any) error {
	data, err := json.MarshalIndent(doc, "", "  ")
	if err != nil {
		return err
	}
	_, err = w.Write(append(data, '\n'))
	return err
}

// problemDoc is one problem of a file, for --json.
type problemDoc struct {
	File    string `json:"file"`
	Line    *int   `json:"line"`
	Message string `json:"message"`
}

func errorDoc(verb string, err error) any {
	doc := struct {
		Verb     string       `json:"verb"`
		Error    string       `json:"error"`
		Problems []problemDoc `json:"problems"`
	}{verb, err.Error(), nil}
	var problems *lab.Problems
	if errors.As(err, &problems) {
		for _, p := range problems.List {
			d := problemDoc{File: p.File, Message: p.Message}
			if p.Line > 0 {
				d.Line = &p.Line
			}
			doc.Problems = append(doc.Problems, d)
		}
	}
	return doc
}
