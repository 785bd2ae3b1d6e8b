package page

import (
	"io"
	"maps"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// attempt is a request as an attacker would send it.
type attempt struct {
	name, method, path string // path as it goes over the wire
	host, origin       string // empty: as a browser would send it; "-" for an origin: none
	header             map[string]string
	body               string
	want               int
}

// send sends an attempt over a connection of its own, nothing tidied.
func send(t *testing.T, srv *httptest.Server, a attempt) (int, http.Header, string) {
	t.Helper()
	addr := srv.Listener.Addr().String()
	host := a.host
	if host == "" {
		host = addr
	}
	var b strings.Builder
	b.WriteString(a.method + " " + a.path + " HTTP/1.1\r\nHost: " + host + "\r\nConnection: close\r\n")
	if a.origin == "" && a.method != "GET" {
		a.origin = "http://" + addr
	}
	if a.origin != "" && a.origin != "-" {
		b.WriteString("Origin: " + a.origin + "\r\n")
	}
	chunked := false
	for k, v := range a.header {
		b.WriteString(k + ": " + v + "\r\n")
		chunked = chunked || k == "Transfer-Encoding" || k == "Content-Length"
	}
	if a.body != "" && !chunked {
		b.WriteString("Content-Length: " + itoa(len(a.body)) + "\r\n")
	}
	b.WriteString("\r\n" + a.body)
	c, err := net.Dial("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	_ = c.SetDeadline(time.Now().Add(10 * time.Second))
	if _, err := io.WriteString(c, b.String()); err != nil {
		t.Fatal(err)
	}
	raw, _ := io.ReadAll(c)
	head, body, _ := strings.Cut(string(raw), "\r\n\r\n")
	status, h := 0, http.Header{}
	for i, line := range strings.Split(head, "\r\n") {
		if i == 0 {
			if f := strings.Fields(line); len(f) > 1 {
				for _, d := range f[1] {
					status = status*10 + int(d-'0')
				}
			}
			continue
		}
		k, v, _ := strings.Cut(line, ": ")
		h.Add(k, v)
	}
	return status, h, body
}

func itoa(n int) string {
	if n < 10 {
		return string(rune('0' + n))
	}
	return itoa(n/10) + string(rune('0'+n%10))
}

// TestAttempts sends what must be refused: each with the right status, and
// nothing read or written outside the lab, or in it.
func TestAttempts(t *testing.T) {
	dir, outside, lab, srv := fakeLab(t, Options{MaxUpload: 1000})
	before, inside := tree(t, outside), tree(t, dir)
	_, port, _ := net.SplitHostPort(srv.Listener.Addr().String())
	large := strings.Repeat("x", 1001)
	all := []attempt{
		{name: "climbing, escaped", method: "GET", path: "/recordings/cluttered/..%2f..%2f..%2foutside%2fsecret.mp4", want: 400},
		{name: "climbing, plain", method: "GET", path: "/recordings/../../outside/secret.mp4", want: 400},
		{name: "climbing as a layout", method: "GET", path: "/recordings/%2e%2e/lab.yaml", want: 400},
		{name: "climbing twice escaped", method: "GET", path: "/recordings/cluttered/%252e%252e%252fsecret.mp4", want: 404},
		{name: "an absolute path", method: "GET", path: "/recordings/%2fetc/passwd.mp4", want: 400},
		{name: "a NUL", method: "GET", path: "/recordings/cluttered/siskin_mapped_1.mp4%00.csv", want: 400},
		{name: "a backslash", method: "GET", path: "/recordings/cluttered/..%5c..%5csecret.mp4", want: 400},
		{name: "a link out of the lab", method: "GET", path: "/recordings/cluttered/link.mp4", want: 403},
		{name: "a climbing link", method: "GET", path: "/recordings/cluttered/near.mp4", want: 403},
		{name: "a folder that is a link", method: "GET", path: "/recordings/linked/secret.mp4", want: 403},
		{name: "not a recording", method: "GET", path: "/recordings/cluttered/lab.yaml", want: 415},
		{name: "a hidden file", method: "GET", path: "/recordings/cluttered/.x.mp4", want: 400},
		{name: "a comparison by climbing", method: "GET", path: "/comparisons/one/..%2f..%2flab.yaml", want: 400},
		{name: "a comparison through a link", method: "GET", path: "/comparisons/linked/index.html", want: 403},
		{name: "an export through a link", method: "GET", path: "/exports/print/link.png", want: 403},
		{name: "an export by climbing", method: "GET", path: "/exports/..%2f..%2foutside/secret.mp4", want: 400},
		{name: "a page of a comparison that climbs", method: "GET", path: "/side?name=..%2f..%2foutside", want: 400},
		{name: "a page of a comparison through a link", method: "GET", path: "/side?name=linked", want: 404},
		{name: "a help page by climbing", method: "GET", path: "/help/..%2f..%2flab", want: 400},
		{name: "a help page that is not there", method: "GET", path: "/help/nothing", want: 404},
		{name: "an asset by climbing", method: "GET", path: "/assets/..%2f..%2fserver.go", want: 400},
		{name: "a frame of a file outside", method: "GET", path: "/frame?file=..%2foutside%2fsecret.mp4&t=0", want: 400},
		{name: "a frame through a link", method: "GET", path: "/frame?file=cluttered/link.mp4&t=0", want: 403},
		{name: "a frame through a linked folder", method: "GET", path: "/frame?file=linked/secret.mp4&t=0", want: 403},
		{name: "a frame at no time", method: "GET", path: "/frame?file=cluttered/siskin_mapped_1.mp4&t=NaN", want: 400},
		{name: "corners in a file outside", method: "GET", path: "/corners?file=..%2foutside%2fsecret.mp4&columns=9&rows=6", want: 400},
		{name: "corners through a link", method: "GET", path: "/corners?file=cluttered/link.mp4&columns=9&rows=6", want: 403},
		{name: "corners of no recording", method: "GET", path: "/corners?columns=9&rows=6", want: 400},
		{name: "a board too large", method: "GET", path: "/corners?file=cluttered/siskin_mapped_1.mp4&columns=9&rows=600000", want: 400},
		{name: "a frame too large", method: "GET", path: "/frame?file=cluttered/siskin_mapped_1.mp4&width=1000000000", want: 400},
		{name: "a picture too large", method: "GET", path: "/pictures/cluttered/siskin_mapped_1/passes?width=99999", want: 400},
		{name: "a run by climbing", method: "GET", path: "/runs/cluttered/..%2f..%2f", want: 400},

		{name: "an upload by climbing", method: "PUT", path: "/recordings/..%2f..%2foutside/new.mp4", body: "x", want: 400},
		{name: "an upload with an absolute name", method: "PUT", path: "/recordings/cluttered/%2ftmp%2fnew.mp4", body: "x", want: 400},
		{name: "an upload into a linked folder", method: "PUT", path: "/recordings/linked/new.mp4", body: "x", want: 403},
		{name: "an upload onto a link", method: "PUT", path: "/recordings/cluttered/dangling.mp4", body: "x", want: 409},
		{name: "an upload onto a recording", method: "PUT", path: "/recordings/cluttered/siskin_mapped_1.mp4", body: "x", want: 409},
		{name: "an upload of the set-up", method: "PUT", path: "/recordings/cluttered/lab.yaml", body: "x", want: 415},
		{name: "an upload of a run sheet", method: "PUT", path: "/recordings/cluttered/runs.csv", body: "x", want: 415},
		{name: "an upload with a NUL", method: "PUT", path: "/recordings/cluttered/a%00.mp4", body: "x", want: 400},
		{name: "an upload too large", method: "PUT", path: "/recordings/cluttered/new.mp4", body: large, want: 413},
		{name: "an upload too large that does not say so", method: "PUT", path: "/recordings/cluttered/new.mp4", header: map[string]string{"Transfer-Encoding": "chunked"}, body: "3e9\r\n" + large + "\r\n0\r\n\r\n", want: 413},
		{name: "an empty upload", method: "PUT", path: "/recordings/cluttered/new.mp4", want: 400},
		{name: "a piece by climbing", method: "PATCH", path: "/uploads/..%2f..%2foutside/new.mp4?size=1&modified=1", header: map[string]string{"Upload-Offset": "0"}, body: "x", want: 400},
		{name: "a piece into a linked folder", method: "PATCH", path: "/uploads/linked/new.mp4?size=1&modified=1", header: map[string]string{"Upload-Offset": "0"}, body: "x", want: 403},
		{name: "a piece onto a recording", method: "PATCH", path: "/uploads/cluttered/siskin_mapped_1.mp4?size=1&modified=1", header: map[string]string{"Upload-Offset": "0"}, body: "x", want: 409},
		{name: "a piece from nowhere", method: "PATCH", path: "/uploads/cluttered/new.mp4?size=1&modified=1", body: "x", want: 400},
		{name: "a piece from another page", method: "PATCH", path: "/uploads/cluttered/new.mp4?size=1&modified=1", origin: "http://evil.example", body: "x", want: 403},
		{name: "a recording taken away", method: "DELETE", path: "/recordings/cluttered/siskin_mapped_1.mp4", want: 405},

		{name: "a foreign name for this machine", method: "GET", path: "/", host: "evil.example:" + port, want: 403},
		{name: "our name at another port", method: "GET", path: "/", host: "localhost:1", want: 403},
		{name: "another address", method: "GET", path: "/", host: "192.0.2.1:" + port, want: 403},
		{name: "a change from another page", method: "POST", path: "/runs/cluttered/siskin_mapped_1/measure", origin: "http://evil.example", want: 403},
		{name: "a change from another port", method: "POST", path: "/runs/cluttered/siskin_mapped_1/measure", origin: "http://127.0.0.1:1", want: 403},
		{name: "a change from a page without origin", method: "POST", path: "/runs/cluttered/siskin_mapped_1/measure", origin: "null", want: 403},
		{name: "a change from a page of the same site", method: "POST", path: "/runs/cluttered/siskin_mapped_1/measure", header: map[string]string{"Sec-Fetch-Site": "same-site"}, want: 403},
		{name: "a change from another site", method: "POST", path: "/runs/cluttered/siskin_mapped_1/measure", origin: "-", header: map[string]string{"Sec-Fetch-Site": "cross-site"}, want: 403},
		{name: "a change that names no origin", method: "POST", path: "/runs/cluttered/siskin_mapped_1/measure", origin: "-", want: 403},
		{name: "a fetch from another page", method: "GET", path: "/rows", header: map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors"}, want: 403},
		{name: "a fetch from another port of this machine", method: "GET", path: "/rows", header: map[string]string{"Sec-Fetch-Site": "same-site", "Sec-Fetch-Mode": "no-cors"}, want: 403},
		{name: "a fetch that names another origin", method: "GET", path: "/live", origin: "http://evil.example", want: 403},

		{name: "a comparison that climbs", method: "POST", path: "/side", body: `{"name": "../x", "runs": ["a/b", "a/c"]}`, want: 400},
		{name: "a comparison of one", method: "POST", path: "/side", body: `{"name": "x", "runs": ["a/b"]}`, want: 400},
		{name: "an export that climbs", method: "POST", path: "/export", body: `{"name": "../x", "runs": ["a/b"]}`, want: 400},
		{name: "an export to an absolute place", method: "POST", path: "/export", body: `{"name": "/tmp/x", "runs": ["a/b"]}`, want: 400},
		{name: "a request with unknown fields", method: "POST", path: "/setup/try", body: `{"doc": {}, "extra": 1}`, want: 400},
		{name: "a request too large", method: "POST", path: "/setup/try", body: `{"doc": "` + strings.Repeat("x", maxAsk) + `"}`, want: 413},
		{name: "a name for a file outside", method: "POST", path: "/name/cluttered/..%2f..%2fx.mp4", body: `{"robot": "r", "phase": "single", "trial": 1}`, want: 400},
		{name: "a name for a link", method: "POST", path: "/name/cluttered/link.mp4", body: `{"robot": "r", "phase": "single", "trial": 1}`, want: 403},
		{name: "a name that climbs", method: "POST", path: "/name/cluttered/siskin_mapped_1.mp4", body: `{"robot": "../r", "phase": "single", "trial": 1}`, want: 400},
	}
	for _, a := range all {
		status, h, body := send(t, srv, a)
		if status != a.want {
			t.Errorf("%s: %s %s gave %d, want %d: %s", a.name, a.method, a.path[:min(len(a.path), 80)], status, a.want, body[:min(len(body), 200)])
		}
		if strings.Contains(body, outsideText) {
			t.Errorf("%s: the answer holds what lies outside: %s", a.name, body)
		}
		if h.Get("Content-Security-Policy") == "" {
			t.Errorf("%s: the answer came without a policy", a.name)
		}
	}
	t.Logf("%d attempts", len(all))
	if now := tree(t, outside); !maps.Equal(before, now) {
		t.Errorf("what lies outside the lab has changed: %v", now)
	}
	if now := tree(t, dir); !maps.Equal(inside, now) {
		t.Errorf("what lies in the lab has changed: %v", now)
	}
	if len(lab.asked) > 0 || lab.arrived > 0 {
		t.Errorf("the lab was asked for %v, %d recordings arrived", lab.asked, lab.arrived)
	}
	// What is meant to work does.
	for _, a := range []attempt{
		{method: "GET", path: "/", want: 200},
		{method: "GET", path: "/", host: "localhost:" + port, want: 200},
		{method: "GET", path: "/", header: map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"}, want: 200},
		{method: "GET", path: "/recordings/cluttered/siskin_mapped_1.mp4", want: 200},
		{method: "GET", path: "/frame?file=cluttered/siskin_mapped_1.mp4&t=1", want: 200},
		{method: "GET", path: "/corners?file=cluttered/siskin_mapped_1.mp4&t=1&columns=9&rows=6", want: 200},
		{method: "GET", path: "/assets/page.css", want: 200},
		{method: "POST", path: "/runs/cluttered/siskin_mapped_1/measure", want: 202},
		{method: "PUT", path: "/recordings/newlayout/siskin_mapped_2.mp4", body: "whole", want: 201},
	} {
		if status, _, body := send(t, srv, a); status != a.want {
			t.Errorf("%s %s gave %d, want %d: %s", a.method, a.path, status, a.want, body)
		}
	}
	if data, err := os.ReadFile(filepath.Join(dir, "recordings/newlayout/siskin_mapped_2.mp4")); err != nil || string(data) != "whole" {
		t.Errorf("the recording that was sent reads %q, %v", data, err)
	}
}

// TestToken guards that a page open to other machines shows nothing without its
// token.
func TestToken(t *testing.T) {
	_, _, _, srv := fakeLab(t, Options{MaxUpload: 1000, Token: "0123456789abcdef"})
	for _, a := range []attempt{
		{name: "none", method: "GET", path: "/", want: 401},
		{name: "none, an asset", method: "GET", path: "/assets/page.css", want: 401},
		{name: "none, an upload", method: "PUT", path: "/recordings/cluttered/new.mp4", body: "x", want: 401},
		{name: "a wrong one", method: "GET", path: "/?token=0123456789abcdeX", want: 401},
		{name: "an empty one", method: "GET", path: "/?token=", want: 401},
		{name: "a wrong cookie", method: "GET", path: "/", header: map[string]string{"Cookie": "swathe=x"}, want: 401},
		{name: "in a change's address", method: "POST", path: "/setup/try?token=0123456789abcdef", body: `{"doc":{}}`, want: 401},
		{name: "the right one", method: "GET", path: "/?token=0123456789abcdef", want: 200},
		{name: "the right cookie", method: "GET", path: "/", header: map[string]string{"Cookie": "swathe=0123456789abcdef"}, want: 200},
		{name: "the right header", method: "GET", path: "/rows", header: map[string]string{"Authorization": "Bearer 0123456789abcdef"}, want: 200},
		{name: "a foreign host with the right cookie", method: "GET", path: "/", host: "evil.example:80", header: map[string]string{"Cookie": "swathe=0123456789abcdef"}, want: 403},
	} {
		status, h, body := send(t, srv, a)
		if status != a.want {
			t.Errorf("%s: %d, want %d: %s", a.name, status, a.want, body)
		}
		if strings.Contains(body, "0123456789abcdef") || strings.Contains(h.Get("Refresh"), "token") {
			t.Errorf("%s: the answer tells the token: %v %s", a.name, h, body)
		}
		if a.name == "the right one" {
			c := h.Get("Set-Cookie")
			for _, want := range []string{"HttpOnly", "SameSite=Strict"} {
				if !strings.Contains(c, want) {
					t.Errorf("the cookie %q lacks %s", c, want)
				}
			}
		}
	}
}

// TestBrowserVanishes guards that a sender who goes away in the middle leaves
// nothing, and that leftovers of a killed program are removed at the next start.
func TestBrowserVanishes(t *testing.T) {
	dir, _, lab, srv := fakeLab(t, Options{MaxUpload: 1 << 20})
	before := tree(t, dir)
	addr := srv.Listener.Addr().String()
	c, err := net.Dial("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	_, _ = io.WriteString(c, "PUT /recordings/cluttered/siskin_mapped_9.mp4 HTTP/1.1\r\nHost: "+addr+"\r\nOrigin: http://"+addr+"\r\nContent-Length: 100000\r\n\r\n"+strings.Repeat("x", 5000))
	time.Sleep(100 * time.Millisecond)
	half, _ := filepath.Glob(filepath.Join(dir, "recordings/cluttered/.*"+uploadMark+"*"))
	if len(half) != 1 {
		t.Errorf("while it arrives %d hidden files lie there", len(half))
	}
	c.Close()
	for range 50 {
		if maps.Equal(before, tree(t, dir)) {
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	if now := tree(t, dir); !maps.Equal(before, now) {
		t.Errorf("the sender is gone and left something: %v", now)
	}
	if lab.arrived != 0 {
		t.Error("half a recording counted as arrived")
	}
	left := filepath.Join(dir, "recordings/cluttered/.x.mp4"+uploadMark+"0011")
	if err := os.WriteFile(left, []byte("half"), 0o644); err != nil {
		t.Fatal(err)
	}
	_, root, err := New(dir, lab, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	root.Close()
	if _, err := os.Stat(left); !os.IsNotExist(err) {
		t.Error("what a killed program left of an upload is still there")
	}
}

// The policy lets the page use what came with it: no other host, no script and no
// style in the text, nothing from a plug-in, no frame around it but its own.
func TestPolicy(t *testing.T) {
	got := map[string]string{}
	for d := range strings.SplitSeq(policy, ";") {
		name, sources, _ := strings.Cut(strings.TrimSpace(d), " ")
		got[name] = sources
	}
	want := map[string]string{"default-src": "'self'", "img-src": "'self' blob: data:", "object-src": "'none'", "base-uri": "'none'", "form-action": "'self'", "frame-ancestors": "'self'"}
	if !maps.Equal(got, want) {
		t.Errorf("the policy is %v; what it opens must be known here", got)
	}
}
