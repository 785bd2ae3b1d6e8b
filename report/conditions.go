package report

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"swathe/report/words"
)

// ConditionValues is what the notes of some runs state of one condition.
type ConditionValues struct {
	Name   string   `json:"name"`
	Unit   string   `json:"unit"`       // empty: none
	Values []string `json:"values"`     // each once; of dates the days
	Not    int      `json:"not_stated"` // runs whose notes do not state it
}

// ConditionsOf lists the conditions under which runs were made, by name. unit
// gives the unit of a condition; nil: nobody knows. How a run ended, and remarks,
// are no conditions.
func ConditionsOf(runs []map[string]string, unit func(name string) string) []ConditionValues {
	names := map[string]bool{}
	for _, r := range runs {
		for k, v := range r {
			if k != "outcome" && k != "note" && k != "block" && v != "" {
				names[k] = true
			}
		}
	}
	out := []ConditionValues{}
	for _, n := range slices.Sorted(maps.Keys(names)) {
		c := ConditionValues{Name: n}
		if unit != nil {
			c.Unit = unit(n)
		}
		seen := map[string]bool{}
		for _, r := range runs {
			v := r[n]
			if n == "date" {
				v, _, _ = strings.Cut(strings.ReplaceAll(v, "T", " "), " ")
			}
			if v == "" {
				c.Not++
			} else {
				seen[v] = true
			}
		}
		c.Values = slices.SortedFunc(maps.Keys(seen), func(a, b string) int {
			x, err1 := strconv.ParseFloat(a, 64)
			y, err2 := strconv.ParseFloat(b, 64)
			if err1 != nil || err2 != nil || x == y {
				return strings.Compare(a, b)
			}
			if x < y {
				return -1
			}
			return 1
		})
		out = append(out, c)
	}
	return out
}

// Heading is the name of a condition for readers.
func (c ConditionValues) Heading() string { return strings.ReplaceAll(c.Name, "_", " ") }

// Words writes the values with their unit; of dates and numbers from the first
// to the last, of others at most five.
func (c ConditionValues) Words() string {
	unit := map[string]string{"degC": words.NB + "°C", "degF": words.NB + "°F", "": ""}
	u, ok := unit[c.Unit]
	if !ok {
		u = words.NB + c.Unit
	}
	ordered := c.Name == "date" || len(c.Values) > 0 && !slices.ContainsFunc(c.Values, func(v string) bool { _, err := strconv.ParseFloat(v, 64); return err != nil })
	ordered = ordered && c.Name != "firmware" && c.Name != "sample"
	var out string
	switch n := len(c.Values); {
	case n > 1 && ordered:
		out = c.Values[0] + " to " + c.Values[n-1] + u
	case n > 5:
		out = strings.Join(c.Values[:5], ", ") + fmt.Sprintf(" and %d more", n-5) + u
	default:
		out = words.List(c.Values) + u
	}
	if c.Not > 0 {
		out += fmt.Sprintf(" (not stated for %s)", words.Some(c.Not, "run"))
	}
	return out
}
