package report_test

import (
	"bytes"
	"encoding/json"
	"testing"

	"chargewright/report"
)

// FuzzParse: whatever a signature of another workshop holds, the sheet is refused or can be
// printed and is read back as it is written.
func FuzzParse(f *testing.F) {
	data, err := json.Marshal(sampleReport())
	if err != nil {
		f.Fatal(err)
	}
	f.Add(data)
	f.Add([]byte(`{"format":1,"readings":[{}],"before":[{"scale":{}}]}`))
	f.Add([]byte(`{"format":1,"before":[{"name":"x","scale":{"low":-1e308,"high":1e308,"before":7,"after":-3}}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := report.Parse(data)
		if err != nil {
			return
		}
		written, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		again, err := report.Parse(written)
		if err != nil {
			t.Fatal(err)
		}
		if twice, err := json.Marshal(again); err != nil || !bytes.Equal(twice, written) {
			t.Errorf("read back it is %s, it was %s (%v)", twice, written, err)
		}
		var b bytes.Buffer
		if err := report.PDF(&b, r, report.Cover{}); err != nil {
			t.Logf("not printed: %v", err)
		}
	})
}
