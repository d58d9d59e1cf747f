package report

import (
	"fmt"
	"io"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"chargewright/drawing"
)

// Cover is what a sheet says beside its data: names stand nowhere else.
type Cover struct {
	Workshop, Customer, Plate string
	Date                      time.Time // of the sheet; also of the file, so that the same sheet is the same bytes
	Signed                    string    // who and when, "" = not signed
	Note                      string    // what the signer wrote
	Head                      string    // hash of the journal's last event
}

// Paper: A4, margins of 15 mm, body 10 pt.
const (
	margin = 15.0
	wide   = 210 - 2*margin
	body   = 10.0
	small  = 8.5
	line   = 4.7
)

// sheet is a page in the making.
type sheet struct{ doc *fpdf.Fpdf }

// PDF writes the sheet.
func PDF(w io.Writer, r Report, c Cover) error {
	d := fpdf.New("P", "mm", "A4", "")
	d.SetCatalogSort(true)
	d.SetCreationDate(c.Date.UTC())
	d.SetModificationDate(c.Date.UTC())
	d.SetTitle(r.Title, true)
	d.SetProducer("chargewright", true)
	d.SetMargins(margin, margin, margin)
	d.SetAutoPageBreak(true, margin)
	drawing.PDFFonts(d)
	d.AliasNbPages("")
	d.SetFooterFunc(func() {
		d.SetY(-11)
		d.SetFont(drawing.PDFFont, "", 7.5)
		d.CellFormat(wide, 4, fmt.Sprintf("Journal %s · system %.12s · chargewright %s · page %d of {nb}", orDash(c.Head), r.SystemSHA, r.Engine, d.PageNo()), "", 0, "L", false, 0, "")
	})
	d.AddPage()
	s := &sheet{d}
	s.head(r, c)
	s.words("What was wrong", append(said(r), r.Wrong...))
	if len(r.Done) > 0 {
		s.words("What was done", r.Done)
	}
	s.pairs(r.Before)
	s.table(r.Readings)
	s.words("The proof", append([]string{r.Proof}, r.Watch...))
	s.words("Time and cost", []string{fmt.Sprintf("%s, %s: %s.", plain(r.Time), r.Cost, r.CostNote)})
	s.sign(c)
	if d.Err() {
		return fmt.Errorf("the sheet cannot be set: %w", d.Error())
	}
	return d.Output(w)
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}

// plain replaces what the printed faces lack.
func plain(s string) string { return strings.NewReplacer("\u00a0", " ", "\u2009", " ").Replace(s) }

func said(r Report) []string {
	if r.Words == "" && r.Complaint == "" {
		return nil
	}
	if r.Words == "" {
		return []string{"You told us: " + r.Complaint + "."}
	}
	return []string{"You told us: " + strings.TrimRight(r.Words, ".") + "."}
}

func (s *sheet) font(style string, size float64) { s.doc.SetFont(drawing.PDFFont, style, size) }

func (s *sheet) head(r Report, c Cover) {
	d := s.doc
	y := d.GetY()
	s.font("B", 17)
	d.MultiCell(wide-52, 7.4, plain(r.Title), "", "L", false)
	s.font("", body)
	var of []string
	for _, x := range []string{r.Vehicle, c.Plate, c.Customer} {
		if x != "" {
			of = append(of, x)
		}
	}
	d.MultiCell(wide-52, line, plain(strings.Join(of, ", ")), "", "L", false)
	below := d.GetY()
	d.SetXY(margin+wide-50, y)
	s.font("B", body)
	d.MultiCell(50, line, plain(c.Workshop), "", "R", false)
	s.font("", small)
	d.SetX(margin + wide - 50)
	d.MultiCell(50, line, plain("Job "+orDash(r.Job)+"\n"+c.Date.Format("2 January 2006")), "", "R", false)
	y = max(below, d.GetY()) + 2
	d.SetLineWidth(0.6)
	d.Line(margin, y, margin+wide, y)
	d.SetY(y + 1)
}

func (s *sheet) title(text string) {
	d := s.doc
	_, high := d.GetPageSize()
	if d.GetY() > high-margin-18 {
		d.AddPage()
	}
	d.Ln(3.2)
	s.font("B", 11.5)
	d.MultiCell(wide, 6, plain(text), "", "L", false)
	s.font("", body)
}

func (s *sheet) words(title string, list []string) {
	s.title(title)
	for _, x := range list {
		s.doc.MultiCell(wide, line, plain(x), "", "L", false)
	}
}

func (s *sheet) pairs(list []Pair) {
	if len(list) == 0 {
		return
	}
	s.title("Before and after")
	widths := []float64{62, 58, 30, 30}
	s.row(widths, true, "", "Limit", "Before", "After")
	for _, p := range list {
		s.row(widths, false, p.Name, p.Limit, orDash(p.Before), p.After)
	}
}

func (s *sheet) table(list []Reading) {
	if len(list) == 0 {
		return
	}
	s.title("The readings")
	widths := []float64{14, 60, 34, 46, 26}
	s.row(widths, true, "Taken", "What", "Reading", "Limit and its source", "Likely within")
	for _, r := range list {
		what := r.Name
		if r.Box != "" && r.Box != what {
			what = strings.TrimPrefix(what+": "+r.Box, ": ")
		}
		limit := strings.TrimSuffix(r.Limit+", "+r.Source, ", ")
		if r.Limit == "" {
			limit = "no limit"
		}
		s.row(widths, false, r.Taken, what, strings.TrimSpace(r.Value+" "+r.Doubt), limit, orDash(r.Likely))
	}
	s.doc.SetTextColor(60, 60, 60)
	s.font("", small)
	s.doc.MultiCell(wide, 4, plain("A figure like ± 0.07 V means: 19 times in 20 the true value lies that near."), "", "L", false)
	s.doc.SetTextColor(0, 0, 0)
	s.font("", body)
}

// row sets one row of a table, each cell over as many lines as it needs.
func (s *sheet) row(widths []float64, head bool, cells ...string) {
	d := s.doc
	style, size := "", small+0.5
	if head {
		style = "B"
	}
	s.font(style, size)
	const high = 4.2
	most := 1
	lines := make([][]string, len(cells))
	for i, c := range cells {
		lines[i] = d.SplitText(plain(c), widths[i]-1.5)
		most = max(most, len(lines[i]))
	}
	_, page := d.GetPageSize()
	if d.GetY()+float64(most)*high+1.4 > page-margin {
		d.AddPage()
	}
	x, y := margin, d.GetY()+0.7
	for i := range cells {
		for k, text := range lines[i] {
			d.SetXY(x, y+float64(k)*high)
			d.CellFormat(widths[i]-1.5, high, text, "", 0, "L", false, 0, "")
		}
		x += widths[i]
	}
	y += float64(most)*high + 0.7
	d.SetLineWidth(map[bool]float64{true: 0.35, false: 0.12}[head])
	d.Line(margin, y, margin+wide, y)
	d.SetXY(margin, y)
	s.font("", body)
}

func (s *sheet) sign(c Cover) {
	d := s.doc
	if c.Signed != "" {
		s.words("Signed", []string{strings.TrimSpace(c.Signed + ". " + c.Note)})
	}
	_, high := d.GetPageSize()
	if d.GetY() > high-margin-20 {
		d.AddPage()
	}
	y := d.GetY() + 14
	d.SetLineWidth(0.25)
	s.font("", small)
	for i, who := range []string{"Mended by", "Proved by", "Customer"} {
		x := margin + float64(i)*(wide+5)/3
		d.Line(x, y, x+(wide-10)/3, y)
		d.SetXY(x, y+0.6)
		d.CellFormat((wide-10)/3, 4, who, "", 0, "L", false, 0, "")
	}
}
