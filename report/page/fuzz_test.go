package page

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// FuzzUploadName: a name that is taken is one file's in the folder that it is put
// into, shown in full, and not one of those that the program keeps for itself.
func FuzzUploadName(f *testing.F) {
	if seeds, err := os.ReadDir("testdata/fuzz/FuzzUploadName"); err != nil || len(seeds) == 0 {
		f.Fatalf("the seeds are gone: %v", err)
	}
	f.Fuzz(func(t *testing.T, name string) {
		if recordingName(name) != nil {
			return
		}
		if filepath.Base(name) != name || filepath.Dir(filepath.Join("a", name)) != "a" || !filepath.IsLocal(name) {
			t.Errorf("%q leads elsewhere", name)
		}
		if strings.HasPrefix(name, ".") || strings.EqualFold(name, "runs.csv") || len(name) > 255 || strings.ContainsAny(name, "\x00/\\\u202e\u200b") {
			t.Errorf("%q was taken", name)
		}
	})
}
