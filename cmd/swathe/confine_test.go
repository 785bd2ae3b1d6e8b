package main

import (
	"net"
	"os"
	"os/exec"
	"runtime"
	"testing"
	"time"
)

// A recording that has swathe-eye fetch something finds no network: libav would
// follow the address (it did, before the network was given up).
func TestEyeHasNoNetwork(t *testing.T) {
	eye := os.Getenv("SWATHE_EYE")
	if eye == "" {
		t.Skip("SWATHE_EYE does not name the eye; cmd/test.sh sets it")
	}
	if runtime.GOOS != "linux" {
		t.Skip("the network is given up on Linux alone")
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	called := make(chan bool, 1)
	go func() {
		c, err := l.Accept()
		called <- err == nil
		if err == nil {
			c.Close()
		}
	}()
	cmd := exec.Command(eye, "probe", "http://"+l.Addr().String()+"/a.mp4")
	time.AfterFunc(20*time.Second, func() { cmd.Process.Kill() })
	out, err := cmd.CombinedOutput()
	l.Close()
	if err == nil {
		t.Error("an address was opened as a recording")
	}
	if <-called {
		t.Errorf("swathe-eye reached the network: %s", out)
	}
}
