package work

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"swathe/cmd/internal/lab"
)

// Two choices of runs of the same robots have one name by their robots; the second
// must not be written over the first.
func TestComparisonsKeepTheirNames(t *testing.T) {
	l := &lab.Lab{Dir: t.TempDir()}
	put := func(name string, ids, refused []string) {
		t.Helper()
		dir := filepath.Join(l.ComparisonsDir(), name)
		if err := os.MkdirAll(dir, 0o755); err != nil {
			t.Fatal(err)
		}
		list := func(ids []string) (s string) {
			for i, id := range ids {
				if i > 0 {
					s += ","
				}
				s += fmt.Sprintf(`{"run": %q}`, id)
			}
			return "[" + s + "]"
		}
		if err := os.WriteFile(filepath.Join(dir, "comparison.json"), []byte(`{"runs": `+list(ids)+`, "refused": `+list(refused)+`}`), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	one, two := []string{"den/linden_mapped_1", "den/wren_mapped_1"}, []string{"den/linden_mapped_2", "den/wren_mapped_1"}
	base := FreeComparisonName(l, one)
	put(base, one, nil)
	if n := FreeComparisonName(l, []string{one[1], one[0]}); n != base {
		t.Errorf("the same runs in another order are called %s, not %s again", n, base)
	}
	second := FreeComparisonName(l, two)
	if second != base+"-2" {
		t.Fatalf("other runs of the same robots are called %s", second)
	}
	put(second, two[:1], two[1:]) // one of them was refused
	if n := FreeComparisonName(l, two); n != second {
		t.Errorf("with a refused run among them they are called %s, not %s again", n, second)
	}
	if n := FreeComparisonName(l, append(two, "den/wren_mapped_3")); n != base+"-3" {
		t.Errorf("a third choice is called %s", n)
	}
	if err := os.WriteFile(filepath.Join(l.ComparisonsDir(), base, "comparison.json"), []byte("{"), 0o644); err != nil {
		t.Fatal(err)
	}
	if !OtherComparison(l, base, one) {
		t.Error("a comparison that cannot be read may be written over")
	}
}
