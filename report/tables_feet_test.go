package report

import (
	"slices"
	"testing"

	"swathe/report/words"
)

// The events of a table in feet say nothing in metres: places, size and sentence
// are in feet alike (0.3048 m to the foot, NIST SP 811).
func TestEventsTableInFeet(t *testing.T) {
	r := &Run{Events: []Event{{Kind: "swerve", StartS: 5, EndS: 6, X: 3.048, Y: 1.524, Size: 0.6096, Unit: "m",
		More: map[string]float64{"side_m": 0.6096, "gap_m": 1.2192}}}}
	for _, table := range RunTables(r, nil, words.Foot) {
		if table.Name != "events" {
			continue
		}
		want := []string{"swerve", "5", "6", "10", "5", "2", "ft",
			"At 0:05 it swerved 2.0" + words.NB + "ft to the left and returned to its line after 4.0" + words.NB + "ft, with nothing in its way."}
		if len(table.Rows) != 1 || !slices.Equal(table.Rows[0], want) {
			t.Errorf("rows %q, want %q", table.Rows, want)
		}
		return
	}
	t.Error("no table of events")
}
