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
	"slices"

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
	cloak   *film.Cloak
	veil    *film.Veil // of a film that is not blurred: what is covered for good
	halved  int
}

// Film makes a film (see film.Spec) and returns the files that it wrote, and of a
// blurred one why somebody must look at it first; told is called after each frame. On
// an error nothing usable is left.
func Film(spec film.Spec, told func(done, total int)) (files []string, look string, err error) {
	if err := spec.Validate(); err != nil {
		return nil, "", err
	}
	spec.Panes = slices.Clone(spec.Panes)
	spec.Arrange()
	m := &filmMaker{spec: spec, canvas: paint.New(spec.Width, spec.Height, make([]byte, spec.Width*spec.Height*3))}
	if spec.SeeThrough() {
		m.canvas.A = make([]byte, spec.Width*spec.Height)
	}
	defer m.close()
	for i := range spec.Panes {
		if err := m.add(i); err != nil {
			return nil, "", err
		}
	}
	sink, err := m.sink()
	if err != nil {
		return nil, "", err
	}
	n := spec.Frames()
	for k := 0; k < n; k++ {
		if err := m.draw(spec.Time(k)); err != nil {
			sink.abort()
			return nil, "", err
		}
		if err := sink.take(k); err != nil {
			sink.abort()
			return nil, "", err
		}
		if told != nil {
			told(k+1, n)
		}
	}
	for _, p := range m.panes {
		if p.cloak != nil && look == "" {
			look = p.cloak.Look(p.spec.Start)
		}
	}
	files, err = sink.finish()
	return files, look, err
}

type filmMaker struct {
	spec   film.Spec
	panes  []*paneMaker
	canvas *paint.Canvas // the film's frame; with alpha if it is see-through
	matte  []byte        // a row of what stands behind what is painted
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
	p := &paneMaker{spec: s}
	m.panes = append(m.panes, p)
	var log []film.Pass
	var err error
	if s.Log != "" {
		if log, err = film.ReadLog(s.Log, s.Nx*s.Ny); err != nil {
			return err
		}
	}
	if len(s.Files) > 0 && !m.spec.SeeThrough() {
		if p.album, err = OpenAlbum(s.Files, s.Gaps); err != nil {
			return err
		}
		if w, h := p.album.Size(); w != s.Camera.Width || h != s.Camera.Height {
			return fmt.Errorf("%s: its frames are %d x %d px, the camera's %d x %d", s.Files[0], w, h, s.Camera.Width, s.Camera.Height)
		}
	}
	p.painter = film.NewPainter(s, log, m.spec.Width, m.spec.Height, m.spec.Layer)
	if p.words, err = film.NewWriter(&m.spec, i); err != nil {
		return err
	}
	p.frame = &paint.Canvas{W: s.Camera.Width, H: s.Camera.Height}
	if m.spec.Blur && p.album != nil {
		return p.learn()
	}
	if len(s.Cover) > 0 {
		p.veil = film.NewVeil(s.Camera.Width, s.Camera.Height)
		p.veil.Region(s.Cover)
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
	m.wipe()
	for _, p := range m.panes {
		at := p.spec.From + t
		if p.album != nil {
			bgr, _, err := p.album.At(at)
			if err != nil {
				return err
			}
			p.frame.Pix = bgr
			if p.veil != nil {
				p.veil.Draw(p.frame, at)
			}
			if p.cloak != nil {
				if err := p.cover(at); err != nil {
					return err
				}
			}
			if err := m.place(p); err != nil {
				return err
			}
		}
		p.painter.Paint(m.canvas, at)
		p.words.Write(m.canvas, at)
	}
	return m.spec.DrawLegend(m.canvas)
}

// wipe clears the frame. Where nothing is painted a see-through film has the colour
// of what is painted beside it: an encoder mixes both at the edges.
func (m *filmMaker) wipe() {
	if m.matte == nil {
		col := film.Paper
		if m.spec.SeeThrough() {
			switch m.spec.Layer {
			case "passes":
				col = film.Colours[0]
			case "path":
				col = film.TailRim
			}
		}
		for range m.spec.Width {
			m.matte = append(m.matte, col[2], col[1], col[0])
		}
	}
	for y := range m.spec.Height {
		copy(m.canvas.Pix[y*len(m.matte):], m.matte)
	}
	clear(m.canvas.A)
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
	src, err := gocv.NewMatFromBytes(p.frame.H, p.frame.W, gocv.MatTypeCV8UC3, p.frame.Pix)
	if err != nil {
		return err
	}
	defer src.Close()
	dst, err := gocv.NewMatFromBytes(m.spec.Height, m.spec.Width, gocv.MatTypeCV8UC3, m.canvas.Pix)
	if err != nil {
		return err
	}
	defer dst.Close()
	c, at := p.spec.Crop, p.spec.At
	part := src.Region(image.Rect(c[0], c[1], c[0]+c[2], c[1]+c[3]))
	defer part.Close()
	into := dst.Region(image.Rect(at[0], at[1], at[0]+at[2], at[1]+at[3]))
	defer into.Close()
	if c[2] == at[2] && c[3] == at[3] {
		part.CopyTo(&into)
	} else {
		how := gocv.InterpolationArea
		if c[2] < at[2] {
			how = gocv.InterpolationCubic
		}
		gocv.Resize(part, &into, image.Pt(at[2], at[3]), 0, 0, how)
	}
	runtime.KeepAlive(p.frame.Pix)
	runtime.KeepAlive(m.canvas.Pix)
	return nil
}

// filmSink takes the frames of a film as they are drawn.
type filmSink interface {
	take(k int) error
	finish() ([]string, error)
	abort()
}

func (m *filmMaker) sink() (filmSink, error) {
	if m.spec.Still {
		return &stillSink{m}, nil
	}
	pictures := func() *pictureSink { return &pictureSink{m: m, p: film.NewPictures(m.spec.Width, m.spec.Height)} }
	if m.spec.Overlay {
		return pictures(), os.MkdirAll(m.spec.Out, 0o755)
	}
	opt := DefaultWriterOptions()
	opt.CRF, opt.Kind, opt.Timecode, opt.Colour = 20, m.spec.Kind, m.spec.Timecode, m.spec.Colour
	w, err := Create(m.spec.Out, m.spec.Width, m.spec.Height, m.spec.FPS, opt)
	if err != nil {
		return nil, err
	}
	if m.spec.Kind == "png" {
		s := pictures()
		s.w = w
		return s, nil
	}
	s := &fileSink{m: m, w: w, ready: make(chan []byte, 1), free: make(chan []byte, 2), end: make(chan error, 1)}
	for i := 0; i < 2; i++ {
		s.free <- make([]byte, len(m.canvas.Pix)+len(m.canvas.A))
	}
	go s.run()
	return s, nil
}

// fileSink encodes while the next frame is drawn.
type fileSink struct {
	m      *filmMaker
	w      *Writer
	before paint.Canvas // of ProRes: the frame before, which is not encoded again
	ready  chan []byte  // nil: once more
	free   chan []byte
	end    chan error
}

func (s *fileSink) run() {
	var err error
	for b := range s.ready {
		switch {
		case err != nil:
		case b == nil:
			err = s.w.Again()
		default:
			err = s.w.Write(b)
		}
		if b != nil {
			s.free <- b
		}
	}
	s.end <- err
}

func (s *fileSink) take(int) error {
	c := s.m.canvas
	if s.m.spec.Kind == "prores" {
		if bytes.Equal(s.before.A, c.A) && bytes.Equal(s.before.Pix, c.Pix) {
			s.ready <- nil
			return nil
		}
		s.before.A, s.before.Pix = append(s.before.A[:0], c.A...), append(s.before.Pix[:0], c.Pix...)
	}
	b := <-s.free
	if c.A == nil {
		copy(b, c.Pix)
	} else {
		for i, a := range c.A {
			q, p := b[4*i:4*i+4:4*i+4], c.Pix[3*i:3*i+3:3*i+3]
			q[0], q[1], q[2], q[3] = p[0], p[1], p[2], a
		}
	}
	s.ready <- b
	return nil
}

func (s *fileSink) finish() ([]string, error) {
	close(s.ready)
	return s.w.end(<-s.end)
}

func (s *fileSink) abort() {
	close(s.ready)
	<-s.end
	s.w.end(os.ErrClosed)
}

// end closes a film's file, which goes if anything failed.
func (w *Writer) end(err error) ([]string, error) {
	if e := w.Close(); err == nil {
		err = e
	}
	if err != nil {
		os.Remove(w.file)
		return nil, err
	}
	return []string{w.file}, nil
}

// pictureSink keeps what is painted as PNG: in one file, or each frame in its own.
type pictureSink struct {
	m     *filmMaker
	p     *film.Pictures
	w     *Writer // nil: a folder
	png   []byte
	files []string
}

func (s *pictureSink) take(k int) error {
	s.p.Take(s.m.canvas)
	s.png = s.p.PNG(s.png[:0])
	if s.w != nil {
		return s.w.Put(s.png)
	}
	file := filepath.Join(s.m.spec.Out, fmt.Sprintf("%06d.png", k))
	s.files = append(s.files, file)
	return os.WriteFile(file, s.png, 0o644)
}

func (s *pictureSink) finish() ([]string, error) {
	if s.w != nil {
		return s.w.end(nil)
	}
	return s.files, nil
}

func (s *pictureSink) abort() {
	if s.w != nil {
		s.w.end(os.ErrClosed)
	}
	for _, f := range s.files {
		os.Remove(f)
	}
}

// stillSink writes one frame as a picture.
type stillSink struct{ m *filmMaker }

func (s *stillSink) take(int) error {
	c := s.m.canvas
	img := image.NewNRGBA(image.Rect(0, 0, c.W, c.H))
	for i := 0; i < len(img.Pix)/4; i++ {
		p, a := c.Pix[3*i:3*i+3:3*i+3], uint8(255)
		if c.A != nil {
			a = c.A[i]
		}
		img.Pix[4*i], img.Pix[4*i+1], img.Pix[4*i+2], img.Pix[4*i+3] = p[2], p[1], p[0], a
	}
	var buf bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := enc.Encode(&buf, img); err != nil {
		return err
	}
	return os.WriteFile(s.m.spec.Out, buf.Bytes(), 0o644)
}

func (s *stillSink) finish() ([]string, error) { return []string{s.m.spec.Out}, nil }

func (s *stillSink) abort() { os.Remove(s.m.spec.Out) }
