package work

import (
	"fmt"
	"strings"
	"testing"

	"swathe/report"
	"swathe/report/docs"
)

// The help page on residue gives the numbers that are used here.
func TestNumbersOfResidue(t *testing.T) {
	text, err := docs.Text("residue", 1000)
	if err != nil {
		t.Fatal(err)
	}
	text = strings.Join(strings.Fields(text), " ")
	for _, n := range []string{
		fmt.Sprintf("the robot is %.0f cm or more away for %g s", 100*clearOf, showFor),
		fmt.Sprintf("Of more than %d crossings %d are looked at", mostCycles, mostCycles),
		fmt.Sprintf("no more than %.0f %%", 100*report.CleanShare),
	} {
		if !strings.Contains(text, n) {
			t.Errorf("residue.md does not say %q", n)
		}
	}
}
