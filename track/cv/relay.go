//go:build cgo && customenv

package cv

/*
#include "share.h"
#include "reader.h"
*/
import "C"

import (
	"errors"
	"math"
	"sync"

	"swathe/track/sight"
)

// Relay reads the frames of a recording that are worth a look, ahead of
// whoever looks. Where the recording is made of groups of frames that can be decoded by
// themselves, as H.264 with regular key frames is, two readers take groups in
// turn: decoders that need not wait for one another cost two thirds of what the
// threads of one do, and keep both cores busy. The frames are the same, and come in order.
type Relay struct {
	readers []*Reader
	pool    *C.sw_pool
	pick    sight.Picker
	strict  bool

	mu      sync.Mutex
	moved   sync.Cond // a queue has become longer or shorter
	queues  [][]relayed
	held    int // frames in all queues
	room    int // and how many there may be before no more are taken of later groups
	live    int // whose group is being handed out
	base    int // frames in the groups before it
	first   float64
	begun   bool // first is known
	last    float64
	bad     int    // frames decoded with errors
	behind  *Place // frames up to it were looked at before; nil: none, or past it
	closed  bool
	damaged bool
	fillers sync.WaitGroup
}

// relayed is a frame, or the end of a group, or of all.
type relayed struct {
	f    *Frame
	n    int     // frames of the group that has ended
	last float64 // time of the last of them, s from the first of all
	over bool
}

const (
	// relayBytes is for frames that were decoded ahead.
	relayBytes = 72 << 20
	// leastRoom is for how many frames that must be enough: larger ones are
	// decoded by one reader, for two hold twice as many others rest on.
	leastRoom = 12
	// indexBytes is what a frame costs of those in memory: both readers hold the
	// container's index, and whoever looks keeps something of each look. So
	// recordings of hours have one reader.
	indexBytes = 130
	// nextRoom is how many frames of the group that is being handed out may wait,
	// before its reader goes on.
	nextRoom = 4
	// longestGroup is for how long, s, two readers still gain: what one decodes
	// ahead is a few seconds at most.
	longestGroup = 20
)

// Place is a frame of a recording.
type Place struct {
	T     float64 // s from the first frame
	Index int     // 0 is the first
}

// farEnough is by how much before a place, s, to begin: a key frame may be shown
// some frames after its place in the file.
const farEnough = 1

// OpenRelay opens a recording to read the frames that pick takes; with behind, only
// those that come after that one, which had been taken. With threads above 1
// whatever damage there is ends the reading, see Damaged; with 1 it is read in one
// go, and damaged frames are marked.
func OpenRelay(file string, threads int, pick sight.Picker, behind *Place) (*Relay, error) {
	l := &Relay{pick: pick, strict: threads > 1, behind: behind}
	l.moved.L = &l.mu
	n := 1
	length, size, frames := groups(file)
	l.room = max(nextRoom, (relayBytes-indexBytes*frames)/max(1, size))
	if threads > 1 && length > 0 && length <= longestGroup && l.room >= leastRoom {
		n, threads = 2, 1
		if l.pool = C.sw_pool_new(); l.pool == nil {
			return nil, errors.New("out of memory")
		}
	}
	for i := 0; i < n; i++ {
		r, err := open(file, threads, l.strict)
		if err != nil {
			l.closeReaders()
			return nil, err
		}
		r.Thin(pick)
		l.readers = append(l.readers, r)
		if behind != nil {
			if err := l.goTo(r, behind.T-farEnough); err != nil {
				l.closeReaders()
				return nil, err
			}
		}
		if n > 1 {
			C.sw_share(r.c, C.int(n), C.int(i), l.pool)
		}
	}
	l.queues = make([][]relayed, n)
	for i := range l.readers {
		l.fillers.Add(1)
		go l.fill(i)
	}
	return l, nil
}

// goTo has a reader begin at a time, s from the first frame.
func (l *Relay) goTo(r *Reader, t float64) error {
	f, err := r.Next() // times count from the first
	if err != nil || f == nil {
		return errors.New("its first frame cannot be decoded")
	}
	f.Free()
	l.first, l.begun = r.first, true
	return r.Seek(math.Max(0, t))
}

// groups returns the mean length of the groups of frames in a file that can be
// decoded by themselves, s, 0 if there are none; the size of a frame, bytes, and
// how many there are, 0 if that is not known.
func groups(file string) (length float64, size, frames int) {
	r, err := Open(file, 1)
	if err != nil {
		return 0, 0, 0
	}
	defer r.Close()
	i := r.info
	if frames = i.Frames; frames == 0 && i.Duration > 0 {
		frames = int(i.Duration * i.FPS)
	}
	return float64(C.sw_group_length(r.c)), i.Width * i.Height * 3 / 2, frames
}

// fill reads for one queue.
func (l *Relay) fill(i int) {
	defer l.fillers.Done()
	r, pick, noted := l.readers[i], l.pick, false
	if i > 0 { // times count from the first frame of all
		first, ok := l.firstTime()
		if !ok {
			return
		}
		r.first, r.begun = first, true
	}
	group := func(over bool) bool {
		n, last := r.Count()
		r.count = 0
		C.sw_group_begins(r.c)
		return l.put(i, relayed{n: n, last: last, over: over})
	}
	for {
		f, err := r.Next()
		if errors.Is(err, errGroup) {
			if !group(false) {
				return
			}
			continue
		}
		if l.strict && (r.Bad() > 0 || f != nil && f.Bad) {
			if f != nil {
				f.Free()
			}
			l.damage()
			return
		}
		if f == nil || err != nil {
			group(true)
			return
		}
		if !noted || f.Bad {
			l.note(r, f)
			noted = true
		}
		if !pick.Take(f.T) {
			f.Free()
			continue
		}
		if !l.put(i, relayed{f: f}) {
			f.Free()
			return
		}
	}
}

// firstTime waits for the first reader's first frame.
func (l *Relay) firstTime() (t float64, ok bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for !l.begun && !l.closed && !l.damaged {
		l.moved.Wait()
	}
	return l.first, l.begun
}

// note takes account of a reader's first frame and of damaged ones.
func (l *Relay) note(r *Reader, f *Frame) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if !l.begun {
		l.first, l.begun = r.first, true
		l.moved.Broadcast()
	}
	if f.Bad {
		l.bad++
	}
}

func (l *Relay) damage() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.damaged = true
	l.moved.Broadcast()
}

// put appends to a queue when there is room; false if nobody wants it any more.
func (l *Relay) put(i int, q relayed) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	full := func() bool {
		switch {
		case q.f == nil:
			return false
		case i == l.live: // it never waits for room that later ones take
			return len(l.queues[i]) >= nextRoom
		}
		return l.held >= l.room
	}
	for !l.closed && !l.damaged && full() {
		l.moved.Wait()
	}
	if l.closed || l.damaged {
		return false
	}
	if q.f != nil {
		l.held++
	}
	l.queues[i] = append(l.queues[i], q)
	l.moved.Broadcast()
	return true
}

// Next returns the next frame worth a look, nil at the end. The caller frees it.
func (l *Relay) Next() *Frame {
	l.mu.Lock()
	defer l.mu.Unlock()
	for {
		for len(l.queues[l.live]) == 0 && !l.damaged {
			l.moved.Wait()
		}
		if l.damaged {
			return nil
		}
		q := l.queues[l.live][0]
		l.queues[l.live] = l.queues[l.live][1:]
		if q.f != nil {
			l.held--
			l.moved.Broadcast()
			q.f.Index += l.base
			if l.past(q.f) {
				q.f.Free()
				continue
			}
			if !l.pick.Take(q.f.T) { // its slot began in the group before
				q.f.Free()
				continue
			}
			return q.f
		}
		l.base += q.n
		if q.n > 0 {
			l.last = math.Max(l.last, q.last)
		}
		if q.over && q.n == 0 || q.over && len(l.readers) == 1 {
			l.queues[l.live] = append(l.queues[l.live], relayed{over: true}) // for whoever asks again
			return nil
		}
		if q.over { // the other one has nothing more either, but must say so
			l.queues[l.live] = append(l.queues[l.live], relayed{over: true})
		}
		l.live = (l.live + 1) % len(l.readers)
		l.moved.Broadcast()
	}
}

// past tells whether a frame was looked at before. The one that was looked at last
// says how many there are before those that are read now.
func (l *Relay) past(f *Frame) bool {
	b := l.behind
	switch {
	case b == nil:
		return false
	case f.T < b.T:
		return true
	case f.T > b.T: // not shown at the same time again
		l.damaged = true
		return true
	}
	l.base += b.Index - f.Index
	l.pick.Take(f.T)
	l.behind = nil
	return true
}

// Damaged tells whether the reading ended because something is damaged: where,
// is certain only when it is read with one thread. So it does where the frame
// that was looked at last is not found again.
func (l *Relay) Damaged() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.damaged
}

// Count returns, at the end, how many frames there were, those left out
// included, how many of them or of the packets were damaged, and the time of the last, s from the first.
func (l *Relay) Count() (n, bad int, last float64) {
	l.mu.Lock()
	defer l.mu.Unlock()
	bad = l.bad
	for _, r := range l.readers {
		bad += r.Bad()
	}
	return l.base, bad, l.last
}

// Close ends the reading. Frames still held stay valid, their planes do not.
func (l *Relay) Close() {
	l.mu.Lock()
	l.closed = true
	l.moved.Broadcast()
	l.mu.Unlock()
	l.fillers.Wait()
	for _, q := range l.queues {
		for _, e := range q {
			if e.f != nil {
				e.f.Free()
			}
		}
	}
	l.queues = nil
	l.closeReaders()
}

func (l *Relay) closeReaders() {
	for _, r := range l.readers {
		r.Close()
	}
	l.readers = nil
	C.sw_pool_free(l.pool)
	l.pool = nil
}
