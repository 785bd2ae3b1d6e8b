package compared

import (
	"strings"

	"swathe/coverage/compare"
	"swathe/report"
)

// conditionLine is the conditions in one line, for a table that has no room for
// more; empty if none is stated.
func conditionLine(cs []report.ConditionValues) string {
	var parts []string
	for _, c := range cs {
		parts = append(parts, c.Heading()+" "+c.Words())
	}
	if len(parts) == 0 {
		return "Conditions: none stated."
	}
	return "Conditions: " + strings.Join(parts, "; ") + "."
}

// conditionsOf are the conditions of some runs.
func conditionsOf(rs []compare.Run) []map[string]string {
	var out []map[string]string
	for _, r := range rs {
		out = append(out, r.Conditions)
	}
	return out
}
