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
		Sentence: "At 0:05 it swerved to the left by 0.61 m at (3.05, 1.52) m."}}}
	for _, table := range RunTables(r, words.Foot) {
		if table.Name != "events" {
			continue
		}
		want := []string{"swerve", "5", "6", "10", "5", "2", "ft",
			"At 0:05 it swerved to the left by 2.0" + words.NB + "ft at (10.0," + words.NB + "5.0)" + words.NB + "ft."}
		if len(table.Rows) != 1 || !slices.Equal(table.Rows[0], want) {
			t.Errorf("rows %q, want %q", table.Rows, want)
		}
		return
	}
	t.Error("no table of events")
}
