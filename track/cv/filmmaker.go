//go:build cgo && customenv

package cv

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"runtime"

	"gocv.io/x/gocv"

	"swathe/track/film"
	"swathe/track/paint"
	"swathe/track/sight"
)

// paneMaker is one run on its way into a film.
type paneMaker struct {
	spec    film.Pane
	album   *Album // nil: an overlay without a recording
	painter *film.Painter
	words   *film.Writer
	frame   *paint.Canvas // of the camera's size
	x, w, h int           // its part of the film
	cloak   *film.Cloak
	halved  int
}

// Film makes a film (see film.Spec) and returns the files that it wrote; told
// is called after each frame. On an error nothing usable is left.
func Film(spec film.Spec, told func(done, total int)) (files []string, err error) {
	if err := spec.Validate(); err != nil {
		return nil, err
	}
	m := &filmMaker{spec: spec, out: make([]byte, spec.Width*spec.Height*3)}
	if spec.Overlay {
		m.alpha = make([]byte, spec.Width*spec.Height)
	}
	defer m.close()
	for i := range spec.Panes {
		if err := m.add(i); err != nil {
			return nil, err
		}
	}
	sink, err := m.sink()
	if err != nil {
		return nil, err
	}
	n := spec.Frames()
	for k := 0; k < n; k++ {
		if err := m.draw(float64(k) / spec.FPS * spec.Speed); err != nil {
			sink.abort()
			return nil, err
		}
		if err := sink.take(k); err != nil {
			sink.abort()
			return nil, err
		}
		if told != nil {
			told(k+1, n)
		}
	}
	return sink.finish()
}

type filmMaker struct {
	spec  film.Spec
	panes []*paneMaker
	out   []byte // packed BGR of the film
	alpha []byte // of an overlay
}

func (m *filmMaker) close() {
	for _, p := range m.panes {
		if p.album != nil {
			p.album.Close()
		}
	}
}

func (m *filmMaker) add(i int) error {
	s := m.spec.Panes[i]
	p := &paneMaker{spec: s, h: m.spec.Height}
	m.panes = append(m.panes, p)
	p.w = m.spec.Width / len(m.spec.Panes)
	p.x = i * p.w
	var log []film.Pass
	var err error
	if s.Log != "" {
		if log, err = film.ReadLog(s.Log, s.Nx*s.Ny); err != nil {
			return err
		}
	}
	if len(s.Files) > 0 && !m.spec.Overlay {
		if p.album, err = OpenAlbum(s.Files, s.Gaps); err != nil {
			return err
		}
		if w, h := p.album.Size(); w != s.Camera.Width || h != s.Camera.Height {
			return fmt.Errorf("%s: its frames are %d x %d px, the camera's %d x %d", s.Files[0], w, h, s.Camera.Width, s.Camera.Height)
		}
	}
	p.painter = film.NewPainter(s, log)
	if p.words, err = film.NewWriter(s, p.w, p.h, m.spec.Speed); err != nil {
		return err
	}
	p.frame = &paint.Canvas{W: s.Camera.Width, H: s.Camera.Height}
	if m.spec.Overlay {
		p.frame.Pix = make([]byte, s.Camera.Width*s.Camera.Height*3)
		p.frame.A = make([]byte, s.Camera.Width*s.Camera.Height)
	}
	if m.spec.Blur && p.album != nil {
		return p.learn()
	}
	return nil
}

// learn makes the background that tells what moves.
func (p *paneMaker) learn() error {
	for w := p.spec.Camera.Width; w > sight.WorkWidth; w /= 2 {
		p.halved++
	}
	length := 0.0
	for _, q := range p.album.parts {
		if !math.IsInf(q.to, 0) {
			length = q.to
		}
	}
	var pics []*sight.Picture
	for k := 0; k < film.CloakSamples; k++ {
		_, at, err := p.album.At(length * (float64(k) + 0.3) / film.CloakSamples)
		if err != nil {
			continue
		}
		if pic, err := p.album.cur.Picture(p.halved); err == nil {
			pic = pic.Clone()
			pic.T = at
			pics = append(pics, pic)
		}
	}
	if len(pics) < 3 {
		return fmt.Errorf("%s: too few frames can be decoded to separate people from floor", p.spec.Files[0])
	}
	p.cloak = film.NewCloak(p.spec, p.halved, pics, p.painter.Pose)
	return nil
}

// draw draws the film's frame at t, s of the run from the film's beginning.
func (m *filmMaker) draw(t float64) error {
	clear(m.out) // the bars, and the words of the frame before on them
	for _, p := range m.panes {
		at := p.spec.From + t
		if p.album != nil {
			bgr, _, err := p.album.At(at)
			if err != nil {
				return err
			}
			p.frame.Pix = bgr
			if p.cloak != nil {
				if err := p.cover(at); err != nil {
					return err
				}
			}
		} else {
			clear(p.frame.Pix)
			clear(p.frame.A)
		}
		p.painter.Paint(p.frame, at)
		if err := m.place(p); err != nil {
			return err
		}
		p.words.Write(&paint.Canvas{W: m.spec.Width, H: m.spec.Height, Pix: m.out, A: m.alpha}, p.x, p.w, at)
	}
	return nil
}

func (p *paneMaker) cover(at float64) error {
	pic, err := p.album.cur.Picture(p.halved)
	if err != nil {
		return err
	}
	pose, known := p.painter.Pose(at)
	p.cloak.Cover(p.frame, pic, pose, known, at)
	return nil
}

// place cuts the part that is shown out of the pane's frame and puts it, at its
// size there, into the film.
func (m *filmMaker) place(p *paneMaker) error {
	kind, pix, out := gocv.MatTypeCV8UC3, p.frame.Pix, m.out
	if m.alpha != nil {
		// Colours are worth as much as they cover while they are mixed.
		kind, pix, out = gocv.MatTypeCV8UC4, premultiply(p.frame), make([]byte, m.spec.Width*m.spec.Height*4)
	}
	src, err := gocv.NewMatFromBytes(p.frame.H, p.frame.W, kind, pix)
	if err != nil {
		return err
	}
	defer src.Close()
	dst, err := gocv.NewMatFromBytes(m.spec.Height, m.spec.Width, kind, out)
	if err != nil {
		return err
	}
	defer dst.Close()
	c := p.spec.Crop
	part := src.Region(image.Rect(c[0], c[1], c[0]+c[2], c[1]+c[3]))
	defer part.Close()
	at := fitInto(c[2], c[3], p.w, p.h).Add(image.Pt(p.x, 0))
	into := dst.Region(at)
	defer into.Close()
	if size := at.Size(); c[2] == size.X && c[3] == size.Y {
		part.CopyTo(&into)
	} else {
		how := gocv.InterpolationArea
		if c[2] < size.X {
			how = gocv.InterpolationLinear
		}
		gocv.Resize(part, &into, size, 0, 0, how)
	}
	runtime.KeepAlive(pix)
	runtime.KeepAlive(out)
	if m.alpha != nil {
		m.unmultiply(out, p)
	}
	return nil
}

// fitInto is where a picture of w x h comes, as large as it can be, in the
// middle of pw x ph; a rounding's worth of bars is none.
func fitInto(w, h, pw, ph int) image.Rectangle {
	k := math.Min(float64(pw)/float64(w), float64(ph)/float64(h))
	fw, fh := min(pw, int(math.Round(k*float64(w)))), min(ph, int(math.Round(k*float64(h))))
	if pw-fw < 3 {
		fw = pw
	}
	if ph-fh < 3 {
		fh = ph
	}
	x, y := (pw-fw)/2, (ph-fh)/2
	return image.Rect(x, y, x+fw, y+fh)
}

func premultiply(c *paint.Canvas) []byte {
	b := make([]byte, 4*len(c.A))
	for i, a := range c.A {
		if a > 0 {
			k := uint32(a)
			b[4*i] = uint8((uint32(c.Pix[3*i])*k + 127) / 255)
			b[4*i+1] = uint8((uint32(c.Pix[3*i+1])*k + 127) / 255)
			b[4*i+2] = uint8((uint32(c.Pix[3*i+2])*k + 127) / 255)
			b[4*i+3] = a
		}
	}
	return b
}

func (m *filmMaker) unmultiply(b []byte, p *paneMaker) {
	for y := 0; y < p.h; y++ {
		for x := p.x; x < p.x+p.w; x++ {
			i := y*m.spec.Width + x
			a := uint32(b[4*i+3])
			m.alpha[i] = uint8(a)
			for c := 0; c < 3; c++ {
				m.out[3*i+c] = 0
				if a > 0 {
					m.out[3*i+c] = uint8(min(255, (uint32(b[4*i+c])*255+a/2)/a))
				}
			}
		}
	}
}

// filmSink takes the frames of a film as they are drawn.
type filmSink interface {
	take(k int) error
	finish() ([]string, error)
	abort()
}

func (m *filmMaker) sink() (filmSink, error) {
	if m.spec.Overlay || m.spec.Still {
		if m.spec.Still {
			return &pngSink{m: m, name: func(int) string { return m.spec.Out }}, nil
		}
		if err := os.MkdirAll(m.spec.Out, 0o755); err != nil {
			return nil, err
		}
		return &pngSink{m: m, name: func(k int) string { return filepath.Join(m.spec.Out, fmt.Sprintf("%06d.png", k)) }}, nil
	}
	opt := DefaultWriterOptions()
	opt.CRF = 20
	w, err := CreateWith(m.spec.Out, m.spec.Width, m.spec.Height, m.spec.FPS, opt)
	if err != nil {
		return nil, err
	}
	s := &mp4Sink{m: m, w: w, ready: make(chan []byte, 1), free: make(chan []byte, 2), end: make(chan error, 1)}
	for i := 0; i < 2; i++ {
		s.free <- make([]byte, len(m.out))
	}
	go s.run()
	return s, nil
}

// mp4Sink encodes while the next frame is drawn.
type mp4Sink struct {
	m     *filmMaker
	w     *Writer
	ready chan []byte
	free  chan []byte
	end   chan error
}

func (s *mp4Sink) run() {
	var err error
	for b := range s.ready {
		if err == nil {
			err = s.w.Write(b)
		}
		s.free <- b
	}
	s.end <- err
}

func (s *mp4Sink) take(int) error {
	b := <-s.free
	copy(b, s.m.out)
	s.ready <- b
	return nil
}

func (s *mp4Sink) finish() ([]string, error) {
	close(s.ready)
	err := <-s.end
	if e := s.w.Close(); err == nil {
		err = e
	}
	if err != nil {
		os.Remove(s.m.spec.Out)
		return nil, err
	}
	return []string{s.m.spec.Out}, nil
}

func (s *mp4Sink) abort() {
	close(s.ready)
	<-s.end
	s.w.Close()
	os.Remove(s.m.spec.Out)
}

// pngSink writes each frame as a PNG, see-through where nothing was painted.
type pngSink struct {
	m     *filmMaker
	name  func(k int) string
	files []string
}

func (s *pngSink) take(k int) error {
	m := s.m
	img := image.NewNRGBA(image.Rect(0, 0, m.spec.Width, m.spec.Height))
	for i := 0; i < len(m.out)/3; i++ {
		a := uint8(255)
		if m.alpha != nil {
			a = m.alpha[i]
		}
		img.Pix[4*i], img.Pix[4*i+1], img.Pix[4*i+2], img.Pix[4*i+3] = m.out[3*i+2], m.out[3*i+1], m.out[3*i], a
	}
	var buf bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := enc.Encode(&buf, img); err != nil {
		return err
	}
	file := s.name(k)
	s.files = append(s.files, file)
	return os.WriteFile(file, buf.Bytes(), 0o644)
}

func (s *pngSink) finish() ([]string, error) { return s.files, nil }

func (s *pngSink) abort() {
	for _, f := range s.files {
		os.Remove(f)
	}
}
