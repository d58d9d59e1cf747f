package advice

import (
	_ "embed"
	"fmt"
	"slices"
	"sync"

	"chargewright/internal/yamlread"
	"chargewright/system"
)

//go:embed told.yaml
var toldFile []byte

// toldGroups are what is asked beside the kind of complaint, in this order.
var toldGroups = [...]string{"when", "before", "noticed", "use"}

const inWhen = 0 // of toldGroups

// tellings is told.yaml as read.
type tellings struct {
	basis  system.Basis
	most   float64 // the ratio that a story may count for
	brings float64 // share with which what brings a fault on is named
	steady float64 // share with which a fault that nothing brings on is said to be there always
	groups [len(toldGroups)][]telling
}

// telling is how often one word is said.
type telling struct {
	word  string
	usual float64
	given map[string]float64 // by fault, or by part
	does  *[doings]float64   // by what the vehicle does
}

// toldTable reads the embedded file once.
var toldTable = sync.OnceValues(func() (*tellings, error) {
	f, top := yamlread.Open("told.yaml", toldFile)
	t := &tellings{}
	m := top.Map("what is told")
	system.ReadFormat(m, 1)
	t.basis = system.ReadBasis(m.Need("basis", "memory"))
	t.most = m.Need("most", `"30"`).Number(yamlread.Positive)
	for g, name := range toldGroups {
		group := m.Need(name, "{words: {…}}").Map(name)
		if g == inWhen {
			t.brings = group.Need("brings", `"0.6"`).Number(yamlread.Share)
			t.steady = group.Need("steady", `"0.75"`).Number(yamlread.Share)
		}
		for _, p := range group.Need("words", `{hot: {usual: "0.1"}}`).Map("words").Pairs() {
			t.groups[g] = append(t.groups[g], readTelling(p))
		}
		group.Done()
	}
	m.Done()
	return t, f.Err()
})

func readTelling(p yamlread.Pair) telling {
	row := p.Value.Map(p.Key)
	x := telling{word: p.Key, usual: row.Need("usual", `"0.1"`).Number(yamlread.Share), given: map[string]float64{}}
	if given := row.May("given"); given.Present() {
		for _, g := range given.Map("given").Pairs() {
			x.given[g.Key] = g.Value.Number(yamlread.Share)
		}
	}
	if does := row.May("does"); does.Present() {
		by := does.Map("does")
		x.does = &[doings]float64{}
		for i, name := range doingNames {
			x.does[i] = by.Need(name, `"0.1"`).Number(yamlread.Share)
		}
		by.Done()
	}
	row.Done()
	return x
}

// Told is what was told beside the kind of complaint: words of told.yaml.
type Told struct {
	When, Before, Noticed, Use []string
}

func (t Told) groups() [len(toldGroups)][]string {
	return [...][]string{t.When, t.Before, t.Noticed, t.Use}
}

func (t Told) empty() bool { return len(t.When)+len(t.Before)+len(t.Noticed)+len(t.Use) == 0 }

// known refuses words that the table does not have.
func (t *tellings) known(told Told) error {
	for g, words := range told.groups() {
		var have []string
		for _, x := range t.groups[g] {
			have = append(have, x.word)
		}
		for _, w := range words {
			if !slices.Contains(have, w) {
				return fmt.Errorf("%s: %q is not known: use some of %v", toldGroups[g], w, have)
			}
		}
	}
	return nil
}
