package figure

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// What a printer's separation makes of the pictures for print: in the CMYK of another
// program's ICC profile (Ghostscript's default_cmyk.icc, generic web offset) no spot has
// more than 300 % of ink (common practice: 300 for coated paper).
func TestInk(t *testing.T) {
	gs, err := exec.LookPath("gs")
	if err != nil {
		t.Skip("Ghostscript (gs) is not installed")
	}
	dir := t.TempDir()
	opt := DefaultOptions()
	opt.Width, opt.Height, opt.DPI, opt.Theme = 800, 600, 100, Print
	p, err := Passes(fixture(t), opt)
	if err != nil {
		t.Fatal(err)
	}
	file, cmyk, raw := filepath.Join(dir, "rgb.pdf"), filepath.Join(dir, "cmyk.pdf"), filepath.Join(dir, "a.pam")
	if err := os.WriteFile(file, written(t, p, "pdf"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{
		{"-q", "-dNOPAUSE", "-dBATCH", "-sDEVICE=pdfwrite", "-sColorConversionStrategy=CMYK", "-sProcessColorModel=DeviceCMYK", "-sOutputFile=" + cmyk, file},
		{"-q", "-dNOPAUSE", "-dBATCH", "-sDEVICE=pamcmyk32", "-r50", "-sOutputFile=" + raw, cmyk},
	} {
		if out, err := exec.Command(gs, args...).CombinedOutput(); err != nil {
			t.Fatalf("%v: %v\n%s", args, err, out)
		}
	}
	b, err := os.ReadFile(raw)
	if err != nil {
		t.Fatal(err)
	}
	var w, h int
	head := bytes.Index(b, []byte("ENDHDR\n"))
	if _, err := fmt.Sscanf(string(b), "P7\nWIDTH %d\nHEIGHT %d\n", &w, &h); err != nil || head < 0 || len(b)-head-7 != 4*w*h {
		t.Fatalf("%d bytes of %d x %d, %v", len(b), w, h, err)
	}
	most, inked := 0, 0
	for i, px := 0, b[head+7:]; i < len(px); i += 4 {
		sum := int(px[i]) + int(px[i+1]) + int(px[i+2]) + int(px[i+3])
		most = max(most, sum)
		if sum > 25 {
			inked++
		}
	}
	t.Logf("at most %.0f %% of ink (bound 300); %.0f %% of the sheet has some", float64(most)/2.55, 100*float64(inked)/float64(w*h))
	if most > 3*255 || inked < w*h/5 {
		t.Errorf("%.0f %% of ink, %d of %d pixels with some", float64(most)/2.55, inked, w*h)
	}
}
