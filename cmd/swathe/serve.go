package main

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"net"
	"net/http"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/queue"
	"swathe/cmd/internal/serve"
	"swathe/cmd/internal/store"
	"swathe/report/page"
	"swathe/track"
)

var serveVerb = verb{
	name:  "serve",
	args:  "LAB",
	brief: "the local page: set up, measure, look at runs",
	about: `Opens a page for the lab in LAB, which may still be empty: describe room and camera
by clicking on a recording, drop recordings, watch them being measured, play a run
beside its plan, compare runs, export pictures, read the help pages. Stop it with
Ctrl-C; unfinished work starts again the next time. Other machines can help
measure: swathe help queue.

Only programs on this machine, including those of its other users, can reach the
page unless --listen names an address other than 127.0.0.1 or [::1]: then
everyone who has the token in the printed address can. Open it to other machines
only in a network that you trust; --listen 127.0.0.2:7240 keeps this machine's
other users out. The page sends nothing to other machines.`,
	examples: `swathe serve my-lab
swathe serve my-lab --listen 127.0.0.1:0     any free port`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		opt, look := serve.DefaultOptions(), page.DefaultOptions()
		listen := fs.String("listen", "127.0.0.1:7240", "address of the page, `HOST:PORT`; port 0 takes a free one")
		fs.IntVar(&opt.Jobs, "jobs", opt.Jobs, "measure `N` recordings at once; one keeps two cores busy, 0 leaves all to workers started with swathe work")
		fs.DurationVar(&opt.Settle, "settle", opt.Settle, "treat a copy as complete after `TIME` without a change")
		fs.DurationVar(&opt.Poll, "poll", opt.Poll, "search the folders every `TIME`")
		address := fs.String("queue", "", queueHelp)
		depot := fs.String("store", "", storeHelp)
		memory := fs.Int("memory", 0, memoryHelp)
		metrics := fs.String("metrics", "", metricsHelp)
		megabytes := fs.Int64("max-upload", look.MaxUpload>>20, "largest recording that the page accepts, `MB`")
		return func(c *call) (any, error) {
			if len(c.args) != 1 {
				return nil, usage("serve needs the lab's folder and nothing else")
			}
			if opt.Jobs < 0 || opt.Jobs > 16*runtime.NumCPU() {
				return nil, usage("--jobs is %d; it should be from 0 to %d", opt.Jobs, 16*runtime.NumCPU())
			}
			var err error
			if opt.Queue, err = queue.Address(*address); err != nil {
				return nil, usageError{err}
			}
			if opt.Store, err = store.Address(*depot); err != nil {
				return nil, usageError{err}
			}
			if *megabytes < 1 || *megabytes > math.MaxInt64>>20 {
				return nil, usage("--max-upload is %d; it should be 1 MB or more", *megabytes)
			}
			look.MaxUpload = *megabytes << 20
			if err := opt.Validate(); err != nil {
				return nil, usageError{err}
			}
			if err := limitEye(*memory); err != nil {
				return nil, err
			}
			return serveLab(c, *listen, *metrics, opt, look)
		}
	},
}

func serveLab(c *call, listen, metrics string, opt serve.Options, look page.Options) (doc any, err error) {
	ln, err := net.Listen("tcp", listen)
	if err != nil {
		return nil, fmt.Errorf("the page can't be opened at %s: %w. Close the program that uses this address, or choose another with --listen", listen, err)
	}
	defer ln.Close()
	at := ln.Addr().(*net.TCPAddr)
	address := "http://" + at.String() + "/"
	// Any other loopback address is chosen to set this page apart from the
	// machine's other users and programs; the token does that.
	if !at.IP.Equal(net.IPv4(127, 0, 0, 1)) && !at.IP.Equal(net.IPv6loopback) {
		var token [18]byte
		if _, err := rand.Read(token[:]); err != nil {
			return nil, err
		}
		look.Token = hex.EncodeToString(token[:])
		if at.IP.IsUnspecified() {
			host, err := os.Hostname()
			if err != nil {
				host = "localhost"
			}
			address = fmt.Sprintf("http://%s/", net.JoinHostPort(strings.ToLower(host), fmt.Sprint(at.Port)))
		}
		address += "?token=" + look.Token
	}
	warm := track.NewWarm(track.FindEye)
	defer warm.Close()
	go warm.Prepare()
	desk, err := serve.New(c.ctx, c.args[0], opt, serveEye(warm), c.say)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, desk.Close()) }()
	unmetered, err := meter(c, metrics, desk.Queue())
	if err != nil {
		return nil, err
	}
	defer unmetered()
	handler, root, err := page.New(c.args[0], desk, look)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	srv := &http.Server{
		Handler: handler, ReadHeaderTimeout: 10 * time.Second, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 64 << 10,
		BaseContext: func(net.Listener) context.Context { return c.ctx },
	}
	c.print("%s", address)
	c.say("The lab's page is open; stop with Ctrl-C.")
	stopped := context.AfterFunc(c.ctx, func() {
		bye, cancel := context.WithTimeout(context.Background(), 2*time.Second)
		defer cancel()
		if srv.Shutdown(bye) != nil {
			srv.Close()
		}
	})
	defer stopped()
	if err := srv.Serve(ln); !errors.Is(err, http.ErrServerClosed) {
		return nil, fmt.Errorf("the page stopped: %w", err)
	}
	return struct {
		Verb string `json:"verb"`
		Lab  string `json:"lab"`
	}{"serve", c.args[0]}, nil
}

// serveEye returns the eye as the page needs it.
func serveEye(warm *track.Warm) serve.Eye {
	return serve.Eye{
		Eye:    newEye(),
		Studio: studio,
		Frames: func(ctx context.Context, q track.FrameRequest) ([]track.FramePicture, error) {
			ctx, cancel := context.WithTimeout(ctx, time.Minute)
			defer cancel()
			return warm.Frames(ctx, q)
		},
		Corners: func(ctx context.Context, q track.CornersRequest) (*track.CornersReply, error) {
			ctx, cancel := context.WithTimeout(ctx, time.Minute)
			defer cancel()
			eye, err := track.FindEye()
			if err != nil {
				return nil, err
			}
			return track.FindCorners(ctx, eye, q)
		},
		Length: func(ctx context.Context, file string) (float64, error) {
			eye, err := track.FindEye()
			if err != nil {
				return 0, err
			}
			raw, err := exec.CommandContext(ctx, eye, "probe", file).Output()
			if err != nil {
				return 0, fmt.Errorf("the recording can't be opened: %w", err)
			}
			var info struct {
				Duration, FPS float64
				Frames        int
			}
			if err := json.Unmarshal(raw, &info); err != nil {
				return 0, err
			}
			if info.Duration <= 0 && info.FPS > 0 {
				info.Duration = float64(info.Frames) / info.FPS
			}
			if info.Duration <= 0 {
				return math.NaN(), nil
			}
			return info.Duration, nil
		},
	}
}
