package report

// cell is a text in a row: where it begins, how wide it may be.
type cell struct {
	x, w  float64
	text  string
	style style
}

// paragraphs that are longer than this are parted into rows of their own, so that
// no row is higher than a page.
const mostLines = 24

// across sets cells side by side; one that is very long goes on in rows below.
func (s *setter) across(cells ...cell) []row {
	lines := make([][]string, len(cells))
	most := 0
	for i, c := range cells {
		if c.text != "" {
			lines[i] = s.wrap(c.text, c.w, c.style)
		}
		most = max(most, len(lines[i]))
	}
	var out []row
	for from := 0; from < most; from += mostLines {
		r := row{}
		for i, c := range cells {
			at := c.x
			if c.style.right {
				at += c.w
			}
			for k := from; k < min(from+mostLines, len(lines[i])); k++ {
				y := float64(k-from) * c.style.line()
				r.pieces = append(r.pieces, s.words(at, y, lines[i][k], c.style))
				r.high = max(r.high, y+c.style.line())
			}
		}
		out = append(out, r)
	}
	return out
}

// para is a text over the whole width, or from x on. Its first two lines stay
// together, and its last two.
func (s *setter) para(x float64, text string, st style) []row {
	lines := s.wrap(text, margin+s.inner()-x, st)
	var out []row
	for i, l := range lines {
		out = append(out, row{
			high: st.line(), keep: i < len(lines)-1 && (i == 0 || i == len(lines)-2),
			pieces: []piece{s.words(x, 0, l, st)},
		})
	}
	return out
}

// title is a heading; it stays with what follows.
func (s *setter) title(text string) row {
	p := s.words(margin, 0, s.fitted(text, s.inner(), headType), headType)
	p.mark, p.entry = 1, p.text
	return row{above: 3.6, high: headType.line() + 0.6, keep: true, pieces: []piece{p}}
}

// section is a heading with paragraphs under it.
func (s *setter) section(title string, list []string) {
	if len(list) == 0 {
		return
	}
	s.add(s.title(title))
	for _, x := range list {
		s.add(s.para(margin, x, bodyType)...)
	}
}

// column is one of a table's.
type column struct {
	w     float64
	title string
	right bool
}

// table sets rows under a head that stands again on every page.
type table struct {
	s    *setter
	x    float64
	cols []column
	head *row
	more *row  // the head on further pages
	st   style // of its lines
}

const (
	gutter  = 3.0 // between columns
	cellTop = 0.8 // over and under the words of a row
)

// fit widens or narrows the columns to a width.
func fit(w float64, cols []column) []column {
	sum := 0.0
	for _, c := range cols {
		sum += c.w
	}
	for i := range cols {
		cols[i].w *= w / sum
	}
	return cols
}

// table begins one at x, as wide as the page allows.
func (s *setter) table(x float64, cols ...column) *table {
	t := &table{s: s, x: x, cols: fit(margin+s.inner()-x, cols), st: tableType}
	titles := make([]string, len(cols))
	named := false
	for i, c := range t.cols {
		titles[i] = c.title
		named = named || c.title != ""
	}
	if !named {
		return t
	}
	head := t.set(topType, titles)[0]
	head.keep = true
	head.pieces = append(head.pieces, s.line(x, head.high, margin+s.inner(), 0.35))
	t.head, t.more = &head, &head
	s.add(head)
	return t
}

// set makes the rows of one line of the table.
func (t *table) set(st style, texts []string) []row {
	var cells []cell
	x := t.x
	for i, c := range t.cols {
		own := st
		own.right = c.right
		w := c.w - gutter
		if i == len(t.cols)-1 {
			w = c.w
		}
		cells = append(cells, cell{x, w, texts[i], own})
		x += c.w
	}
	rows := t.s.across(cells...)
	if len(rows) == 0 {
		rows = []row{{high: st.line()}}
	}
	first, last := &rows[0], &rows[len(rows)-1]
	for i := range first.pieces {
		first.pieces[i].y0 += cellTop
		first.pieces[i].y1 += cellTop
	}
	first.high += cellTop
	last.high += cellTop
	return rows
}

// line adds a line to the table, with a fine rule under it.
func (t *table) line(texts ...string) {
	rows := t.set(t.st, texts)
	for i := range rows {
		rows[i].again = t.more
		rows[i].keep = i < len(rows)-1 && len(rows) < 3
	}
	last := &rows[len(rows)-1]
	last.pieces = append(last.pieces, t.s.line(t.x, last.high, margin+t.s.inner(), 0.12))
	t.s.add(rows...)
}

// of says on further pages what the table belongs to.
func (t *table) of(x float64, text string) {
	if t.head == nil {
		return
	}
	more := *t.head
	more.pieces = append([]piece{t.s.words(x, cellTop, text, noteType)}, more.pieces...)
	t.more = &more
}
