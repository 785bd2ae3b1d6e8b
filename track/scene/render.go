package scene

import (
	"context"
	"runtime"
	"sync"
)

// Frame is one picture of a recording: W*H*3 bytes, blue green red, row by
// row from the top. The bytes belong to the renderer once the sink returns.
type Frame struct {
	N    int     // from 0
	T    float64 // s, presentation time
	W, H int
	BGR  []byte
}

// Sink takes the frames in order; an error stops the rendering.
type Sink func(f Frame) error

// Renderer draws the frames of a scene; it may be used from several goroutines.
type Renderer struct {
	s       *Scene
	times   []float64
	worlds  []*world
	develop []*developer
	free    sync.Pool // *hand
}

// hand is what one goroutine needs to draw.
type hand struct {
	painters []*painter
	warped   []uint16
}

// NewRenderer validates the scene and draws all that stands still in it. The
// scene must not be changed while the renderer is in use.
func NewRenderer(s *Scene) (*Renderer, error) {
	if err := s.Validate(); err != nil {
		return nil, err
	}
	r := &Renderer{s: s, times: s.Frames()}
	noise := newGrain(s.Seed)
	r.worlds = append(r.worlds, newWorld(s, s.Camera))
	for _, n := range s.Nudges {
		r.worlds = append(r.worlds, newWorld(s, n.Camera))
	}
	for _, w := range r.worlds {
		r.develop = append(r.develop, newDeveloper(w, noise))
	}
	r.free.New = func() any { return &hand{painters: make([]*painter, len(r.worlds))} }
	return r, nil
}

// Times returns the frames' presentation times, s. Do not change them.
func (r *Renderer) Times() []float64 { return r.times }

// Draw draws frame n into dst, of W*H*3 bytes.
func (r *Renderer) Draw(n int, dst []byte) {
	t := r.times[n]
	k := 0
	for i, g := range r.s.Nudges {
		if t >= g.From {
			k = i + 1
		}
	}
	h := r.free.Get().(*hand)
	defer r.free.Put(h)
	if h.painters[k] == nil {
		h.painters[k] = newPainter(r.worlds[k])
	}
	p := h.painters[k]
	p.draw(t)
	picture := p.buf
	if r.s.Wobble.Period > 0 {
		if h.warped == nil {
			h.warped = make([]uint16, len(p.buf))
		}
		r.s.warp(p.buf, h.warped, p.w, p.h, t)
		picture = h.warped
	}
	r.develop[k].develop(picture, t, n, dst)
}

// Render draws the scene, on all cores, and gives the frames to sink in order.
// It returns the first error of sink, or the context's.
func Render(ctx context.Context, s *Scene, sink Sink) error {
	r, err := NewRenderer(s)
	if err != nil {
		return err
	}
	w, h := s.Camera.Width, s.Camera.Height
	type slot struct {
		ready chan struct{}
		pix   []byte
	}
	workers := runtime.GOMAXPROCS(0)
	slots := make([]slot, 2*workers+2)
	for i := range slots {
		slots[i] = slot{make(chan struct{}, 1), make([]byte, w*h*3)}
	}
	ctx, cancel := context.WithCancel(ctx)
	jobs := make(chan int)
	free := make(chan struct{}, len(slots))
	for range slots {
		free <- struct{}{}
	}
	var wg sync.WaitGroup
	defer wg.Wait()
	defer cancel()
	wg.Add(1)
	go func() {
		defer wg.Done()
		defer close(jobs)
		for n := range r.times {
			select {
			case <-free:
			case <-ctx.Done():
				return
			}
			select {
			case jobs <- n:
			case <-ctx.Done():
				return
			}
		}
	}()
	for range workers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for n := range jobs {
				q := &slots[n%len(slots)]
				r.Draw(n, q.pix)
				q.ready <- struct{}{}
			}
		}()
	}
	for n, t := range r.times {
		q := &slots[n%len(slots)]
		select {
		case <-q.ready:
		case <-ctx.Done():
			return ctx.Err()
		}
		if err := sink(Frame{n, t, w, h, q.pix}); err != nil {
			return err
		}
		free <- struct{}{}
	}
	return nil
}
