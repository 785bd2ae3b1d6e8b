package residue

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

// The help page on residue gives the numbers that are used here.
func TestNumbersOfThePage(t *testing.T) {
	raw, err := os.ReadFile("../../report/docs/residue.md")
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Join(strings.Fields(string(raw)), " ")
	for _, n := range []string{
		fmt.Sprintf("Each takes %d pixels or more", leastField),
		fmt.Sprintf("within %.0f cm of a wall", 100*edgeBand),
		fmt.Sprintf("differ by more than a factor of %g", mostTint),
		fmt.Sprintf("Marks that disagree by more than %.0f mm", 1000*MaxMarkResidual),
	} {
		if !strings.Contains(text, n) {
			t.Errorf("residue.md does not say %q", n)
		}
	}
}
