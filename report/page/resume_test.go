package page

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// sendFrom asks for an upload to go on from a place, over a connection that is
// cut after cut bytes (-1: never); it returns the status, 0 if there was none.
func sendFrom(t *testing.T, srv *httptest.Server, query string, from int64, body []byte, cut int) (int, string) {
	t.Helper()
	addr := srv.Listener.Addr().String()
	c, err := net.Dial("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	_ = c.SetDeadline(time.Now().Add(10 * time.Second))
	head := fmt.Sprintf("PATCH /uploads/hall/rowan_single_1.mp4?%s HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\nConnection: close\r\nUpload-Offset: %d\r\nContent-Length: %d\r\n\r\n", query, addr, addr, from, len(body))
	if cut >= 0 {
		_, _ = io.WriteString(c, head)
		_, _ = c.Write(body[:cut])
		return 0, ""
	}
	_, _ = io.WriteString(c, head)
	go func() { _, _ = c.Write(body) }()
	raw, _ := io.ReadAll(c)
	status := 0
	_, _ = fmt.Sscanf(string(raw), "HTTP/1.1 %d", &status)
	return status, string(raw)
}

func have(t *testing.T, srv *httptest.Server, query string) int64 {
	t.Helper()
	resp, err := http.Head(srv.URL + "/uploads/hall/rowan_single_1.mp4?" + query)
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	n, err := strconv.ParseInt(resp.Header.Get(offsetHeader), 10, 64)
	if err != nil {
		t.Fatalf("%d: no offset in %v", resp.StatusCode, resp.Header)
	}
	return n
}

// TestResume sends a recording over connections that are cut at random places,
// the program started anew in the middle, and holds what arrives to the byte.
func TestResume(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	rnd := rand.New(rand.NewPCG(seed, 0))
	dir, _, lab, srv := fakeLab(t, Options{MaxUpload: 1 << 30})
	data := make([]byte, 1<<20+rnd.IntN(1<<16))
	for i := range data {
		data[i] = byte(rnd.Uint32())
	}
	query := fmt.Sprintf("size=%d&modified=1700000000123", len(data))
	cuts, tries := 0, 0
	for at := int64(0); at < int64(len(data)); tries++ {
		if tries > 400 {
			t.Fatal("it never ends")
		}
		rest := data[at:]
		piece := rest[:min(len(rest), 1+rnd.IntN(len(data)/6))]
		if rnd.IntN(3) > 0 {
			// The next request may come before the program knows of the cut.
			sendFrom(t, srv, query, at, piece, rnd.IntN(len(piece)))
			cuts++
			at = have(t, srv, query)
			continue
		}
		status, text := sendFrom(t, srv, query, at, piece, -1)
		switch {
		case status == http.StatusConflict && strings.Contains(text, "bytes have arrived"):
			at = have(t, srv, query)
		case status == http.StatusOK:
			at = have(t, srv, query)
		case status == http.StatusCreated:
			at = int64(len(data))
		default:
			t.Fatalf("from %d: %d %s", at, status, text)
		}
		if tries == 5 {
			h, root, err := New(dir, lab, DefaultOptions())
			if err != nil {
				t.Fatal(err)
			}
			defer root.Close()
			srv.Config.Handler = h
		}
	}
	got, err := os.ReadFile(filepath.Join(dir, "recordings/hall/rowan_single_1.mp4"))
	if err != nil || sha256.Sum256(got) != sha256.Sum256(data) {
		t.Errorf("%d bytes arrived of %d, %v", len(got), len(data), err)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "recordings/hall/.*")); len(left) > 0 || lab.arrived != 1 {
		t.Errorf("left behind: %v; %d recordings told of", left, lab.arrived)
	}
	t.Logf("%d bytes in %d requests, %d of them cut", len(data), tries, cuts)
}

// TestResumeRefuses holds what an upload in pieces may not do, and that giving up
// and time leave nothing.
func TestResumeRefuses(t *testing.T) {
	dir, _, lab, srv := fakeLab(t, Options{MaxUpload: 1000})
	const ok = "size=100&modified=5"
	fifty := bytes.Repeat([]byte("x"), 50)
	if status, text := sendFrom(t, srv, ok, 0, fifty, -1); status != http.StatusOK {
		t.Fatalf("%d %s", status, text)
	}
	for _, c := range []struct {
		name, query string
		from        int64
		body        []byte
		want        int
		says        string
	}{
		{"a gap", ok, 60, fifty, 409, "50 bytes have arrived"},
		{"written over", ok, 0, fifty, 409, "50 bytes have arrived"},
		{"a size that is too large", "size=1001&modified=5", 0, fifty, 413, "larger than"},
		{"no size", "modified=5", 0, fifty, 400, "needs the size"},
		{"an empty one", "size=0&modified=5", 0, nil, 400, "empty"},
		{"a negative time", "size=100&modified=-5", 0, fifty, 400, "needs the size"},
	} {
		status, text := sendFrom(t, srv, c.query, c.from, c.body, -1)
		if status != c.want || !strings.Contains(text, c.says) {
			t.Errorf("%s: %d, want %d: %s", c.name, status, c.want, text)
		}
	}
	part := filepath.Join(dir, "recordings/hall/.rowan_single_1.mp4"+uploadMark+"100-5")
	if raw, err := os.ReadFile(part); err != nil || !bytes.Equal(raw, fifty) {
		t.Errorf("the part reads %q, %v", raw, err)
	}
	if status, text := sendFrom(t, srv, ok, 50, bytes.Repeat([]byte("x"), 51), -1); status != 400 || !strings.Contains(text, "More arrived") {
		t.Errorf("more than the size: %d %s", status, text)
	}
	if _, err := os.Stat(part); !os.IsNotExist(err) {
		t.Error("what is more than whole is kept")
	}
	// Cancelled.
	if status, _ := sendFrom(t, srv, ok, 0, fifty, -1); status != http.StatusOK {
		t.Fatal("it does not begin again")
	}
	status, _, _ := send(t, srv, attempt{method: "DELETE", path: "/uploads/hall/rowan_single_1.mp4?" + ok})
	if _, err := os.Stat(part); status != http.StatusOK || !os.IsNotExist(err) {
		t.Errorf("cancelled with %d: %v", status, err)
	}
	// What nobody came back for in two weeks goes; what is younger stays.
	for name, age := range map[string]time.Duration{"old": partKept + time.Hour, "young": time.Hour} {
		file := filepath.Join(dir, "recordings/hall/."+name+".mp4"+uploadMark+"100-5")
		if err := os.WriteFile(file, fifty, 0o644); err != nil {
			t.Fatal(err)
		}
		then := time.Now().Add(-age)
		_ = os.Chtimes(file, then, then)
	}
	_, root, err := New(dir, lab, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	root.Close()
	left, _ := filepath.Glob(filepath.Join(dir, "recordings/hall/.*"))
	if len(left) != 1 || !strings.Contains(left[0], "young") {
		t.Errorf("after the start there are %v", left)
	}
	if lab.arrived != 0 {
		t.Error("a part counted as a recording")
	}
}
