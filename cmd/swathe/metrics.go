package main

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"os"
	"strconv"
	"time"

	"swathe/cmd/internal/queue"
	"swathe/track"
)

const metricsHelp = "show the state of the queue at http://`ADDRESS`/metrics, in the Prometheus text format, to everyone who can reach it; off by default"

const memoryHelp = "let swathe-eye use no more than `MB` of memory for a recording; 0 sets no limit. 1920 x 1080 takes up to 300, 4K more"

// limitEye holds every swathe-eye that this program starts to so many megabytes.
func limitEye(mb int) error {
	if mb == 0 {
		return nil
	}
	if mb < 100 || mb > 1<<20 {
		return usage("--memory is %d; it should be from 100 to %d MB", mb, 1<<20)
	}
	return os.Setenv(track.EyeMemory, strconv.Itoa(mb))
}

// meter shows the state of a queue at an address of its own until the call ends
// or close is called. An empty address shows nothing.
func meter(c *call, address string, q *queue.Queue) (closed func(), err error) {
	if address == "" {
		return func() {}, nil
	}
	ln, err := net.Listen("tcp", address)
	if err != nil {
		return nil, fmt.Errorf("--metrics can't be opened at %s: %w", address, err)
	}
	m := http.NewServeMux()
	m.HandleFunc("GET /metrics", func(w http.ResponseWriter, r *http.Request) {
		ctx, cancel := context.WithTimeout(r.Context(), 5*time.Second)
		defer cancel()
		s, err := q.Status(ctx, queue.DefaultOptions())
		if err != nil {
			http.Error(w, "the queue's database does not answer", http.StatusServiceUnavailable)
			return
		}
		w.Header().Set("Content-Type", "text/plain; version=0.0.4; charset=utf-8")
		fmt.Fprint(w, s.Metrics())
	})
	srv := &http.Server{Handler: m, ReadHeaderTimeout: 5 * time.Second, MaxHeaderBytes: 16 << 10}
	go func() { _ = srv.Serve(ln) }()
	c.say("The queue's state is shown at http://%s/metrics", ln.Addr())
	return func() { _ = srv.Close() }, nil
}
