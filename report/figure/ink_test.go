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
// more than 300 % of ink (common practice: 300 for coated paper). With SWATHE_LONG
// that is every kind of picture, and as well in a profile made of the measurements of
// offset on coated paper that Debian holds (FOGRA39L, in icc-profiles-free) by its
// argyll.
func TestInk(t *testing.T) {
	gs, err := exec.LookPath("gs")
	if err != nil {
		t.Skip("Ghostscript (gs) is not installed")
	}
	opt := DefaultOptions()
	opt.Width, opt.Height, opt.DPI, opt.Theme = 800, 600, 100, Print
	p, err := Passes(fixture(t), opt)
	if err != nil {
		t.Fatal(err)
	}
	pictures, profiles := []*Picture{p}, []string{""}
	if os.Getenv("SWATHE_LONG") != "" {
		pictures = gallery(t, opt)
		if icc := offset(t); icc != "" {
			profiles = append(profiles, icc)
		}
	}
	for _, profile := range profiles {
		most, of := 0, ""
		for _, p := range pictures {
			ink, inked := inkOf(t, gs, profile, p)
			if ink > most {
				most, of = ink, p.Name
			}
			if inked < 0.01 || p.Name == "passes" && inked < 0.2 {
				t.Errorf("%s, profile %q: only %.0f %% of the sheet has ink", p.Name, profile, 100*inked)
			}
		}
		t.Logf("profile %q, %d kinds: at most %.0f %% of ink (%s; bound 300)", profile, len(pictures), float64(most)/2.55, of)
		if most > 3*255 {
			t.Errorf("%s, profile %q: %.0f %% of ink", of, profile, float64(most)/2.55)
		}
	}
}

// inkOf is the most ink of a spot of a picture, 255 of one ink, and the share of the
// sheet that has some.
func inkOf(t *testing.T, gs, profile string, p *Picture) (most int, inked float64) {
	t.Helper()
	dir := t.TempDir()
	file, raw := filepath.Join(dir, "rgb.pdf"), filepath.Join(dir, "a.pam")
	if err := os.WriteFile(file, written(t, p, "pdf"), 0o644); err != nil {
		t.Fatal(err)
	}
	args := []string{"-q", "-dNOPAUSE", "-dBATCH", "-sDEVICE=pamcmyk32", "-r50", "-sOutputFile=" + raw}
	if profile != "" { // which Ghostscript's PDF writer would pass over
		args = append(args, "--permit-file-read="+profile, "-sOutputICCProfile="+profile)
	}
	if out, err := exec.Command(gs, append(args, file)...).CombinedOutput(); err != nil {
		t.Fatalf("%v: %v\n%s", args, err, out)
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
	n := 0
	for i, px := 0, b[head+7:]; i < len(px); i += 4 {
		sum := int(px[i]) + int(px[i+1]) + int(px[i+2]) + int(px[i+3])
		most = max(most, sum)
		if sum > 25 {
			n++
		}
	}
	return most, float64(n) / float64(w*h)
}

// offset makes the profile of offset on coated paper, "" where a part is not installed.
func offset(t *testing.T) string {
	t.Helper()
	const measured, screen = "/usr/share/color/icc/FOGRA39L.ti3", "/usr/share/color/icc/sRGB.icc"
	colprof, err := exec.LookPath("colprof")
	data, e := os.ReadFile(measured)
	if err != nil || e != nil {
		t.Logf("argyll and icc-profiles-free are not both installed: %v, %v", err, e)
		return ""
	}
	base := filepath.Join(t.TempDir(), "coated")
	if err := os.WriteFile(base+".ti3", data, 0o644); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(colprof, "-ql", "-l", "300", "-S", screen, "-cmt", "-dpp", base).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return base + ".icc"
}
