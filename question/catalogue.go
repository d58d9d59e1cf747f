package question

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"path"
	"runtime"
	"slices"
	"sort"
	"strings"
	"sync"
	"sync/atomic"

	"chargewright/internal/yamlread"
	"chargewright/problem"
	"chargewright/system"
	"chargewright/unit"
)

// Format is the newest procedure format that is read. All older ones are.
const Format = 1

// Catalogue is the procedures by id.
type Catalogue map[string]*Procedure

// IDs lists the procedures in order.
func (c Catalogue) IDs() []string {
	out := make([]string, 0, len(c))
	for id := range c {
		out = append(out, id)
	}
	sort.Strings(out)
	return out
}

// shipped is the catalogue that is part of the program, read once.
var shipped = sync.OnceValues(func() (Catalogue, error) { return Open(system.Files(), "procedures") })

// Library is the shipped catalogue. A caller may add to it and change the fields of
// a procedure, not what stands in their lists.
func Library() (Catalogue, error) {
	c, err := shipped()
	if err != nil {
		return nil, err
	}
	out := make(Catalogue, len(c))
	for id, p := range c {
		own := *p
		out[id] = &own
	}
	return out, nil
}

// Open reads every procedure file of a folder. The error is a problem.List with
// the problems of all files.
func Open(files fs.FS, folder string) (Catalogue, error) {
	names, err := fs.Glob(files, path.Join(folder, "*.yaml"))
	if err != nil {
		return nil, fmt.Errorf("no folder %s: %w", folder, err)
	}
	read := make([]*Procedure, len(names))
	problems := make([]problem.List, len(names))
	var taken atomic.Int64
	var all sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		all.Go(func() {
			for i := int(taken.Add(1)) - 1; i < len(names); i = int(taken.Add(1)) - 1 {
				read[i], problems[i] = openOne(files, names[i])
			}
		})
	}
	all.Wait()
	out := Catalogue{}
	for _, p := range read {
		if p != nil {
			out[p.ID] = p
		}
	}
	return out, slices.Concat(problems...).Err()
}

// openOne reads the procedure of one file; nil where it cannot be read.
func openOne(files fs.FS, name string) (*Procedure, problem.List) {
	var all problem.List
	data, err := fs.ReadFile(files, name)
	if err != nil {
		all.Add(problem.Problem{File: name, What: "cannot be read: " + err.Error()})
		return nil, all
	}
	p, err := Parse(name, data)
	if errors.As(err, &all) {
		return nil, all
	}
	if want := strings.TrimSuffix(path.Base(name), ".yaml"); p.ID != want {
		all.Add(problem.Problem{File: name, Line: 1, What: "id is " + p.ID + " and the file is called " + want, Instead: "id: " + want})
	}
	return p, all
}

// Parse reads a procedure file. Left out, hold, cautions and needs are empty and
// an observable's cell is 0, the lowest of all, and it is not optional. The procedure is nil when there is any problem;
// the error is a problem.List with all of them.
func Parse(file string, data []byte) (*Procedure, error) {
	f, top := yamlread.Open(file, data)
	p := &Procedure{SHA256: sha256.Sum256(data)}
	p.read(top.Map("procedure"))
	if err := f.Err(); err != nil {
		return nil, err
	}
	p.refs = f.Refs()
	return p, nil
}

func (p *Procedure) read(m *yamlread.Map) {
	p.Format = system.ReadFormat(m, Format)
	p.ID = m.Need("id", "the name of the file without .yaml").ID()
	p.Name = m.Need("name", "what a technician calls it").Text()
	p.Where = m.Need("where", "vehicle or bench").OneOf("vehicle", "bench")
	p.Does = m.Need("does", "measure or look").OneOf("measure", "look")
	p.demands(m.Need("rig", "{place: position}").Map("rig"))
	for _, n := range m.May("hold").List() {
		p.Hold = append(p.Hold, readHold(n.Map("hold")))
	}
	p.readMeasure(m)
	p.readLook(m)
	p.Do = m.Need("do", "[step, step]").Texts()
	for _, c := range m.May("cautions").List() {
		p.Cautions = append(p.Cautions, c.Ref("caution"))
	}
	p.Settles = m.Need("settles", "why a technician would do it").Text()
	p.Needs = readNeeds(m.May("needs").Map("needs"))
	p.Source = m.May("source").Text()
	p.Basis = system.ReadBasis(m.Need("basis", "memory"))
	m.Done()
}

// demands reads the places that must stand somewhere. {} asks for nothing.
func (p *Procedure) demands(m *yamlread.Map) {
	for _, pair := range m.Pairs() {
		m.Note("place", pair)
		d := Demand{Place: pair.Key}
		for _, n := range pair.Value.Items() {
			d.Positions = append(d.Positions, n.RefIn("position", pair.Key))
		}
		if pair.Value.IsList() && len(d.Positions) == 0 {
			pair.Value.Add("no position for "+pair.Key, "one position or several")
		}
		p.Rig = append(p.Rig, d)
	}
}

// holds are what can be adjusted by hand while reading, with their units.
var holds = map[string]unit.Dim{"battery-volts": unit.Volt, "bank-amps": unit.Amp, "output-amps": unit.Amp}

// HoldWords are what can be held.
func HoldWords() []string { return []string{"bank-amps", "battery-volts", "output-amps"} }

// HoldDim returns the kind of quantity of what is held; false for a word that
// is not one of HoldWords.
func HoldDim(what string) (unit.Dim, bool) {
	d, ok := holds[what]
	return d, ok
}

// readHold reads {what: bank-amps, at: 20 A}.
func readHold(m *yamlread.Map) Hold {
	what, at := m.Need("what", "battery-volts, bank-amps or output-amps"), m.Need("at", "15 V")
	h := Hold{What: what.OneOf(HoldWords()...)}
	if h.What != "" {
		h.Target = at.Quantity(holds[h.What], yamlread.NotNegative)
	}
	m.Done()
	return h
}

func (p *Procedure) readMeasure(m *yamlread.Map) {
	n := m.May("measure")
	switch {
	case p.Does == "measure" && !n.Present():
		m.Add("does: measure wants measure", "measure: [{quantity: volts, red: …, black: …, meter: dmm, box: …}]")
	case p.Does == "look" && n.Present():
		n.Add("does: look has nothing to measure", "does: measure, or look: instead of measure:")
	}
	items := n.List()
	if n.IsList() && len(items) == 0 {
		n.Add("nothing is measured", "at least one observable")
	}
	for _, item := range items {
		p.Measure = append(p.Measure, readObservable(item.Map("observable")))
	}
}

// kinds an observable of a procedure file may have.
var kinds = []string{string(Volts), string(Amps), string(ACVolts), string(Ohms), string(Density), string(Speed)}

func readObservable(m *yamlread.Map) Observable {
	o := Observable{Kind: Kind(m.Need("quantity", "one of "+strings.Join(kinds, ", ")).OneOf(kinds...))}
	switch o.Kind {
	case Volts, ACVolts, Ohms:
		red, black := m.Need("red", "the point of the red lead"), m.Need("black", "the point of the black lead")
		o.Red, o.Black = red.Ref("point"), black.Ref("point")
		if o.Red != "" && o.Red == o.Black {
			black.Add("both leads are on "+o.Red, "two different points")
		}
	case Amps:
		o.Through = m.Need("through", "the id of a joint, wire or load").Ref("branch")
	case Density:
		o.Cell = m.May("cell").Count(yamlread.Within(0, 6, "1 to 6, or 0 for the lowest of all"))
	case "":
		for _, key := range []string{"red", "black", "through", "cell"} {
			m.May(key)
		}
	}
	o.Meter = m.Need("meter", "dmm").Ref("meter")
	o.Note = m.Need("box", "what the box on the form is called").Text()
	o.Optional = m.May("optional").Yes()
	m.Done()
	return o
}

func (p *Procedure) readLook(m *yamlread.Map) {
	n := m.May("look")
	switch {
	case p.Does == "look" && !n.Present():
		m.Add("does: look wants look", "look: {question: …, classes: […], given: {…}, otherwise: […]}")
		return
	case p.Does == "measure" && n.Present():
		n.Add("does: measure has nothing to look at", "does: look, or measure: instead of look:")
	case !n.Present():
		return
	}
	q := n.Map("look")
	l := &LookQuestion{Given: map[string][]float64{}}
	l.Question = q.Need("question", "what is looked at, as a question").Text()
	classes := q.Need("classes", "[class, class]")
	l.Classes = readClasses(classes)
	for _, pair := range q.Need("given", "{fault-id: [share, share]}").Map("given").Pairs() {
		q.Note("fault", pair)
		l.Given[pair.Key] = readShares(pair.Value, pair.Key, len(l.Classes))
	}
	l.Otherwise = readShares(q.Need("otherwise", "[share, share]"), "otherwise", len(l.Classes))
	q.Done()
	p.Look = l
}

func readClasses(n yamlread.Node) []string {
	out := n.Texts()
	seen := map[string]bool{}
	for _, c := range out {
		if seen[c] {
			n.Add("class "+c+" is given twice", "each class once")
		}
		seen[c] = true
	}
	if n.IsList() && len(out) < 2 {
		n.Add("a look needs at least two classes", "[as it should be, not as it should be]")
	}
	return out
}

// readShares reads probabilities that sum to 1. The sum may be off by rounding
// of the sum itself only: 1e-6.
func readShares(n yamlread.Node, name string, want int) []float64 {
	items := n.List()
	if want >= 2 && len(items) > want && n.Commas() {
		return nil
	}
	var out []float64
	sum, before := 0.0, n.Problems()
	for _, item := range items {
		v := item.Number(yamlread.Share)
		sum += v
		out = append(out, v)
	}
	switch {
	case !n.IsList() || want < 2:
	case len(out) != want:
		n.Add(fmt.Sprintf("%s has %d shares for %d classes", name, len(out), want), "one share for each class")
	case n.Problems() == before && math.Abs(sum-1) > 1e-6:
		n.Add(fmt.Sprintf("the shares of %s sum to %.4g", name, sum), "shares that sum to 1")
	}
	return out
}

func readNeeds(m *yamlread.Map) Needs {
	var out Needs
	for _, n := range m.May("arrangement").Items() {
		if s := n.Text(); s != "" {
			out.Arrangements = append(out.Arrangements, s)
		}
	}
	out.Serviceable = m.May("battery").OneOf("serviceable") != ""
	if n := m.May("batteries"); n.Present() {
		out.Batteries = n.Count(yamlread.Within(1, 2, "1 or 2"))
	}
	if n := m.May("splitter"); n.Present() {
		yes := n.Yes()
		out.Splitter = &yes
	}
	if v := m.May("volts"); v.Present() {
		out.Volts = v.Quantity(unit.Volt, yamlread.Positive)
	}
	m.Done()
	return out
}
