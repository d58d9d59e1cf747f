package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"time"

	"chargewright/advice"
	"chargewright/identify"
	"chargewright/job"
	"chargewright/journal"
	"chargewright/question"
	sheets "chargewright/report"
	"chargewright/rig"
	"chargewright/truth"
	"chargewright/unit"
)

// The made-up workshop. Every vehicle, customer, reading and price is invented;
// readings come from hidden vehicles that answer as the model says, with the
// noise of the meters.
const (
	demoNote     = "A made-up workshop: every vehicle, customer and reading is invented, and nothing is kept."
	demoWorkshop = "Gate Lane Auto-Electrical"
	demoSeed     = 5
)

// tale is a job of the made-up workshop: what is hidden, and how far it went.
type tale struct {
	system                         string // the arrangement; "" is that of most
	vehicle, words, customer, kind string
	fault                          string
	told                           advice.Told       // at intake, beside the words
	seen                           map[string]string // looks at what is fitted, before it was opened
	read                           []string          // procedures, in order
	slip                           int               // this reading is off by a decade, from 1; 0 = none
	back                           bool              // the last reading is taken back and taken again
	mend                           bool              // the true repair is done
	cured                          string
	proof                          int    // readings of the proof
	toward                         string // procedure whose hook-up was begun
	lines                          int    // moves of it that are done
	waits                          job.WaitsBody
	sign                           bool
	reopened                       string // why, after the signature: the complaint is back; "" = it stands
	seed                           uint64 // 0 = the usual one; another makes the fault smaller or larger
}

var tales = []tale{
	{
		vehicle: "Four-door saloon, 1.5 litre", words: "headlamps bright, battery always low", customer: "Bakery in the High Street", kind: "low-charge", fault: "feed-joint-bulkhead-a",
		read: []string{"look-belt", "battery-rest-volts", "charge-volts", "drop-feed", "drop-earth", "walk-bulkhead-a"}, mend: true, cured: "yes", proof: 6, sign: true,
		seen: map[string]string{"terminals": "two-blades", "regulator": "sealed", "number": "yes"},
	},
	{
		vehicle: "Hatchback, 1.1 litre", words: "squeals in the morning, then charges a little", customer: "Night porter", kind: "low-charge", fault: "belt-loose", told: advice.Told{When: []string{"cold"}, Noticed: []string{"squeal"}},
		read: []string{"look-belt", "look-belt-tension", "charge-volts"}, mend: true, cured: "yes", proof: 5, sign: true,
		reopened: "came back: squeals again on wet mornings",
	},
	{
		vehicle: "Panel van, 1.8 litre", words: "flat after every weekend", customer: "Florist at the station", kind: "flat-battery", fault: "battery-worn", told: advice.Told{When: []string{"standing"}},
		read: []string{"look-battery", "battery-rest-volts"}, waits: job.WaitsBody{For: "battery", What: "on charge until 14:30"},
	},
	{
		vehicle: "Two-door coupé, 2 litre", words: "smells of eggs, bulbs blow", customer: "Piano tuner", kind: "overcharge", fault: "regulator-full-field", told: advice.Told{Noticed: []string{"eggs-smell", "blown-bulbs"}},
		read: []string{"battery-rest-volts", "quick-volts", "field-ends"}, waits: job.WaitsBody{For: "part", What: "regulator, promised for tomorrow"},
	},
	{
		vehicle: "Pick-up, 2 litre, work lamps added", words: "goes flat with the lamps on", customer: "Roofing firm", kind: "low-charge", fault: "added-load",
		read: []string{"look-belt", "charge-volts", "loaded-output"}, waits: job.WaitsBody{For: "customer", What: "asked by telephone at 10:05"},
	},
	{
		vehicle: "Four-door saloon, 1.3 litre", words: "does not charge since it rained", customer: "District nurse", kind: "no-charge", fault: "field-blade-f1-off", told: advice.Told{When: []string{"wet"}},
		read: []string{"look-belt", "charge-volts", "field-ends", "field-feed-key-on"}, mend: true, cured: "yes", proof: 2,
	},
	{
		vehicle: "Estate car, 1.8 litre", words: "slow to crank, lights dim at idle", customer: "Choir, the minibus driver", kind: "low-charge", fault: "earth-joint-block", told: advice.Told{Noticed: []string{"slow-cranking", "dim-lights"}},
		read: []string{"crank-volts", "charge-volts", "drop-earth"}, mend: true, cured: "unknown",
	},
	{
		vehicle: "Estate car, 1.6 litre", words: "the ammeter shows discharge all the time", customer: "School caretaker", kind: "no-charge", fault: "brush-worn", told: advice.Told{When: []string{"always"}, Noticed: []string{"ammeter-discharge"}}, seed: 6,
		read: []string{"look-belt", "battery-rest-volts", "charge-volts", "plug-pins-key-on", "rotor-ohms"},
	},
	{
		vehicle: "Four-door saloon, 1.6 litre", words: "flat twice this week", customer: "Two sisters, one car", kind: "flat-battery", fault: "regulator-no-field",
		read: []string{"look-belt", "charge-volts", "field-ends"}, back: true,
	},
	{
		vehicle: "Two-door saloon, 1.5 litre", words: "battery boils on long runs", customer: "Travelling judge", kind: "overcharge", fault: "ignition-switch-contacts", seed: 6,
		read: []string{"quick-volts"}, toward: "reg-pin-volts", lines: 3,
	},
	{
		vehicle: "Panel van, 1.6 litre", words: "the needle flickers and it goes flat", customer: "Laundry", kind: "low-charge", fault: "charge-wire-strands",
		read: []string{"look-belt", "charge-volts", "drop-feed", "drop-earth"}, slip: 4,
	},
	{
		vehicle: "Four-door saloon, 1.6 litre", words: "goes flat with the lamps on", customer: "Bridge keeper", kind: "low-charge", fault: "feed-joint-junction",
		read: []string{"look-belt", "battery-rest-volts", "charge-volts"}, toward: "drop-feed", lines: 2,
	},
	{
		system: "lamp-excited", vehicle: "Delivery van, 1.9 litre diesel", words: "warning lamp glows a little on the road", customer: "Two plasterers", kind: "low-charge", fault: "trio-joint",
		read: []string{"look-belt", "look-lamp-key-on", "charge-volts", "look-lamp-idle"}, toward: "dplus-volts", lines: 1,
	},
	{
		system: "supply-side-contact", vehicle: "Touring saloon, 2.2 litre", words: "boils its battery since the regulator was painted", customer: "Brass band, second cornet", kind: "overcharge", fault: "regulator-earth", told: advice.Told{Before: []string{"regulator-replaced"}},
		read: []string{"look-belt", "battery-rest-volts", "charge-volts"},
	},
	{
		system: "commanded", vehicle: "Family estate, 1.4 litre", words: "battery lamp comes on in the rain", customer: "Chess club treasurer", kind: "no-charge", fault: "command-open", told: advice.Told{When: []string{"wet"}},
		read: []string{"look-codes", "look-belt", "charge-volts"}, waits: job.WaitsBody{For: "customer", What: "car comes back on a wet day"},
	},
	{vehicle: "Open two-seater, 1.8 litre", words: "no charge after standing all winter", customer: "Beekeeper", kind: "no-charge", fault: "brush-sticking"},
}

// demoSystem is the arrangement of most of the vehicles.
const demoSystem = "isolated-earth-side"

// tempDir makes a directory for a workshop that is not kept.
func (s *shop) tempDir() (string, error) {
	dir, err := os.MkdirTemp("", "chargewright-demo-")
	if err == nil {
		s.ends = append(s.ends, func() error { return os.RemoveAll(dir) })
	}
	return dir, err
}

// makeUp fills an empty journal with the tales. It returns the arrangement of most.
func makeUp(ctx context.Context, book *journal.Store, shelf job.Shelf, tick *clock) (*advice.Prepared, error) {
	ready := map[string]*advice.Prepared{}
	now := time.Now().Truncate(time.Minute)
	defer tick.set.Store(nil)
	for i, t := range tales {
		if t.system == "" {
			t.system = demoSystem
		}
		if ready[t.system] == nil {
			p, err := keepPrepared(ctx, book, shelf, t.system)
			if err != nil {
				return nil, err
			}
			ready[t.system] = p
		}
		w := &telling{
			tale: t, number: 401 + i, book: book, shelf: shelf, prepared: ready[t.system], tick: tick, ids: rand.New(rand.NewPCG(demoSeed, uint64(i))),
			at: now.Add(-time.Duration(len(tales)-i) * 95 * time.Minute),
		}
		if err := w.tell(ctx); err != nil {
			return nil, fmt.Errorf("job %d: %w", w.number, err)
		}
	}
	return ready[demoSystem], nil
}

// keepPrepared puts an arrangement into the journal and makes it ready to be asked.
func keepPrepared(ctx context.Context, book *journal.Store, shelf job.Shelf, id string) (*advice.Prepared, error) {
	sys, err := shelf.System(id)
	if err != nil {
		return nil, err
	}
	if err := book.Keep(ctx, journal.Sum(sha256.Sum256(sys.Source)), sys.Source); err != nil {
		return nil, err
	}
	return advice.Prepare(sys, shelf.PracticeOf(sys), shelf.Catalogue, advice.DefaultSettings())
}

// telling is a tale being told.
type telling struct {
	tale
	number   int
	book     *journal.Store
	shelf    job.Shelf
	prepared *advice.Prepared
	tick     *clock
	ids      *rand.Rand
	at       time.Time

	stream string
	events []job.Event
	job    *job.Job
	desk   *advice.Desk
	player *player
}

func (t *telling) tell(ctx context.Context) error {
	for _, step := range []func(context.Context) error{t.open, t.look, t.readAll, t.takeBack, t.repair, t.prove, t.hookUp, t.rest, t.signOff, t.reopen} {
		if err := step(ctx); err != nil {
			return err
		}
	}
	return nil
}

// add appends an event some minutes after the one before.
func (t *telling) add(ctx context.Context, kind job.Kind, body any, minutes int) error {
	t.at = t.at.Add(time.Duration(minutes) * time.Minute)
	t.tick.set.Store(&t.at)
	b, err := json.Marshal(body)
	if err != nil {
		return err
	}
	id := fmt.Sprintf("demo-%d-%d-%08x", t.number, len(t.events)+1, t.ids.Uint32())
	got, err := t.book.Append(ctx, t.stream, len(t.events), []job.Event{{ID: id, Kind: kind, V: 1, Body: b, Device: "tablet in bay 1", Seen: len(t.events), Engine: version}})
	if err != nil {
		return err
	}
	t.events = append(t.events, got...)
	t.job, err = job.Fold(t.events, t.shelf)
	return err
}

// open opens the job and makes the vehicle that answers.
func (t *telling) open(ctx context.Context) error {
	t.stream = fmt.Sprintf("j-demo-%d", t.number)
	customer := fmt.Sprintf("c-demo-%d", t.number)
	if err := t.book.SetCustomer(ctx, journal.Customer{ID: customer, Name: t.customer, Plate: fmt.Sprintf("DEMO %d", t.number)}); err != nil {
		return err
	}
	air := unit.FromCelsius(18)
	sys := t.prepared.System
	err := t.add(ctx, job.Opened, job.OpenedBody{
		Job: fmt.Sprint(t.number), System: sys.ID, SHA256: hex.EncodeToString(sys.SHA256[:]), Vehicle: job.Vehicle{Volts: sys.Volts, Note: t.vehicle},
		Customer: customer, Opened: t.at, Complaint: &job.Complaint{Kind: t.kind, Words: t.words, When: t.told.When, Before: t.told.Before, Noticed: t.told.Noticed, Use: t.told.Use}, Conditions: &job.Conditions{Ambient: &air},
		Meters: []string{"dmm", "dc-clamp", "ma-clamp", "hydrometer", "milliohm-meter", "tachometer"},
	}, 1)
	if err != nil {
		return err
	}
	if t.desk, err = t.prepared.Shared(t.kind); err != nil {
		return err
	}
	fault, ok := t.desk.Model.FaultIndex(t.fault)
	if !ok {
		return fmt.Errorf("no fault is called %s", t.fault)
	}
	seed := t.seed
	if seed == 0 {
		seed = demoSeed
	}
	h := &hiddenVehicle{seed: seed, complaint: t.kind, day: t.input().Day, faults: []string{t.fault}}
	h.vehicle = truth.Figures(rand.New(rand.NewPCG(seed, stageStream)), t.desk.Model, []int{fault}, truth.DrawOptions{})
	t.player = &player{desk: t.desk, hidden: h, left: map[string]bool{}, asked: map[string]int{}}
	return nil
}

// look records what was seen of the vehicle before the job was opened.
func (t *telling) look(ctx context.Context) error {
	if len(t.seen) == 0 {
		return nil
	}
	lib, err := identify.Library()
	if err != nil {
		return err
	}
	b, err := job.IdentifiedBy(lib, t.prepared.System, t.seen)
	if err != nil {
		return err
	}
	return t.add(ctx, job.Identified, b, 0)
}

func (t *telling) reopen(ctx context.Context) error {
	if t.reopened == "" {
		return nil
	}
	return t.add(ctx, job.Reopened, job.ReopenedBody{Why: t.reopened, Complaint: "back"}, 240)
}

func (t *telling) input() advice.Input {
	in := t.job.Input(t.shelf.PracticeOf(t.job.System), t.shelf.Catalogue)
	in.Prepared = t.prepared
	return in
}

func (t *telling) readAll(ctx context.Context) error {
	for n, procedure := range t.tale.read {
		if err := t.take(ctx, procedure, n+1 == t.slip); err != nil {
			return err
		}
	}
	return nil
}

// way is how the vehicle gets from where it stands to a procedure's hook-up.
func (t *telling) way(procedure string) (i int, way rig.Plan, err error) {
	i = slices.IndexFunc(t.desk.Board.Procs, func(p *question.Procedure) bool { return p.ID == procedure })
	if i < 0 {
		return i, way, fmt.Errorf("no procedure is called %s", procedure)
	}
	way, err = t.desk.Board.Way(t.job.Rig, i)
	return i, way, err
}

// take reads one procedure off the hidden vehicle.
func (t *telling) take(ctx context.Context, procedure string, slip bool) error {
	i, way, err := t.way(procedure)
	if err != nil {
		return err
	}
	q := t.desk.Board.Question(i, t.player.hidden.day)
	q.Setup.Rig = way.Final
	values, err := t.player.answer(q)
	if err != nil {
		return err
	}
	taken := 0
	for _, e := range t.events {
		if e.Kind == job.Took {
			taken++
		}
	}
	b := job.ReadingBody{ID: fmt.Sprintf("r%d", taken+1), Procedure: procedure, Basis: "simulated"}
	for k, v := range values {
		if slip && k == 0 && v.How == question.Measured {
			v.X *= 10
		}
		b.Values = append(b.Values, job.ValueBody{How: string(v.How), X: v.X, Lo: v.Lo, Hi: v.Hi, Class: v.Class, Why: v.Why})
	}
	return t.add(ctx, job.Took, b, 6)
}

// takeBack takes the last reading back and takes it again.
func (t *telling) takeBack(ctx context.Context) error {
	last, ok := job.Last(t.events)
	if !t.back || !ok {
		return nil
	}
	if err := t.add(ctx, job.Withdrawn, job.WithdrawnBody{Event: last.ID, Why: "wrong point"}, 1); err != nil {
		return err
	}
	return t.take(ctx, t.tale.read[len(t.tale.read)-1], false)
}

// repair does the true repair.
func (t *telling) repair(ctx context.Context) error {
	if !t.mend {
		return nil
	}
	fault := t.player.hidden.vehicle.Fault.Faults[0]
	b := job.RepairBody{ID: "repair-1", Repair: t.prepared.System.Faults[fault].Repair, Cured: t.cured}
	if err := t.add(ctx, job.Repaired, b, 35); err != nil {
		return err
	}
	t.player.mend()
	return nil
}

func (t *telling) prove(ctx context.Context) error {
	b := job.ProvedBody{Covers: true, Leads: true, Readings: []string{}}
	for i, procedure := range advice.ProofReadings() {
		if i >= t.proof {
			b.Missing = append(b.Missing, procedure)
			continue
		}
		if err := t.take(ctx, procedure, false); err != nil {
			return err
		}
		b.Readings = append(b.Readings, t.job.Readings[len(t.job.Readings)-1].ID)
	}
	if !t.sign {
		return nil
	}
	return t.add(ctx, job.Proved, b, 2)
}

// hookUp leaves the job in the middle of a hook-up.
func (t *telling) hookUp(ctx context.Context) error {
	if t.toward == "" {
		return nil
	}
	_, way, err := t.way(t.toward)
	if err != nil {
		return err
	}
	b := job.RigBody{Rig: map[string]string{}}
	for i, m := range way.Steps {
		p := t.prepared.System.Rig.Places[m.Place]
		if i < t.lines {
			b.Rig[p.ID] = p.Positions[m.Move.To].ID
		}
	}
	return t.add(ctx, job.FoundRig, b, 4)
}

func (t *telling) rest(ctx context.Context) error {
	if t.waits.For == "" {
		return nil
	}
	return t.add(ctx, job.Waits, t.waits, 3)
}

func (t *telling) signOff(ctx context.Context) error {
	if !t.sign {
		return nil
	}
	at, err := t.book.Head(ctx)
	if err != nil {
		return err
	}
	stand, err := advice.Stand(ctx, t.input())
	if err != nil {
		return err
	}
	data, err := json.Marshal(sheets.Of(t.job, stand, len(t.events), version))
	if err != nil {
		return err
	}
	return t.add(ctx, job.Signed, job.SignedBody{Gone: "yes", Head: at.Sum.String(), Report: data}, 5)
}
