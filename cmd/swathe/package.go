package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"strconv"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/disk"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/packing"
)

var packageVerb = verb{
	name:  "package",
	args:  "LAB",
	brief: "write a zip from which readers can check the figures",
	about: `Writes LAB/reports/package.zip, or the file that --out names: every figure with
its path and set-up, plan, conditions and bench, what each figure means with
every threshold, the versions, a data sheet of all columns (datapackage.json),
licence, CITATION.cff, and the SHA-256 of every file. Of recordings it holds
only the hash.

lab.yaml must name the publisher and the licence:
  laboratory: {name: ..., licence: CC-BY-4.0}

Readers check it with swathe verify, or sha256sum -c SHA256SUMS.`,
	examples: `swathe package my-lab
swathe package my-lab --out trial-2026.zip`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		out := fs.String("out", "", "`FILE`.zip to write")
		return func(c *call) (any, error) {
			if len(c.args) != 1 {
				return nil, usage("package needs the lab's folder and nothing else")
			}
			l, err := lab.Open(c.args[0])
			if err != nil {
				return nil, err
			}
			p, err := packing.New(l, versions())
			if err != nil {
				return nil, err
			}
			l.SaveHashes()
			file := *out
			if file == "" {
				file = filepath.Join(l.Dir, "reports", "package.zip")
				if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
					return nil, err
				}
			}
			if err := disk.WriteWholeBy(file, func(w io.Writer) error { return p.Write(w) }); err != nil {
				return nil, fmt.Errorf("%s can't be written: %w", file, err)
			}
			c.print("%s holds %d files, %d runs. Check it: swathe verify %s", file, len(p.Files), p.Runs, file)
			return struct {
				File  string   `json:"file"`
				Runs  int      `json:"runs"`
				Files []string `json:"files"`
			}{file, p.Runs, p.Names()}, nil
		}
	},
}

// versions says which program this is.
func versions() map[string]string {
	v := map[string]string{"analysis": strconv.Itoa(lab.AnalysisVersion), "go": runtime.Version(), "revision": "unknown"}
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" {
				v["revision"] = s.Value
			}
		}
	}
	return v
}
