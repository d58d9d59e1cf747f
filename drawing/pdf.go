package drawing

import (
	"fmt"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
)

// PDFFont is the family that a drawing's words are set in; PDFFonts adds it to a
// document.
const PDFFont = "go"

// PDFFonts adds the faces of drawings to a document.
func PDFFonts(doc *fpdf.Fpdf) {
	doc.AddUTF8FontFromBytes(PDFFont, "", goregular.TTF)
	doc.AddUTF8FontFromBytes(PDFFont, "B", gobold.TTF)
}

// paper is what the tokens are in print: drawing.css says the same.
var paper = map[Token][3]int{
	Sheets: {0xff, 0xff, 0xff}, Ink: {0, 0, 0}, Ink2: {0x1e, 0x24, 0x26}, Act: {0x06, 0x3b, 0x47}, OnAct: {0xff, 0xff, 0xff},
	Red: {0xc3, 0x0f, 0x2b}, OnRed: {0xff, 0xff, 0xff}, Black: {0, 0, 0}, OnBlack: {0xff, 0xff, 0xff}, Casing: {0xff, 0xff, 0xff},
}

// PDF draws the scene on the document's current page, its upper left corner at
// x, y and as wide as given, in the document's unit. It returns the height. The
// document must have the faces (PDFFonts).
func (s *Scene) PDF(doc *fpdf.Fpdf, x, y, width float64) (height float64, err error) {
	d := &sketch{doc: doc, x: x, y: y, k: width / s.W}
	for _, g := range s.Groups {
		if g.Clip != nil {
			doc.ClipRect(x+g.Clip.X0*d.k, y+g.Clip.Y0*d.k, g.Clip.w()*d.k, g.Clip.h()*d.k, false)
		}
		for _, it := range g.Items {
			d.item(it)
		}
		if g.Clip != nil {
			doc.ClipEnd()
		}
	}
	doc.SetDashPattern(nil, 0)
	if doc.Err() {
		return 0, fmt.Errorf("the drawing cannot be put on paper: %w", doc.Error())
	}
	return s.H * d.k, nil
}

// sketch is a drawing on its way to a page.
type sketch struct {
	doc     *fpdf.Fpdf
	x, y, k float64
}

func (d *sketch) pt(p Pt) (float64, float64) { return d.x + p.X*d.k, d.y + p.Y*d.k }

func (d *sketch) item(it Item) {
	st := styles[it.Class]
	if it.Text != "" {
		d.words(it, st)
		return
	}
	mode := ""
	if st.Fill != Nothing {
		c := paper[st.Fill]
		d.doc.SetFillColor(c[0], c[1], c[2])
		mode = "F"
	}
	if st.Stroke != Nothing {
		c := paper[st.Stroke]
		d.doc.SetDrawColor(c[0], c[1], c[2])
		d.doc.SetLineWidth(st.Width * d.k)
		ends := "butt"
		if st.Round {
			ends = "round"
		}
		d.doc.SetLineCapStyle(ends)
		d.doc.SetLineJoinStyle("round")
		dash := make([]float64, len(st.Dash))
		for i, l := range st.Dash {
			dash[i] = l * d.k
		}
		d.doc.SetDashPattern(dash, 0)
		mode += "D"
	}
	if mode == "" || len(it.Path) == 0 {
		return
	}
	d.path(it.Path)
	d.doc.DrawPath(mode)
}

func (d *sketch) path(p Path) {
	for _, s := range p {
		x, y := d.pt(s.P[0])
		switch s.Op {
		case 'M':
			d.doc.MoveTo(x, y)
		case 'L':
			d.doc.LineTo(x, y)
		case 'C':
			x1, y1 := d.pt(s.P[1])
			x2, y2 := d.pt(s.P[2])
			d.doc.CurveBezierCubicTo(x, y, x1, y1, x2, y2)
		case 'Z':
			d.doc.ClosePath()
		}
	}
}

func (d *sketch) words(it Item, st Style) {
	face := ""
	if st.Bold {
		face = "B"
	}
	d.doc.SetFont(PDFFont, face, 12)
	d.doc.SetFontUnitSize(it.Size * d.k)
	c := paper[st.Fill]
	d.doc.SetTextColor(c[0], c[1], c[2])
	x, y := d.pt(it.At)
	switch w := d.doc.GetStringWidth(it.Text); it.Align {
	case Middle:
		x -= w / 2
	case End:
		x -= w
	}
	d.doc.Text(x, y, it.Text)
}

// PaperColour is what a token is on paper, 0 to 255.
func PaperColour(t Token) (rgb [3]int, ok bool) {
	rgb, ok = paper[t]
	return rgb, ok
}
