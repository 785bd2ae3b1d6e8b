package disk

import (
	"encoding/json"
	"os"
	"path/filepath"
	"sync"

	"swathe/track"
)

type hashEntry struct {
	Size    int64  `json:"size"`
	MTimeNS int64  `json:"mtime_ns"`
	SHA256  string `json:"sha256"`
}

// Hashes gives the SHA-256 of files, read anew only when size or time of
// change differ from when it was last taken.
type Hashes struct {
	file  string
	mu    sync.Mutex
	known map[string]hashEntry
	dirty bool
}

// OpenHashes reads what is known from a file, which may be deleted at any time.
func OpenHashes(file string) *Hashes {
	c := &Hashes{file: file, known: map[string]hashEntry{}}
	if data, err := os.ReadFile(file); err == nil {
		// A damaged cache is worth nothing and costs one reading of the files.
		if json.Unmarshal(data, &c.known) != nil || c.known == nil {
			c.known = map[string]hashEntry{}
		}
	}
	return c
}

// Sum returns the SHA-256 of a file, lower-case hex.
func (c *Hashes) Sum(file string) (string, error) {
	st, err := os.Stat(file)
	if err != nil {
		return "", err
	}
	key := file
	c.mu.Lock()
	e, ok := c.known[key]
	c.mu.Unlock()
	if ok && e.Size == st.Size() && e.MTimeNS == st.ModTime().UnixNano() {
		return e.SHA256, nil
	}
	h, err := track.HashFile(file)
	if err != nil {
		return "", err
	}
	c.mu.Lock()
	c.known[key] = hashEntry{st.Size(), st.ModTime().UnixNano(), h}
	c.dirty = true
	c.mu.Unlock()
	return h, nil
}

// Save keeps the cache; it drops files that are gone. Failing to keep it costs
// nothing but time at the next start.
func (c *Hashes) Save() error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if !c.dirty {
		return nil
	}
	for f := range c.known {
		if _, err := os.Stat(f); err != nil {
			delete(c.known, f)
		}
	}
	data, err := json.MarshalIndent(c.known, "", " ")
	if err != nil {
		return err
	}
	if _, err := os.Stat(filepath.Dir(c.file)); err != nil {
		return err // the cache makes no results folder of its own
	}
	if err := Put(c.file, data); err != nil {
		return err
	}
	c.dirty = false
	return nil
}

// At returns the SHA-256 of a file as far as it was taken before and the file
// has not changed since; nothing is read.
func (c *Hashes) At(file string) (string, bool) {
	c.mu.Lock()
	e, ok := c.known[file]
	c.mu.Unlock()
	if !ok {
		return "", false
	}
	st, err := os.Stat(file)
	return e.SHA256, err == nil && e.Size == st.Size() && e.MTimeNS == st.ModTime().UnixNano()
}
