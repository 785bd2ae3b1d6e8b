package main

import (
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"
)

// A swathe-eye that ends before it has read what it is asked does not end the page's
// program, nor does a browser that goes away in the middle of an answer.
func TestServeOutlivesBrokenPipes(t *testing.T) {
	dir := t.TempDir()
	killLab(t, dir, 1)
	p := startServe(t, dir)
	defer func() { p.kill() }()
	host := strings.Trim(strings.TrimPrefix(p.address, "http://"), "/")
	for range 4 {
		// The fake eye takes no pictures and ends at once.
		if status, _ := p.get("/frame?file=hall%2Frowan_single_1.mp4&t=1&width=480"); status != 502 {
			t.Errorf("a picture that can't be taken is answered %d", status)
		}
		conn, err := net.Dial("tcp", host)
		must(t, err)
		for range 50 {
			fmt.Fprintf(conn, "GET / HTTP/1.1\r\nHost: %s\r\n\r\n", host)
		}
		_ = conn.(*net.TCPConn).SetLinger(0)
		conn.Close()
	}
	time.Sleep(200 * time.Millisecond)
	if status, _ := p.get("/"); status != 200 {
		t.Errorf("the page then answers %d; the program said: %s", status, p.err.String())
	}
}

// Who reads a program's output and goes away ends it, tidily; the signal that comes
// with it ends nothing by itself.
func TestReaderGone(t *testing.T) {
	r, w, err := os.Pipe()
	must(t, err)
	r.Close()
	ctx, stop := context.WithCancel(context.Background())
	fmt.Fprintln(outlet{w, stop}, "a line")
	if ctx.Err() == nil {
		t.Error("a reader that is gone stopped nothing")
	}
	self, err := os.Executable()
	must(t, err)
	cmd := exec.Command(self, "version")
	cmd.Env = append(os.Environ(), "SWATHE_TEST_AS=swathe")
	cmd.Stdout = w
	if err := cmd.Run(); err != nil {
		t.Errorf("a program whose reader is gone ended with %v", err)
	}
}
