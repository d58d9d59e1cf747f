package job_test

import (
	"math"
	"slices"
	"testing"

	"chargewright/job"
)

// FuzzFold: whatever stands in an event, as a file of another workshop may hold it, the fold
// takes it or refuses it, and what it takes can be asked about.
func FuzzFold(f *testing.F) {
	list, s := events(f), shelf(f)
	for i, e := range list {
		f.Add(uint8(i), string(e.Kind), e.Body)
	}
	for kind, body := range map[job.Kind]string{
		job.Corrected: `{"id":"r1","why":"misread","values":[{"how":"measured","x":12.1}]}`, job.Repaired: `{"repair":"clean-clamps","cured":"no"}`,
		job.Signed: `{"gone":"yes","head":"","report":{}}`, job.Withdrawn: `{"event":""}`, job.Proved: `{"readings":["r1"]}`, job.Waits: `{"for":"part"}`,
		job.Reopened: `{"why":"came back","complaint":"back"}`, job.Identified: `{"system":"isolated-earth-side","looks":[{"ask":"Where?","say":"there"}],"probability":0.5}`,
		job.Took: `{"id":"r1","quantity":"volts","between":["stud","batp"],"values":[{"how":"between","lo":1,"hi":2}]}`,
	} {
		f.Add(uint8(len(list)-1), string(kind), []byte(body))
	}
	f.Fuzz(func(t *testing.T, at uint8, kind string, body []byte) {
		changed := slices.Clone(list)
		k := int(at) % len(changed)
		changed[k].Kind, changed[k].Body = job.Kind(kind), body
		j, err := job.Fold(changed, s)
		if err != nil {
			return
		}
		for _, r := range j.Readings {
			if len(r.Values) != len(r.Question.Seek) {
				t.Errorf("%s: %d values for %d observables", r.ID, len(r.Values), len(r.Question.Seek))
			}
			for _, v := range r.Values {
				if sum := v.X + v.Lo + v.Hi; math.IsNaN(sum) || math.IsInf(sum, 0) {
					t.Errorf("%s holds %+v", r.ID, v)
				}
			}
		}
		_ = j.Input(s.Practice, s.Catalogue)
	})
}
