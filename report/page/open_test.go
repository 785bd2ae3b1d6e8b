package page

import (
	"strings"
	"testing"
)

// TestPagesOpen guards that every page is written whole: the templates' escaping
// is only worked out when a page is first asked for, and its faults with it.
func TestPagesOpen(t *testing.T) {
	_, _, lab, srv := fakeLab(t, DefaultOptions())
	lab.rows = []Row{{ID: "cluttered/siskin_mapped_1", State: Measured}}
	for _, path := range []string{"/", "/setup", "/side", "/export", "/bin", "/help", "/help/figures"} {
		status, _, body := send(t, srv, attempt{method: "GET", path: path})
		if status != 200 || !strings.Contains(body, "</html>") {
			t.Errorf("%s: %d, %d bytes: %.200s", path, status, len(body), body)
		}
	}
}
