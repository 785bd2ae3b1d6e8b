package work

import (
	"regexp"
	"slices"
	"strings"
	"sync"

	"swathe/cmd/internal/lab"
)

var notInName = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`[^A-Za-z0-9_-]+`) })

// ComparisonName names a comparison after its layout, robots and phases.
func ComparisonName(ids []string) string {
	var parts []string
	add := func(p string) {
		if !slices.Contains(parts, p) {
			parts = append(parts, p)
		}
	}
	for _, id := range ids {
		layout, run, _ := strings.Cut(id, "/")
		add(layout)
		if n, err := lab.ParseRunName(run); err == nil {
			add(n.Robot)
		}
	}
	name := notInName().ReplaceAllString(strings.Join(parts, "-"), "-")
	return name[:min(len(name), 60)]
}
