package figure

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"io"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf16"

	xfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgpdf"
	"gonum.org/v1/plot/vg/vgsvg"
)

// svgCanvas notes how wide each piece of text comes out, so that it can be held
// to that where the reader's machine has another font.
type svgCanvas struct {
	*vgsvg.Canvas
	widths *[]float64
}

// FillString draws one line of text with its base line at pt.
func (c svgCanvas) FillString(f font.Face, at vg.Point, str string) {
	if f.Font.Size == 0 {
		return
	}
	*c.widths = append(*c.widths, f.Width(str).Points())
	c.Canvas.FillString(f, at, str)
}

func (p *Picture) svg(w io.Writer) error {
	c := svgCanvas{vgsvg.NewWith(vgsvg.UseWH(p.size())), new([]float64)}
	p.draw(newSheet(c, p.opt))
	var buf bytes.Buffer
	if _, err := c.WriteTo(&buf); err != nil {
		return err
	}
	out, err := p.mendSVG(buf.String(), *c.widths)
	if err != nil {
		return err
	}
	_, err = io.WriteString(w, out)
	return err
}

// mendSVG puts right what the canvas cannot be told: it writes its size in
// points, calls every picture a JPEG, names no other font, leaves the width of
// text to the reader's fonts and gives no description.
func (p *Picture) mendSVG(raw string, widths []float64) (string, error) {
	const open = "<svg "
	head := strings.Index(raw, open)
	view := strings.Index(raw, "viewBox=")
	if head < 0 || view < head {
		return "", fmt.Errorf("the drawing library wrote an SVG without a viewBox")
	}
	end := head + strings.Index(raw[head:], ">") + 1
	var b strings.Builder
	b.WriteString(raw[:head])
	// As large as it is in print.
	mm := 25.4 / float64(p.opt.DPI)
	fmt.Fprintf(&b, `<svg role="img" width="%.2fmm" height="%.2fmm" %s`, mm*float64(p.opt.Width), mm*float64(p.opt.Height), raw[view:end])
	b.WriteString("\n<title>" + escape(p.Title) + "</title>\n<desc>" + escape(p.Alt) + "</desc>")
	parts := strings.Split(raw[end:], "<text ")
	if len(parts)-1 != len(widths) {
		return "", fmt.Errorf("the drawing library wrote %d pieces of text for %d", len(parts)-1, len(widths))
	}
	b.WriteString(parts[0])
	for i, part := range parts[1:] {
		fmt.Fprintf(&b, `<text xml:space="preserve" textLength="%.3f" lengthAdjust="spacingAndGlyphs" %s`, widths[i], part)
	}
	return strings.NewReplacer(
		"data:image/jpg;base64,", "data:image/png;base64,",
		"<image ", `<image style="image-rendering:pixelated" `,
		"font-family:Liberation Sans;", "font-family:'Liberation Sans',sans-serif;",
	).Replace(b.String()), nil
}

func escape(s string) string {
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;").Replace(s)
}

func (p *Picture) pdf(w io.Writer) error {
	pw, ph := p.size()
	c := pdfCanvas{vgpdf.New(pw, ph)}
	p.draw(newSheet(c, p.opt))
	var buf bytes.Buffer
	if _, err := c.WriteTo(&buf); err != nil {
		return err
	}
	out, err := titled(namedOnce(buf.Bytes()), p.Title, p.Alt)
	if err != nil {
		return err
	}
	_, err = w.Write(out)
	return err
}

var pdfImage = regexp.MustCompile(`(/I[0-9a-f]{40}) \d+ 0 R`)

// namedOnce blanks all but the first naming of each image in a PDF's list of them: the
// library names one that is drawn twice after what is in it, twice.
func namedOnce(pdf []byte) []byte {
	seen := map[string]bool{}
	return pdfImage.ReplaceAllFunc(pdf, func(m []byte) []byte {
		name := string(m[:bytes.IndexByte(m, ' ')])
		if seen[name] {
			return bytes.Repeat([]byte(" "), len(m)) // what follows stays where it is
		}
		seen[name] = true
		return m
	})
}

// The parts of a PDF's end.
var (
	pdfSize = regexp.MustCompile(`/Size (\d+)`)
	pdfRoot = regexp.MustCompile(`/Root (\d+ \d+ R)`)
	pdfLast = regexp.MustCompile(`startxref\s+(\d+)\s+%%EOF\s*$`)
)

// titled adds title and subject to a PDF, which the drawing library cannot be told, as
// an update at its end (ISO 32000-1, 7.5.6).
func titled(pdf []byte, title, subject string) ([]byte, error) {
	at := bytes.LastIndex(pdf, []byte("trailer"))
	if at < 0 {
		return nil, errors.New("the drawing library wrote a PDF without a trailer")
	}
	size, root, last := pdfSize.FindSubmatch(pdf[at:]), pdfRoot.FindSubmatch(pdf[at:]), pdfLast.FindSubmatch(pdf[at:])
	if size == nil || root == nil || last == nil {
		return nil, errors.New("the drawing library wrote a PDF whose trailer can't be read")
	}
	n, err := strconv.Atoi(string(size[1]))
	if err != nil {
		return nil, err
	}
	text := func(s string) string {
		var b strings.Builder
		b.WriteString("<FEFF")
		for _, u := range utf16.Encode([]rune(s)) {
			fmt.Fprintf(&b, "%04X", u)
		}
		return b.String() + ">"
	}
	out := append(bytes.TrimRight(pdf, "\n"), '\n')
	info := len(out)
	out = fmt.Appendf(out, "%d 0 obj\n<< /Title %s /Subject %s /Producer (swathe) >>\nendobj\n", n, text(title), text(subject))
	xref := len(out)
	return fmt.Appendf(out, "xref\n%d 1\n%010d 00000 n \ntrailer\n<< /Size %d /Root %s /Info %d 0 R /Prev %s >>\nstartxref\n%d\n%%%%EOF\n", n, info, n+1, root[1], n, last[1], xref), nil
}

// pdfCanvas writes as text what the PDF library can, and as the outlines of its
// letters what it cannot: letters outside Windows-1252, and bold, since the
// library confuses two fonts of one family (of those embedded, the last one
// serves for both).
type pdfCanvas struct{ *vgpdf.Canvas }

// FillString draws one line of text with its base line at pt.
func (c pdfCanvas) FillString(f font.Face, at vg.Point, str string) {
	if b, ok := windows1252(str); ok && f.Font.Weight != xfont.WeightBold {
		c.Canvas.FillString(f, at, b)
		return
	}
	if p, ok := glyphs(f, at, str); ok {
		c.Fill(p)
	}
}

// DrawImage lays a picture into the rectangle, the right way up: the library
// measures from the top of the page and turns the picture over with it.
func (c pdfCanvas) DrawImage(r vg.Rectangle, img image.Image) {
	b := img.Bounds()
	out := image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	for y := 0; y < b.Dy(); y++ {
		for x := 0; x < b.Dx(); x++ {
			out.Set(x, b.Dy()-1-y, img.At(b.Min.X+x, b.Min.Y+y))
		}
	}
	c.Canvas.DrawImage(r, out)
}
