package report

import "fmt"

// Placed is a piece on a page, for tests that look at where things stand.
type Placed struct {
	Kind           string
	X0, Y0, X1, Y1 float64 // [mm]
	Text           string
	Size           float64 // [pt]
	Heading        bool
}

// Pages lays out a Report, a Record or a Card; cuts counts the words that were
// parted because they found no room.
func Pages(v any, c Cover) (out [][]Placed, cuts int, err error) {
	var s *setter
	switch x := v.(type) {
	case Report:
		s = setReport(x, c)
	case Record:
		s = setRecord(x, c)
	case Card:
		s, err = setCard(x, c)
	default:
		err = fmt.Errorf("%T is no paper", v)
	}
	if err != nil {
		return nil, 0, err
	}
	sum, err := SHA256(v)
	if err != nil {
		return nil, 0, err
	}
	s.flow()
	for n := range s.pages {
		s.footing(n, foot{content: sum})
		var page []Placed
		for _, p := range s.pages[n] {
			page = append(page, Placed{string(p.kind), p.x0, p.y0, p.x1, p.y1, p.text, p.style.size, p.mark == 1})
		}
		out = append(out, page)
	}
	return out, s.cuts, nil
}

// Size is a paper's [mm].
func Size(p Paper) (wide, high float64) { return p.size() }

// Cell is a text as CSV writes it.
func Cell(s string) string { return text(s) }

// Described is what the drawing of a card's step says in words.
func Described(k Card, step int) string {
	s := newSetter(A4)
	if err := s.stepPicture(k, k.Steps[step]); err != nil {
		return err.Error()
	}
	if len(s.rows) == 0 {
		return ""
	}
	return s.rows[0].pieces[0].text
}
