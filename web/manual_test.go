package web

import (
	"html"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"reflect"
	"strings"
	"testing"

	"chargewright/fit"
	"chargewright/internal/yamlread"
	"chargewright/system"
)

// demoManual is examples/figures-demo.yaml as somebody types it into the form, but for its wires.
func demoManual() url.Values {
	out := url.Values{
		"template": {"isolated-earth-side"}, "id": {"van-55a"}, "name": {"Invented van, 55 A, isolated field, regulator on the earth side"},
		"manual": {"workshop manual of the invented van"}, "basis": {"invented"},
	}
	boxes := map[int]map[string]string{
		0:  {"pole-pairs": "6", "pulley-ratio": "2.1", "page": "12-3"},
		1:  {"amps": "20", "tolerance": "8", "volts": "14 V", "speed": "1700", "whose": "alternator", "windings": "cold", "page": "12-4"},
		2:  {"amps": "55 A", "tolerance": "5 %", "volts": "14", "speed": "6000 rpm", "whose": "alternator", "windings": "cold", "page": "12-4"},
		3:  {"amps": "at least 38", "volts": "14", "speed": "1500", "whose": "engine", "windings": "hot", "page": "12-9"},
		4:  {"speed": "1150", "whose": "alternator", "tolerance": "5", "volts": "13", "windings": "cold", "page": "12-4"},
		5:  {"amps": "3,0 to 3,5 A", "volts": "12", "temperature": "20", "page": "12-6"},
		6:  {"ohms": "3.5", "tolerance": "5", "temperature": "20", "page": "12-6"},
		8:  {"volts": "13.9 to 14.5", "temperature": "25", "at": "battery", "page": "12-8"},
		9:  {"capacity": "66", "page": "12-1"},
		10: {"amps": "330", "tolerance": "10", "standard": "sae", "page": "12-1"},
	}
	for n, of := range boxes {
		for key, v := range of {
			out.Set(manualSections[n].field(n, &manualBox{key: key}), v)
		}
	}
	return out
}

func figuresIn(form url.Values) *figuresFile {
	r := httptest.NewRequest(http.MethodPost, "/systems/fit", strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return figuresOf(r)
}

// TestFormIsTheFile: the form filled in as the example's figures stand says just what the example's file
// says.
func TestFormIsTheFile(t *testing.T) {
	text, err := os.ReadFile("../examples/figures-demo.yaml")
	if err != nil {
		t.Fatal(err)
	}
	want, err := fit.Parse("figures-demo.yaml", text, system.ByID)
	if err != nil {
		t.Fatal(err)
	}
	f := figuresIn(demoManual())
	got, err := fit.Parse("the form", []byte(f.text.String()), system.ByID)
	if err != nil {
		t.Fatalf("%v\n%s", err, f.text.String())
	}
	if lines := strings.Count(f.text.String(), "\n"); lines != len(f.of) {
		t.Errorf("%d lines, and boxes of %d", lines, len(f.of))
	}
	if got.ID != want.ID || got.PolePairs != want.PolePairs || got.PulleyRatio != want.PulleyRatio || got.AmpHours != want.AmpHours {
		t.Errorf("the form says %s, %d, %g, %g", got.ID, got.PolePairs, got.PulleyRatio, got.AmpHours)
	}
	by := map[string]*fit.Figure{}
	for i := range got.List {
		x := &got.List[i]
		by[string(x.Kind)+x.Page+x.Given()] = x
	}
	for i := range want.List {
		w := want.List[i]
		x := by[string(w.Kind)+w.Page+w.Given()]
		if x == nil {
			t.Errorf("the form lacks %s %s: %v", w.Kind, w.Given(), by)
			continue
		}
		g := *x
		g.ID, g.Pos, w.ID, w.Pos = "", yamlread.Pos{}, "", yamlread.Pos{}
		if !reflect.DeepEqual(g, w) {
			t.Errorf("%s: the form says %+v, the file %+v", w.Kind, g, w)
		}
	}
}

// TestManualOnThePage: the figures give a machine, and its file can be kept; what is wrong is said at
// its box, everything at once.
func TestManualOnThePage(t *testing.T) {
	s := theShop(t)
	a := s.ask(t, http.MethodPost, "/systems/fit", demoManual()).want(t, 200, "A machine with these figures was found", "12-4", "id: van-55a", "Check and keep")
	keep := a.form(t, "/systems")
	_, source, _ := strings.Cut(a.body, `autocomplete="off">`)
	source, _, _ = strings.Cut(source, "</textarea>")
	keep.Set("source", html.UnescapeString(source))
	s.ask(t, http.MethodPost, "/systems", keep).want(t, 303)
	s.get(t, "/systems/van-55a").want(t, 200, "the workshop&#39;s own")

	wrong := demoManual()
	wrong.Set(manualSections[1].field(1, &manualBox{key: "amps"}), "lots")
	wrong.Set(manualSections[6].field(6, &manualBox{key: "page"}), "")
	wrong.Set("id", "isolated-earth-side")
	s.ask(t, http.MethodPost, "/systems/fit", wrong).want(t, 422, "lots", "id=\"outputs-1-amps-wrong\"", "id=\"id-wrong\"", "rotor-6-ohms-wrong", "Write instead")
	s.ask(t, http.MethodPost, "/systems/fit", url.Values{}).want(t, 422, "Nothing was recorded", "template")
}

// FuzzManual: whatever is typed, the file has a box for every line and is read or refused.
func FuzzManual(f *testing.F) {
	f.Add(uint8(1), "20 A", "3 to 4")
	f.Add(uint8(5), "at least 3\n- x: {", "\"}\u2028")
	f.Fuzz(func(t *testing.T, section uint8, x, y string) {
		n := int(section) % len(manualSections)
		form := demoManual()
		for i := range manualSections[n].boxes {
			form.Set(manualSections[n].field(n, &manualSections[n].boxes[i]), []string{x, y}[i%2])
		}
		file := figuresIn(form)
		if lines := strings.Count(file.text.String(), "\n"); lines != len(file.of) {
			t.Fatalf("%d lines, and boxes of %d: %q", lines, len(file.of), file.text.String())
		}
		_, err := fit.Parse("the form", []byte(file.text.String()), system.ByID)
		if err != nil && len(file.problemsOf(err)) == 0 {
			t.Fatal("refused without a word")
		}
	})
}
