package report

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"image/color"
	"io"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
)

// Colours of the page: dark ink, one accent, one for limits and flags, and
// greys that still print. Nothing is told by colour alone.
var (
	ink    = color.RGBA{0x1a, 0x1a, 0x1a, 0xff}
	accent = color.RGBA{0x0b, 0x4f, 0x6c, 0xff}
	warn   = color.RGBA{0xa0, 0x2c, 0x1a, 0xff}
	faint  = color.RGBA{0x5c, 0x5c, 0x5c, 0xff}
	rule   = color.RGBA{0xc4, 0xc4, 0xc4, 0xff}
	band   = color.RGBA{0xea, 0xf0, 0xf2, 0xff}
)

// Millimetres of an A4 page.
const (
	pageWidth, pageHeight = 210.0, 297.0
	margin                = 16.0
	textWidth             = pageWidth - 2*margin
	bottom                = pageHeight - 20
)

// page lays text and tables out on A4 pages with one footer. The first error
// of the library sticks and is returned by write.
type page struct {
	*fpdf.Fpdf
}

func newPage(title, footer string, made time.Time) *page {
	f := fpdf.New("P", "mm", "A4", "")
	f.AddUTF8FontFromBytes("go", "", goregular.TTF)
	f.AddUTF8FontFromBytes("go", "B", gobold.TTF)
	f.SetMargins(margin, 14, margin)
	f.SetAutoPageBreak(true, pageHeight-bottom)
	f.SetTitle(title, true)
	f.SetLang("en")
	f.SetCreationDate(made)
	f.SetModificationDate(made)
	f.AliasNbPages("")
	p := &page{Fpdf: f}
	f.SetFooterFunc(func() {
		f.SetY(-17)
		p.pen(rule)
		f.Line(margin, f.GetY(), pageWidth-margin, f.GetY())
		f.SetY(-15.5)
		p.font("", 7.5, faint)
		f.MultiCell(textWidth-24, 3.6, footer, "", "L", false)
		f.SetXY(pageWidth-margin-24, -15.5)
		f.CellFormat(24, 3.6, fmt.Sprintf("page %d of {nb}", f.PageNo()), "", 0, "R", false, 0, "")
	})
	f.AddPage()
	return p
}

func (p *page) font(style string, size float64, c color.RGBA) {
	p.SetFont("go", style, size)
	p.SetTextColor(int(c.R), int(c.G), int(c.B))
}

func (p *page) pen(c color.RGBA) {
	p.SetDrawColor(int(c.R), int(c.G), int(c.B))
	p.SetLineWidth(0.2)
}

func (p *page) brush(c color.RGBA) { p.SetFillColor(int(c.R), int(c.G), int(c.B)) }

// room starts a new page where less than so much is left.
func (p *page) room(mm float64) {
	if p.GetY()+mm > bottom {
		p.AddPage()
	}
}

func (p *page) title(s, under string) {
	p.font("B", 18, accent)
	p.MultiCell(textWidth, 8, s, "", "L", false)
	p.font("", 10.5, ink)
	p.MultiCell(textWidth, 5, under, "", "L", false)
	p.Ln(2)
}

// heading keeps itself together with so much of what follows.
func (p *page) heading(s string, follows float64) {
	p.room(10 + follows)
	p.Ln(2.5)
	p.font("B", 12, accent)
	p.CellFormat(textWidth, 6, s, "", 1, "L", false, 0, "")
	p.pen(rule)
	p.Line(margin, p.GetY(), pageWidth-margin, p.GetY())
	p.Ln(1.5)
}

func (p *page) text(s string) {
	p.font("", 9.5, ink)
	p.MultiCell(textWidth, 4.6, s, "", "L", false)
}

func (p *page) small(s string) {
	p.font("", 8.5, faint)
	p.MultiCell(textWidth, 4, s, "", "L", false)
}

// column of a table.
type column struct {
	head  string
	width float64 // millimetres
	right bool
}

// table writes rows with wrapped cells; the head comes again on each page.
func (p *page) table(cols []column, rows [][]string) {
	const line = 4.1
	head := func() {
		p.font("B", 8.5, ink)
		p.brush(band)
		y := p.GetY()
		tall := 0.0
		for _, c := range cols {
			tall = max(tall, float64(len(p.SplitText(c.head, c.width-2)))*line)
		}
		tall += 1.6
		p.Rect(margin, y, textWidth, tall, "F")
		p.cells(cols, func(i int) string { return cols[i].head }, y, tall, line)
	}
	p.room(16)
	head()
	for _, row := range rows {
		p.font("", 8.5, ink)
		tall := line
		for i, c := range cols {
			tall = max(tall, float64(len(p.SplitText(row[i], c.width-2)))*line)
		}
		tall += 1.4
		if p.GetY()+tall > bottom {
			p.AddPage()
			head()
			p.font("", 8.5, ink)
		}
		y := p.GetY()
		p.cells(cols, func(i int) string { return row[i] }, y, tall, line)
		p.pen(rule)
		p.Line(margin, y+tall, margin+textWidth, y+tall)
	}
	p.Ln(1)
}

func (p *page) cells(cols []column, text func(int) string, y, tall, line float64) {
	x := margin
	for i, c := range cols {
		align := "L"
		if c.right {
			align = "R"
		}
		for k, l := range p.SplitText(text(i), c.width-2) {
			p.SetXY(x+0.5, y+0.8+float64(k)*line)
			p.CellFormat(c.width-1.5, line, l, "", 0, align, false, 0, "")
		}
		x += c.width
	}
	p.SetXY(margin, y+tall)
}

// picture places a PNG or JPEG file.
func (p *page) picture(kind string, data []byte, x, y, w, h float64) {
	// Named by what it shows, so that the same picture is kept once.
	name := fmt.Sprintf("%x", sha256.Sum256(data))
	o := fpdf.ImageOptions{ImageType: kind}
	p.RegisterImageOptionsReader(name, o, bytes.NewReader(data))
	p.ImageOptions(name, x, y, w, h, false, o, 0, "")
}

func (p *page) write(w io.Writer) error {
	if err := p.Output(w); err != nil {
		return fmt.Errorf("writing pdf: %w", errors.Join(err, p.Error()))
	}
	return nil
}
