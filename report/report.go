package report

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"chargewright/advice"
	"chargewright/job"
)

// Format is the version of the data of a report.
const Format = 1

// Report is a job as a customer reads it. Its JSON form stands in the event of
// a signature.
type Report struct {
	Format    int       `json:"format"`
	Job       string    `json:"job,omitempty"`
	System    string    `json:"system"`
	SystemSHA string    `json:"system_sha256"`
	Practice  string    `json:"practice_sha256"`
	Vehicle   string    `json:"vehicle,omitempty"`
	Complaint string    `json:"complaint,omitempty"`
	Words     string    `json:"words,omitempty"`
	Title     string    `json:"title"`
	Wrong     []string  `json:"wrong"`
	Done      []string  `json:"done"`
	Before    []Pair    `json:"before_after"`
	Readings  []Reading `json:"readings"`
	Proof     string    `json:"proof"`
	Watch     []string  `json:"worth_watching"`
	Time      string    `json:"time"`
	Cost      string    `json:"cost"`
	CostNote  string    `json:"cost_note"`
	Assumed   []string  `json:"assumed"`
	Events    int       `json:"events"` // of the job that it rests on
	EventsSHA string    `json:"events_sha256,omitempty"`
	Engine    string    `json:"engine"`
}

// Reading is one value with its limit.
type Reading struct {
	Taken  string `json:"taken,omitempty"` // by the clock of who recorded it
	Name   string `json:"name"`
	Box    string `json:"box,omitempty"`
	Value  string `json:"value"`
	Doubt  string `json:"doubt,omitempty"`
	Limit  string `json:"limit,omitempty"`
	Source string `json:"source,omitempty"`
	Says   string `json:"says,omitempty"`
	Likely string `json:"likely_within,omitempty"`
	After  bool   `json:"after_repair"`
}

// Of makes the report of a job as it stands. Customer does it from a job's
// events.
func Of(j *job.Job, s *advice.Standing, events int, engine string) Report {
	return of(j, s, events, engine, nil)
}

func of(j *job.Job, s *advice.Standing, events int, engine string, zone *time.Location) Report {
	a := s.Advice
	r := Report{
		Format: Format, Job: j.ID, System: a.System.Name, SystemSHA: a.SystemHash, Practice: a.Practice, Vehicle: j.Vehicle.Note,
		Complaint: strings.ReplaceAll(j.Complaint.Kind, "-", " "), Words: j.Complaint.Words, Events: events, Engine: engine,
		Assumed: a.Assumed, Wrong: []string{}, Done: []string{}, Before: []Pair{}, Readings: []Reading{}, Watch: []string{},
	}
	r.wrong(s)
	for _, d := range j.Repairs {
		r.Done = append(r.Done, done(s, d))
	}
	r.readings(j, s, zone)
	r.pairs(s)
	r.proof(s)
	c := s.Cost()
	r.Time, r.Cost = c.SpentWords, c.Money
	r.CostNote = "estimated from the workshop's figures for each reading and repair, in its own currency"
	return r
}

// wrong says what was found: before any repair what is likeliest, after one what
// it cured.
func (r *Report) wrong(s *advice.Standing) {
	a := s.Advice
	r.Title = "Charging system: looked at"
	say := func(format string, args ...any) { r.Wrong = append(r.Wrong, fmt.Sprintf(format, args...)) }
	switch {
	case a.CameBack():
		r.Title = "Charging system: mended, and came back"
	case len(a.Repairs) > 0:
		r.Title = "Charging system: found and mended"
	}
	shown := 0
	for _, x := range a.Suspects {
		if shown == 2 || x.Probability < 0.1 {
			break
		}
		shown++
		switch {
		case x.Mended:
			say("%s: %s likely that this was it.", advice.Capital(x.Name), advice.Percent(x.Probability))
		default:
			say("%s: %s likely.", advice.Capital(x.Name), advice.Percent(x.Probability))
		}
	}
	for _, j := range a.Joints {
		say("%s: at full output it makes %.0f W of heat.", advice.Capital(j.Name), j.Watts)
	}
	if a.NoFault >= 0.1 {
		say("Nothing wrong with the charging system: %s likely.", advice.Percent(a.NoFault))
	}
	if a.NoneOfThese >= 0.1 {
		say("Something that is on no list: %s likely.", advice.Percent(a.NoneOfThese))
	}
	if len(r.Wrong) == 0 {
		say("Nothing was settled: no cause is likelier than one in ten.")
	}
}

func done(s *advice.Standing, d job.Repair) string {
	what := s.RepairName(d.RepairBody.Repair)
	if what == "" {
		what = d.What
	} else if d.What != "" {
		what += ": " + d.What
	}
	if d.Back {
		return advice.Sentence(what + "; the complaint came back")
	}
	return advice.Sentence(what + map[string]string{"yes": "; the complaint is gone", "no": "; the complaint was still there"}[d.Cured])
}

func (r *Report) readings(j *job.Job, s *advice.Standing, zone *time.Location) {
	taken := clocks(j, zone)
	for _, id := range s.Advice.Order {
		x := s.Advice.Readings[id]
		for i, v := range x.Values {
			line := Reading{Taken: taken[id], Name: x.Name, Box: v.Name, Value: v.Words(), Doubt: v.Doubt(), After: x.Epoch > 0 && x.Epoch == len(j.Repairs)}
			if i > 0 {
				line.Taken, line.Name = "", ""
			}
			if len(v.Limits) > 0 {
				l := v.Limits[0]
				line.Limit, line.Source, line.Says, line.Likely = l.Words(v.Dim), l.Origin(), v.Says(), advice.Percent(l.PWithin)
			}
			r.Readings = append(r.Readings, line)
		}
	}
}

// clocks are when the readings were taken, with the day where the job took more
// than one.
func clocks(j *job.Job, zone *time.Location) map[string]string {
	at, days := map[string]time.Time{}, map[string]bool{}
	for _, e := range j.Entries {
		if e.Kind != job.Took || e.Back || e.Recorded.IsZero() {
			continue
		}
		at[e.ID] = in(e.Recorded, zone)
		days[at[e.ID].Format(time.DateOnly)] = true
	}
	out := map[string]string{}
	for id, t := range at {
		out[id] = t.Format("15:04")
		if len(days) > 1 {
			out[id] = t.Format("2 Jan 15:04")
		}
	}
	return out
}

// in is a time in a zone; nil leaves it in its own.
func in(t time.Time, zone *time.Location) time.Time {
	if zone == nil {
		return t
	}
	return t.In(zone)
}

// pairs sets the readings of the proof beside those from before.
func (r *Report) pairs(s *advice.Standing) {
	if len(s.In.Repairs) > 0 {
		r.Before = pairs(s)
	}
}

func (r *Report) proof(s *advice.Standing) {
	if len(s.In.Repairs) == 0 {
		r.Proof = "No repair was recorded, so nothing was proved."
		return
	}
	taken, all := 0, 0
	for _, p := range s.Proof() {
		all++
		if p.After != nil {
			taken++
		}
	}
	if s.Advice.CameBack() {
		r.Proof = "The complaint came back after the last repair, so nothing is proved. "
	}
	r.Proof += fmt.Sprintf("%d of %d readings of the proof were taken after the last repair. With these readings it is %s likely that no fault on the list is left.", taken, all, s.Mended())
	for _, id := range s.Advice.Order {
		x := s.Advice.Readings[id]
		if x.Procedure == "battery-rest-volts" && len(x.Values) > 0 && x.Values[0].Says() == "Under the limit" {
			r.Watch = []string{"The battery rested at " + x.Values[0].Words() + ": drive it for a day or charge it, then have it looked at again."}
		}
	}
}

// Parse reads the data of a report that was signed.
func Parse(data []byte) (Report, error) {
	var r Report
	if err := json.Unmarshal(data, &r); err != nil {
		return r, fmt.Errorf("the report cannot be read: %w", err)
	}
	if r.Format != Format {
		return r, fmt.Errorf("the report is of format %d, and this program reads %d", r.Format, Format)
	}
	return r, nil
}
