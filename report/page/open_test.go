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

// TestPictureHalfDrawn guards that a picture that fails half-way is refused with its
// reason, not sent as the half that there was.
func TestPictureHalfDrawn(t *testing.T) {
	_, _, _, srv := fakeLab(t, DefaultOptions())
	status, head, body := send(t, srv, attempt{method: "GET", path: "/pictures/cluttered/siskin_mapped_1/passes"})
	if status != 404 || head.Get("Content-Type") != "application/json" || head.Get("Cache-Control") != "no-store" || strings.Contains(body, "half") {
		t.Errorf("%d %v %s", status, head, body)
	}
}

// TestExportTells guards that an export which has told how far it is ends with what it
// wrote or why it stopped, in the same answer.
func TestExportTells(t *testing.T) {
	_, _, _, srv := fakeLab(t, DefaultOptions())
	for _, c := range []struct{ name, films, last string }{{"a", "true", `"name":"a"`}, {"full", "true", `"error":"The disk is full."`}, {"b", "false", `"name":"b"`}} {
		status, _, body := send(t, srv, attempt{method: "POST", path: "/export", body: `{"name": "` + c.name + `", "runs": ["a/b"], "films": {"each": ` + c.films + `}}`})
		if status != 201 || strings.Contains(body, `"what":"film.mp4"`) != (c.films == "true") || !strings.Contains(body, c.last) {
			t.Errorf("%s: %d %s", c.name, status, body)
		}
	}
}
