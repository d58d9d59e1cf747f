package report

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"chargewright/drawing"
)

// Paper is a size of paper.
type Paper string

// The papers that a sheet can be made for.
const (
	A4     Paper = "a4"     // ISO 216
	Letter Paper = "letter" // ANSI A, 8.5 by 11 inches
)

// Papers lists them.
func Papers() []string { return []string{string(A4), string(Letter)} }

// size is in mm; anything but Letter is A4.
func (p Paper) size() (wide, high float64) {
	if p == Letter {
		return 215.9, 279.4
	}
	return 210, 297
}

// Margins [mm]. The foot stands in the lower one.
const (
	margin = 15.0
	below  = 19.0
	footed = 13.0 // of the foot's first line, from the paper's edge
)

// piece is one thing on a page. Its box is what it takes up; nothing else may
// stand there, but rules and frames, which are drawn round and between.
type piece struct {
	kind           pieceKind
	x0, y0, x1, y1 float64 // [mm], from the page's upper left corner
	text           string
	style          style
	weight         float64 // of a line [mm]
	scene          *drawing.Scene
	mark           int    // of a heading: its level in the list of contents, from 1
	entry          string // what it is called there
}

type pieceKind string

const (
	words   pieceKind = "words"
	rule    pieceKind = "rule"
	frame   pieceKind = "frame"
	filled  pieceKind = "filled"
	hollow  pieceKind = "hollow" // circle
	solid   pieceKind = "solid"
	picture pieceKind = "picture"
)

// setter lays rows on pages. Nothing is written before all of it stands, so that
// every page can say how many there are.
type setter struct {
	doc        *fpdf.Fpdf
	wide, high float64 // of the paper [mm]
	pages      [][]piece
	y          float64
	rows       []row
	on         string // at the head of every page but the first
	lacks      bool   // some sign is in no face that is printed with
	cuts       int    // words that were too long for their place
}

// row is what stays together on one page.
type row struct {
	above  float64 // free over it, but not at a page's head [mm]
	high   float64
	keep   bool    // stays on the page of the row after it
	again  *row    // is set once more where a page begins with this row
	pieces []piece // y counts from the row's upper edge
	parts  []piece // part it from the row above it: not at a page's head
	first  bool    // begins a page
	fills  float64 // ruled lines so far apart fill what is left of the page under it [mm]
}

// heading says whether the row is one.
func (r *row) heading() bool { return len(r.pieces) > 0 && r.pieces[0].mark == 1 }

// newSetter begins a document.
func newSetter(p Paper) *setter {
	s := &setter{}
	s.wide, s.high = p.size()
	s.doc = fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: s.wide, Ht: s.high}})
	s.doc.SetAutoPageBreak(false, 0)
	drawing.PDFFonts(s.doc)
	return s
}

// inner is how wide a line may be.
func (s *setter) inner() float64 { return s.wide - 2*margin }

// room is how high a page is between its margins.
func (s *setter) room() float64 { return s.high - margin - below }

func (s *setter) add(rows ...row) { s.rows = append(s.rows, rows...) }

// flow lays the rows on pages. Rows that are kept with the next one go over with
// it, unless all of them together are higher than a page.
func (s *setter) flow() {
	s.page()
	for i := range s.rows {
		r := &s.rows[i]
		high := r.high
		for k := i; s.rows[k].keep && k+1 < len(s.rows); k++ {
			high += s.rows[k+1].above + s.rows[k+1].high
		}
		if high > s.room() {
			high = r.high
		}
		fresh := s.y <= s.top()
		if !fresh && r.first {
			s.page()
			fresh = true
		}
		if !fresh && s.y+r.above+high > s.high-below {
			s.page()
			fresh = true
			if r.again != nil {
				s.place(r.again)
				fresh = false
			}
		}
		if !fresh {
			s.y += r.above
			s.place(&row{pieces: r.parts})
		}
		s.place(r)
		for r.fills > 0 && s.y+r.fills <= s.high-below {
			s.y += r.fills
			s.put(s.line(margin, s.y, margin+s.inner(), 0.12))
		}
	}
}

// top is where a page's rows begin.
func (s *setter) top() float64 {
	if len(s.pages) > 1 && s.on != "" {
		return margin + 8
	}
	return margin
}

// page begins a page, from the second on with what it belongs to.
func (s *setter) page() {
	s.pages = append(s.pages, nil)
	s.y = s.top()
	if len(s.pages) > 1 && s.on != "" {
		line := s.fitted(s.on, s.inner(), noteType)
		s.put(s.words(margin, margin, line, noteType), s.line(margin, margin+5, margin+s.inner(), 0.25))
	}
}

func (s *setter) put(list ...piece) {
	n := len(s.pages) - 1
	s.pages[n] = append(s.pages[n], list...)
}

func (s *setter) place(r *row) {
	for _, p := range r.pieces {
		p.y0 += s.y
		p.y1 += s.y
		s.put(p)
	}
	s.y += r.high
}

// words is one line of text; y is its upper edge.
func (s *setter) words(x, y float64, text string, st style) piece {
	text = strings.ReplaceAll(s.printable(text), "\n", " ")
	w := s.width(text, st)
	if st.right {
		x -= w
	}
	return piece{kind: words, x0: x, y0: y, x1: x + w, y1: y + st.line(), text: text, style: st}
}

func (s *setter) line(x0, y, x1, weight float64) piece {
	return piece{kind: rule, x0: x0, y0: y, x1: x1, y1: y, weight: weight}
}

// foot is what stands under every page.
type foot struct {
	content string   // hash of the data
	lines   []string // what else it rests on
}

// meta is what the file says of itself.
type meta struct {
	title, subject string
	date           time.Time // zero = it says nothing
}

// write writes the pages.
func (s *setter) write(w io.Writer, m meta, f foot) error {
	s.flow()
	d := s.doc
	d.SetCatalogSort(true)
	d.SetLang("en-GB")
	d.SetTitle(s.printable(m.title), true)
	d.SetSubject(s.printable(m.subject), true)
	d.SetKeywords("content sha256 "+f.content, true)
	d.SetProducer("chargewright", true)
	date := m.date.UTC()
	if m.date.IsZero() {
		date = time.Unix(0, 0).UTC()
	}
	d.SetCreationDate(date)
	d.SetModificationDate(date)
	for n := range s.pages {
		s.footing(n, f)
		d.AddPage()
		for _, p := range s.pages[n] {
			if err := s.draw(p); err != nil {
				return err
			}
		}
	}
	var b bytes.Buffer
	if err := d.Output(&b); err != nil {
		return fmt.Errorf("the sheet cannot be set: %w", err)
	}
	out := b.Bytes()
	if m.date.IsZero() {
		out = undated(out)
	}
	_, err := w.Write(out)
	return err
}

// undated takes the dates out of a file that has none: the library wants one, and
// the clock's would make every copy another file.
func undated(file []byte) []byte {
	for _, key := range []string{"/CreationDate", "/ModDate"} {
		entry := []byte(key + " (D:19700101000000)")
		file = bytes.Replace(file, entry, bytes.Repeat([]byte(" "), len(entry)), 1)
	}
	return file
}

// footing puts the foot under a page.
func (s *setter) footing(n int, f foot) {
	y := s.high - footed
	right := footType
	right.right = true
	page := "page " + strconv.Itoa(n+1) + " of " + strconv.Itoa(len(s.pages))
	s.pages[n] = append(s.pages[n], s.line(margin, y-1, margin+s.inner(), 0.2),
		s.words(margin, y, "Content sha256 "+f.content, footType), s.words(margin+s.inner(), y, page, right))
	for i, l := range f.lines {
		y := y + float64(i+1)*footType.line()
		s.pages[n] = append(s.pages[n], s.words(margin, y, s.fitted(l, s.inner(), footType), footType))
	}
}

// draw puts one piece on the page of the file.
func (s *setter) draw(p piece) error {
	d := s.doc
	d.SetDashPattern(nil, 0)
	d.SetLineCapStyle("butt")
	d.SetLineJoinStyle("miter")
	d.SetDrawColor(0, 0, 0)
	d.SetLineWidth(p.weight)
	switch p.kind {
	case words:
		if p.mark > 0 && len(s.pages) > 1 {
			d.SetFont(drawing.PDFFont, "", bodyType.size)
			d.Bookmark(p.entry, p.mark-1, p.y0)
		}
		s.set(p)
	case rule:
		d.Line(p.x0, p.y0, p.x1, p.y1)
	case frame:
		d.Rect(p.x0, p.y0, p.x1-p.x0, p.y1-p.y0, "D")
	case hollow, solid:
		paint := map[pieceKind]int{hollow: 255, solid: 0}[p.kind]
		d.SetFillColor(paint, paint, paint)
		r := (p.x1 - p.x0) / 2
		d.Circle(p.x0+r, p.y0+r, r, "FD")
	case filled:
		d.SetFillColor(0, 0, 0)
		d.Rect(p.x0, p.y0, p.x1-p.x0, p.y1-p.y0, "F")
	case picture:
		if _, err := p.scene.PDF(d, p.x0, p.y0, p.x1-p.x0); err != nil {
			return err
		}
	}
	if d.Err() {
		return fmt.Errorf("the sheet cannot be set: %w", d.Error())
	}
	return nil
}

func (s *setter) set(p piece) {
	s.font(p.style)
	grey := 0
	if p.style.grey {
		grey = 60
	}
	s.doc.SetTextColor(grey, grey, grey)
	s.doc.Text(p.x0, p.y0+p.style.base(), p.text)
}

func (s *setter) font(st style) {
	face := ""
	if st.bold {
		face = "B"
	}
	s.doc.SetFont(drawing.PDFFont, face, st.size)
}

// width is how wide a line is set [mm].
func (s *setter) width(text string, st style) float64 {
	s.font(st)
	return s.doc.GetStringWidth(text)
}

// fitted is a line that is cut where it would not fit.
func (s *setter) fitted(text string, w float64, st style) string {
	text = strings.ReplaceAll(s.printable(text), "\n", " ")
	if s.width(text, st) <= w {
		return text
	}
	r := []rune(text)
	r = r[:min(len(r), int(w))] // no sign is narrower than a millimetre at these sizes
	for len(r) > 0 && s.width(string(r)+"…", st) > w {
		r = r[:len(r)-1]
	}
	return strings.TrimRight(string(r), " ,;") + "…"
}
