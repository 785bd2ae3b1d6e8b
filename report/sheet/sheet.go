// Package sheet writes pages of words, tables and pictures: as HTML in one file that
// fetches nothing, and as Markdown.
package sheet

import (
	"bytes"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"os"
	"sync"

	"swathe/report/figure"
)

// Sheet is a page of results in one file: no script, nothing fetched, readable
// from a disk, on a telephone and in print.
type Sheet struct {
	Mark     string // a reservation that stands above all else; empty: none
	Title    string // what it is about: the page's title and first line
	Lead     string // the one thing to know, large
	Details  string // the figures beside it
	Sections []Section
}

// Section is a part of a Sheet; what is empty is left out.
type Section struct {
	Heading  string
	Folded   bool     // shown as its heading alone until it is opened; open in print
	Text     []string // paragraphs
	List     []string // a numbered list
	Tables   []Table
	Pictures []Picture
	Terms    []Term
	Verbatim []string // files, as they are
}

// Table is a table of words; the first cell of each row is its heading.
type Table struct {
	Name string // for readers who cannot see it
	Head []string
	Rows [][]string
	Note string // a sentence below it, such as the conditions of its figures
}

// Term is a word with its meaning.
type Term struct{ Term, Means string }

// Picture is a picture of a Sheet, drawn for light and for dark pages.
type Picture struct {
	Caption string
	Draw    func(figure.Options) (*figure.Picture, error)
	Options figure.Options // its size; the theme is chosen by the page
}

//go:embed sheet.html
var sheetText string

// sheetTemplate is parsed when it is first used: every start of the program would pay for it.
var sheetTemplate = sync.OnceValue(func() *template.Template { return template.Must(template.New("sheet").Parse(sheetText)) })

// drawn is a Picture as the template wants it.
type drawn struct {
	Light, Dark   template.URL
	Alt, Caption  string
	Width, Height int
}

// Write draws the pictures and writes the page.
func (s Sheet) Write(w io.Writer) error {
	type section struct {
		Section
		Pictures []drawn
	}
	page := struct {
		Sheet
		Sections []section
	}{Sheet: s}
	for _, part := range s.Sections {
		out := section{Section: part, Pictures: make([]drawn, len(part.Pictures))}
		errs := make([]error, len(part.Pictures))
		var group sync.WaitGroup
		for i, p := range part.Pictures {
			group.Add(1)
			go func() {
				defer group.Done()
				out.Pictures[i], errs[i] = p.render()
			}()
		}
		group.Wait()
		for _, err := range errs {
			if err != nil {
				return err
			}
		}
		page.Sections = append(page.Sections, out)
	}
	var buf bytes.Buffer
	if err := sheetTemplate().Execute(&buf, page); err != nil {
		return fmt.Errorf("the page of %s: %w", s.Title, err)
	}
	_, err := buf.WriteTo(w)
	return err
}

func (p Picture) render() (drawn, error) {
	out := drawn{Caption: p.Caption, Width: p.Options.Width, Height: p.Options.Height}
	for _, theme := range []figure.Theme{figure.Light, figure.Dark} {
		opt := p.Options
		opt.Theme = theme
		pic, err := p.Draw(opt)
		if err != nil {
			return out, err
		}
		var buf bytes.Buffer
		if err := pic.Write(&buf, "png"); err != nil {
			return out, err
		}
		url := "data:image/png;base64," + base64.StdEncoding.EncodeToString(buf.Bytes())
		out.Alt = pic.Alt
		if theme == figure.Light {
			out.Light = template.URL(url)
		} else {
			out.Dark = template.URL(url)
		}
	}
	return out, nil
}

// WriteFile writes a page to a file.
func WriteFile(file string, s Sheet) error {
	var page bytes.Buffer
	if err := s.Write(&page); err != nil {
		return err
	}
	return os.WriteFile(file, page.Bytes(), 0o644)
}
