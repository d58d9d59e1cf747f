package drawing

import (
	"fmt"
	"strconv"
	"strings"
)

func itoa(n int) string { return strconv.Itoa(n) }

func tooNarrow(width int) error {
	return fmt.Errorf("a drawing %d px wide cannot be read: choose from %d to %d px", width, Narrowest, Widest)
}

func (o *overlay) title() string { return "Circuit: " + o.s.sys.Name }

// pointWords are a point's number and name.
func (o *overlay) pointWords(id string) string {
	for _, p := range o.s.sys.Points {
		if p.ID == id {
			if p.Number == 0 {
				return p.Name
			}
			return itoa(p.Number) + ", " + p.Name
		}
	}
	return id
}

// describe says in words what the picture says.
func (o *overlay) describe() string {
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	var stands []string
	for i, p := range o.s.sys.Rig.Places {
		if at := o.h.state.At(i); at > 0 {
			stands = append(stands, p.Name+" "+p.Positions[at].Name)
		}
	}
	if len(stands) == 0 {
		say("The vehicle stands as it rolled in.")
	} else {
		say("Hook-up: %s.", strings.Join(stands, "; "))
	}
	var live []string
	for _, p := range o.s.sys.Points {
		if o.h.live[p.ID] {
			live = append(live, itoa(p.Number))
		}
	}
	if len(live) == 0 {
		say("Nothing is at battery volts.")
	} else {
		say("At battery volts: points %s.", strings.Join(live, ", "))
	}
	for _, l := range o.o.Leads {
		if l.Watch {
			say("%s is the watch meter across the battery.", marked("Meter", boxNumbers(l.Box)))
			continue
		}
		say("%s on %s: red lead on %s; black lead on %s.", marked("Meter", boxNumbers(l.Box)), orElse(quantityWords[l.Quantity], string(l.Quantity)), o.pointWords(l.Red), o.pointWords(l.Black))
	}
	for _, c := range o.o.Clamps {
		e := o.s.run(c.Element).e
		say("%s round the %s, its arrow from %s to %s.", marked("Clamp meter", boxNumbers(c.Box)), e.Name, o.pointWords(e.From), o.pointWords(e.To))
	}
	if len(o.o.Series) > 0 {
		say("%s stands in series.", marked("Ammeter", boxNumbers(o.o.Series...)))
	}
	for _, l := range o.sc.Labels {
		switch l.Kind {
		case Flag:
			say("Off: %s.", l.Text)
		case Letter:
			say("%s marks the %s.", l.Text, o.faultWords(l.Of))
		}
	}
	if n := o.o.Now; n != nil {
		say("A dotted ring marks %s.", o.nowWords(n))
	}
	return strings.Join(out, " ")
}

func orElse(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

func (o *overlay) faultWords(ids string) string {
	first, _, _ := strings.Cut(ids, " ")
	return "place of: " + o.s.fault(first).Name
}

func (o *overlay) nowWords(n *Now) string {
	switch {
	case n.Point != "":
		return "point " + o.pointWords(n.Point)
	case n.Element != "":
		return "the " + o.s.run(n.Element).e.Name
	}
	return "the " + o.s.sys.Rig.Places[o.s.place(n.Place)].Name
}
