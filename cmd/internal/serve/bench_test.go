package serve

import (
	"bytes"
	"context"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"

	"swathe/report/page"
)

// thousand makes a lab of 1,000 results, each with a run.json of the size that a
// measured run of some minutes has.
func thousand(tb testing.TB) string {
	tb.Helper()
	dir := tb.TempDir()
	events := bytes.Repeat([]byte(`{"kind":"pause","start_s":10,"end_s":16,"x_m":1,"y_m":1,"size":6,"unit":"s","sentence":"It stood still for a while, as it does."},`), 200)
	for i := 1; i <= 1000; i++ {
		run := filepath.Join(dir, "results/hall", fmt.Sprintf("rowan_single_%d", i))
		if err := os.MkdirAll(run, 0o755); err != nil {
			tb.Fatal(err)
		}
		doc := fmt.Sprintf(`{"schema":2,"layout":"hall","robot":"rowan","phase":"single","trial":%d,"tool":"brush","run":{"duration_s":600},"coverage":{"reachable_share":0.9},"events":[%s]}`, i, bytes.TrimSuffix(events, []byte(",")))
		if err := os.WriteFile(filepath.Join(run, "run.json"), []byte(doc), 0o644); err != nil {
			tb.Fatal(err)
		}
	}
	return dir
}

// BenchmarkFirstPage is the page and then the whole list of a lab with 1,000
// runs, from the request to the last byte.
func BenchmarkFirstPage(b *testing.B) {
	dir := thousand(b)
	d, err := New(context.Background(), dir, DefaultOptions(), Eye{}, func(string, ...any) {})
	if err != nil {
		b.Fatal(err)
	}
	defer d.Close()
	h, root, err := page.New(dir, d, page.DefaultOptions())
	if err != nil {
		b.Fatal(err)
	}
	defer root.Close()
	at := &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 80}
	for path, rows := range map[string]int{"": 60, "rows": 1000} {
		b.Run("/"+path, func(b *testing.B) {
			size := 0
			for b.Loop() {
				d.mu.Lock()
				d.version++ // as if something had just changed: nothing is ready made
				d.mu.Unlock()
				req := httptest.NewRequest("GET", "http://127.0.0.1:80/"+path, nil)
				req = req.WithContext(context.WithValue(req.Context(), http.LocalAddrContextKey, net.Addr(at)))
				w := httptest.NewRecorder()
				h.ServeHTTP(w, req)
				if w.Code != http.StatusOK || bytes.Count(w.Body.Bytes(), []byte(`reachable_share`)) != rows {
					b.Fatalf("/%s: %d, %d bytes", path, w.Code, w.Body.Len())
				}
				size = w.Body.Len()
			}
			b.ReportMetric(float64(size)/1000, "kB")
		})
	}
}
