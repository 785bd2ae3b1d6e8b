package main

import (
	"net"
	"net/http"
	"strings"
	"testing"
)

// TestTokenOverRealAddresses opens the page at other addresses of this machine: at
// each it shows nothing without its token, and at 127.0.0.1 it asks for none.
func TestTokenOverRealAddresses(t *testing.T) {
	status := func(address string) int {
		resp, err := http.Get(address)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		return resp.StatusCode
	}
	if address := served(t, t.TempDir()); strings.Contains(address, "token") || status(address) != http.StatusOK {
		t.Errorf("%s is not open to this machine", address)
	}
	hosts := []string{"127.0.0.2"}
	all, err := net.InterfaceAddrs()
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range all {
		if ip := a.(*net.IPNet).IP; ip.To4() != nil && !ip.IsLoopback() {
			hosts = append(hosts, ip.String())
			break
		}
	}
	for _, host := range hosts {
		ln, err := net.Listen("tcp", host+":0")
		if err != nil {
			t.Logf("%s cannot be listened at here: %v", host, err)
			continue
		}
		ln.Close()
		address := served(t, t.TempDir(), "--listen", host+":0")
		bare, token, has := strings.Cut(address, "?token=")
		if !has || len(token) < 20 {
			t.Fatalf("%s was opened without a token: %s", host, address)
		}
		for _, c := range []struct {
			to   string
			want int
		}{{bare, 401}, {bare + "runs/a/b", 401}, {bare + "?token=" + token[1:], 401}, {address, 200}} {
			if got := status(c.to); got != c.want {
				t.Errorf("%s gives %d, want %d", strings.ReplaceAll(c.to, token, "TOKEN"), got, c.want)
			}
		}
		// By 127.0.0.1 such a page is not reached at all.
		_, port, _ := strings.Cut(strings.TrimSuffix(strings.TrimPrefix(bare, "http://"), "/"), ":")
		if conn, err := net.Dial("tcp", "127.0.0.1:"+port); err == nil {
			conn.Close()
			t.Errorf("the page of %s answers at 127.0.0.1 too", host)
		}
		t.Logf("%s asks for its token", host)
	}
}
