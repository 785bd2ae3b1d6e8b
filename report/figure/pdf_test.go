package figure

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// PDF files are whole to another program's checker (Debian's qpdf).
func TestPDFAsACheckerSeesIt(t *testing.T) {
	qpdf, err := exec.LookPath("qpdf")
	if err != nil {
		t.Skip("qpdf is not installed")
	}
	opt := DefaultOptions()
	opt.Theme = Print
	p, err := Passes(fixture(t), opt)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := p.Write(&b, "pdf"); err != nil {
		t.Fatal(err)
	}
	check := func(raw []byte) error {
		file := filepath.Join(t.TempDir(), "a.pdf")
		if err := os.WriteFile(file, raw, 0o644); err != nil {
			t.Fatal(err)
		}
		return exec.Command(qpdf, "--check", file).Run()
	}
	if err := check(b.Bytes()); err != nil {
		t.Error(err)
	}
	if check(b.Bytes()[:b.Len()/2]) == nil {
		t.Error("half of the file passes the check")
	}
}
