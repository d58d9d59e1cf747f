package truth

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"strconv"

	"chargewright/prediction"
	"chargewright/question"
)

// Fixture holds runs of Spice for some vehicles. It was written by
// internal/vehiclegen; nothing but a simulator can make one.
type Fixture struct {
	Format   int        `json:"format"`
	About    string     `json:"about"`
	Program  string     `json:"program"` // and its version
	System   string     `json:"system"`  // id
	Options  Options    `json:"options"`
	Seed     uint64     `json:"seed"`
	Points   []string   `json:"points"`
	Elements []string   `json:"elements"`
	Vehicles []Recorded `json:"vehicles"`
}

// Recorded is one vehicle with its runs.
type Recorded struct {
	Name   string             `json:"name"`
	Faults []string           `json:"faults,omitempty"`
	Mean   []float64          `json:"mean,omitempty"` // of the log10 of each fault's magnitude
	SD     []float64          `json:"sd,omitempty"`
	Bad    []float64          `json:"bad,omitempty"` // whitened magnitude of each fault
	Z      map[string]float64 `json:"z"`             // whitened figures by id; those not named are 0
	Runs   []StoredRun        `json:"runs"`
}

// StoredRun is a run on paper.
type StoredRun struct {
	Standing string      `json:"standing"`
	Start    string      `json:"start,omitempty"` // "resting" where Options.Resting was set
	Netlist  string      `json:"netlist"`         // first half of the SHA-256 of its text
	Engine   float64     `json:"engine"`
	Field    float64     `json:"field"`
	Output   float64     `json:"output"`
	Duty     float64     `json:"duty"`
	Settle   float64     `json:"settle"`
	Drift    float64     `json:"drift"`
	Volts    []float64   `json:"volts"`
	Ripple   [][]float64 `json:"ripple,omitempty"` // by shape, then by point
	Amps     []float64   `json:"amps"`
}

// FixtureFormat is the newest format that is read.
const FixtureFormat = 1

// NewFixture starts a fixture for a model.
func NewFixture(m *prediction.Model, about, program string, o Options, seed uint64) *Fixture {
	f := &Fixture{Format: FixtureFormat, About: about, Program: program, System: m.Sys.ID, Options: o, Seed: seed}
	f.Points, f.Elements = names(m)
	return f
}

// Record puts a vehicle's figures on paper. Rounded like this they are what must
// be simulated: take the vehicle back with Vehicle before running it.
func Record(m *prediction.Model, v Vehicle) Recorded {
	r := Recorded{Name: v.Name, Faults: v.FaultIDs(m.Sys), Z: map[string]float64{}}
	for i, c := range m.Coords {
		if z := decimals(v.Z[i], 3); z != 0 {
			r.Z[c.ID] = z
		}
	}
	for k := range v.Fault.Faults {
		r.Mean = append(r.Mean, decimals(v.Comp.Mean[k], 6))
		r.SD = append(r.SD, decimals(v.Comp.SD[k], 6))
		r.Bad = append(r.Bad, decimals(v.Z[len(m.Coords)+k], 3))
	}
	return r
}

// Vehicle returns the recorded vehicle. It refuses faults and figures that the
// model does not know.
func (r *Recorded) Vehicle(m *prediction.Model) (Vehicle, error) {
	v := Vehicle{Name: r.Name, Z: make([]float64, m.Dims())}
	if len(r.Faults) > prediction.Magnitudes || len(r.Mean) != len(r.Faults) || len(r.SD) != len(r.Faults) || len(r.Bad) != len(r.Faults) {
		return v, fmt.Errorf("truth: vehicle %s: %d faults with %d, %d and %d figures: one of each for at most %d faults", r.Name, len(r.Faults), len(r.Mean), len(r.SD), len(r.Bad), prediction.Magnitudes)
	}
	for k, id := range r.Faults {
		i, ok := m.FaultIndex(id)
		if !ok {
			return v, fmt.Errorf("truth: vehicle %s: system %s has no fault %s: make the fixture anew with internal/vehiclegen", r.Name, m.Sys.ID, id)
		}
		v.Fault.Faults = append(v.Fault.Faults, i)
		v.Comp.Mean[k], v.Comp.SD[k], v.Z[len(m.Coords)+k] = r.Mean[k], r.SD[k], r.Bad[k]
	}
	found := 0
	for i, c := range m.Coords {
		if z, ok := r.Z[c.ID]; ok {
			v.Z[i] = z
			found++
		}
	}
	if found != len(r.Z) {
		return v, fmt.Errorf("truth: vehicle %s: %d of its figures are none of system %s: make the fixture anew with internal/vehiclegen", r.Name, len(r.Z)-found, m.Sys.ID)
	}
	return v, nil
}

// Put records a run of the netlist; start is "resting" where it was. Volts are kept to 10 uV and amps to five
// digits, well under every meter.
func (r *Recorded) Put(n *Netlist, run *Run, start string) {
	s := StoredRun{
		Standing: run.Standing, Start: start, Netlist: n.Hash(), Engine: digits(run.Engine, 6), Field: digits(run.Field, 5),
		Output: digits(run.Output, 5), Duty: decimals(run.Duty, 4), Settle: decimals(run.Settle, 3), Drift: digits(run.Drift, 2),
	}
	for _, v := range run.Volts {
		s.Volts = append(s.Volts, decimals(v, 5))
	}
	for _, a := range run.Amps {
		s.Amps = append(s.Amps, small(digits(a, 5), 1e-5))
	}
	for m := range modes {
		shape, most := make([]float64, len(run.Ripple)), 0.0
		for i := range shape {
			shape[i] = decimals(digits(run.Ripple[i][m], 4), 5)
			most = max(most, math.Abs(shape[i]))
		}
		if most > keptRipple {
			s.Ripple = append(s.Ripple, shape)
		}
	}
	r.Runs = append(r.Runs, s)
}

// keptRipple is the least ripple worth a shape on paper [V]: half of what the
// most sensitive AC range shows.
const keptRipple = 5e-5

// Hash identifies the netlist's text without its title, which holds names.
func (n *Netlist) Hash() string {
	_, body, _ := bytes.Cut([]byte(n.Text), []byte("\n"))
	sum := sha256.Sum256(body)
	return hex.EncodeToString(sum[:16])
}

// Run takes a stored run off the paper.
func (s *StoredRun) Run(points, elems int) (*Run, error) {
	if len(s.Volts) != points || len(s.Amps) != elems || len(s.Ripple) > modes {
		return nil, fmt.Errorf("truth: stored run %q has %d volts for %d points and %d amps for %d elements", s.Standing, len(s.Volts), points, len(s.Amps), elems)
	}
	r := &Run{
		Standing: s.Standing, Engine: s.Engine, Volts: s.Volts, Amps: s.Amps, Ripple: make([][modes]float64, points),
		Field: s.Field, Output: s.Output, Duty: s.Duty, Settle: s.Settle, Drift: s.Drift,
	}
	for m, shape := range s.Ripple {
		if len(shape) != points {
			return nil, fmt.Errorf("truth: stored run %q has %d ripple figures for %d points", s.Standing, len(shape), points)
		}
		for i, x := range shape {
			r.Ripple[i][m] = x
		}
	}
	return r, nil
}

// ParseFixture reads a fixture.
func ParseFixture(data []byte) (*Fixture, error) {
	f := &Fixture{}
	if err := json.Unmarshal(data, f); err != nil {
		return nil, fmt.Errorf("truth: no fixture: %w", err)
	}
	if f.Format < 1 || f.Format > FixtureFormat {
		return nil, fmt.Errorf("truth: fixture of format %d: this program reads 1 to %d", f.Format, FixtureFormat)
	}
	return f, nil
}

// Encode writes the fixture with one run a line, so that a change shows where it
// is.
func (f *Fixture) Encode() ([]byte, error) {
	head := *f
	head.Vehicles = nil
	var out bytes.Buffer
	text, err := json.Marshal(head)
	if err != nil {
		return nil, err
	}
	out.Write(bytes.TrimSuffix(text, []byte("null}")))
	for i, v := range f.Vehicles {
		out.WriteString(list(i) + "\n")
		runs := v.Runs
		v.Runs = nil
		if text, err = json.Marshal(v); err != nil {
			return nil, err
		}
		out.Write(bytes.TrimSuffix(text, []byte("null}")))
		for k, r := range runs {
			if text, err = json.Marshal(r); err != nil {
				return nil, err
			}
			out.WriteString(list(k) + "\n")
			out.Write(text)
		}
		out.WriteString("]}")
	}
	out.WriteString("]}\n")
	return out.Bytes(), nil
}

// list opens or goes on with a list.
func list(i int) string {
	if i == 0 {
		return "["
	}
	return ","
}

// Stored is a hidden vehicle out of a fixture. Ohms, density and looks it
// answers as Spice does.
type Stored struct {
	Vehicle Vehicle
	Looks   Looks

	model *prediction.Model
	twin  *Table
	where *numbering
	runs  map[string]*Run
}

// Stored returns vehicle k of the fixture.
func (f *Fixture) Stored(m *prediction.Model, k int) (*Stored, error) {
	if f.System != m.Sys.ID {
		return nil, fmt.Errorf("truth: the fixture is of system %s, the model of %s", f.System, m.Sys.ID)
	}
	rec := &f.Vehicles[k]
	v, err := rec.Vehicle(m)
	if err != nil {
		return nil, err
	}
	s := &Stored{Vehicle: v, model: m, twin: v.Table(m, Looks{}), where: numbered(f.Points, f.Elements), runs: map[string]*Run{}}
	for i := range rec.Runs {
		r, err := rec.Runs[i].Run(len(f.Points), len(f.Elements))
		if err != nil {
			return nil, err
		}
		if rec.Runs[i].Start == "" {
			s.runs[r.Standing] = r
		}
	}
	return s, nil
}

// NotStored says that a fixture has no run for a setup.
type NotStored struct{ Vehicle, Standing string }

func (e *NotStored) Error() string {
	return fmt.Sprintf("truth: vehicle %s has no stored run with %s: ask in a hook-up of the catalogue's procedures at 20 degC", e.Vehicle, e.Standing)
}

// Run returns the stored run for a setup.
func (s *Stored) Run(set question.Setup) (*Run, error) {
	words := standing(s.model.Sys, set)
	if r, ok := s.runs[words]; ok {
		return r, nil
	}
	return nil, &NotStored{s.Vehicle.Name, words}
}

// Answer implements Answerer.
func (s *Stored) Answer(q question.Question) ([]question.Value, error) {
	return answerFrom(s.model, &s.Vehicle, s.Looks, s.twin, s.where, q, s.Run)
}

// Stale lists the runs whose netlist would be another today, because the system,
// the prediction's figures or this package changed.
func (f *Fixture) Stale(m *prediction.Model, setup func(standing string) (question.Setup, bool)) ([]string, error) {
	var out []string
	for k := range f.Vehicles {
		rec := &f.Vehicles[k]
		v, err := rec.Vehicle(m)
		if err != nil {
			return nil, err
		}
		for _, r := range rec.Runs {
			set, ok := setup(r.Standing)
			if !ok {
				out = append(out, rec.Name+", "+r.Standing+": no procedure asks for it any more")
				continue
			}
			o := f.Options
			o.Resting = r.Start != ""
			n, err := v.Write(m, set, o, r.Settle)
			if err != nil {
				return nil, err
			}
			if n.Hash() != r.Netlist {
				out = append(out, rec.Name+", "+r.Standing)
			}
		}
	}
	return out, nil
}

func decimals(x float64, n int) float64 {
	p := math.Pow(10, float64(n))
	if r := math.Round(x*p) / p; r != 0 {
		return r
	}
	return 0 // never minus zero
}

func digits(x float64, n int) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', n, 64), 64)
	if err != nil {
		return x // it was just printed
	}
	return r
}

// small takes what is below a floor for nothing.
func small(x, floor float64) float64 {
	if math.Abs(x) < floor {
		return 0
	}
	return x
}
