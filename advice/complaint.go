package advice

import (
	_ "embed"
	"fmt"
	"math"
	"slices"
	"sync"

	"chargewright/internal/yamlread"
	"chargewright/system"
)

//go:embed complaints.yaml
var complaintsFile []byte

// what a vehicle does, as a customer would notice it, in the order of the file.
const (
	doesNothing = iota
	doesWeak
	doesHigh
	doesDrain
	doesTired
	doesRight
	doings
)

var doingNames = [doings]string{"nothing", "weak", "high", "drains", "tired-battery", "as-it-should"}

// complaints is complaints.yaml as read.
type complaints struct {
	soc   map[string]charge
	kinds []string
	basis system.Basis
	heard [doings]map[string]float64 // P(kind | what it does)
}

type charge struct {
	soc   float64
	basis system.Basis
}

// complaintTable reads the embedded file once.
var complaintTable = sync.OnceValues(func() (*complaints, error) {
	f, top := yamlread.Open("complaints.yaml", complaintsFile)
	c := &complaints{soc: map[string]charge{}}
	m := top.Map("complaints")
	system.ReadFormat(m, 1)
	for _, p := range m.Need("charge", "{no-charge: {…}}").Map("charge").Pairs() {
		row := p.Value.Map(p.Key)
		c.soc[p.Key] = charge{
			soc:   row.Need("soc", "0.5").Number(yamlread.Share),
			basis: system.ReadBasis(row.Need("basis", "memory")),
		}
		row.Done()
	}
	heard := m.Need("heard", "{kinds: […]}").Map("heard")
	c.kinds = heard.Need("kinds", "[no-charge, …]").Texts()
	c.basis = system.ReadBasis(heard.Need("basis", "memory"))
	does := heard.Need("does", "{nothing: […]}").Map("does")
	for i, name := range doingNames {
		c.heard[i] = map[string]float64{}
		row := does.Need(name, "[58, 10, 1, 28, 3]").List()
		total := 0.0
		for k, n := range row {
			if k < len(c.kinds) {
				c.heard[i][c.kinds[k]] = n.Number(yamlread.NotNegative)
				total += c.heard[i][c.kinds[k]]
			}
		}
		for k := range c.heard[i] {
			c.heard[i][k] /= math.Max(total, 1e-9)
		}
	}
	does.Done()
	heard.Done()
	m.Done()
	return c, f.Err()
})

// Complaints lists the kinds of complaint that are known.
func Complaints() []string {
	c, err := complaintTable()
	if err != nil {
		return nil // complaints_test.go reads the file
	}
	return slices.Clone(c.kinds)
}

// shifted is the system with the state of charge that a complaint makes likely.
func (c *complaints) shifted(sys *system.System, kind string) *system.System {
	row, ok := c.soc[kind]
	if !ok {
		return sys
	}
	s := *sys
	s.Params = slices.Clone(sys.Params)
	for i := range s.Params {
		if s.Params[i].ID == "battery.soc" {
			s.Params[i].Median, s.Params[i].Basis = row.soc, row.basis
		}
	}
	return &s
}

func (c *complaints) known(kind string) error {
	if kind == "" || slices.Contains(c.kinds, kind) {
		return nil
	}
	return fmt.Errorf("complaint %q is not known: use one of %v", kind, c.kinds)
}

// chance is P(kind | what the vehicle does with these probabilities).
func (c *complaints) chance(kind string, does [doings]float64) float64 {
	p := 0.0
	for i, w := range does {
		p += w * c.heard[i][kind]
	}
	return p
}
