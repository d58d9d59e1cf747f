package advice

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"chargewright/diagnosis"
	"chargewright/question"
	"chargewright/unit"
)

// Strip is where the reading of one box would land, cause by cause, on one
// axis. Positions run from 0 to 1 along the axis, heights from 0 to 1.
type Strip struct {
	Box   string
	Kind  string // quantity
	Log   bool
	Ticks []Tick
	Rows  []StripRow
	Limit *StripLimit
	Zones []Zone
	Leads string // the zones in words, for a narrow page

	axis  axis
	parts float64 // how far it parts the causes: 0 = all of them read alike here
}

// Tick is a figure on the axis.
type Tick struct {
	At   float64
	Text string
}

// StripRow is causes that read alike here.
type StripRow struct {
	Letters []string
	Name    string
	Percent string
	Fill    string
	Hump    []Spot // outline from the left, 0 below and 1 at its highest
	Words   string // where it lands, in words

	share  float64
	causes int                // merged into it beside its own
	mix    []diagnosis.Normal // in the box's UCUM unit; weights sum to share
}

// Spot is a place on a strip.
type Spot struct{ X, Y float64 }

// StripLimit is the limit on a strip: what lies outside is hatched.
type StripLimit struct {
	Text, Source string
	Low, High    *float64 // positions
	Over         float64  // from High to the end
}

// Zone is a stretch of the axis with what a reading in it would lead to.
type Zone struct {
	From, To, Width float64
	Text            string
	Letters         []string
	No              bool // no one row would lead
}

// axis maps a number in the box's UCUM unit to 0..1.
type axis struct {
	dim      unit.Dim
	low, top float64
	log      bool
	res      float64
	positive bool // a meter shows nothing below zero here
}

func (a axis) at(x float64) float64 {
	if a.log {
		return math.Log(math.Max(x, a.low)/a.low) / math.Log(a.top/a.low)
	}
	return (x - a.low) / (a.top - a.low)
}

func (a axis) value(t float64) float64 {
	if a.log {
		return a.low * math.Pow(a.top/a.low, t)
	}
	return a.low + t*(a.top-a.low)
}

// At is the position of a number in SI on the axis, held to its ends; the
// second result is false when it lies beyond them.
func (s *Strip) At(si float64) (float64, bool) {
	t := s.axis.at(unit.ToUCUM(s.axis.dim, si))
	return min(max(t, 0), 1), t >= 0 && t <= 1
}

const (
	stripRows  = 5    // rows of causes at most
	stripSpots = 72   // points of a hump
	stripTail  = 0.01 // of a cause's readings that may lie beyond the axis on each side
)

// strips makes a strip for every numeric box of a question.
func (d *Desk) strips(q question.Question, groups map[string]*bundle, order []string, none float64) []Strip {
	var out []Strip
	v := -1
	for at, o := range q.Seek {
		if o.Kind == question.Look || o.Kind == question.Speed {
			continue
		}
		v++
		dim, _ := o.Dim()
		s := Strip{Box: o.Note, Kind: string(o.Kind), axis: axis{dim: dim, positive: o.Kind == question.ACVolts || o.Kind == question.Ohms}}
		for _, id := range order {
			if g := groups[id]; v < len(g.mix) && g.share >= toldFrom {
				s.Rows = append(s.Rows, d.row(&s.axis, id, g, v, o))
			}
		}
		if len(s.Rows) == 0 {
			continue
		}
		limit := d.limitOf(q, at)
		s.fit(limit)
		s.merge()
		s.mark(limit)
		s.finish(none)
		out = append(out, s)
	}
	return out
}

// row is a suspect's mixture for one box, with the meter's doubt in it.
func (d *Desk) row(a *axis, id string, g *bundle, v int, o question.Observable) StripRow {
	letter := d.letter(orNoFault(id))
	r := StripRow{Letters: nonEmpty(letter), Name: d.suspectName(id), Fill: Fill(letter), share: g.share}
	per := scale(a.dim)
	mid := diagnosis.Quantile(g.mix[v], 0.5)
	u, res, _, err := d.standard(o, mid)
	if err != nil {
		u, res = 0, 0
	}
	a.res = math.Max(a.res, res/per)
	for _, n := range g.mix[v] {
		n.SD = math.Max(math.Hypot(n.SD, u), 1e-6*math.Abs(n.Mean)+1e-9) / per
		n.Mean = unit.ToUCUM(a.dim, n.Mean)
		n.Weight *= g.share
		r.mix = append(r.mix, n)
	}
	return r
}

// limitOf is the first limit of a procedure's value, at the day's temperature.
func (d *Desk) limitOf(q question.Question, value int) *Limit {
	for _, l := range d.System.Limits {
		if q.Procedure == "" || l.Procedure != q.Procedure || l.Value != value {
			continue
		}
		shift, _, _ := d.atTemperature(l, q.Setup)
		out := &Limit{Source: l.Source, Basis: string(l.Basis), Condition: l.Condition}
		if low := moved(l.Low, shift); low != nil {
			out.Low = wire(l.Dim, *low)
		}
		if high := moved(l.High, shift); high != nil {
			out.High = wire(l.Dim, *high)
		}
		return out
	}
	return nil
}

func (r *StripRow) quantile(q float64) float64 {
	mix := slices.Clone(r.mix)
	for i := range mix {
		mix[i].Weight /= math.Max(r.share, 1e-12)
	}
	return diagnosis.Quantile(mix, q)
}

// fit chooses the axis: from the lowest to the highest reading that a cause
// makes likely, logarithmic where they span more than a decade.
func (s *Strip) fit(l *Limit) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range s.Rows {
		lo = math.Min(lo, s.Rows[i].quantile(stripTail))
		hi = math.Max(hi, s.Rows[i].quantile(1-stripTail))
	}
	if l != nil {
		for _, end := range []*float64{l.Low, l.High} {
			if end != nil {
				lo, hi = math.Min(lo, *end), math.Max(hi, *end)
			}
		}
	}
	a := &s.axis
	if a.positive {
		lo = math.Max(lo, 0)
	}
	a.res = math.Max(a.res, 1e-6*math.Max(math.Abs(lo), math.Abs(hi)))
	if hi-lo < 4*a.res {
		lo, hi = lo-4*a.res, hi+4*a.res
	}
	const decade, floor = 12, 2e-3
	if bottom := math.Max(lo, math.Max(a.res, floor*hi)); hi > 0 && lo > -5*a.res && hi/bottom > decade {
		a.log, a.low, a.top = true, bottom/1.25, hi*1.25
	} else {
		a.low, a.top = lo-0.06*(hi-lo), hi+0.06*(hi-lo)
		if a.positive {
			a.low = math.Max(a.low, 0)
		}
	}
	s.Log = a.log
	s.ticks()
}

// ticks are round figures: 1, 2 and 5 of each decade, or even steps.
func (s *Strip) ticks() {
	a := s.axis
	per, symbol := 1.0, Sign(a.dim)
	size := math.Max(math.Abs(a.top), math.Abs(a.low))
	if milli, ok := map[unit.Dim]string{unit.Volt: "mV", unit.Amp: "mA", unit.Ohm: "mΩ"}[a.dim]; ok && size < 0.6 {
		per, symbol = 1e-3, milli
	}
	add := func(x float64) {
		if t := a.at(x); t >= 0.02 && t <= 0.98 {
			s.Ticks = append(s.Ticks, Tick{t, strings.Replace(strconv.FormatFloat(x/per, 'g', 6, 64), "-", "−", 1)})
		}
	}
	if a.log {
		steps := []float64{1, 2, 5}
		if a.top/a.low > 300 {
			steps = []float64{1}
		}
		for e := math.Floor(math.Log10(a.low)); e <= math.Log10(a.top); e++ {
			for _, k := range steps {
				add(math.Round(k*math.Pow(10, e+6)) / 1e6)
			}
		}
	} else {
		const about = 5.0
		raw := (a.top - a.low) / about
		step := math.Pow(10, math.Floor(math.Log10(raw)))
		for _, k := range []float64{1, 2, 5, 10} {
			if k*step >= raw {
				step *= k
				break
			}
		}
		for n := math.Ceil(a.low / step); n*step <= a.top; n++ {
			add(n*step + 0) // no minus zero
		}
	}
	if n := len(s.Ticks); n > 0 {
		s.Ticks[n-1].Text = withUnit(s.Ticks[n-1].Text, symbol)
	}
}

// merge joins causes that read alike here and keeps the leading rows.
func (s *Strip) merge() {
	type band struct{ lo, mid, hi float64 }
	of := func(r *StripRow) band {
		return band{s.axis.at(r.quantile(0.05)), s.axis.at(r.quantile(0.5)), s.axis.at(r.quantile(0.95))}
	}
	const near = 0.045
	alike := func(a, b band) bool {
		return math.Abs(a.lo-b.lo) < near && math.Abs(a.mid-b.mid) < near && math.Abs(a.hi-b.hi) < near
	}
	var rows []StripRow
	var bands []band
	for _, r := range s.Rows {
		b := of(&r)
		k := slices.IndexFunc(bands, func(x band) bool { return alike(x, b) })
		switch {
		case k >= 0:
			rows[k].Letters = append(rows[k].Letters, r.Letters...)
			rows[k].mix = append(rows[k].mix, r.mix...)
			rows[k].share += r.share
			rows[k].causes++
		case len(rows) < stripRows:
			rows, bands = append(rows, r), append(bands, b)
		}
	}
	for i := range rows {
		if n := rows[i].causes; n > 0 {
			rows[i].Name += " and " + strconv.Itoa(n) + " more"
		}
	}
	s.Rows = rows
}

// mark places the limit.
func (s *Strip) mark(l *Limit) {
	if l == nil {
		return
	}
	at := func(x *float64) *float64 {
		if x == nil {
			return nil
		}
		t := min(max(s.axis.at(*x), 0), 1)
		return &t
	}
	s.Limit = &StripLimit{Text: l.Words(s.axis.dim), Source: l.Origin(), Low: at(l.Low), High: at(l.High)}
	if s.Limit.High != nil {
		s.Limit.Over = 1 - *s.Limit.High
	}
}

// density of a row along the axis.
func (s *Strip) density(r *StripRow, t float64) float64 {
	x := s.axis.value(t)
	sum := 0.0
	for _, n := range r.mix {
		z := (x - n.Mean) / n.SD
		sum += n.Weight * math.Exp(-z*z/2) / n.SD / math.Sqrt(2*math.Pi)
	}
	if s.axis.log {
		return sum * x * math.Log(s.axis.top/s.axis.low)
	}
	return sum * (s.axis.top - s.axis.low)
}

// finish draws humps and zones, and adds the row for none of these.
func (s *Strip) finish(none float64) {
	for i := range s.Rows {
		r := &s.Rows[i]
		r.Percent = Percent(r.share)
		r.Hump = s.hump(r)
		r.Words = Range{Dim: s.axis.dim, Median: r.quantile(0.5), Low: r.quantile(0.05), High: r.quantile(0.95), Resolution: s.axis.res}.Words()
	}
	s.zones(none)
	s.parts = parted(s.Rows)
	s.Rows = append(s.Rows, StripRow{
		Letters: []string{"?"}, Name: "something not on the list", Percent: Percent(none), Fill: "empty",
		Hump: []Spot{{0, 0.3}, {0.5, 0.45}, {1, 0.3}}, Words: "anything",
	})
}

// parted is the chance that two causes, drawn by their shares, stand in different
// rows.
func parted(rows []StripRow) float64 {
	all, alike := 0.0, 0.0
	for _, r := range rows {
		all += r.share
		alike += r.share * r.share
	}
	if all == 0 {
		return 0
	}
	return 1 - alike/(all*all)
}

// Telling is which of a step's strips parts the causes most, the first of equals.
func Telling(list []Strip) int {
	best := 0
	for i := range list {
		if list[i].parts > list[best].parts+1e-9 {
			best = i
		}
	}
	return best
}

func (s *Strip) hump(r *StripRow) []Spot {
	ts := []float64{}
	for i := range stripSpots {
		ts = append(ts, float64(i)/(stripSpots-1))
	}
	for _, n := range r.mix {
		for k := -3.0; k <= 3; k += 0.5 {
			if t := s.axis.at(n.Mean + k*n.SD); t > 0 && t < 1 {
				ts = append(ts, t)
			}
		}
	}
	slices.Sort(ts)
	out, top := []Spot{}, 0.0
	for i, t := range ts {
		if i > 0 && t-ts[i-1] < 5e-4 {
			continue
		}
		y := s.density(r, t)
		top = math.Max(top, y)
		out = append(out, Spot{t, y})
	}
	for i := range out {
		out[i].Y /= math.Max(top, 1e-300)
	}
	return out
}

// zones says where a reading would lead to one row of causes: where it would
// have four fifths of the whole.
func (s *Strip) zones(none float64) {
	const points, sure, least = 96, 0.8, 0.05
	leads := func(t float64) int {
		best, at, total := 0.0, -1, none
		for i := range s.Rows {
			y := s.density(&s.Rows[i], t)
			total += y
			if y > best {
				best, at = y, i
			}
		}
		if best < sure*total {
			return -1
		}
		return at
	}
	now, from := leads(0), 0.0
	for i := 1; i <= points; i++ {
		t := float64(i) / points
		k := -2
		if i < points {
			if k = leads(t); k == now {
				continue
			}
		}
		z := Zone{From: from, To: t, Width: t - from, Text: "undecided", No: now < 0}
		if now >= 0 {
			z.Text, z.Letters = s.Rows[now].Name, s.Rows[now].Letters
		}
		if z.Width >= least {
			s.Zones = append(s.Zones, z)
		}
		now, from = k, t
	}
	s.Leads = s.words()
}

// words are the zones for a page that has no room for the strip.
func (s *Strip) words() string {
	var out []string
	for _, z := range s.Zones {
		if z.No {
			continue
		}
		width := s.axis.value(z.To) - s.axis.value(z.From)
		say := func(t float64) string { // no finer than a third of the stretch: nobody knows more
			x := s.axis.value(t)
			coarse := math.Max(math.Min(width, math.Abs(x))/3, math.Max(s.axis.res, 1e-9))
			step := math.Pow(10, math.Floor(math.Log10(coarse)))
			return shownAmount(s.axis.dim, math.Round(x/step)*step)
		}
		where := say(z.From) + " to " + say(z.To)
		switch {
		case z.From == 0 && z.To == 1:
			where = "anything"
		case z.From == 0:
			where = "under " + say(z.To)
		case z.To == 1:
			where = "over " + say(z.From)
		}
		who := strings.Join(z.Letters, " ")
		if who == "" {
			who = z.Text
		}
		out = append(out, where+": "+who)
	}
	return strings.Join(out, " · ")
}

// Words is a number in SI as the strip's page shows it.
func (s *Strip) Words(si float64) string {
	return shownAmount(s.axis.dim, unit.ToUCUM(s.axis.dim, si))
}

func nonEmpty(s string) []string {
	if s == "" {
		return nil
	}
	return []string{s}
}
