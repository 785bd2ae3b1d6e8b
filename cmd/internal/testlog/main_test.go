package main

import (
	"strings"
	"testing"
)

func TestRead(t *testing.T) {
	const start = `{"Action":"start","Package":"p"}` + "\n"
	line := func(action, test, output string) string {
		return `{"Action":"` + action + `","Package":"p","Test":"` + test + `","Output":"` + output + `"}` + "\n"
	}
	for name, c := range map[string]struct {
		in             string
		failed, missed bool
		has, hasNot    string
	}{
		"passed":      {start + line("output", "TestA", `    a.go:1: said\n`) + line("pass", "TestA", "") + line("output", "", `ok p 0.1s\n`), false, false, "ok p 0.1s", "said"},
		"failed":      {start + line("output", "TestA", `    a.go:1: said\n`) + line("fail", "TestA", "") + line("output", "", `FAIL p 0.1s\n`), true, false, "a.go:1: said", "wait"},
		"no right":    {start + line("output", "TestA", `    a.go:1: no disk can be mounted\n`) + line("skip", "TestA", ""), false, true, "could not run 1 tests:\np TestA: a.go:1: no disk", "wait"},
		"long":        {start + line("output", "TestA", `    a.go:1: takes long: SWATHE_LONG=1\n`) + line("skip", "TestA", ""), false, false, "1 tests wait", "could not"},
		"no compile":  {`{"ImportPath":"p","Action":"build-output","Output":"a.go:1: undefined: b\n"}` + "\n" + `{"ImportPath":"p","Action":"build-fail"}` + "\n", true, false, "undefined: b", "wait"},
		"out of turn": {"go: downloading a module\n" + line("output", "", `ok p 0.1s\n`), false, false, "go: downloading a module\nok", "wait"},
		"stopped":     {start + line("output", "TestA", `    a.go:1: said\n`) + `{"Action":"fail","Package":"p"}`, true, false, "said", "wait"},
	} {
		t.Run(name, func(t *testing.T) {
			var out strings.Builder
			failed, missed, err := read(strings.NewReader(c.in), &out)
			if err != nil || failed != c.failed || missed != c.missed || !strings.Contains(out.String(), c.has) || strings.Contains(out.String(), c.hasNot) {
				t.Errorf("failed %t, missed %t, %v:\n%s", failed, missed, err, out.String())
			}
		})
	}
}
