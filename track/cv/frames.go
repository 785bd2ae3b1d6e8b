//go:build cgo && customenv

package cv

import (
	"errors"
	"fmt"
	"image"
	"math"
	"os"
	"runtime"

	"gocv.io/x/gocv"

	"swathe/track"
	"swathe/track/paint"
)

// Album fetches single frames of a run from its recordings, by time.
type Album struct {
	parts []albumPart
	bgr   []byte
	w, h  int
	cur   *Frame // the one that At returned last
}

type albumPart struct {
	file   string
	from   float64 // s in the run of its first frame
	to     float64 // s of its last, as the container states it
	r      *Reader
	now    *Frame // the frame that was read last
	ended  bool
	second *Frame // the one before it
	rough  bool   // what was decoded since the last key frame sought is rough
}

// OpenAlbum opens a run's recordings. Close the album.
func OpenAlbum(files []string, gaps []*float64) (*Album, error) {
	a := &Album{}
	at := 0.0
	for i, f := range files {
		r, err := Open(f, runtime.NumCPU())
		if err != nil {
			a.Close()
			return nil, fmt.Errorf("%s: %w", f, err)
		}
		info := r.Info()
		if i > 0 && (info.Width != a.w || info.Height != a.h) {
			r.Close()
			a.Close()
			return nil, fmt.Errorf("%s: its frames are %d x %d px, those of the part before it %d x %d", f, info.Width, info.Height, a.w, a.h)
		}
		a.w, a.h = info.Width, info.Height
		frame := 1.0 / 30
		if info.FPS > 0 {
			frame = 1 / info.FPS
		}
		if i > 0 {
			gap := frame
			if i-1 < len(gaps) && gaps[i-1] != nil {
				gap = *gaps[i-1]
			}
			at += gap
		}
		length := math.Inf(1) // unknown: all that asks for later times comes here
		if l := info.Length(); !math.IsNaN(l) {
			length = math.Max(0, l-frame)
		}
		a.parts = append(a.parts, albumPart{file: f, from: at, to: at + length, r: r})
		at += length
	}
	if len(a.parts) == 0 {
		return nil, errors.New("no recording is named")
	}
	a.bgr = make([]byte, a.w*a.h*3)
	return a, nil
}

// Close closes all recordings.
func (a *Album) Close() {
	for i := range a.parts {
		a.parts[i].drop()
		a.parts[i].r.Close()
	}
	a.parts = nil
}

func (p *albumPart) drop() {
	for _, f := range []**Frame{&p.now, &p.second} {
		if *f != nil {
			(*f).Free()
			*f = nil
		}
	}
}

// Size returns the size of the frames, px.
func (a *Album) Size() (w, h int) { return a.w, a.h }

// readOn is how far ahead of the frame at hand, s, reading on is quicker than
// going to a key frame.
const readOn = 1.5

// nearBy is how long before the frame asked for, s, every frame is decoded
// again; three frames at least.
const nearBy = 0.25

// At returns the pixels (packed BGR) of the frame nearest to time t of the run,
// and its own time. They are valid until the next call.
func (a *Album) At(t float64) ([]byte, float64, error) { return a.at(t, false, false) }

func (a *Album) at(t float64, rough, key bool) ([]byte, float64, error) {
	k := 0
	for k+1 < len(a.parts) && t > (a.parts[k].to+a.parts[k+1].from)/2 {
		k++
	}
	p := &a.parts[k]
	seek := p.seek
	if key {
		seek = p.key
	}
	f, err := seek(math.Max(0, t-p.from), rough)
	if err != nil {
		return nil, 0, fmt.Errorf("%s: %w", p.file, err)
	}
	a.cur = f
	if err := f.BGR(a.bgr); err != nil {
		return nil, 0, fmt.Errorf("%s: %w", p.file, err)
	}
	return a.bgr, f.T + p.from, nil
}

// seek reads on to the frame nearest to t, s of this part. A rough one is for
// looking at, not for measuring.
func (p *albumPart) seek(t float64, rough bool) (*Frame, error) {
	if p.now == nil && !p.ended { // the first frame sets the file's clock
		if err := p.next(); err != nil {
			return nil, err
		}
	}
	if p.now != nil {
		earliest := p.now.T
		if p.second != nil {
			earliest = p.second.T
		}
		// A recording that cannot be sought is read on.
		away := t < earliest || t > p.now.T+readOn && !p.ended
		if (away || p.rough && !rough) && p.r.Seek(t) == nil {
			p.drop()
			p.ended, p.rough = false, false
			near := nearBy
			if fps := p.r.Info().FPS; fps > 0 {
				near = math.Max(near, 3/fps)
			}
			p.r.Hurry(t-near, rough)
			p.rough = rough
		}
	}
	for (p.now == nil || p.now.T < t) && !p.ended {
		if err := p.next(); err != nil {
			return nil, err
		}
	}
	switch {
	case p.now == nil:
		return nil, fmt.Errorf("no frame at %.2f s can be decoded", t)
	case p.second != nil && t-p.second.T < p.now.T-t:
		return p.second, nil
	}
	return p.now, nil
}

// key returns the last key frame at or before t, s of this part; where the
// recording cannot be sought, the frame nearest to t.
func (p *albumPart) key(t float64, rough bool) (*Frame, error) {
	if p.now == nil && !p.ended { // the first frame sets the file's clock
		if err := p.next(); err != nil {
			return nil, err
		}
	}
	if p.now == nil || p.r.Seek(t) != nil {
		return p.seek(t, rough)
	}
	p.drop()
	p.ended, p.rough = false, false
	if err := p.next(); err != nil {
		return nil, err
	}
	if p.now == nil {
		return p.seek(t, rough)
	}
	return p.now, nil
}

// next reads one frame, keeping the one before it; damaged ones are left out.
func (p *albumPart) next() error {
	for {
		f, err := p.r.Next()
		if err != nil || f == nil {
			p.ended = true
			return nil
		}
		if f.Bad {
			f.Free()
			continue
		}
		if p.second != nil {
			p.second.Free()
		}
		p.second, p.now = p.now, f
		return nil
	}
}

// Shoot returns one picture as it was asked for, encoded, and its head.
func (a *Album) Shoot(s track.Shot) ([]byte, track.FrameHead, error) {
	var head track.FrameHead
	bgr, t, err := a.at(s.T, s.Rough, s.Key)
	if err != nil {
		return nil, head, err
	}
	head.T = t
	c := paint.New(a.w, a.h, bgr)
	for _, l := range s.Lines {
		c.Line(l.Points, l.Closed, l.Width, l.Colour)
	}
	m, err := gocv.NewMatFromBytes(a.h, a.w, gocv.MatTypeCV8UC3, bgr)
	if err != nil {
		return nil, head, err
	}
	defer m.Close()
	part := m
	if s.Crop != nil {
		box := image.Rect(s.Crop[0], s.Crop[1], s.Crop[0]+s.Crop[2], s.Crop[1]+s.Crop[3]).Intersect(image.Rect(0, 0, a.w, a.h))
		if box.Empty() {
			return nil, head, fmt.Errorf("the part %v lies outside the frame of %d x %d px", *s.Crop, a.w, a.h)
		}
		region := m.Region(box)
		defer region.Close()
		part = region
	}
	small := gocv.NewMat()
	defer small.Close()
	if s.Width > 0 && s.Width != part.Cols() {
		h := max(1, int(math.Round(float64(part.Rows())*float64(s.Width)/float64(part.Cols()))))
		how := gocv.InterpolationArea
		if s.Width > part.Cols() {
			how = gocv.InterpolationCubic
		}
		gocv.Resize(part, &small, image.Pt(s.Width, h), 0, 0, how)
		part = small
	}
	data, err := encodePicture(part, s)
	runtime.KeepAlive(bgr)
	head.Width, head.Height, head.Bytes = part.Cols(), part.Rows(), len(data)
	return data, head, err
}

func encodePicture(m gocv.Mat, s track.Shot) ([]byte, error) {
	ext, params := gocv.PNGFileExt, []int{gocv.IMWritePngCompression, 1}
	if s.Format == "jpeg" {
		q := s.Quality
		if q == 0 {
			q = 90
		}
		ext, params = gocv.JPEGFileExt, []int{gocv.IMWriteJpegQuality, q}
	}
	if m.Empty() {
		return nil, errors.New("the picture is empty")
	}
	buf, err := gocv.IMEncodeWithParams(ext, m, params)
	if err != nil {
		return nil, err
	}
	defer buf.Close()
	return append([]byte(nil), buf.GetBytes()...), nil
}

// WritePNG writes packed BGR pixels as a PNG.
func WritePNG(file string, w, h int, bgr []byte) error {
	if w < 1 || h < 1 || len(bgr) != w*h*3 {
		return fmt.Errorf("%d bytes are not a picture of %d x %d px", len(bgr), w, h)
	}
	m, err := gocv.NewMatFromBytes(h, w, gocv.MatTypeCV8UC3, bgr)
	if err != nil {
		return err
	}
	defer m.Close()
	data, err := encodePicture(m, track.Shot{Format: "png"})
	runtime.KeepAlive(bgr)
	if err != nil {
		return err
	}
	return os.WriteFile(file, data, 0o644)
}
