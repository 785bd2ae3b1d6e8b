package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"
)

// File is a file that a run's measurement depends on.
type File struct {
	Path   string `json:"path"` // from the lab's folder, with slashes
	Size   int64  `json:"size"` // bytes
	SHA256 string `json:"sha256"`
}

// Cache keeps files on this machine's disk by their hash, up to a size; what was
// used last is kept longest. Several workers may share its folder. A file that a
// job has linked outlives its removal from the cache.
type Cache struct {
	Dir   string
	Limit int64 // bytes
	mu    sync.Mutex
}

func (c *Cache) object(sum string) string { return filepath.Join(c.Dir, "objects", sum) }

// used is a file beside the objects whose time says when an object was last
// wanted: the object's own time is the recording's for the job that measures it.
func (c *Cache) used(sum string) string { return filepath.Join(c.Dir, "used", sum) }

// Fetch puts a file at a place in the same file system: from the cache, or else
// from the store.
func (c *Cache) Fetch(ctx context.Context, s *Store, f File, to string) error {
	for _, dir := range []string{filepath.Join(c.Dir, "objects"), filepath.Join(c.Dir, "used"), filepath.Dir(to)} {
		if err := os.MkdirAll(dir, 0o755); err != nil {
			return err
		}
	}
	for {
		if err := os.WriteFile(c.used(f.SHA256), nil, 0o644); err != nil {
			return err
		}
		err := os.Link(c.object(f.SHA256), to)
		if !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		if err := c.makeRoom(f.Size); err != nil {
			return err
		}
		sum, err := s.Get(ctx, objectKey(f.SHA256), c.object(f.SHA256))
		if err != nil {
			return fmt.Errorf("%s: %w", f.Path, err)
		}
		if sum != f.SHA256 {
			os.Remove(c.object(f.SHA256))
			return fmt.Errorf("%s came from the store %w", f.Path, ErrDamaged)
		}
	}
}

// makeRoom removes what was not wanted for longest until so many bytes more fit.
func (c *Cache) makeRoom(bytes int64) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	list, err := os.ReadDir(filepath.Join(c.Dir, "objects"))
	if err != nil {
		return err
	}
	type kept struct {
		name string
		size int64
		last time.Time
	}
	var all []kept
	total := bytes
	for _, e := range list {
		st, err := e.Info()
		if err != nil {
			continue // removed meanwhile by another worker
		}
		last := st.ModTime()
		if u, err := os.Stat(c.used(e.Name())); err == nil {
			last = u.ModTime()
		}
		all = append(all, kept{e.Name(), st.Size(), last})
		total += st.Size()
	}
	slices.SortFunc(all, func(a, b kept) int { return a.last.Compare(b.last) })
	for _, k := range all {
		if total <= c.Limit {
			break
		}
		if err := os.Remove(c.object(k.name)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		os.Remove(c.used(k.name))
		total -= k.size
	}
	return nil
}
