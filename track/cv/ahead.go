//go:build cgo && customenv

package cv

import (
	"errors"
	"math"

	"swathe/track/sight"
)

// Ahead reads the frames of a recording that are worth a look, ahead of whoever
// looks.
type Ahead struct {
	r      *Reader
	frames chan *Frame // closed at the end
	stop   chan struct{}

	// Known once frames is closed.
	damaged    bool
	count, bad int
	last       float64
}

// The frames that wait are so many as fit into aheadBytes, within bounds: with 4 a look
// that takes long leaves the decoder waiting, which cost a twentieth of the time. Every
// frame of the recording takes indexBytes of them, for the container's index and what
// is kept of looks: of hours of it no more is held than of minutes.
const (
	aheadBytes            = 72 << 20
	indexBytes            = 130
	leastAhead, mostAhead = 4, 16
)

// Place is a frame of a recording.
type Place struct {
	T     float64 // s from the first frame
	Index int     // 0 is the first
}

// farEnough is by how much before a place, s, to begin: a key frame may be shown
// some frames after its place in the file.
const farEnough = 1

// OpenAhead opens a recording to read the frames that pick takes; with behind, only
// those that come after that one, which had been taken. With threads above 1
// whatever damage there is ends the reading, see Damaged; with 1 it is read in one
// go, and damaged frames are marked.
func OpenAhead(file string, threads int, pick sight.Picker, behind *Place) (*Ahead, error) {
	strict := threads > 1
	r, err := open(file, threads, strict)
	if err != nil {
		return nil, err
	}
	r.Thin(pick)
	if behind != nil {
		if err := goTo(r, behind.T-farEnough); err != nil {
			r.Close()
			return nil, err
		}
	}
	i := r.info
	room := (aheadBytes - indexBytes*max(float64(i.Frames), i.Duration*i.FPS)) / float64(i.Width*i.Height*3/2)
	a := &Ahead{r: r, frames: make(chan *Frame, int(min(max(leastAhead, room), mostAhead))), stop: make(chan struct{})}
	go a.read(strict, pick, behind)
	return a, nil
}

// goTo has a reader begin at a time, s from the first frame.
func goTo(r *Reader, t float64) error {
	f, err := r.Next() // times count from the first
	if err != nil || f == nil {
		return errors.New("its first frame cannot be decoded")
	}
	f.Free()
	return r.Seek(math.Max(0, t))
}

// read reads to the end, or until nobody wants more.
func (a *Ahead) read(strict bool, pick sight.Picker, behind *Place) {
	defer close(a.frames)
	for {
		f, _ := a.r.Next() // where the decoder gives up is the end
		switch {
		case strict && (a.r.Bad() > 0 || f != nil && f.Bad):
			a.damaged = true
		case f == nil:
			a.damaged = behind != nil
		case behind != nil && f.T > behind.T: // not shown at the same time again
			a.damaged = true
		}
		if f == nil || a.damaged {
			if f != nil {
				f.Free()
			}
			a.count, a.last = a.r.Count()
			a.bad += a.r.Bad()
			return
		}
		if f.Bad {
			a.bad++
		}
		take := pick.Take(f.T)
		if behind != nil {
			take = false
			if f.T == behind.T { // it says how many there are before those read now
				a.r.count += behind.Index - f.Index
				behind = nil
			}
		}
		if !take {
			f.Free()
			continue
		}
		select {
		case a.frames <- f:
		case <-a.stop:
			f.Free()
			return
		}
	}
}

// Next returns the next frame worth a look, nil at the end. The caller frees it.
func (a *Ahead) Next() *Frame { return <-a.frames }

// Damaged tells, at the end, whether the reading ended because something is damaged:
// where, is certain only when it is read with one thread. So it does where the frame
// that was looked at last is not found again.
func (a *Ahead) Damaged() bool { return a.damaged }

// Count returns, at the end, how many frames there were, those left out
// included, how many of them or of the packets were damaged, and the time of the last, s from the first.
func (a *Ahead) Count() (n, bad int, last float64) { return a.count, a.bad, a.last }

// Close ends the reading. Frames still held stay valid, their planes do not.
func (a *Ahead) Close() {
	close(a.stop)
	for f := range a.frames {
		f.Free()
	}
	a.r.Close()
}
