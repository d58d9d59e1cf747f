package web

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"strconv"
	"strings"
	"sync"

	"chargewright/report"
	"chargewright/web/page"
)

// papers are what was made of a state of a job: a record is worked out event by
// event, and its page, its PDF and its tables are asked for one after the other.
type papers struct {
	mu     sync.Mutex
	record *report.Record
	card   *report.Card
}

// caseOf is a job as its papers are made from it.
func (s *Server) caseOf(ctx context.Context, x *work) (report.Case, error) {
	shelf, prepared, err := s.shelfOf(ctx, x.events[0])
	return report.Case{Events: x.events, Shelf: shelf, Prepared: prepared, Engine: s.Version, Zone: s.Now().Location(), Standing: x.stand}, err
}

// recordOf is the technician's record of a job.
func (s *Server) recordOf(ctx context.Context, x *work) (report.Record, error) {
	x.papers.mu.Lock()
	defer x.papers.mu.Unlock()
	if x.papers.record != nil {
		return *x.papers.record, nil
	}
	k, err := s.caseOf(ctx, x)
	if err != nil {
		return report.Record{}, err
	}
	made, err := report.RecordOf(ctx, k)
	if err == nil {
		x.papers.record = &made
	}
	return made, err
}

// cardOf is the card to take to the vehicle.
func (s *Server) cardOf(ctx context.Context, x *work) (report.Card, error) {
	x.papers.mu.Lock()
	defer x.papers.mu.Unlock()
	if x.papers.card != nil {
		return *x.papers.card, nil
	}
	k, err := s.caseOf(ctx, x)
	if err != nil {
		return report.Card{}, err
	}
	made, err := report.CardOf(ctx, k)
	if err == nil {
		x.papers.card = &made
	}
	return made, err
}

// front is what stands on a paper beside its data. Its date is that of the last
// entry and not the clock's: the same job gives the same paper.
func (s *Server) front(r *http.Request, x *work) (report.Cover, error) {
	c, err := s.coverOf(r, x)
	if err != nil {
		return c, err
	}
	k, err := s.caseOf(r.Context(), x)
	if err != nil {
		return c, err
	}
	return k.Front(c)
}

// sizeOf is the size of paper that is asked for, else the one that the device
// has chosen.
func sizeOf(r *http.Request) report.Paper {
	for _, p := range []string{r.URL.Query().Get("paper"), cookie(r, paperCookie)} {
		if p == string(report.A4) || p == string(report.Letter) {
			return report.Paper(p)
		}
	}
	return report.A4
}

// The papers of a job.
const (
	sheetPaper  = "report" // the customer's sheet
	recordPaper = "record" // the technician's record
	cardPaper   = "card"   // the job card
)

// paper is a paper's data, with what stands beside it.
func (s *Server) paper(r *http.Request, x *work, kind string) (v any, c report.Cover, err error) {
	switch kind {
	case recordPaper:
		v, err = s.recordOf(r.Context(), x)
	case cardPaper:
		v, err = s.cardOf(r.Context(), x)
	default:
		sheet, err := s.sheetOf(r, x)
		return sheet.Report, sheet.Cover, err
	}
	if err == nil {
		c, err = s.front(r, x)
	}
	return v, c, err
}

// write writes a paper in a form.
func write(w io.Writer, v any, c report.Cover, ending string) error {
	if ending == "json" {
		return report.JSON(w, v)
	}
	switch v := v.(type) {
	case report.Record:
		if ending == "csv" {
			return report.CSV(w, v)
		}
		return report.RecordPDF(w, v, c)
	case report.Card:
		return report.CardPDF(w, v, c)
	case report.Report:
		return report.PDF(w, v, c)
	}
	return errors.New("no such paper is made here")
}

func (s *Server) recordPage(w http.ResponseWriter, r *http.Request) {
	x, ok := s.opened(w, r)
	if !ok {
		return
	}
	data, c, err := s.paper(r, x, recordPaper)
	v := page.RecordSheet{Shell: s.jobShell(r, x, "Technician's record", "report"), Cover: c}
	if err == nil {
		v.Record, _ = data.(report.Record) // paper makes no other under that name
		v.Papers, err = papersOf(v.Shell, recordPaper, data)
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	s.show(w, r, http.StatusOK, page.RecordPage(v))
}

func (s *Server) cardPage(w http.ResponseWriter, r *http.Request) {
	x, ok := s.opened(w, r)
	if !ok {
		return
	}
	data, c, err := s.paper(r, x, cardPaper)
	v := page.CardSheet{Shell: s.jobShell(r, x, "Job card", "report"), Cover: c}
	if err == nil {
		v.Card, _ = data.(report.Card) // paper makes no other under that name
		v.Papers, err = papersOf(v.Shell, cardPaper, data)
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	for i, step := range v.Card.Steps {
		var f page.Figure
		if o := step.Drawing(); o != nil {
			name := "step" + strconv.Itoa(i+1)
			f.Wide, _ = s.svg(x.job.System, sheetWide, false, *o, name+"wide")
			f.Narrow, _ = s.svg(x.job.System, sheetNarrow, false, *o, name+"narrow")
		}
		v.Figures = append(v.Figures, f)
	}
	s.show(w, r, http.StatusOK, page.CardPage(v))
}

// papersOf are the ways between the papers of a job, and the files of one.
func papersOf(sh page.Shell, kind string, v any) (page.Papers, error) {
	sum, err := report.SHA256(v)
	p := page.Papers{Content: sum}
	for _, k := range []page.Link{{Text: "Customer's sheet", To: sheetPaper}, {Text: "Technician's record", To: recordPaper}, {Text: "Job card", To: cardPaper}} {
		p.Kinds = append(p.Kinds, page.Link{Text: k.Text, To: sh.Job + "/" + k.To, Here: k.To == kind})
	}
	to := sh.Job + "/" + kind
	p.Files = []page.Link{{Text: "PDF, A4", To: to + ".pdf?paper=a4"}, {Text: "PDF, Letter", To: to + ".pdf?paper=letter"}, {Text: "JSON", To: to + ".json"}}
	if kind == recordPaper {
		p.Files = append(p.Files, page.Link{Text: "CSV, a row for each value", To: to + ".csv"}, page.Link{Text: "The job as one file", To: sh.Job + "/export"})
		if sh.May.Desk { // who books customers in may hand their names on
			p.Files = append(p.Files, page.Link{Text: "The same with the customer's name", To: sh.Job + "/export-with-customer"})
		}
	}
	return p, err
}

// kinds of content, by how the file's name ends.
var contentKinds = map[string]string{
	"pdf": "application/pdf", "json": "application/json", "csv": "text/csv; charset=utf-8", "job": "application/x-ndjson",
}

// hand answers with a paper in a form.
func (s *Server) hand(kind, ending string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		x, ok := s.opened(w, r)
		if !ok {
			return
		}
		var b bytes.Buffer
		v, c, err := s.paper(r, x, kind)
		if err == nil {
			err = write(&b, v, c, ending)
		}
		if err != nil {
			s.broken(w, r, err)
			return
		}
		send(w, fileName(kind, x.job.ID, ending), ending, b.Bytes())
	}
}

// send sends a file: a PDF is shown, anything else is put away.
func send(w http.ResponseWriter, name, ending string, data []byte) {
	how := "attachment"
	if ending == "pdf" {
		how = "inline"
	}
	h := w.Header()
	h.Set("Content-Type", contentKinds[ending])
	h.Set("Content-Disposition", how+`; filename="`+name+`"`)
	h.Set("Content-Length", strconv.Itoa(len(data)))
	_, _ = w.Write(data) // whoever has gone away needs no answer
}

// export answers with the job as one file that another workshop takes over. A
// job that the system cannot stand for has one as well.
func (s *Server) export(withCustomer bool) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		x, err := s.open(r.Context(), r.PathValue("job"))
		if err != nil {
			s.broken(w, r, err)
			return
		}
		var b bytes.Buffer
		p, err := s.Journal.Pack(r.Context(), x.stream, withCustomer, s.Version)
		if err == nil {
			err = p.Write(&b)
		}
		if err != nil {
			s.broken(w, r, err)
			return
		}
		kind := "job"
		if withCustomer {
			kind = "job-with-customer"
		}
		send(w, fileName(kind, x.job.ID, "job"), "job", b.Bytes())
	}
}

// fileName is a job's id as the name of a file.
func fileName(kind, id, ending string) string {
	clean := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' {
			return r
		}
		return -1
	}, id)
	return kind + "-" + clean + "." + ending
}
