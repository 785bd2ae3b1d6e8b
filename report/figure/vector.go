package figure

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
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
