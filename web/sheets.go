package web

import (
	"strings"
	"sync"

	"chargewright/advice"
	"chargewright/drawing"
	"chargewright/journal"
	"chargewright/system"
	"chargewright/web/page"
)

// Widths that the pages draw at [px]. On wide screens the tablet's sheet is
// scaled up.
const (
	sheetWide   = 640
	sheetNarrow = drawing.Phone
)

// sheets are the circuits as they are without a hook-up, one for each system
// and width.
type sheets struct {
	mu sync.Mutex
	by map[string]*drawing.Sheet
}

func newSheets() *sheets { return &sheets{by: map[string]*drawing.Sheet{}} }

func (s *sheets) of(sys *system.System, width int, closeUp bool) (*drawing.Sheet, error) {
	key := journal.Sum(sys.SHA256).String() + map[bool]string{true: "c"}[closeUp] + string(rune(width))
	s.mu.Lock()
	defer s.mu.Unlock()
	if sh := s.by[key]; sh != nil {
		return sh, nil
	}
	made := drawing.New
	if closeUp {
		made = drawing.CloseUp
	}
	sh, err := made(sys, width)
	if err == nil {
		s.by[key] = sh
	}
	return sh, err
}

// lettered is how many likely causes have their letter on the drawing.
const lettered = 5

func causes(st *advice.Standing) []drawing.Cause {
	var out []drawing.Cause
	for _, p := range st.Portions() {
		if len(p.Faults) == 0 || len(out) == lettered {
			continue
		}
		var faults []string
		for _, f := range p.Faults {
			faults = append(faults, strings.Split(f, "+")...)
		}
		out = append(out, drawing.Cause{Letter: p.Letter, Faults: faults})
	}
	return out
}

// figure draws a step at the line of its hook-up, for a wide and a narrow page.
// A picture that cannot be drawn leaves its room empty and is logged: the words
// beside it say the same.
func (s *Server) figure(st *advice.Standing, step advice.Step, lines []advice.Line) page.Figure {
	moves := 0
	if len(lines) > 0 {
		moves = lines[0].Upto
		if lines[0].Place != "" {
			moves--
		}
	}
	o, err := drawing.ForStep(st.System, step, moves)
	if err != nil {
		s.Log.Error("a step cannot be drawn", "why", err)
		return page.Figure{}
	}
	if o.Now != nil {
		o.Now.Stage = 1
		if len(lines) > 0 {
			o.Now.Stage = lines[0].N
			if lines[0].Place == "" { // the leads go on at this line
				o.Now = nil
			}
		}
	}
	o.Causes = causes(st)
	var f page.Figure
	f.Wide, _ = s.svg(st.System, sheetWide, false, o, "wide")
	near := o // a close-up follows the hand: what the line before it is about
	if near.Now != nil && drawn(st, near.Now.Place) {
		near.Leads, near.Clamps, near.Series = nil, nil, nil
	}
	f.Narrow, _ = s.svg(st.System, sheetNarrow, true, near, "close")
	f.Whole, _ = s.svg(st.System, sheetNarrow, false, o, "whole")
	return f
}

// drawn says whether a place stands somewhere on the circuit.
func drawn(st *advice.Standing, place string) bool {
	for _, p := range st.System.Rig.Places {
		if p.ID == place {
			return p.Role != "brake" && p.Role != "exhaust" && p.Role != "engine"
		}
	}
	return false
}

// svg draws one picture; what comes with it says where its points lie. Nil: it cannot
// be drawn.
func (s *Server) svg(sys *system.System, width int, closeUp bool, o drawing.Options, name string) (string, *drawing.Picture) {
	sheet, err := s.sheets.of(sys, width, closeUp)
	if err != nil {
		s.Log.Error("a system cannot be drawn", "system", sys.ID, "width", width, "why", err)
		return "", nil
	}
	o.Name, o.Close = name, closeUp
	picture, err := sheet.Picture(o)
	if err != nil {
		s.Log.Error("a hook-up cannot be drawn", "system", sys.ID, "width", width, "why", err)
		return "", nil
	}
	return picture.SVG, &picture
}
