package drawing

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"chargewright/question"
)

// words of a quantity on the meter's box.
var quantityWords = map[question.Kind]string{
	question.Volts: "DC volts", question.ACVolts: "AC volts", question.Ohms: "ohms",
}

// onMeter is what one meter is drawn with.
type onMeter struct {
	quantity question.Kind
	mark     string // the numbers of its boxes
	leads    []Cable
}

// mostBoxes is how many readings one meter's box has room for.
const mostBoxes = 5

// meters are the meters that are drawn. Readings that are taken one after the
// other with one lead on the same point are one meter's: that lead stays where it
// is and the other goes from point to point.
func (o *overlay) meters() []onMeter {
	var out []onMeter
	var left []Lead
	for _, l := range o.o.Leads {
		if !l.Watch && o.has(l.Red) && o.has(l.Black) {
			left = append(left, l)
		}
	}
	for len(left) > 0 {
		group, others := left[:1:1], []Lead(nil)
		for _, l := range left[1:] {
			if o.o.InTurn && len(group) < mostBoxes && l.sharesWith(group) {
				group = append(group, l)
			} else {
				others = append(others, l)
			}
		}
		out, left = append(out, oneMeter(group)), others
	}
	return out
}

// sharesWith says whether a pair has a lead where all of a group have it.
func (l Lead) sharesWith(group []Lead) bool {
	black, red := true, true
	for _, g := range group {
		black = black && g.Black == l.Black && g.Quantity == l.Quantity
		red = red && g.Red == l.Red && g.Quantity == l.Quantity
	}
	return black || red
}

// oneMeter is the meter of a group: the lead that stays has all the numbers, the
// other is drawn at each of its points.
func oneMeter(group []Lead) onMeter {
	m := onMeter{quantity: group[0].Quantity}
	var boxes []int
	for _, l := range group {
		boxes = append(boxes, l.Box)
	}
	m.mark = boxNumbers(boxes...)
	add := func(kind, point string, box int) {
		for i, c := range m.leads {
			if c.Kind == kind && c.Of == point {
				m.leads[i].Mark = m.mark
				return
			}
		}
		m.leads = append(m.leads, Cable{Kind: kind, Of: point, Mark: boxNumbers(box)})
	}
	for _, l := range group {
		add("black", l.Black, l.Box)
		add("red", l.Red, l.Box)
	}
	return m
}

// boxNumbers is the number of a box, or the numbers of several.
func boxNumbers(boxes ...int) string {
	var out []string
	for i, b := range boxes {
		switch n := len(boxes); {
		case b == 0:
			return ""
		case n > 2 && boxes[n-1]-boxes[0] == n-1: // 1 to 4
			return itoa(boxes[0]) + " to " + itoa(boxes[n-1])
		case i == 0 || b != boxes[i-1]:
			out = append(out, itoa(b))
		}
	}
	return strings.Join(out, ", ")
}

// marked is a word with the number of the box that is read there.
func marked(word, mark string) string {
	return strings.TrimSpace(word + " " + mark)
}

// meter draws a meter and its leads; false where its box has no room and stands
// over the circuit.
func (o *overlay) meter(m onMeter) bool {
	note := orElse(quantityWords[m.quantity], string(m.quantity))
	size, name := o.s.size, marked("meter", m.mark)
	w := max(TextWidth(name, size, true), TextWidth(note, size, false)) + 16
	h := 2*size*leading + 10
	var tips []Pt
	for _, l := range m.leads {
		tips = append(tips, o.at[l.Of])
	}
	key := o.f.key(w, h, tips)
	place := o.s.found.get(key)
	if place == nil {
		place = o.meterPlace(w, h, tips)
		o.s.found.put(key, place)
	}
	at := place.at
	box := at.sized(w, h)
	for i, l := range m.leads {
		o.lead(l, place.leads[i])
	}
	g := o.sc.group("cables")
	g.add(Item{Class: MeterBox, Path: rect(box), Of: "meter"})
	g.add(Item{Class: MeterText, Text: name, At: Pt{at.X, box.Y0 + 5 + size*ascent}, Size: size, Align: Middle},
		Item{Class: NoteText, Text: note, At: Pt{at.X, box.Y0 + 5 + size*(ascent+leading)}, Size: size, Align: Middle})
	o.sc.Symbols = append(o.sc.Symbols, Mark{"meter", m.mark, box})
	o.f.take(box)
	return place.free
}

// meterPlace looks for the place of a meter's box from which its leads cost least.
func (o *overlay) meterPlace(w, h float64, tips []Pt) *meterPlace {
	places := o.f.meterAt(w, h, tips)
	best := &meterPlace{free: len(places) > 0}
	if !best.free {
		places = []Pt{o.f.bounds.mid()}
	}
	least, ground := math.Inf(1), o.f.terrain(leadHalf)
	for _, p := range places {
		if atLeast(p.sized(w, h), tips) > least {
			continue
		}
		for _, order := range orders(p, tips) {
			if r, cost := o.leadsFrom(ground, p.sized(w, h), tips, order, least); cost < least {
				best.leads, best.at, least = r, p, cost
			}
		}
	}
	return best
}

// atLeast is the least that leads from a meter's box to some points can cost: their
// straight way, but for what the ends of a lead are not charged for.
func atLeast(box Rect, tips []Pt) float64 {
	const ends = 20 // probe 32 and port 14, of which 26 are charged [px]
	sum := 0.0
	for _, p := range tips {
		sum += max(0, box.nearest(p).far(p)-ends)
	}
	return sum
}

// reached is a lead from the meter to a point.
type reached struct {
	e    end
	line []Pt
	cost float64
}

// orders are the orders in which leads are laid: as they come, the other way
// round, and, where there are more than two, the shortest first.
func orders(from Pt, tips []Pt) [][]int {
	var forth []int
	for k := range tips {
		forth = append(forth, k)
	}
	back := slices.Clone(forth)
	slices.Reverse(back)
	if len(tips) <= 2 {
		return [][]int{back, forth}
	}
	near := slices.Clone(forth)
	slices.SortStableFunc(near, func(a, b int) int { return cmp.Compare(from.far(tips[a]), from.far(tips[b])) })
	if slices.Equal(near, back) || slices.Equal(near, forth) {
		return [][]int{back, forth}
	}
	return [][]int{back, forth, near}
}

// leadsFrom finds the leads of a meter that stands in a box, in the order given,
// each around those before it, and what they cost; +Inf where that is more than
// least. Ground is the field's terrain without them.
func (o *overlay) leadsFrom(ground *terrain, box Rect, tips []Pt, order []int, least float64) ([]reached, float64) {
	f := *o.f
	f.boxes = append(slices.Clone(f.boxes), taken{box: box.grown(-4)})
	f.cables = slices.Clone(f.cables)
	ground = ground.with(f.boxes[len(f.boxes)-1:], nil, leadHalf)
	free := ports(box)
	out, all := make([]reached, len(tips)), 0.0
	for _, k := range order {
		var others []taken
		for j, other := range tips {
			if j != k {
				others = append(others, taken{box: other.box(9), mark: true})
			}
		}
		g := f
		g.boxes = append(slices.Clone(f.boxes), others...)
		r, port := g.leadTo(ground.with(others, f.cables[len(o.f.cables):], leadHalf), box, tips[k], &free, least-all)
		if all += r.cost; all > least {
			return nil, math.Inf(1)
		}
		out[k] = r
		f.cables = append(f.cables, append([]Pt{tips[k], r.e.tail}, r.line...))
		free = slices.Delete(slices.Clone(free), port, port+1)
	}
	return out, all
}

// leadTo finds one lead from a free port of a meter's box, and says which; it
// costs +Inf where that is more than most.
func (f *field) leadTo(t *terrain, box Rect, tip Pt, free *[]end, most float64) (reached, int) {
	ends := f.approaches(t, []Pt{tip}, probeTail, probeHalf)
	if len(ends) == 0 || len(*free) == 0 {
		ends, *free = []end{{tip: tip, tail: tip}}, ports(box)
	}
	line, a, b := t.way(ends, *free, most)
	if line == nil {
		return reached{cost: math.Inf(1)}, 0
	}
	cost := ends[a].cost
	for i := 1; i < len(line); i++ {
		cost += t.along(line[i-1], line[i])
	}
	return reached{ends[a], append(line[1:], (*free)[b].tip), cost}, b
}
