package page

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"os"
	"path"
	"strings"
	"sync/atomic"
	"syscall"
	"time"
)

// uploadMark stands in the name of a recording that is still arriving.
const uploadMark = ".arriving-"

// idle is for how long nothing may arrive before a sender counts as gone.
const idle = 60 * time.Second

// receive takes in a recording: PUT /recordings/<layout>/<name>. It is written
// to a hidden file beside, whole, and only then given its name; what breaks off
// leaves nothing.
func (s *server) receive(w http.ResponseWriter, r *http.Request) {
	layout, name := r.PathValue("layout"), r.PathValue("name")
	if err := plainName(layout, "a layout"); err != nil {
		refuse(w, err)
		return
	}
	if err := recordingName(name); err != nil {
		refuse(w, err)
		return
	}
	if r.ContentLength > s.opt.MaxUpload {
		refuse(w, s.tooLarge())
		return
	}
	if err := s.store(w, r, path.Join("recordings", layout), name); err != nil {
		refuse(w, err)
		return
	}
	s.lab.Arrived()
	reply(w, http.StatusCreated, map[string]string{"file": layout + "/" + name})
}

func (s *server) tooLarge() error {
	return Refuse(http.StatusRequestEntityTooLarge, "The recording is larger than %d MB, the most that this page takes in. Copy it into recordings/ yourself, or start swathe serve with a larger --max-upload.", s.opt.MaxUpload>>20)
}

func (s *server) store(w http.ResponseWriter, r *http.Request, dir, name string) (err error) {
	if err := s.root.MkdirAll(dir, 0o755); err != nil {
		return storing(err)
	}
	target := path.Join(dir, name)
	if _, err := s.root.Lstat(target); err == nil {
		return Refuse(http.StatusConflict, "%s exists. Give the new one another trial number, or remove the old one first.", target)
	} else if !errors.Is(err, fs.ErrNotExist) {
		return storing(err)
	}
	var id [8]byte
	_, _ = rand.Read(id[:])
	tmp := path.Join(dir, "."+name+uploadMark+hex.EncodeToString(id[:]))
	f, err := s.root.OpenFile(tmp, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return storing(err)
	}
	defer func() {
		f.Close()
		if err != nil {
			_ = s.root.Remove(tmp)
		}
	}()
	body := &patient{http.MaxBytesReader(w, r.Body, s.opt.MaxUpload), http.NewResponseController(w), nil}
	n, err := io.Copy(f, body)
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		return s.tooLarge()
	case err != nil:
		return storing(err)
	case r.ContentLength >= 0 && n != r.ContentLength:
		return Refuse(http.StatusBadRequest, "The upload stopped after %d of %d bytes. Nothing was kept; drop it again.", n, r.ContentLength)
	case n == 0:
		return Refuse(http.StatusBadRequest, "The recording is empty.")
	}
	if err := f.Sync(); err != nil {
		return storing(err)
	}
	if err := f.Close(); err != nil {
		return storing(err)
	}
	return s.settle(tmp, target)
}

// settle gives a recording that has arrived whole its name. A link fails where a
// file of that name has appeared meanwhile; a rename would replace it.
func (s *server) settle(tmp, target string) error {
	if err := s.root.Link(tmp, target); err == nil {
		return s.root.Remove(tmp)
	} else if errors.Is(err, fs.ErrExist) {
		return Refuse(http.StatusConflict, "%s was added in the meantime; the new one was not kept.", target)
	}
	return s.root.Rename(tmp, target) // file systems without links
}

// patient reads a body as long as something keeps coming.
type patient struct {
	io.Reader
	c       *http.ResponseController
	stopped *atomic.Bool // set from elsewhere to end it; may be nil
}

func (p *patient) Read(b []byte) (int, error) {
	if p.stopped != nil && p.stopped.Load() {
		return 0, os.ErrDeadlineExceeded
	}
	_ = p.c.SetReadDeadline(time.Now().Add(idle))
	if p.stopped != nil && p.stopped.Load() {
		return 0, os.ErrDeadlineExceeded // set between the two lines before
	}
	return p.Reader.Read(b)
}

func storing(err error) error {
	switch {
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT), errors.Is(err, syscall.EFBIG):
		return Refuse(http.StatusInsufficientStorage, "The recording can't be saved: the disk is full. Free some space and drop it again; no incomplete file was left.")
	case errors.Is(err, syscall.ENOTDIR), errors.Is(err, syscall.ELOOP), isEscape(err):
		return Refuse(http.StatusForbidden, "That is not an ordinary folder inside the lab.")
	case errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, os.ErrDeadlineExceeded):
		return Refuse(http.StatusBadRequest, "The upload stopped. Nothing was kept; drop it again.")
	}
	return fmt.Errorf("the recording can't be saved: %w", err)
}

// isEscape tells whether os.Root refused a path that leads out of the lab.
func isEscape(err error) bool {
	var pe *fs.PathError
	return errors.As(err, &pe) && pe.Err != nil && strings.Contains(pe.Err.Error(), "escapes")
}

// tidyUploads removes what broken-off uploads of an earlier program left, but for
// those that can still go on.
func (s *server) tidyUploads() {
	s.eachPart(func(p part, st fs.FileInfo) {
		if time.Since(st.ModTime()) > partKept {
			_ = s.root.Remove(p.file())
		}
	}, func(file string) { _ = s.root.Remove(file) })
}
