package figure

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"time"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
	xfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"

	"swathe/geom"
)

// pdfCanvas draws a page of a PDF, in points: those letters of the fonts that
// it uses are embedded, and all text stays text.
type pdfCanvas struct {
	*fpdf.Fpdf
	h     float64
	width vg.Length // of lines
}

const pdfFont = "LiberationSans"

func (p *Picture) pdf(w io.Writer) error {
	pw, ph := p.size()
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: pw.Points(), Ht: ph.Points()}})
	// The same picture is the same file: nothing in it is of when it was written.
	doc.SetCatalogSort(true)
	doc.SetCreationDate(time.Unix(0, 0))
	doc.SetModificationDate(time.Unix(0, 0))
	doc.SetTitle(p.Title, true)
	doc.SetSubject(p.Alt, true)
	doc.SetProducer("swathe", true)
	doc.AddUTF8FontFromBytes(pdfFont, "", liberationsansregular.TTF)
	doc.AddUTF8FontFromBytes(pdfFont, "B", liberationsansbold.TTF)
	doc.SetMargins(0, 0, 0)
	doc.AddPage()
	p.draw(newSheet(&pdfCanvas{Fpdf: doc, h: ph.Points()}, p.opt))
	return doc.Output(w)
}

// at is a place on the page, whose y goes down.
func (c *pdfCanvas) at(p vg.Point) (x, y float64) { return p.X.Points(), c.h - p.Y.Points() }

func (c *pdfCanvas) SetLineWidth(w vg.Length) {
	c.width = w
	c.Fpdf.SetLineWidth(w.Points())
}

func (c *pdfCanvas) SetLineDash(pattern []vg.Length, offset vg.Length) {
	dashes := make([]float64, len(pattern))
	for i, d := range pattern {
		dashes[i] = d.Points()
	}
	c.SetDashPattern(dashes, offset.Points())
}

func (c *pdfCanvas) SetColor(col color.Color) {
	n := color.NRGBAModel.Convert(col).(color.NRGBA)
	r, g, b := int(n.R), int(n.G), int(n.B)
	c.SetFillColor(r, g, b)
	c.SetDrawColor(r, g, b)
	c.SetTextColor(r, g, b)
	c.SetAlpha(float64(n.A)/255, "Normal")
}

func (c *pdfCanvas) Push()                { c.TransformBegin() }
func (c *pdfCanvas) Pop()                 { c.TransformEnd() }
func (c *pdfCanvas) Rotate(rad float64)   { c.TransformRotate(geom.Degrees(rad), 0, c.h) }
func (c *pdfCanvas) Translate(p vg.Point) { c.TransformTranslate(p.X.Points(), -p.Y.Points()) }
func (c *pdfCanvas) Scale(x, y float64)   { c.TransformScale(100*x, 100*y, 0, c.h) }

func (c *pdfCanvas) Stroke(p vg.Path) {
	if c.width > 0 {
		c.path(p, "D")
	}
}

func (c *pdfCanvas) Fill(p vg.Path) { c.path(p, "F") }

// path draws a path of lines and curves.
func (c *pdfCanvas) path(p vg.Path, style string) {
	for _, s := range p {
		x, y := c.at(s.Pos)
		switch s.Type {
		case vg.MoveComp:
			c.MoveTo(x, y)
		case vg.LineComp:
			c.LineTo(x, y)
		case vg.CurveComp:
			a, b := c.at(s.Control[0])
			if len(s.Control) == 1 {
				c.CurveTo(a, b, x, y)
				continue
			}
			d, e := c.at(s.Control[1])
			c.CurveBezierCubicTo(a, b, d, e, x, y)
		case vg.CloseComp:
			c.ClosePath()
		default:
			panic("no picture draws an arc") // sheet.disc is made of curves
		}
	}
	c.DrawPath(style)
}

func (c *pdfCanvas) FillString(f font.Face, at vg.Point, str string) {
	style := ""
	if f.Font.Weight == xfont.WeightBold {
		style = "B"
	}
	c.SetFont(pdfFont, style, f.Font.Size.Points())
	x, y := c.at(at)
	c.Text(x, y, str)
}

func (c *pdfCanvas) DrawImage(r vg.Rectangle, img image.Image) {
	var buf bytes.Buffer
	if err := png.Encode(&buf, img); err != nil {
		c.SetError(err)
		return
	}
	// Named after what is in it, so that one that is drawn twice is kept once.
	name := fmt.Sprintf("%x", sha256.Sum256(buf.Bytes()))
	opt := fpdf.ImageOptions{ImageType: "png"}
	c.RegisterImageOptionsReader(name, opt, &buf)
	x, y := c.at(vg.Point{X: r.Min.X, Y: r.Max.Y})
	c.ImageOptions(name, x, y, r.Size().X.Points(), r.Size().Y.Points(), false, opt, 0, "")
}
