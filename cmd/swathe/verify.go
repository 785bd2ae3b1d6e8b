package main

import (
	"fmt"
	"io"
	"os"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/packing"
)

var verifyVerb = verb{
	name:  "verify",
	args:  "FILE.zip|LAB",
	brief: "check a package or a lab: hashes, figures, set-ups",
	about: `Checks a package that swathe package made: the SHA-256 of every file, nothing
missing and nothing added, and that figures.csv follows from the results in it.

With --recordings FOLDER (a lab's folder, or its recordings folder) every
recording that is found and has the hash of the package is measured again, and
each figure is compared with the package. Differences are listed.

Of a lab's folder every recording and every file of every result is read again and
its SHA-256 compared with what was noted when it was measured; a changed lab.yaml or
version of the analysis, and recordings that are gone, are listed as notes.

Exit code 1 if anything differs.`,
	examples: `swathe verify trial-2026.zip
swathe verify trial-2026.zip --recordings my-lab
swathe verify my-lab`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		from := fs.String("recordings", "", "`FOLDER`: measure the recordings in it again")
		return func(c *call) (any, error) {
			if len(c.args) != 1 {
				return nil, usage("verify needs the package, or the lab's folder, and nothing else")
			}
			if st, err := os.Stat(c.args[0]); err == nil && st.IsDir() {
				if *from != "" {
					return nil, usage("--recordings is of packages; a lab has its own")
				}
				return verifyLab(c, c.args[0])
			}
			p, err := packing.Read(c.args[0])
			if err != nil {
				return nil, err
			}
			v, err := p.Check()
			if err != nil {
				return nil, err
			}
			if *from != "" {
				if err := measureAgain(c, p, v, *from); err != nil {
					return nil, err
				}
			}
			c.print("%d files checked, %d runs in it, %d measured again.", v.Files, v.Runs, v.Measured)
			for _, n := range v.Notes {
				c.print("Note: %s.", n)
			}
			for _, n := range v.NotThere {
				c.print("Not found, so not measured again: %s", n)
			}
			for _, d := range v.Differ {
				c.print("Differs: %s", d)
			}
			if len(v.Differ) > 0 {
				return v, errSomeFailed
			}
			c.print("No differences found.")
			return v, nil
		}
	},
}

// verifyLab holds a lab's results against what they were made of.
func verifyLab(c *call, dir string) (any, error) {
	l, err := lab.Open(dir)
	if err != nil {
		return nil, err
	}
	v, err := l.Verify(c.ctx)
	if err != nil {
		return nil, err
	}
	c.print("%s, %s checked.", counted(v.Results, "result", "results"), counted(v.Files, "file", "files"))
	for _, n := range v.Notes {
		c.print("Note: %s: %s", n.Run, n.What)
	}
	for _, d := range v.Differ {
		c.print("Differs: %s: %s", d.Run, d.What)
	}
	if len(v.Differ) > 0 {
		return v, errSomeFailed
	}
	c.print("No differences found.")
	return v, nil
}

// measureAgain measures the package's recordings in a folder of its own.
func measureAgain(c *call, p *packing.Package, v *packing.Verdict, from string) error {
	if _, err := os.Stat(from); err != nil {
		return fmt.Errorf("the recordings can't be read: %w", err)
	}
	dir, err := os.MkdirTemp("", "swathe-verify-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	runs, err := p.Again(v, from, dir)
	if err != nil || len(runs) == 0 {
		return err
	}
	// Rows of run sheets whose recordings are not there count as failed; that is
	// told as not found.
	if code := measureVerb.call(c.ctx, []string{dir}, io.Discard, c.err); code == exitWrong {
		return fmt.Errorf("the recordings can't be measured again")
	}
	return p.Against(v, dir)
}
