package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/queue"
	"swathe/cmd/internal/store"
	"swathe/cmd/internal/work"
)

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// opened opens a store with this test's program in place of swathe-store.
func opened(t *testing.T, url string) *store.Store {
	t.Helper()
	self, err := os.Executable()
	must(t, err)
	t.Setenv("SWATHE_STORE_PROGRAM", self)
	s, err := store.Open(t.Context(), url)
	must(t, err)
	t.Cleanup(s.Close)
	return s
}

func hashed(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// both runs a test on a folder and on a server that speaks S3.
func both(t *testing.T, do func(t *testing.T, s *store.Store)) {
	t.Run("folder", func(t *testing.T) { do(t, opened(t, "file://"+t.TempDir())) })
	t.Run("S3", func(t *testing.T) {
		_, url := newServer(t)
		do(t, opened(t, url))
	})
}

// What is put is got, byte for byte, and listed; what is not what it should be is
// not put; what is not there is told as that.
func TestPutGet(t *testing.T) {
	both(t, func(t *testing.T, s *store.Store) {
		dir := t.TempDir()
		// Above 5 MB the SDK sends parts.
		data := bytes.Repeat([]byte("0123456789abcdef"), 12<<20/16)
		file := filepath.Join(dir, "film.mp4")
		must(t, os.WriteFile(file, data, 0o644))
		key := "objects/" + hashed(data)
		must(t, s.Put(t.Context(), key, file, hashed(data)))
		back := filepath.Join(dir, "back")
		sum, err := s.Get(t.Context(), key, back)
		must(t, err)
		if got, err := os.ReadFile(back); err != nil || !bytes.Equal(got, data) || sum != hashed(data) {
			t.Fatalf("%d bytes came back, %v", len(got), err)
		}
		if ok, err := s.Has(t.Context(), key, int64(len(data))); !ok || err != nil {
			t.Errorf("not there: %v", err)
		}
		err = s.Put(t.Context(), "objects/other", file, strings.Repeat("0", 64))
		if err == nil || !strings.Contains(err.Error(), "changed while it was sent") {
			t.Errorf("another content was put: %v", err)
		}
		list, err := s.List(t.Context(), "objects/")
		if err != nil || len(list) != 1 || list[0].Key != key || list[0].Size != int64(len(data)) {
			t.Errorf("listed: %v, %v", list, err)
		}
		must(t, s.Delete(t.Context(), key))
		must(t, s.Delete(t.Context(), key))
		_, err = s.Get(t.Context(), key, filepath.Join(dir, "none"))
		if !errors.Is(err, store.ErrMissing) || !strings.Contains(err.Error(), "There is no "+key) {
			t.Errorf("what is not there: %v", err)
		}
		if left, _ := filepath.Glob(filepath.Join(dir, "*")); len(left) != 2 {
			t.Errorf("left behind: %v", left)
		}
	})
}

// What goes wrong is told in a sentence that says what to do, with no credential.
func TestSentences(t *testing.T) {
	for name, c := range map[string]struct {
		set  map[string]string
		url  func(string) string
		want string
	}{
		"wrong secret": {set: map[string]string{"AWS_SECRET_ACCESS_KEY": "another-secret"}, want: "refuses the signature. Check AWS_SECRET_ACCESS_KEY"},
		"unknown key":  {set: map[string]string{"AWS_ACCESS_KEY_ID": "AKIDNOBODY"}, want: "does not know the key. Check AWS_ACCESS_KEY_ID"},
		"no key":       {set: map[string]string{"AWS_ACCESS_KEY_ID": "", "AWS_SECRET_ACCESS_KEY": ""}, want: "there are no credentials. Set AWS_ACCESS_KEY_ID"},
		"no bucket":    {url: func(u string) string { return strings.Replace(u, "s3://lab", "s3://other", 1) }, want: "no such bucket"},
		"nobody there": {url: func(u string) string { return u[:strings.Index(u, "&endpoint=")] + "&endpoint=http://127.0.0.1:1" }, want: "can't be reached"},
		"no folder":    {url: func(string) string { return "file:///no/such/folder" }, want: "The store can't be opened"},
	} {
		t.Run(name, func(t *testing.T) {
			_, url := newServer(t)
			for k, v := range c.set {
				t.Setenv(k, v)
			}
			if c.url != nil {
				url = c.url(url)
			}
			self, err := os.Executable()
			must(t, err)
			t.Setenv("SWATHE_STORE_PROGRAM", self)
			_, err = store.Open(t.Context(), url)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Fatalf("told: %v; it should hold %q", err, c.want)
			}
			for _, k := range []string{"AWS_SECRET_ACCESS_KEY", "AWS_ACCESS_KEY_ID"} {
				if v := os.Getenv(k); v != "" && strings.Contains(err.Error(), v) || strings.Contains(err.Error(), secret) {
					t.Errorf("a credential is told: %v", err)
				}
			}
		})
	}
	t.Run("cut in the middle", func(t *testing.T) {
		srv, url := newServer(t)
		s := opened(t, url)
		dir := t.TempDir()
		data := bytes.Repeat([]byte("film"), 1<<18)
		must(t, os.WriteFile(filepath.Join(dir, "a"), data, 0o644))
		must(t, s.Put(t.Context(), "objects/"+hashed(data), filepath.Join(dir, "a"), hashed(data)))
		srv.cut.Store(true)
		_, err := s.Get(t.Context(), "objects/"+hashed(data), filepath.Join(dir, "b"))
		if err == nil || !strings.Contains(err.Error(), "the connection was cut") {
			t.Errorf("told: %v", err)
		}
		if _, err := os.Stat(filepath.Join(dir, "b")); err == nil {
			t.Error("half a file is there")
		}
		srv.cut.Store(false)
		_, err = s.Get(t.Context(), "objects/"+hashed(data), filepath.Join(dir, "b"))
		must(t, err)
	})
	if _, err := store.Address("s3://AKID:word@lab"); err == nil || strings.Contains(err.Error(), "word@") {
		t.Errorf("an address with a password: %v", err)
	}
}

// labOf makes a lab of paths and its queue.
func labOf(t *testing.T, n int) (string, *lab.Lab, []work.Item) {
	t.Helper()
	dir := t.TempDir()
	raw, err := os.ReadFile("../../testdata/maple/lab.yaml")
	must(t, err)
	at := filepath.Join(dir, "recordings/cluttered")
	must(t, os.MkdirAll(at, 0o755))
	must(t, os.WriteFile(filepath.Join(dir, "lab.yaml"), append(raw, "settings: {cell: 0.05, draws: 20, budget_draws: 10}\n"...), 0o644))
	for i := 1; i <= n; i++ {
		var b strings.Builder
		b.WriteString("t_s,x_m,y_m,heading_deg\n")
		for k := range 100 {
			fmt.Fprintf(&b, "%.1f,%.3f,%.3f,0\n", float64(k)/10, 0.4+0.02*float64(k), 0.3+0.02*float64(i))
		}
		must(t, os.WriteFile(filepath.Join(at, fmt.Sprintf("siskin_mapped_%d.csv", i)), []byte(b.String()), 0o644))
	}
	must(t, os.WriteFile(filepath.Join(at, "siskin_mapped_1.yaml"), []byte("note: kept\nend_s: 8\n"), 0o644))
	l, err := lab.Open(dir)
	must(t, err)
	items, err := work.List(l, nil)
	must(t, err)
	return dir, l, items
}

// Workers that see nothing of the lab's folder measure what lies in the store, and
// its machine takes the results: the same, to the byte, as measured in place. What
// the queue was put in with counts, not what lab.yaml says by then. The cache holds
// no more than it may.
func TestWorkersElsewhere(t *testing.T) {
	_, url := newServer(t)
	s := opened(t, url)
	dir, l, items := labOf(t, 2)
	q, err := queue.Open(t.Context(), dir, "")
	must(t, err)
	q.Store = s
	must(t, s.Claim(t.Context(), "lab-a"))
	if err := s.Claim(t.Context(), "lab-b"); err == nil || !strings.Contains(err.Error(), "belongs to another lab") {
		t.Errorf("two labs in one store: %v", err)
	}
	if n, _, err := q.Fill(t.Context(), l, items, queue.Ask{}); n != 2 || err != nil {
		t.Fatal(n, err)
	}
	setup := filepath.Join(dir, lab.SetupFile)
	raw, err := os.ReadFile(setup)
	must(t, err)
	must(t, os.WriteFile(setup, bytes.Replace(raw, []byte("diameter: 0.32"), []byte("diameter: 0.30"), 1), 0o644))
	depot := &queue.Depot{Store: s, Cache: &store.Cache{Dir: t.TempDir(), Limit: 6 << 10}}
	must(t, queue.Adopt(t.Context(), depot.Cache.Dir, s))
	opt := queue.DefaultOptions()
	opt.Depot = depot
	told := make(chan work.Outcome, 10)
	h, err := q.Work(t.Context(), opt, work.Eye{}, queue.Hooks{Say: t.Logf, Done: func(o work.Outcome) { told <- o }})
	must(t, err)
	for range items {
		select {
		case o := <-told:
			if o.Kind != work.Measured {
				t.Errorf("%s: %s, %s", o.Run, o.Kind, o.Reason)
			}
		case <-time.After(time.Minute):
			t.Fatal("not measured within a minute")
		}
	}
	h.Drain(t.Context())
	if got, _ := filepath.Glob(filepath.Join(dir, "results/*/*")); len(got) > 0 {
		t.Errorf("in the lab before it took them: %v", got)
	}
	if left, _ := filepath.Glob(filepath.Join(depot.Cache.Dir, "jobs/*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	size := int64(0)
	kept, _ := filepath.Glob(filepath.Join(depot.Cache.Dir, "objects/*"))
	for _, f := range kept {
		st, err := os.Stat(f)
		must(t, err)
		size += st.Size()
	}
	if size == 0 || size > depot.Cache.Limit {
		t.Errorf("the cache holds %d bytes, its limit is %d", size, depot.Cache.Limit)
	}
	// A result that was damaged on its way is refused, and stays.
	list, err := s.List(t.Context(), "results/")
	must(t, err)
	bad := filepath.Join(t.TempDir(), "bad.zip")
	_, err = s.Get(t.Context(), list[0].Key, bad)
	must(t, err)
	whole, err := os.ReadFile(bad)
	must(t, err)
	broken := bytes.Clone(whole)
	broken[len(broken)/2] ^= 0x40
	must(t, os.WriteFile(bad, broken, 0o644))
	must(t, s.Put(t.Context(), list[0].Key, bad, ""))
	runs, err := s.Collect(t.Context(), l)
	if len(runs) != 1 || err == nil || !strings.Contains(err.Error(), "can't be taken from the store") {
		t.Errorf("taken: %v, %v", runs, err)
	}
	must(t, os.WriteFile(bad, whole, 0o644))
	must(t, s.Put(t.Context(), list[0].Key, bad, ""))
	runs, err = s.Collect(t.Context(), l)
	if len(runs) != 1 || err != nil {
		t.Errorf("then taken: %v, %v", runs, err)
	}
	// Measured in place, with the set-up that they were put in with.
	other, _, _ := labOf(t, 2)
	l2, err := lab.Open(other)
	must(t, err)
	items2, err := work.List(l2, nil)
	must(t, err)
	work.All(context.Background(), l2, items2, work.Options{}, work.Watcher{})
	for i := range items {
		for _, f := range []string{"run.json", "trace.csv", "curve.csv", "missed.geojson", "setup.yaml", "passes.png"} {
			name := filepath.Join("results", filepath.FromSlash(items[i].ID()), f)
			a, errA := os.ReadFile(filepath.Join(dir, name))
			b, errB := os.ReadFile(filepath.Join(other, name))
			if errA != nil || errB != nil || !bytes.Equal(a, b) {
				t.Errorf("%s differs from that measured in place: %v, %v", name, errA, errB)
			}
		}
	}
	q.Close()
}

// A recording that is no longer in the store is told, and a file that was changed
// there is refused.
func TestStoreLostIt(t *testing.T) {
	dir, l, items := labOf(t, 2)
	s := opened(t, "file://"+t.TempDir())
	q, err := queue.Open(t.Context(), dir, "")
	must(t, err)
	defer q.Close()
	q.Store = s
	must(t, s.Claim(t.Context(), "lab-a"))
	_, _, err = q.Fill(t.Context(), l, items[:1], queue.Ask{})
	must(t, err)
	sum, err := l.Hash(items[0].Files()[0])
	must(t, err)
	must(t, s.Delete(t.Context(), "objects/"+sum))
	opt := queue.DefaultOptions()
	opt.Depot = &queue.Depot{Store: s, Cache: &store.Cache{Dir: t.TempDir(), Limit: 1 << 30}}
	told := make(chan work.Outcome, 1)
	h, err := q.Work(t.Context(), opt, work.Eye{}, queue.Hooks{Say: t.Logf, Done: func(o work.Outcome) { told <- o }})
	must(t, err)
	if o := <-told; o.Kind != work.Failed || !strings.Contains(o.Reason, "it is not in the store. Add the run again") {
		t.Errorf("%s: %s", o.Kind, o.Reason)
	}
	h.Drain(t.Context())
	file := filepath.Join(t.TempDir(), "changed")
	must(t, os.WriteFile(file, []byte("something else"), 0o644))
	must(t, s.Put(t.Context(), "objects/"+sum, file, ""))
	err = opt.Depot.Cache.Fetch(t.Context(), s, store.File{Path: "recordings/x.csv", Size: 3, SHA256: sum}, filepath.Join(opt.Depot.Cache.Dir, "x.csv"))
	if err == nil || !strings.Contains(err.Error(), "another content") {
		t.Errorf("what was changed in the store: %v", err)
	}
}
