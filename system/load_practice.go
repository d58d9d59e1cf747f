package system

import (
	"crypto/sha256"
	"maps"
	"slices"

	"chargewright/internal/yamlread"
	"chargewright/unit"
)

// PracticeFormat is the newest format of a practice file that is read.
const PracticeFormat = 1

// ParsePractice reads a complete practice file. The error is a problem.List with
// every problem.
func ParsePractice(file string, data []byte) (*Practice, error) {
	return parsePractice(file, data, nil, true)
}

// Override reads a workshop's own file and lays it over base: each row that it
// gives replaces the base's row, all others stay; a repair that has nothing but a name
// is the base's under that name. An order is replaced whole.
// base is not changed.
func Override(base *Practice, file string, data []byte) (*Practice, error) {
	return parsePractice(file, data, base, false)
}

// ForArrangement reads the practice file of one arrangement and lays it over
// what all share. How often each fault occurs and in which order others work
// belong to the arrangement: none of the base's is taken over, and the file must
// give all rates. Minutes, repairs and prices that it does not give are the
// base's. base is not changed.
func ForArrangement(base *Practice, file string, data []byte) (*Practice, error) {
	shared := *base
	shared.Rates, shared.Orders = map[string]Rate{}, map[string]Order{}
	shared.NoFault, shared.NoneOfThem, shared.Per = Rate{}, Rate{}, 0
	shared.refs = nil
	for _, x := range base.refs {
		if x.Kind != "fault" {
			shared.refs = append(shared.refs, x)
		}
	}
	return parsePractice(file, data, &shared, true)
}

// practiceReader reads one practice file; over is what it is laid on, nil for a
// complete file, in which every section must stand. rated says that all rates
// must stand in it.
type practiceReader struct {
	f     *yamlread.File
	over  *Practice
	rated bool
	p     *Practice
}

func parsePractice(file string, data []byte, over *Practice, rated bool) (*Practice, error) {
	f, top := yamlread.Open(file, data)
	r := &practiceReader{f: f, over: over, rated: rated, p: startPractice(data, over)}
	m := top.Map("practice")
	r.p.Format = ReadFormat(m, PracticeFormat)
	r.name(m.May("name"))
	m.May("over") // PracticeFor has followed it
	r.leaveOut(m.May("without"))
	r.rates(r.part(m, "rates", "{per: 100 jobs, faults: {…}}"))
	r.procedures(r.section(m, "procedures", "{procedure-id: {attended: 1 min, basis: memory}}"))
	r.repairs(r.section(m, "repairs", "{repair-id: {name: …, attended: 10 min, parts: 0, basis: memory}}"))
	r.rest(m)
	r.orders(m.May("orders"))
	m.Done()
	if err := f.Err(); err != nil {
		return nil, err
	}
	r.p.refs = append(r.p.refs, f.Refs()...)
	return r.p, nil
}

// leaveOut drops rates of the practice laid under, of faults that a version of its
// vehicle has not.
func (r *practiceReader) leaveOut(list yamlread.Node) {
	for _, n := range list.List() {
		id := n.ID()
		if _, ok := r.p.Rates[id]; !ok && id != "" {
			n.Add("no rate of "+id+" is taken over", "a fault that the file under over: rates, or no such entry")
		}
		delete(r.p.Rates, id)
		r.p.refs = slices.DeleteFunc(r.p.refs, func(x yamlread.Ref) bool { return x.Kind == "fault" && x.ID == id })
	}
}

// startPractice returns an empty practice, or a copy of the one laid under.
func startPractice(data []byte, over *Practice) *Practice {
	sum := sha256.Sum256(data)
	if over == nil {
		return &Practice{
			SHA256: sum, Rates: map[string]Rate{}, Procedures: map[string]Work{},
			Repairs: map[string]Repair{}, Orders: map[string]Order{},
		}
	}
	p := *over
	p.SHA256 = sha256.Sum256(append(append([]byte(nil), over.SHA256[:]...), sum[:]...))
	p.Rates, p.Procedures = maps.Clone(over.Rates), maps.Clone(over.Procedures)
	p.Repairs, p.Orders = maps.Clone(over.Repairs), maps.Clone(over.Orders)
	p.refs = append([]yamlread.Ref(nil), over.refs...)
	return &p
}

// section is a part of the file that only an overriding file may leave out.
func (r *practiceReader) section(m *yamlread.Map, key, instead string) yamlread.Node {
	if r.over != nil {
		return m.May(key)
	}
	return m.Need(key, instead)
}

// part is a part of the rates, which only an overriding file may leave out.
func (r *practiceReader) part(m *yamlread.Map, key, instead string) yamlread.Node {
	if !r.rated {
		return m.May(key)
	}
	return m.Need(key, instead)
}

func (r *practiceReader) name(n yamlread.Node) {
	if n.Present() {
		r.p.Name = n.Text()
	}
}

// figure reads where a figure comes from; every row must say.
func figure(m *yamlread.Map) Figure {
	s, b := source(m)
	return Figure{Source: s, Basis: b}
}

func (r *practiceReader) rates(n yamlread.Node) {
	m := n.Map("rates")
	if per := r.part(m, "per", "100 jobs"); per.Present() {
		r.p.Per = per.Leading("jobs", yamlread.Positive)
	}
	if v := r.part(m, "no-fault", "{rate: 4, basis: memory}"); v.Present() {
		r.p.NoFault = r.rate(v, "no-fault")
	}
	if v := r.part(m, "none-of-these", "{rate: 2, basis: memory}"); v.Present() {
		r.p.NoneOfThem = r.rate(v, "none-of-these")
	}
	for _, v := range r.part(m, "faults", "{fault-id: {rate: 1, basis: memory}}").Map("faults").Pairs() {
		r.f.Note("fault", v.Key, v.At)
		r.p.Rates[v.Key] = r.rate(v.Value, "rate of "+v.Key)
	}
	m.Done()
}

func (r *practiceReader) rate(n yamlread.Node, label string) Rate {
	m := n.Map(label)
	v := Rate{Rate: m.Need("rate", "1.5").Number(yamlread.NotNegative), Figure: figure(m)}
	m.Done()
	return v
}

// work reads attended and elapsed minutes; elapsed defaults to attended.
func work(m *yamlread.Map) Work {
	minutes := func(n yamlread.Node) float64 { return n.Quantity(unit.Second, yamlread.NotNegative) / 60 }
	elapsed := m.May("elapsed")
	w := Work{Attended: minutes(m.Need("attended", "5 min")), Elapsed: minutes(elapsed)}
	if !elapsed.Present() {
		w.Elapsed = w.Attended
	} else if w.Elapsed < w.Attended && w.Elapsed > 0 {
		elapsed.Add("elapsed is shorter than attended", "the time by the clock, at least as long as attended")
	}
	w.Figure = figure(m)
	return w
}

func (r *practiceReader) procedures(n yamlread.Node) {
	for _, v := range n.Map("procedures").Pairs() {
		r.f.Note("procedure", v.Key, v.At)
		m := v.Value.Map("minutes of " + v.Key)
		r.p.Procedures[v.Key] = work(m)
		m.Done()
	}
}

func (r *practiceReader) repairs(n yamlread.Node) {
	for _, v := range n.Map("repairs").Pairs() {
		m := v.Value.Map("repair " + v.Key)
		under, known := r.p.Repairs[v.Key]
		if only, one := v.Value.Single(); known && one && only.Key == "name" {
			under.Name = m.Need("name", "what a technician calls it").Text() // the same work, on one of two
			r.p.Repairs[v.Key] = under
			m.Done()
			continue
		}
		x := Repair{ID: v.Key, Name: m.Need("name", "what a technician calls it").Text(), Work: work(m)}
		x.Parts = m.Need("parts", "0").Number(yamlread.NotNegative)
		for _, c := range m.May("cautions").List() {
			x.Cautions = append(x.Cautions, c.Ref("caution"))
		}
		x.Say = m.May("say").Texts()
		m.Done()
		r.p.Repairs[v.Key] = x
	}
}

// rest reads proof, overhead and labour.
func (r *practiceReader) rest(m *yamlread.Map) {
	if n := r.section(m, "proof", "{attended: 8 min, basis: memory}"); n.Present() {
		v := n.Map("proof")
		r.p.Proof = work(v)
		v.Done()
	}
	if n := r.section(m, "overhead", "{first-rig-change: 2 min, basis: memory}"); n.Present() {
		v := n.Map("overhead")
		r.p.Overhead.FirstRigChange = v.Need("first-rig-change", "2 min").Quantity(unit.Second, yamlread.NotNegative) / 60
		r.p.Overhead.Figure = figure(v)
		v.Done()
	}
	if n := r.section(m, "labour", "{per-hour: 70, basis: invented}"); n.Present() {
		v := n.Map("labour")
		r.p.Labour = Money{Amount: v.Need("per-hour", "70").Number(yamlread.NotNegative), Figure: figure(v)}
		v.Done()
	}
}

func (r *practiceReader) orders(n yamlread.Node) {
	for _, v := range n.Map("orders").Pairs() {
		m := v.Value.Map("order " + v.Key)
		x := Order{}
		for _, step := range m.Need("steps", "[procedure-id, …]").List() {
			x.Steps = append(x.Steps, step.Ref("procedure"))
		}
		x.Figure = figure(m)
		m.Done()
		r.p.Orders[v.Key] = x
	}
}
