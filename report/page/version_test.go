package page

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// moving is a lab that changes while its runs are listed.
type moving struct {
	noLab
	version uint64
}

func (m *moving) Rows() ([]Row, error) { m.version++; return m.noLab.Rows() }
func (m *moving) Live() Live           { return Live{Version: m.version} }

// The page of runs says of which state its list is, and never of a later one: what
// changed while it was made, or before its stream opened, would be missed for good.
func TestListIsNoNewerThanSaid(t *testing.T) {
	h, c, err := New(t.TempDir(), &moving{version: 7}, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	srv := httptest.NewServer(h)
	defer srv.Close()
	answer, err := http.Get(srv.URL)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil || !strings.Contains(string(text), `data-version="7"`) {
		t.Errorf("the list was taken at 7 or later, and the page does not say 7 (%v):\n%.300s", err, text)
	}
}
