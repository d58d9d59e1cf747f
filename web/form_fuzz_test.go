package web

import (
	"math"
	"net/url"
	"testing"

	"chargewright/question"
)

// FuzzEntry: whatever a device sends as a reading, every box has a value that is a number or
// a problem in words, the form can be shown again, and what is done on a job is read back
// as it is written.
func FuzzEntry(f *testing.F) {
	for _, s := range [][5]string{
		{"12,41", "V", "", "", "do:charge-volts"},
		{"over", "A", "over", "", "free:volts:stud:batp"},
		{"0.5 to 0.7", "mV", "under", "again", "amps:w-charge"},
		{"1e309", "V", "", "12 V", "mend:x"},
		{"sound", "", "over", "\x00", ":::"},
		{"again", "Ω", "", "-", "free:ohms:"},
	} {
		f.Add(s[0], s[1], s[2], s[3], s[4])
	}
	seek := []question.Observable{
		{Kind: question.Volts, Note: "volts"},
		{Kind: question.Amps, Note: "amps", Optional: true},
		{Kind: question.Speed, Note: "engine speed"},
		{Kind: question.Look, Note: "belt", Classes: []string{"sound", "slack"}},
	}
	f.Fuzz(func(t *testing.T, text, symbol, how, low, what string) {
		form := url.Values{"key": {what}, "sure": {how}, "showing": {how}}
		for _, n := range []string{"0", "1", "2", "3"} {
			form.Set("v"+n, text)
			form.Set("u"+n, symbol)
			form.Set("how"+n, how)
		}
		form.Set("lo2", low)
		form.Set("is1", low)
		got := fill(form, seek, nil)
		if len(got.values) != len(seek) || len(got.texts) != len(seek) {
			t.Fatalf("%d values, %d texts of %d boxes", len(got.values), len(got.texts), len(seek))
		}
		wrong := map[string]bool{}
		for _, p := range got.problems {
			wrong[p.Field] = true
			if p.Text == "" {
				t.Error("refused without a word")
			}
		}
		for i, v := range got.values {
			box := "v" + string(rune('0'+i))
			if !wrong[box] && (v.How == "" || math.IsNaN(v.X+v.Lo+v.Hi) || math.IsInf(v.X+v.Lo+v.Hi, 0)) {
				t.Errorf("box %s holds %+v and nothing is said of it", box, v)
			}
		}
		_, _ = typed(form), fields(form)
		if k := parseKey(what); parseKey(k.String()) != k && k.red+k.black != "" {
			t.Errorf("%q is %+v, and read back %+v", what, k, parseKey(k.String()))
		}
	})
}
