package serve

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	_ "image/jpeg" // the eye may answer with either
	"image/png"
	"math"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"swathe/report/page"
	"swathe/track"
)

// frameCache keeps the last pictures taken from recordings.
type frameCache struct {
	mu   sync.Mutex
	keys []string // the latest last
	data map[string][]byte
}

// mostFrames bounds the cache: a picture is some 200 kB to 3 MB.
const mostFrames = 40

func (c *frameCache) get(key string) []byte {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.data[key]
}

func (c *frameCache) put(key string, data []byte) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.data == nil {
		c.data = map[string][]byte{}
	}
	if _, there := c.data[key]; !there {
		c.keys = append(c.keys, key)
	}
	c.data[key] = data
	if len(c.keys) > mostFrames {
		delete(c.data, c.keys[0])
		c.keys = c.keys[1:]
	}
}

// looking bounds how many eyes take pictures at once, besides those that measure.
var looking = make(chan struct{}, 2)

// Frame returns a picture of a recording. Small ones, for looking at, are JPEG;
// those of full size, for pointing at, PNG.
func (d *Desk) Frame(ctx context.Context, a page.FrameAsk) ([]byte, string, error) {
	q := track.FrameRequest{}
	for _, f := range a.Files {
		q.Files = append(q.Files, filepath.Join(d.dir, "recordings", filepath.FromSlash(f)))
	}
	if err := d.confined(q.Files); err != nil {
		return nil, "", page.Refuse(http.StatusForbidden, "%v.", err)
	}
	kind, format := "image/png", "png"
	if a.Width > 0 {
		kind, format = "image/jpeg", "jpeg"
	}
	key := fmt.Sprint(a, stamp(q.Files))
	if a.Empty {
		key, kind = "empty "+key, "image/png"
	}
	if data := d.frames.get(key); data != nil {
		return data, kind, nil
	}
	select {
	case looking <- struct{}{}:
		defer func() { <-looking }()
	case <-ctx.Done():
		return nil, "", ctx.Err()
	}
	var data []byte
	var err error
	if a.Empty {
		data, err = d.empty(ctx, q)
	} else {
		q.Shots = []track.Shot{{T: a.T, Width: a.Width, Format: format, Rough: a.Width > 0, Key: a.Key}}
		var pics []track.FramePicture
		if pics, err = d.eye.Frames(ctx, q); err == nil {
			if pics[0].Fail != "" {
				return nil, "", page.Refuse(http.StatusNotFound, "No frame at %.2f s: %s.", a.T, pics[0].Fail)
			}
			data = pics[0].Data
		}
	}
	if err != nil {
		return nil, "", page.Refuse(http.StatusBadGateway, "The frame could not be read: %v.", err)
	}
	d.frames.put(key, data)
	return data, kind, nil
}

// Corners finds the inner corners of a chessboard in a frame.
func (d *Desk) Corners(ctx context.Context, a page.CornersAsk) (page.Corners, error) {
	file := filepath.Join(d.dir, "recordings", filepath.FromSlash(a.File))
	if err := d.confined([]string{file}); err != nil {
		return page.Corners{}, page.Refuse(http.StatusForbidden, "%v.", err)
	}
	select {
	case looking <- struct{}{}:
		defer func() { <-looking }()
	case <-ctx.Done():
		return page.Corners{}, ctx.Err()
	}
	r, err := d.eye.Corners(ctx, track.CornersRequest{Files: []string{file}, T: a.T, Columns: a.Columns, Rows: a.Rows})
	switch {
	case err != nil:
		return page.Corners{}, page.Refuse(http.StatusBadGateway, "The frame could not be read: %v.", err)
	case r.Fail != "":
		return page.Corners{}, page.Refuse(http.StatusUnprocessableEntity, "No board was found in the frame at %.2f s: %s.", a.T, strings.TrimSuffix(r.Fail, "."))
	}
	return page.Corners{Corners: r.Corners}, nil
}

// emptyShots is how many frames the empty room is made of.
const emptyShots = 15

// empty makes a picture of the room without what moves in it: the middle value,
// pixel by pixel and colour by colour, of frames spread over the recording.
func (d *Desk) empty(ctx context.Context, q track.FrameRequest) ([]byte, error) {
	length := 0.0
	for _, f := range q.Files {
		s, err := d.eye.Length(ctx, f)
		if err != nil {
			return nil, err
		}
		if math.IsNaN(s) {
			return nil, errors.New("the recording does not state its length; choose a frame instead")
		}
		length += s
	}
	for i := range emptyShots {
		q.Shots = append(q.Shots, track.Shot{T: length * (float64(i) + 0.5) / emptyShots, Format: "png"})
	}
	pics, err := d.eye.Frames(ctx, q)
	if err != nil {
		return nil, err
	}
	var all []*image.RGBA
	for _, p := range pics {
		if p.Fail != "" {
			continue
		}
		img, _, err := image.Decode(bytes.NewReader(p.Data))
		if err != nil {
			return nil, err
		}
		if rgba := toRGBA(img); len(all) == 0 || rgba.Rect == all[0].Rect {
			all = append(all, rgba)
		}
	}
	if len(all) < 3 {
		return nil, errors.New("too few frames of the recording can be read")
	}
	var out bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.BestSpeed}
	err = enc.Encode(&out, middle(all))
	return out.Bytes(), err
}

func toRGBA(img image.Image) *image.RGBA {
	b := img.Bounds()
	out := image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	for y := range b.Dy() {
		for x := range b.Dx() {
			c := color.RGBAModel.Convert(img.At(b.Min.X+x, b.Min.Y+y)).(color.RGBA)
			copy(out.Pix[out.PixOffset(x, y):], []byte{c.R, c.G, c.B, 255})
		}
	}
	return out
}

// middle returns the median of pictures of one size.
func middle(all []*image.RGBA) *image.RGBA {
	out := image.NewRGBA(all[0].Rect)
	v := make([]uint8, len(all))
	for i := range out.Pix {
		if i%4 == 3 {
			out.Pix[i] = 255
			continue
		}
		for j, p := range all {
			v[j] = p.Pix[i]
		}
		slices.Sort(v)
		out.Pix[i] = v[len(v)/2]
	}
	return out
}
