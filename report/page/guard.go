package page

import (
	"crypto/subtle"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"os"
	"path"
	"strings"
)

// policy lets the page use what came with it and nothing else. Only the page
// itself may frame it: it does while an upload is on its way.
const policy = "default-src 'self'; img-src 'self' blob: data:; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'self'"

// cookie holds the token of a page that listens on more than this machine.
const cookie = "swathe"

// guard decides who may ask: the address that the browser believes it talks to
// must be ours (a foreign name that resolves to this machine is refused), what
// changes anything must come from our own page, and where the page is to be
// reached from other machines the token must be known.
type guard struct {
	next  http.Handler
	token string          // empty: loopback only
	names map[string]bool // host names besides addresses, lower case
}

func newGuard(next http.Handler, token string) *guard {
	g := &guard{next: next, token: token, names: map[string]bool{"localhost": true}}
	if token != "" {
		if h, err := os.Hostname(); err == nil {
			g.names[strings.ToLower(h)] = true
		}
	}
	return g
}

func (g *guard) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
	if !g.host(r) {
		http.Error(w, "This page answers only to its own address. Open it by the address that swathe serve printed.", http.StatusForbidden)
		return
	}
	if !origin(r) {
		http.Error(w, "This request came from another page and was refused.", http.StatusForbidden)
		return
	}
	if g.token != "" && !g.allowed(w, r) {
		return
	}
	if !straight(r.URL.Path) {
		http.Error(w, "This address is invalid.", http.StatusBadRequest)
		return
	}
	g.next.ServeHTTP(w, r)
}

// straight tells whether a path, unescaped, leads where it says: no part of it
// is empty, . or .., and it holds no control character and no backslash.
func straight(p string) bool {
	if p == "" || p[0] != '/' || strings.ContainsFunc(p, func(c rune) bool { return c < ' ' || c == 0x7f || c == '\\' }) {
		return false
	}
	return p == "/" || path.Clean(p) == strings.TrimSuffix(p, "/")
}

// host tells whether the Host of a request names this machine: an address that
// the connection really came in on, or one of the names.
func (g *guard) host(r *http.Request) bool {
	name, port, err := net.SplitHostPort(r.Host)
	if err != nil {
		name, port = r.Host, "80"
	}
	local, _ := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
	if local == nil {
		return false
	}
	at, err := netip.ParseAddrPort(local.String())
	if err != nil || port != addrPort(at) {
		return false
	}
	name = strings.Trim(strings.ToLower(name), "[]")
	if g.names[name] {
		return true
	}
	ip, err := netip.ParseAddr(name)
	if err != nil {
		return false
	}
	ip = ip.Unmap()
	if g.token == "" {
		return ip.IsLoopback()
	}
	return ip == at.Addr().Unmap()
}

func addrPort(a netip.AddrPort) string {
	_, port, _ := net.SplitHostPort(a.String())
	return port
}

// origin refuses what another page has the browser send, another page of this
// machine too: by net/http's own check, asked of reading as of changing, for what
// is read is nobody else's either. A change that names no origin is refused;
// following a link here from elsewhere is fine.
func origin(r *http.Request) bool {
	o, site := r.Header.Get("Origin"), r.Header.Get("Sec-Fetch-Site")
	if r.Method == http.MethodGet || r.Method == http.MethodHead {
		if o == "" && r.Header.Get("Sec-Fetch-Mode") == "navigate" {
			return true
		}
	} else if o == "" && site == "" {
		return false
	}
	as := *r
	as.Method = http.MethodPost
	return http.NewCrossOriginProtection().Check(&as) == nil
}

// allowed checks the token, given once in the address and then kept as a cookie.
func (g *guard) allowed(w http.ResponseWriter, r *http.Request) bool {
	same := func(s string) bool { return subtle.ConstantTimeCompare([]byte(s), []byte(g.token)) == 1 }
	if c, err := r.Cookie(cookie); err == nil && same(c.Value) {
		return true
	}
	if same(strings.TrimPrefix(r.Header.Get("Authorization"), "Bearer ")) {
		return true
	}
	if r.Method == http.MethodGet && same(r.URL.Query().Get("token")) {
		http.SetCookie(w, &http.Cookie{Name: cookie, Value: g.token, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
		q := r.URL.Query()
		q.Del("token")
		to := url.URL{Path: r.URL.Path, RawQuery: q.Encode()}
		if !strings.HasPrefix(to.Path, "/") || strings.HasPrefix(to.Path, "//") {
			to.Path = "/"
		}
		// Answered here, not by a redirect: a strict cookie is not sent along
		// with one that began on another site.
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.Header().Set("Refresh", "0; url="+to.String())
		_, _ = w.Write([]byte("<!DOCTYPE html><title>swathe</title><p>The token is correct; the page opens."))
		return false
	}
	http.Error(w, "This page needs its token. Open the whole address that swathe serve printed.", http.StatusUnauthorized)
	return false
}
