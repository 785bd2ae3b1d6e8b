package figure

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// PDF files of every kind are whole to another program's checker (Debian's qpdf), and
// have the title and the print size that they should to another reader (poppler's
// pdfinfo).
func TestPDFAsACheckerSeesIt(t *testing.T) {
	qpdf, err := exec.LookPath("qpdf")
	if err != nil {
		t.Skip("qpdf is not installed")
	}
	pdfinfo, _ := exec.LookPath("pdfinfo")
	opt := DefaultOptions()
	opt.Width, opt.Height, opt.DPI, opt.Theme = 1004, 752, 300, Print
	file := filepath.Join(t.TempDir(), "a.pdf")
	check := func(raw []byte) error {
		if err := os.WriteFile(file, raw, 0o644); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command(qpdf, "--check", file).CombinedOutput(); err != nil {
			return fmt.Errorf("%w: %s", err, out)
		}
		return nil
	}
	n := 0
	for _, p := range gallery(t, opt) {
		raw := written(t, p, "pdf")
		if err := check(raw); err != nil {
			t.Errorf("%s: %v", p.Name, err)
		}
		if m := regexp.MustCompile(`(?m) [mlc]\nq `).FindString(drawing(t, raw)); m != "" {
			t.Errorf("%s: a path is broken off, which readers take differently", p.Name)
		}
		n++
		if pdfinfo != "" {
			out, err := exec.Command(pdfinfo, file).Output()
			said := regexp.MustCompile(` +`).ReplaceAllString(string(out), " ")
			if err != nil || !strings.Contains(said, "Title: "+p.Title+"\n") || !strings.Contains(said, "Page size: 240.96 x 180.48 pts") {
				t.Errorf("%s, titled %q: %v\n%s", p.Name, p.Title, err, said)
			}
		}
		if check(raw[:len(raw)/2]) == nil {
			t.Errorf("%s: half of the file passes the check", p.Name)
		}
	}
	t.Logf("%d files, pdfinfo %q", n, pdfinfo)
}

// drawing is what a PDF draws, as text.
func drawing(t *testing.T, pdf []byte) string {
	t.Helper()
	var out strings.Builder
	for {
		_, rest, ok := bytes.Cut(pdf, []byte("stream\n"))
		if !ok {
			break
		}
		if z, err := zlib.NewReader(bytes.NewReader(rest)); err == nil {
			if raw, err := io.ReadAll(z); err == nil && bytes.Contains(raw, []byte(" m\n")) {
				out.Write(raw)
			}
		}
		pdf = rest
	}
	if out.Len() == 0 {
		t.Fatal("the file draws nothing")
	}
	return out.String()
}
