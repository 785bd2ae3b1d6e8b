// Testlog reads what go test -json prints and prints what go test prints: a line a
// package, and all that a failed test said. At the end it lists the tests that this
// machine could not run, with their reasons; with -strict they are failures. Tests
// that wait for a variable (SWATHE_LONG and the like) are only counted.
package main

import (
	"bufio"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"os"
	"strings"
)

type event struct {
	Action, Package, Test, Output, ImportPath string
}

func main() {
	strict := flag.Bool("strict", false, "a test that this machine could not run is a failure")
	flag.Parse()
	failed, missed, err := read(os.Stdin, os.Stdout)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
	}
	if err != nil || failed || *strict && missed {
		os.Exit(1)
	}
}

// read copies a run of go test. Missed: a test was left out that waits for nothing
// but the machine.
func read(in io.Reader, out io.Writer) (failed, missed bool, err error) {
	said := map[[2]string]string{} // by package and test, until it has ended
	var notRun []string
	waiting := 0
	lines := bufio.NewReader(in)
	for {
		line, readErr := lines.ReadBytes('\n')
		var e event
		if len(line) > 0 && json.Unmarshal(line, &e) != nil {
			fmt.Fprintf(out, "%s", line) // not of go test: the compiler's, the linker's
			e = event{}
		}
		of := [2]string{e.Package, e.Test}
		switch e.Action {
		case "build-output":
			fmt.Fprint(out, e.Output)
		case "build-fail":
			failed = true
		case "output":
			if e.Test == "" && e.Output != "PASS\n" && e.Output != "FAIL\n" {
				fmt.Fprint(out, e.Output)
			} else if e.Test != "" && !strings.HasPrefix(e.Output, "=== ") {
				said[of] += e.Output
			}
		case "fail":
			failed = true
			fmt.Fprint(out, said[of])
			delete(said, of)
		case "skip":
			if why := said[of]; e.Test != "" && strings.Contains(why, "SWATHE_") {
				waiting++
			} else if e.Test != "" {
				notRun = append(notRun, e.Package+" "+e.Test+": "+strings.TrimSpace(why))
			}
			delete(said, of)
		case "pass":
			delete(said, of)
		}
		if readErr == io.EOF {
			break
		} else if readErr != nil {
			return failed, missed, readErr
		}
	}
	// A package that was stopped in the middle never ends its tests.
	for of, text := range said {
		if of[1] != "" && failed {
			fmt.Fprint(out, text)
		}
	}
	if waiting > 0 {
		fmt.Fprintf(out, "%d tests wait for a variable, most for --long.\n", waiting)
	}
	if len(notRun) > 0 {
		fmt.Fprintf(out, "This machine could not run %d tests:\n%s\n", len(notRun), strings.Join(notRun, "\n"))
	}
	return failed, len(notRun) > 0, nil
}
