package identify

import (
	_ "embed"
	"maps"
	"slices"

	"chargewright/internal/yamlread"
	"chargewright/problem"
	"chargewright/system"
)

//go:embed kinds.yaml
var kinds []byte

// On what an answer depends.
const (
	ofAlternator = "alternator"
	ofWiring     = "wiring"
	ofPair       = "pair"
)

// Library returns the shipped catalogue.
func Library() (*Catalogue, error) { return Parse("kinds.yaml", kinds) }

// Parse reads a catalogue. The error is a problem.List with every problem: ids
// that are mentioned and not declared, shares over 1, pairs without a system and
// without words.
func Parse(file string, data []byte) (*Catalogue, error) {
	f, top := yamlread.Open(file, data)
	m := top.Map("catalogue")
	system.ReadFormat(m, 1)
	c := &Catalogue{}
	c.readCautions(m.Need("cautions", "a list of cautions"))
	c.readLooks(m.Need("looks", "a list of looks"))
	c.Alternators = c.readKinds(m.Need("alternators", "a list of kinds"), ofAlternator)
	c.Wirings = c.readKinds(m.Need("wirings", "a list of kinds"), ofWiring)
	c.Matched = Kind{ID: "matched", Shows: c.readAll(m.May("matched"), ofPair)}
	c.Strange = Kind{ID: "strange", Shows: c.readAll(m.May("strange"), ofPair)}
	c.readPairs(m.Need("pairs", "which alternator belongs to which wiring"))
	c.readStrangers(m.May("strangers"))
	c.Mismatched = m.Need("mismatched", "0.04").Number(share)
	c.NoneOfThese = m.Need("none-of-these", "0.02").Number(share)
	c.Basis = string(system.ReadBasis(m.Need("basis", "memory")))
	m.Done()
	if err := f.Err(); err != nil {
		return nil, err
	}
	return c, nil
}

var share = yamlread.Within(0, 1, "between 0 and 1")

func (c *Catalogue) readCautions(list yamlread.Node) {
	for _, n := range list.List() {
		m := n.Map("caution")
		c.Cautions = append(c.Cautions, Caution{
			ID: m.Need("id", "hot").ID(), Text: m.Need("text", "the words shown").Text(),
			Source: m.Need("source", "where it comes from").Text(), Basis: string(system.ReadBasis(m.Need("basis", "memory"))),
		})
		m.Done()
	}
}

func (c *Catalogue) readLooks(list yamlread.Node) {
	for _, n := range list.List() {
		m := n.Map("look")
		l := Look{
			ID: m.Need("id", "terminals").ID(), Of: m.Need("of", ofWiring).OneOf(ofAlternator, ofWiring, ofPair),
			Minutes: m.Need("minutes", "1").Number(yamlread.Positive), Ask: m.Need("ask", "the question").Text(),
			Do: m.Need("do", "[what to do]").Texts(),
		}
		for _, k := range m.May("cautions").List() {
			known(k, k.Text(), idsOf(c.Cautions, func(x Caution) string { return x.ID }), "caution")
			l.Cautions = append(l.Cautions, k.Text())
		}
		for _, a := range m.Need("answers", "a list of answers").List() {
			am := a.Map("answer")
			l.Answers = append(l.Answers, Answer{ID: am.Need("id", "\"yes\"").Text(), Say: am.Need("say", "what is seen").Text()})
			am.Done()
		}
		c.readWhen(&l, m.May("when").Map("when"))
		m.Done()
		c.Looks = append(c.Looks, l)
	}
}

// readWhen reads which answers to an earlier look make this one worth asking.
func (c *Catalogue) readWhen(l *Look, m *yamlread.Map) {
	if !m.Present() {
		return
	}
	at := m.Need("look", "an earlier look")
	l.After = at.Text()
	before, ok := c.find(l.After)
	if !ok {
		known(at, l.After, idsOf(c.Looks, func(x Look) string { return x.ID }), "look before this one")
	}
	for _, n := range m.Need("is", "[answer]").List() {
		l.Is = append(l.Is, n.Text())
		if ok {
			known(n, n.Text(), answerIDs(before), "answer of "+l.After)
		}
	}
	m.Done()
}

func (c *Catalogue) readKinds(list yamlread.Node, of string) []Kind {
	var out []Kind
	for _, n := range list.List() {
		m := n.Map("kind")
		k := Kind{ID: m.Need("id", "isolated").ID(), Name: m.Need("name", "what a technician calls it").Text()}
		k.Shows = c.readAll(m.Need("shows", "{look: {answer: share}}"), of)
		m.Done()
		out = append(out, k)
	}
	return out
}

func (c *Catalogue) readAll(n yamlread.Node, of string) map[string]map[string]float64 {
	out := map[string]map[string]float64{}
	for _, p := range n.Map("shows").Pairs() {
		out[p.Key] = c.readShows(p, of)
	}
	return out
}

func (c *Catalogue) readShows(p yamlread.Pair, of string) map[string]float64 {
	l, ok := c.find(p.Key)
	if !ok || l.Of != of {
		p.Value.Add("no look of "+of+" is called "+p.Key, yamlread.Suggest(p.Key, idsOf(c.Looks, func(x Look) string { return x.ID })))
		return nil
	}
	out, sum := map[string]float64{}, 0.0
	for _, a := range p.Value.Map("shares").Pairs() {
		known(a.Value, a.Key, answerIDs(l), "answer of "+l.ID)
		out[a.Key] = a.Value.Number(share)
		sum += out[a.Key]
	}
	if sum > 1+1e-9 || len(out) == len(l.Answers) && sum < 1-1e-9 {
		p.Value.Add("the shares do not come to 1", "shares of at most 1 together, and 1 where every answer has one")
	}
	return out
}

// ends reads which alternator stands on which wiring.
func (c *Catalogue) ends(m *yamlread.Map) (alternator, wiring string) {
	id := func(k Kind) string { return k.ID }
	a, w := m.Need("alternator", "a kind"), m.Need("wiring", "a kind")
	known(a, a.Text(), idsOf(c.Alternators, id), "alternator")
	known(w, w.Text(), idsOf(c.Wirings, id), "wiring")
	return a.Text(), w.Text()
}

func (c *Catalogue) readStrangers(list yamlread.Node) {
	for _, n := range list.List() {
		m := n.Map("stranger")
		a, w := c.ends(m)
		if c.pair(a, w) != nil {
			m.Add("these two belong together: they are under pairs", "an alternator on a wiring that is not its own")
		}
		c.Strangers = append(c.Strangers, Stranger{a, w, m.Need("would", "no charge").Text()})
		m.Done()
	}
}

func (c *Catalogue) readPairs(list yamlread.Node) {
	for _, n := range list.List() {
		m := n.Map("pair")
		p := Pair{Share: m.Need("share", "5").Number(yamlread.Positive)}
		p.Alternator, p.Wiring = c.ends(m)
		s := m.May("system")
		p.System, p.Without = s.Text(), m.May("without").Text()
		if s.Present() {
			known(s, p.System, system.Library(), "system")
		}
		if (p.System == "") == (p.Without == "") && m.Present() {
			m.Add("needs the system that it is, or words for a technician whose vehicle has none", "system: or without:")
		}
		m.Done()
		c.Pairs = append(c.Pairs, p)
	}
}

// known notes an id that is not one of those declared.
func known(at yamlread.Node, id string, ids []string, word string) {
	if id != "" && !slices.Contains(ids, id) {
		at.Add("no "+word+" is called "+id, yamlread.Suggest(id, ids))
	}
}

func idsOf[T any](list []T, id func(T) string) []string {
	out := make([]string, len(list))
	for i, x := range list {
		out[i] = id(x)
	}
	return out
}

func answerIDs(l Look) []string { return idsOf(l.Answers, func(a Answer) string { return a.ID }) }

// Check holds answers against the looks that there are: every one that is no
// look, no answer of its look, or not asked of this vehicle.
func (c *Catalogue) Check(answers map[string]string) error {
	var out problem.List
	say := func(what, instead string) { out = append(out, problem.Problem{What: what, Instead: instead}) }
	for _, id := range slices.Sorted(maps.Keys(answers)) {
		l, ok := c.find(id)
		switch {
		case !ok:
			say("no look is called "+id, yamlread.Suggest(id, idsOf(c.Looks, func(x Look) string { return x.ID })))
		case !l.has(answers[id]):
			say(id+": "+answers[id]+" is none of its answers", yamlread.Suggest(answers[id], answerIDs(l)))
		case l.After != "" && answers[l.After] != "" && !slices.Contains(l.Is, answers[l.After]):
			say(id+" is not asked where "+l.After+" is "+answers[l.After], "one of the two, or neither")
		}
	}
	return out.Err()
}
