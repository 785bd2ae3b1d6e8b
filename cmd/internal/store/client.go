package store

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
)

// Store is an open object store. Several may use it at once; each request under
// way has a swathe-store of its own.
type Store struct {
	url, program string

	mu   sync.Mutex
	idle []*helper
	shut bool
}

// helper is a running swathe-store.
type helper struct {
	cmd *exec.Cmd
	in  io.WriteCloser
	out *bufio.Reader
}

// Open reaches the store at an address that Address has judged.
func Open(ctx context.Context, address string) (*Store, error) {
	program, err := findProgram()
	if err != nil {
		return nil, err
	}
	s := &Store{url: address, program: program}
	if _, err := s.ask(ctx, Request{Do: "list", Key: nameKey}); err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

// Close ends the helpers.
func (s *Store) Close() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.shut = true
	for _, h := range s.idle {
		h.end()
	}
	s.idle = nil
}

func (h *helper) end() {
	h.in.Close()
	_ = h.cmd.Wait()
}

func (s *Store) take() (*helper, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if n := len(s.idle); n > 0 {
		h := s.idle[n-1]
		s.idle = s.idle[:n-1]
		return h, nil
	}
	cmd := exec.Command(s.program)
	in, err := cmd.StdinPipe()
	if err != nil {
		return nil, err
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := cmd.Start(); err != nil {
		return nil, fmt.Errorf("%s can't be started: %w", ProgramName, err)
	}
	h := &helper{cmd, in, bufio.NewReader(out)}
	if r, err := h.ask(Request{URL: s.url, Do: "open"}); err != nil || r.Error != "" {
		h.end()
		return nil, errors.Join(err, sentence(r))
	}
	return h, nil
}

func (h *helper) ask(q Request) (r Reply, err error) {
	if err := json.NewEncoder(h.in).Encode(q); err != nil {
		return r, fmt.Errorf("%s has ended", ProgramName)
	}
	line, err := h.out.ReadBytes('\n')
	if err != nil {
		return r, fmt.Errorf("%s has ended", ProgramName)
	}
	if err := json.Unmarshal(line, &r); err != nil {
		return r, fmt.Errorf("%s gave an invalid reply", ProgramName)
	}
	return r, nil
}

func sentence(r Reply) error {
	switch {
	case r.Error == "":
		return nil
	case r.Missing:
		return fmt.Errorf("%s: %w", r.Error, ErrMissing)
	}
	return errors.New(r.Error)
}

// ask sends one request; a ctx that ends kills the helper that has it.
func (s *Store) ask(ctx context.Context, q Request) (Reply, error) {
	h, err := s.take()
	if err != nil {
		return Reply{}, err
	}
	stop := context.AfterFunc(ctx, func() { _ = h.cmd.Process.Kill() })
	r, err := h.ask(q)
	if !stop() || err != nil {
		_ = h.cmd.Process.Kill()
		h.end()
		if ctx.Err() != nil {
			return r, ctx.Err()
		}
		return r, err
	}
	s.mu.Lock()
	if s.shut {
		h.end()
	} else {
		s.idle = append(s.idle, h)
	}
	s.mu.Unlock()
	return r, sentence(r)
}

// Get writes an object into a file, whole or not at all, and returns its hash.
func (s *Store) Get(ctx context.Context, key, file string) (sha256 string, err error) {
	tmp, err := os.CreateTemp(filepath.Dir(file), ".fetching-*")
	if err != nil {
		return "", err
	}
	tmp.Close()
	defer os.Remove(tmp.Name())
	r, err := s.ask(ctx, Request{Do: "get", Key: key, File: tmp.Name()})
	if err != nil {
		return "", err
	}
	return r.SHA256, os.Rename(tmp.Name(), file)
}

// Put makes an object of a file, whole or not at all. A hash that is not empty is
// that of the content: where the file has another one by now, nothing is put.
func (s *Store) Put(ctx context.Context, key, file, sha256 string) error {
	_, err := s.ask(ctx, Request{Do: "put", Key: key, File: file, SHA256: sha256})
	return err
}

// Has tells whether there is an object of that size.
func (s *Store) Has(ctx context.Context, key string, size int64) (bool, error) {
	r, err := s.ask(ctx, Request{Do: "stat", Key: key})
	if errors.Is(err, ErrMissing) {
		return false, nil
	}
	return err == nil && len(r.Objects) == 1 && r.Objects[0].Size == size, err
}

// List returns the objects whose keys begin with prefix.
func (s *Store) List(ctx context.Context, prefix string) ([]Object, error) {
	r, err := s.ask(ctx, Request{Do: "list", Key: prefix})
	return r.Objects, err
}

// Delete removes an object; one that is not there is no error.
func (s *Store) Delete(ctx context.Context, key string) error {
	_, err := s.ask(ctx, Request{Do: "delete", Key: key})
	if errors.Is(err, ErrMissing) {
		return nil
	}
	return err
}
