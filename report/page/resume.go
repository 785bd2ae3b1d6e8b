package page

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"os"
	"path"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"
)

// Uploads that go on where they broke off, after the draft "Resumable Uploads
// for HTTP" of the IETF (draft-ietf-httpbis-resumable-upload): HEAD tells how
// much has arrived, PATCH adds to its end, DELETE gives up. What has arrived
// lies in a hidden file whose name holds the recording's own name, its size and
// its time of change, so that nothing else need be remembered: not by the
// browser that sends it, nor by this program if it is started anew.

const (
	offsetHeader = "Upload-Offset"
	// partKept is for how long half a recording waits for its other half.
	partKept = 14 * 24 * time.Hour
	// mostParts bounds the recordings that are on their way.
	mostParts = 500
)

// part names an upload: what is sent where.
type part struct {
	Layout   string `json:"layout"`
	Name     string `json:"name"`
	Size     int64  `json:"size"`     // bytes, when whole
	Modified int64  `json:"modified"` // of the sender's file, ms since 1970
	Have     int64  `json:"have"`     // bytes that have arrived
	Sending  bool   `json:"sending"`  // somebody is sending it now
}

func (p part) dir() string { return path.Join("recordings", p.Layout) }

func (p part) file() string {
	return path.Join(p.dir(), fmt.Sprintf(".%s%s%d-%d", p.Name, uploadMark, p.Size, p.Modified))
}

// partOf reads a hidden file's name back.
func partOf(layout, file string) (p part, ok bool) {
	i := strings.LastIndex(file, uploadMark)
	if i < 1 || file[0] != '.' {
		return p, false
	}
	size, modified, ok := strings.Cut(file[i+len(uploadMark):], "-")
	n, err1 := strconv.ParseInt(size, 10, 64)
	m, err2 := strconv.ParseInt(modified, 10, 64)
	return part{Layout: layout, Name: file[1:i], Size: n, Modified: m}, ok && err1 == nil && err2 == nil
}

// sender is a request that is adding to a part.
type sender struct {
	stopped atomic.Bool
	c       *http.ResponseController
	gone    chan struct{}
}

// senders knows who is adding to what. One that comes later takes over: the one
// before it is most likely a connection that broke and does not know yet.
type senders struct {
	mu sync.Mutex
	of map[string]*sender
}

func (s *senders) begin(file string, c *http.ResponseController) *sender {
	me := &sender{c: c, gone: make(chan struct{})}
	for {
		s.mu.Lock()
		before := s.of[file]
		if before == nil {
			if s.of == nil {
				s.of = map[string]*sender{}
			}
			s.of[file] = me
			s.mu.Unlock()
			return me
		}
		s.mu.Unlock()
		before.stopped.Store(true)
		_ = before.c.SetReadDeadline(time.Now())
		<-before.gone
	}
}

func (s *senders) end(file string, me *sender) {
	s.mu.Lock()
	delete(s.of, file)
	s.mu.Unlock()
	close(me.gone)
}

func (s *senders) busy(file string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.of[file] != nil
}

// partAsked reads which upload a request is about.
func (s *server) partAsked(r *http.Request) (part, error) {
	p := part{Layout: r.PathValue("layout"), Name: r.PathValue("name")}
	if err := plainName(p.Layout, "a layout"); err != nil {
		return p, err
	}
	if err := recordingName(p.Name); err != nil {
		return p, err
	}
	var err1, err2 error
	p.Size, err1 = strconv.ParseInt(r.URL.Query().Get("size"), 10, 64)
	p.Modified, err2 = strconv.ParseInt(r.URL.Query().Get("modified"), 10, 64)
	switch {
	case err1 != nil || err2 != nil || p.Size < 0 || p.Modified < 0:
		return p, Refuse(http.StatusBadRequest, "An upload needs the size of the recording and the time of its last change.")
	case p.Size == 0:
		return p, Refuse(http.StatusBadRequest, "The recording is empty.")
	case p.Size > s.opt.MaxUpload:
		return p, s.tooLarge()
	}
	if _, err := s.root.Lstat(path.Join(p.dir(), p.Name)); err == nil {
		return p, Refuse(http.StatusConflict, "%s is there already. Give the new one another trial number, or take the old one away first.", path.Join(p.dir(), p.Name))
	} else if !errors.Is(err, fs.ErrNotExist) {
		return p, storing(err)
	}
	if st, err := s.root.Lstat(p.file()); err == nil && st.Mode().IsRegular() {
		p.Have = st.Size()
	}
	return p, nil
}

// partState answers HEAD and GET: how much of an upload is here.
func (s *server) partState(w http.ResponseWriter, r *http.Request) {
	p, err := s.partAsked(r)
	if err != nil {
		refuse(w, err)
		return
	}
	w.Header().Set(offsetHeader, strconv.FormatInt(p.Have, 10))
	reply(w, http.StatusOK, p)
}

// addToPart answers PATCH: the body goes to the end of what is here. What breaks
// off stays as far as it came.
func (s *server) addToPart(w http.ResponseWriter, r *http.Request) {
	p, err := s.partAsked(r)
	if err != nil {
		refuse(w, err)
		return
	}
	c := http.NewResponseController(w)
	me := s.senders.begin(p.file(), c)
	defer s.senders.end(p.file(), me)
	// The one before may have sent all of it meanwhile.
	if p, err = s.partAsked(r); err != nil {
		refuse(w, err)
		return
	}
	have, err := s.append(w, r, &p, me)
	if have >= 0 {
		w.Header().Set(offsetHeader, strconv.FormatInt(have, 10))
	}
	if err != nil {
		refuse(w, err)
		return
	}
	if have < p.Size {
		reply(w, http.StatusOK, p)
		return
	}
	if err := s.settle(p.file(), path.Join(p.dir(), p.Name)); err != nil {
		refuse(w, err)
		return
	}
	s.lab.Arrived()
	reply(w, http.StatusCreated, map[string]string{"file": p.Layout + "/" + p.Name})
}

// append writes the body of a request to the end of a part and returns how much
// of it is there then; -1 if that is not known.
func (s *server) append(w http.ResponseWriter, r *http.Request, p *part, me *sender) (int64, error) {
	from, err := strconv.ParseInt(r.Header.Get(offsetHeader), 10, 64)
	if err != nil {
		return -1, Refuse(http.StatusBadRequest, "The request does not say from which byte it goes on.")
	}
	if err := s.root.MkdirAll(p.dir(), 0o755); err != nil {
		return -1, storing(err)
	}
	if from == 0 && len(s.parts()) >= mostParts {
		return 0, Refuse(http.StatusConflict, "%d recordings have arrived in part. Send the rest of them, or remove them, first.", mostParts)
	}
	f, err := s.root.OpenFile(p.file(), os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o644)
	if err != nil {
		return -1, storing(err)
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return -1, storing(err)
	}
	p.Have = st.Size()
	if from != p.Have {
		return p.Have, Refuse(http.StatusConflict, "%d bytes have arrived; the request goes on from %d.", p.Have, from)
	}
	body := io.LimitReader(&patient{http.MaxBytesReader(w, r.Body, s.opt.MaxUpload), me.c, &me.stopped}, p.Size-p.Have+1)
	n, err := io.Copy(f, body)
	p.Have += n
	if p.Have > p.Size {
		_ = s.root.Remove(p.file())
		return 0, Refuse(http.StatusBadRequest, "More arrived than the %d bytes that the recording had. Is it still being written? Drop it again when it is whole.", p.Size)
	}
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, os.ErrDeadlineExceeded) {
		return p.Have, Refuse(http.StatusConflict, "%d bytes have arrived; then the upload stopped.", p.Have)
	}
	if err != nil {
		return p.Have, storing(err)
	}
	if err := f.Sync(); err != nil {
		return p.Have, storing(err)
	}
	return p.Have, f.Close()
}

// dropPart answers DELETE: what has arrived is removed.
func (s *server) dropPart(w http.ResponseWriter, r *http.Request) {
	p, err := s.partAsked(r)
	if err == nil {
		me := s.senders.begin(p.file(), http.NewResponseController(w))
		if err = s.root.Remove(p.file()); errors.Is(err, fs.ErrNotExist) {
			err = nil
		}
		s.senders.end(p.file(), me)
	}
	if err != nil {
		refuse(w, err)
		return
	}
	reply(w, http.StatusOK, p)
}

// partList answers what has arrived in part.
func (s *server) partList(w http.ResponseWriter, _ *http.Request) {
	reply(w, http.StatusOK, s.parts())
}

func (s *server) parts() []part {
	out := []part{}
	s.eachPart(func(p part, st fs.FileInfo) {
		p.Have, p.Sending = st.Size(), s.senders.busy(p.file())
		out = append(out, p)
	}, nil)
	slices.SortFunc(out, func(a, b part) int { return strings.Compare(a.file(), b.file()) })
	return out
}

// eachPart calls one with every upload that is here in part, and odd with other
// hidden files that an upload left.
func (s *server) eachPart(one func(part, fs.FileInfo), odd func(file string)) {
	layouts, _ := fs.ReadDir(s.root.FS(), "recordings")
	for _, l := range layouts {
		if !l.IsDir() {
			continue
		}
		files, _ := fs.ReadDir(s.root.FS(), path.Join("recordings", l.Name()))
		for _, f := range files {
			if !strings.HasPrefix(f.Name(), ".") || !strings.Contains(f.Name(), uploadMark) {
				continue
			}
			p, ok := partOf(l.Name(), f.Name())
			st, err := f.Info()
			switch {
			case ok && err == nil && st.Mode().IsRegular():
				one(p, st)
			case odd != nil:
				odd(path.Join("recordings", l.Name(), f.Name()))
			}
		}
	}
}
