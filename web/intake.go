package web

import (
	"cmp"
	"encoding/hex"
	"errors"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/journal"
	"chargewright/meter"
	"chargewright/system"
	"chargewright/unit"
	"chargewright/web/page"
)

// usualMeters are ticked to begin with: what hangs in every workshop (memory).
var usualMeters = []string{"dmm", "dc-clamp"}

var kindWords = map[string]string{
	"no-charge": "Does not charge", "low-charge": "Charges too little", "overcharge": "Charges too much", "flat-battery": "Goes flat", "other": "Something else",
}

func (s *Server) intakePage(w http.ResponseWriter, r *http.Request) {
	v := page.Intake{Hidden: s.hidden(0), Opened: s.Now().Format(time.RFC3339)}
	v.Job = s.nextNumber(r)
	var chosen *job.OpenedBody
	if id := r.URL.Query().Get("system"); id != "" {
		chosen = &job.OpenedBody{Meters: usualMeters, System: id} // from what was seen; one that is not there is not ticked
	}
	v.Looks = lookFields(looksIn(r.URL.Query()))
	s.showIntake(w, r, http.StatusOK, v, chosen)
}

// nextNumber proposes a job number: one more than the highest of the latest, and
// none that is taken.
func (s *Server) nextNumber(r *http.Request) string {
	list, _, err := s.Journal.Jobs(r.Context(), journal.Query{})
	if err != nil {
		return "" // the form can be filled in without
	}
	most := 0
	for _, l := range list {
		if n, err := strconv.Atoi(l.Job); err == nil {
			most = max(most, n)
		}
	}
	const tries = 100 // whoever has so many in a row writes the number himself
	for range tries {
		most++
		if same, err := s.Journal.Numbered(r.Context(), strconv.Itoa(most)); err != nil || len(same) == 0 {
			break
		}
	}
	return strconv.Itoa(most)
}

// twins says which jobs have the number already that a new one is to have, and
// asks whether it is meant.
func (s *Server) twins(r *http.Request, v *page.Intake, number, stream string) error {
	same, err := s.Journal.Numbered(r.Context(), number)
	if err != nil {
		return err
	}
	for _, l := range same {
		if l.Stream == stream { // this form, sent again
			return nil
		}
	}
	if len(same) == 0 || r.FormValue("twice") == number {
		return nil
	}
	for _, l := range same {
		v.Same = append(v.Same, jobLine(l, nil, stateOf(l)))
	}
	first := same[0]
	is := strings.Join(nonEmpty(v.Same[0].Vehicle, v.Same[0].Complaint, "opened "+first.Opened.In(s.Now().Location()).Format("2 January 2006"), strings.ToLower(stateNames[stateOf(first)])), "; ")
	v.Problems = append(v.Problems, page.Problem{Field: "job", Text: "Job " + number + " is there already: " + is + ". The next free number is " + s.nextNumber(r)})
	v.Twice = number
	return nil
}

// showIntake shows the form with everything that can be chosen.
func (s *Server) showIntake(w http.ResponseWriter, r *http.Request, code int, v page.Intake, b *job.OpenedBody) {
	all, _, err := s.systems.list(r.Context())
	if err != nil {
		s.broken(w, r, err)
		return
	}
	if b == nil {
		b = &job.OpenedBody{Meters: usualMeters}
		if len(all) == 1 {
			b.System = all[0].system.ID
		}
	}
	c := b.Complaint
	if c == nil {
		c = &job.Complaint{}
	}
	slices.SortStableFunc(all, func(a, b *kept) int { return cmp.Compare(a.system.Volts, b.system.Volts) }) // 24 V is rarer
	var chosen *system.System
	for _, k := range all {
		if k.system.ID == b.System {
			chosen = k.system
		}
		v.Systems = append(v.Systems, page.Choice{ID: k.system.ID, Text: k.system.Name, Note: unit.Format(unit.Volt, k.system.Volts), On: k.system.ID == b.System})
	}
	s.seenBefore(&v, chosen)
	for _, k := range job.ComplaintKinds {
		v.Kinds = append(v.Kinds, page.Choice{ID: k, Text: kindWords[k], On: k == c.Kind})
	}
	v.When = spoken(system.Occasions, c.When)
	v.Before = spoken(job.BeforeWords, c.Before)
	v.Noticed = spoken(job.NoticedWords, c.Noticed)
	v.Use = spoken(job.UseWords, c.Use)
	for _, m := range meter.Catalogue() {
		v.Meters = append(v.Meters, page.Choice{ID: m.ID, Text: advice.Capital(m.Name), On: slices.Contains(b.Meters, m.ID)})
	}
	s.show(w, r, code, page.IntakePage(s.shell(r, "New job"), v))
}

func spoken(words, on []string) []page.Choice {
	var out []page.Choice
	for _, w := range words {
		out = append(out, page.Choice{ID: w, Text: advice.Capital(strings.ReplaceAll(w, "-", " ")), On: slices.Contains(on, w)})
	}
	return out
}

// intake opens a job.
func (s *Server) intake(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.tooMuch(w, r)
		return
	}
	h, err := carried(r)
	if err != nil {
		s.sorry(w, r, http.StatusBadRequest, "This was not taken", advice.Sentence(err.Error()))
		return
	}
	v := intakeOf(r, h)
	b, k := s.opening(r, &v)
	looksRead(r, &v)
	stream := "j-" + h.Event
	s.opens.Lock() // two devices are proposed the same number: one of them is asked
	defer s.opens.Unlock()
	if err := s.twins(r, &v, b.Job, stream); err != nil {
		s.broken(w, r, err)
		return
	}
	if len(v.Problems) > 0 {
		s.showIntake(w, r, http.StatusUnprocessableEntity, v, &b)
		return
	}
	var reused *journal.Reused
	switch err := s.openJob(r, stream, h, v, b, k); {
	case errors.As(err, &reused):
		s.openedBefore(w, r, stream, v, &b)
	case err != nil:
		s.broken(w, r, err)
	default:
		http.Redirect(w, r, "/jobs/"+stream, http.StatusSeeOther)
	}
}

// intakeOf is what was typed into the form of a new job.
func intakeOf(r *http.Request, h page.Hidden) page.Intake {
	return page.Intake{
		Hidden: h, Opened: r.FormValue("opened"), Job: r.FormValue("job"), Customer: r.FormValue("customer"), Plate: r.FormValue("plate"),
		Contact: r.FormValue("contact"), Volts: r.FormValue("volts"), Note: r.FormValue("note"), Words: r.FormValue("words"), Ambient: r.FormValue("ambient"),
		Looks: lookFields(looksIn(r.Form)),
	}
}

// openedBefore shows a form again that opened a job with something else in it:
// sent once more it opens another one.
func (s *Server) openedBefore(w http.ResponseWriter, r *http.Request, stream string, v page.Intake, b *job.OpenedBody) {
	l, err := s.Journal.Line(r.Context(), stream)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	v.Hidden = s.hidden(0)
	v.Same = []page.JobLine{jobLine(l, nil, stateOf(l))}
	v.Problems = page.Problems{{Field: "job", Text: "This form was sent before and opened job " + v.Same[0].ID + ", with something else in it. As it stands now it would open another job: give it a number of its own, such as " + s.nextNumber(r)}}
	s.showIntake(w, r, http.StatusConflict, v, b)
}

func (s *Server) openJob(r *http.Request, stream string, h page.Hidden, v page.Intake, b job.OpenedBody, k *kept) error {
	ctx := r.Context()
	if err := s.Journal.Keep(ctx, journal.Sum(k.system.SHA256), k.system.Source); err != nil {
		return err
	}
	customer := func() error { return nil }
	if v.Customer != "" || v.Plate != "" || v.Contact != "" {
		b.Customer = "c-" + h.Event
		customer = func() error {
			return s.Journal.SetCustomer(ctx, journal.Customer{ID: b.Customer, Name: v.Customer, Plate: v.Plate, Contact: v.Contact})
		}
	}
	events, err := s.beginning(r, h, b, k)
	if err != nil {
		return err
	}
	// A new job's customer comes first, so that none is lost. A form that was sent
	// before writes no customer unless it opens the same job.
	_, err = s.Journal.Line(ctx, stream)
	known := err == nil
	if !known {
		if err := customer(); err != nil {
			return err
		}
	}
	if _, err = s.Journal.Append(ctx, stream, 0, events); err == nil && known {
		err = customer()
	}
	return err
}

// beginning is how a job begins: its opening, and where somebody looked what is
// fitted, what was seen.
func (s *Server) beginning(r *http.Request, h page.Hidden, b job.OpenedBody, k *kept) ([]job.Event, error) {
	e, err := s.event(r, h, job.Opened, b)
	if err != nil {
		return nil, err
	}
	seen, err := identifiedBy(k.system, looksIn(r.Form))
	if seen == nil || err != nil {
		return []job.Event{e}, err
	}
	h.Event += "-2"
	i, err := s.event(r, h, job.Identified, seen)
	return []job.Event{e, i}, err
}

// opening reads the form; its problems stand in v.
func (s *Server) opening(r *http.Request, v *page.Intake) (job.OpenedBody, *kept) {
	say := func(field, text string) { v.Problems = append(v.Problems, page.Problem{Field: field, Text: text}) }
	b := job.OpenedBody{Job: strings.TrimSpace(v.Job), System: r.FormValue("system"), Meters: known(r.Form["meter"], instruments())}
	b.Vehicle.Note = strings.TrimSpace(v.Note)
	c := &job.Complaint{Kind: r.FormValue("kind"), Words: strings.TrimSpace(v.Words)}
	c.When, c.Before, c.Noticed = known(r.Form["when"], system.Occasions), known(r.Form["before"], job.BeforeWords), known(r.Form["noticed"], job.NoticedWords)
	c.Use = known(r.Form["use"], job.UseWords)
	b.Complaint = c
	if !slices.Contains(job.ComplaintKinds, c.Kind) {
		say("kind", "Choose what the driver says; “something else” will do")
	}
	k, err := s.systems.find(r.Context(), b.System)
	if err != nil {
		say("system", "Choose the charging system")
	} else {
		b.SHA256 = hex.EncodeToString(k.system.SHA256[:])
	}
	if len(b.Meters) == 0 {
		say("meters", "Tick at least one meter: without one there is nothing to read")
	}
	if b.Opened, err = time.Parse(time.RFC3339, v.Opened); err != nil {
		b.Opened = time.Time{}
	}
	if v.Volts != "" {
		b.Vehicle.Volts, err = quantity(v.Volts, "V", unit.Volt)
		switch {
		case err != nil:
			say("volts", refusal(err))
		case b.Vehicle.Volts <= 0:
			say("volts", "A nominal voltage is above 0. Write 12 V or 24 V")
		case k != nil && b.Vehicle.Volts != k.system.Volts:
			say("volts", "The vehicle has "+unit.Format(unit.Volt, b.Vehicle.Volts)+" and the system chosen is for "+unit.Format(unit.Volt, k.system.Volts)+". Choose another system or correct the volts")
		}
	}
	if v.Ambient != "" {
		kelvin, err := quantity(v.Ambient, "degC", unit.Kelvin)
		switch {
		case err != nil:
			say("ambient", refusal(err))
		case kelvin < unit.FromCelsius(-60) || kelvin > unit.FromCelsius(60):
			say("ambient", "Nobody works at "+unit.Format(unit.Kelvin, kelvin)+". Write the air's temperature, such as 18 °C")
		default:
			b.Conditions = &job.Conditions{Ambient: &kelvin}
		}
	}
	for _, f := range []struct{ field, text string }{{"job", v.Job}, {"note", v.Note}, {"words", v.Words}, {"customer", v.Customer}, {"plate", v.Plate}, {"contact", v.Contact}} {
		if long := tooLong(f.text); long != "" {
			say(f.field, long)
		}
	}
	return b, k
}

var bareNumber = regexp.MustCompile(`^[+\-−]?[0-9]+([.,][0-9]+)?$`)

// quantity reads a number that may stand without its usual unit.
func quantity(text, symbol string, dim unit.Dim) (float64, error) {
	text = strings.TrimSpace(text)
	if bareNumber.MatchString(text) {
		text += " " + symbol
	}
	return unit.Parse(dim, text)
}

func instruments() []string {
	var out []string
	for _, m := range meter.Catalogue() {
		out = append(out, m.ID)
	}
	return out
}

// known keeps what is on a list.
func known(given, list []string) []string {
	var out []string
	for _, g := range given {
		if slices.Contains(list, g) && !slices.Contains(out, g) {
			out = append(out, g)
		}
	}
	return out
}
