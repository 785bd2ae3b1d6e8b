package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/trialdemo"
)

// trialDemo makes the made-up laboratory beside dir, renames it, and makes every
// page of it by the commands that a user would type, each shown as it runs.
func trialDemo(c *call, dir string) (doc any, err error) {
	making := fmt.Sprintf("%s.making-%d", dir, os.Getpid())
	defer func() {
		if err != nil {
			os.RemoveAll(making)
		}
	}()
	if err := os.MkdirAll(making, 0o755); err != nil {
		return nil, err
	}
	if err := trialdemo.Make(making); err != nil {
		return nil, fmt.Errorf("the demonstration can't be made: %w", err)
	}
	if err := os.Remove(dir); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	if err := os.Rename(making, dir); err != nil {
		return nil, err
	}
	l, err := lab.Open(dir)
	if err != nil {
		return nil, err
	}
	for _, step := range []struct {
		verb verb
		args []string
	}{
		{benchVerb, []string{dir, "--import", filepath.Join(dir, trialdemo.BenchSheet)}},
		{measureVerb, []string{dir}},
		{planVerb, []string{dir, "--sheet"}},
		{robotsVerb, []string{dir}},
		{dossierVerb, append([]string{dir}, l.RobotNames...)},
		{packageVerb, []string{dir}},
		{verifyVerb, []string{filepath.Join(dir, "reports", "package.zip")}},
	} {
		c.say("$ swathe %s %s", step.verb.name, strings.Join(step.args, " "))
		if code := step.verb.call(c.ctx, step.args, c.err, c.err); code != exitOK {
			return nil, fmt.Errorf("swathe %s ended with code %d; the lab itself is complete", step.verb.name, code)
		}
	}
	c.print("%s holds a made-up laboratory. Open %s, or run: swathe serve %s", dir, filepath.Join(dir, "reports", "dossiers", l.RobotNames[0], "index.html"), dir)
	return struct {
		Verb   string   `json:"verb"`
		Lab    string   `json:"lab"`
		Robots []string `json:"robots"`
	}{"demo", l.Dir, l.RobotNames}, nil
}
