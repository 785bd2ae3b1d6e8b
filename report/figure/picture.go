package figure

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"strings"

	"git.sr.ht/~sbinet/gg"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/recorder"
	"gonum.org/v1/plot/vg/vgimg"

	"swathe/report/words"
)

// Picture is a drawing ready to be written.
type Picture struct {
	Name string // of its kind: "passes", "path" and so on; the base of a file name
	Alt  string // what it shows, in a sentence or two, for readers who cannot see it
	// Title names it in a few words, for the windows of SVG and PDF readers.
	Title string
	opt   Options
	draw  func(*sheet)
}

// newPicture checks the options once for every kind of picture. The marks of
// the runs that it shows stand on it and in its words.
func newPicture(name, alt string, opt Options, draw func(*sheet), shows ...Run) (*Picture, error) {
	if m := marks(shows); m != "" {
		opt.Mark = m
	}
	if opt.Mark != "" {
		alt = opt.Mark + ". " + alt
	}
	if err := opt.Validate(); err != nil {
		return nil, err
	}
	title := strings.ReplaceAll(name, "_", " ")
	for i, r := range shows {
		title += map[bool]string{true: " of ", false: " and "}[i == 0] + r.Title()
	}
	title = strings.ReplaceAll(opt.Language.Say(title), words.NB, " ")
	return &Picture{Name: name, Alt: opt.Language.Say(alt), Title: title, opt: opt, draw: draw}, nil
}

// Formats lists the formats that Write knows.
func Formats() []string { return []string{"png", "svg", "pdf"} }

// Write writes the picture as "png", "svg" or "pdf".
func (p *Picture) Write(w io.Writer, format string) error {
	switch format {
	case "png":
		return p.png(w)
	case "svg":
		return p.svg(w)
	case "pdf":
		return p.pdf(w)
	}
	return fmt.Errorf("a picture cannot be written as %q: give one of %s", format, strings.Join(Formats(), ", "))
}

// Image returns the picture as pixels, exactly as wide and high as asked for.
func (p *Picture) Image() image.Image {
	img := image.NewRGBA(image.Rect(0, 0, p.opt.Width, p.opt.Height))
	// A canvas that makes its own picture makes two and copies.
	ctx := gg.NewContextForRGBA(img)
	ctx.SetLineCapButt()
	ctx.InvertY()
	c := vgimg.NewWith(vgimg.UseImageWithContext(img, ctx), vgimg.UseDPI(p.opt.DPI))
	// The canvas begins white. The page is not drawn as a polygon, which takes
	// ten times as long.
	page := color.RGBA{}
	if !p.opt.Transparent {
		page = palettes[p.opt.Theme].page
	}
	draw.Draw(img, img.Bounds(), image.NewUniform(page), image.Point{}, draw.Src)
	p.draw(newSheet(pngCanvas{c}, p.opt))
	if !p.opt.Transparent {
		// Paint on paint may come out a level short of opaque.
		parallel(p.opt.Height, func(y int) {
			line := img.Pix[y*img.Stride : y*img.Stride+4*p.opt.Width]
			for i := 3; i < len(line); i += 4 {
				line[i] = 255
			}
		})
	}
	return img
}

// pngCanvas draws letters as outlines. The canvas's own text takes the distance
// between pairs of letters from a size of 32 pixels whatever the size is, which
// makes small letters run into each other and large ones gape.
type pngCanvas struct{ *vgimg.Canvas }

// FillString draws one line of text with its base line at pt.
func (c pngCanvas) FillString(f font.Face, at vg.Point, str string) {
	if p, ok := glyphs(f, at, str); ok && f.Font.Size > 0 {
		c.Fill(p)
	}
}

// MetresPerPixel returns the scale at which the picture shows its plan, 0 if it
// shows none. Several runs come out at one scale if each is drawn with
// Options.MPerPx at the largest of their own scales.
func (p *Picture) MetresPerPixel() float64 {
	s := newSheet(new(recorder.Canvas), p.opt)
	p.draw(s)
	if s.k == 0 {
		return 0
	}
	return 1 / s.k
}

func (p *Picture) size() (w, h vg.Length) {
	d := float64(p.opt.DPI)
	return vg.Length(float64(p.opt.Width) / d * 72), vg.Length(float64(p.opt.Height) / d * 72)
}

func (p *Picture) png(w io.Writer) error {
	var buf bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := enc.Encode(&buf, p.Image()); err != nil {
		return err
	}
	_, err := w.Write(withDPI(buf.Bytes(), p.opt.DPI))
	return err
}

// withDPI adds the pHYs chunk (PNG specification, third edition, 11.3.4.3),
// from which layout programs take the size in print, behind the header chunk.
func withDPI(raw []byte, dpi int) []byte {
	const header = 8 + 4 + 4 + 13 + 4 // signature, then IHDR with its length, type, data and sum
	perMetre := uint32(float64(dpi)/0.0254 + 0.5)
	chunk := make([]byte, 0, 21)
	chunk = binary.BigEndian.AppendUint32(chunk, 9)
	chunk = append(chunk, "pHYs"...)
	chunk = binary.BigEndian.AppendUint32(chunk, perMetre)
	chunk = binary.BigEndian.AppendUint32(chunk, perMetre)
	chunk = append(chunk, 1) // the unit is the metre
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(chunk[4:]))
	out := make([]byte, 0, len(raw)+len(chunk))
	out = append(out, raw[:header]...)
	out = append(out, chunk...)
	return append(out, raw[header:]...)
}
