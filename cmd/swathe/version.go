package main

import (
	"runtime"
	"runtime/debug"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/lab"
)

var versionVerb = verb{
	name:  "version",
	brief: "print the versions of program and analysis",
	about: `Prints the version of the analysis, the revision that the program was built from
and the Go that built it. Results state the analysis version; measure updates
results of an older version.`,
	examples: `swathe version`,
	new: func(*pflag.FlagSet) func(*call) (any, error) {
		return func(c *call) (any, error) {
			if len(c.args) > 0 {
				return nil, usage("version takes no arguments")
			}
			doc := struct {
				Verb     string  `json:"verb"`
				Analysis int     `json:"analysis"`
				Revision *string `json:"revision"`
				Modified *bool   `json:"modified"`
				Go       string  `json:"go"`
			}{"version", lab.AnalysisVersion, nil, nil, runtime.Version()}
			text := "unknown"
			if info, ok := debug.ReadBuildInfo(); ok {
				for _, s := range info.Settings {
					switch s.Key {
					case "vcs.revision":
						rev := s.Value
						doc.Revision, text = &rev, rev
					case "vcs.modified":
						m := s.Value == "true"
						doc.Modified = &m
						if m {
							text += " with changes"
						}
					}
				}
			}
			c.print("swathe, analysis version %d, revision %s, %s", doc.Analysis, text, doc.Go)
			return doc, nil
		}
	},
}
