package advice

import (
	"context"
	"strings"
	"testing"

	"chargewright/question"
)

// A value that no meter of the job shows was recorded all the same: the job goes on,
// the value is judged by no limit, and is the first to be doubted.
func TestMoreThanTheMeterShows(t *testing.T) {
	p := ready(t)
	d, err := p.Shared("no-charge")
	if err != nil {
		t.Fatal(err)
	}
	readings := []question.Reading{}
	for i, x := range []struct {
		procedure string
		values    []float64
	}{{"battery-rest-volts", []float64{12500}}, {"charge-volts", []float64{12.2, 0}}} {
		for k, proc := range d.Board.Procs {
			if proc.ID != x.procedure {
				continue
			}
			r := question.Reading{ID: string(rune('a' + i)), Question: d.Board.Question(k, day)}
			for _, v := range x.values {
				r.Values = append(r.Values, question.Value{How: question.Measured, X: v})
			}
			readings = append(readings, r)
		}
	}
	a, err := Ask(context.Background(), Input{Prepared: p, Settings: p.setting, Complaint: "no-charge", Readings: readings, Day: day})
	if err != nil {
		t.Fatal(err)
	}
	r := a.Readings["a"]
	if len(r.Values[0].Limits) > 0 || !strings.Contains(strings.Join(r.Values[0].Notes, " "), "600") {
		t.Errorf("%+v", r.Values[0])
	}
	if r.PWrong < 0.5 || !r.Unexplained {
		t.Errorf("12500 V are held to be wrong with %.2f", r.PWrong)
	}
}
