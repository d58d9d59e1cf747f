package web

import (
	"html"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"chargewright/fit"
	"chargewright/internal/yamlread"
	"chargewright/system"
	"chargewright/unit"
)

// demoManual is examples/figures-demo.yaml as somebody types it into the form.
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
		11: {"wire": "w-charge", "area": "8 AWG", "length": "2.2", "page": "15-2"},
		12: {"wire": "w-earth", "area": "25", "length": "0,45 m", "page": "15-2"},
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
	if len(got.Wires) != len(want.Wires) {
		t.Fatalf("the form has %d wires, the file %d", len(got.Wires), len(want.Wires))
	}
	for i, w := range want.Wires {
		if g := got.Wires[i]; g.ID != w.ID || g.Area != w.Area || g.Length != w.Length || g.Page != w.Page {
			t.Errorf("the form says wire %+v, the file %+v", g, w)
		}
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
	a := s.ask(t, http.MethodPost, "/systems/fit", demoManual()).want(t, 200, "A machine with these figures was found", "of its tolerance below", "±", "Amps over the alternator&#39;s speed, at 14 V", `class="run" d="M0.0`, `class="ring"`, "12-4", "id: van-55a", "Check and keep")
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
	s.ask(t, http.MethodPost, "/systems/fit", wrong).want(t, 422, "lots", "id=\"outputs-1-amps-wrong\"", "id=\"id-wrong\"", "rotor-6-page-wrong", "Write instead")
	s.ask(t, http.MethodPost, "/systems/fit", url.Values{}).want(t, 422, "Nothing was recorded", "Wired like")
}

// TestFieldAndCutInInBoxes: how the field is held and from how many amps on output counts as
// begun reach the figures.
func TestFieldAndCutInInBoxes(t *testing.T) {
	form := demoManual()
	form.Set("outputs-1-field", "2,5 A")
	form.Set("outputs-2-field", "12 V")
	form.Set("cut-in-4-amps", "2")
	x, err := fit.Parse("the form", []byte(figuresIn(form).text.String()), system.ByID)
	if err != nil {
		t.Fatal(err)
	}
	var said []string
	for i := range x.List {
		f := &x.List[i]
		switch {
		case f.FieldAmps != nil:
			said = append(said, f.ID+" "+unit.Format(unit.Amp, *f.FieldAmps))
		case f.FieldVolt != nil:
			said = append(said, f.ID+" "+unit.Format(unit.Volt, *f.FieldVolt))
		case f.Kind == fit.CutIn:
			said = append(said, f.ID+" "+unit.Format(unit.Amp, f.Amps))
		}
	}
	if want := []string{"output-1 2.5 A", "output-2 12 V", "cut-in-speed 2 A"}; !slices.Equal(said, want) { // closed form: what was typed
		t.Errorf("the figures say %q, want %q", said, want)
	}
}

// TestManualWires: the wires to pick from are those of the template; another template
// keeps what was typed, shows a wire that it lacks as such, and fits nothing yet.
func TestManualWires(t *testing.T) {
	s := theShop(t)
	s.get(t, "/systems/fit?template=isolated-earth-side").want(t, 200, "charge wire", `id="wires-11"`)
	other := demoManual()
	other.Set("template", "supply-side-contact")
	other.Set("wires-11-wire", "w-coach")
	other.Set("wires", "wires")
	s.ask(t, http.MethodPost, "/systems/fit", other).want(t, 200, "w-coach, which this system has not", `value="8 AWG"`, "workshop manual of the invented van").without(t, "A machine with these figures")
	other.Del("wires")
	s.ask(t, http.MethodPost, "/systems/fit", other).want(t, 422, `id="wires-11-wire-wrong"`, "no wire")
}

// TestManualWords: what is wrong is said by the names of the boxes, at the box, and
// nothing of how the file is written.
func TestManualWords(t *testing.T) {
	s := theShop(t)
	for what, c := range map[string]struct {
		change func(url.Values)
		want   []string
	}{
		"nothing at all":     {func(f url.Values) { clear(f) }, []string{"Output 1 is empty", `id="name-wrong"`, "“Short name of its file” is empty", `id="id-wrong"`}},
		"no volts":           {func(f url.Values) { f.Del("outputs-1-volts") }, []string{"Output 1: “At volts” is empty", `id="outputs-1-volts-wrong"`}},
		"no tolerance":       {func(f url.Values) { f.Del("outputs-2-tolerance") }, []string{"Output 2: “Tolerance” is empty", `id="outputs-2-tolerance-wrong"`}},
		"no speed":           {func(f url.Values) { f.Del("outputs-1-speed") }, []string{"Output 1: the speed is empty", `id="outputs-1-speed-wrong"`, "Write instead: 2875 rpm"}},
		"no ratio":           {func(f url.Values) { f.Del("machine-0-pulley-ratio") }, []string{`id="machine-0-pulley-ratio-wrong"`}},
		"a field of nothing": {func(f url.Values) { f.Set("outputs-1-field", "2.5") }, []string{`id="outputs-1-field-wrong"`, "2.5 A, or 12 V"}},
		"fed inside":         {func(f url.Values) { f.Set("template", "lamp-excited") }, []string{`id="outputs-1-less-field-wrong"`}},
		"a wire of no name":  {func(f url.Values) { f.Del("wires-11-wire") }, []string{`id="wires-11-wire-wrong"`, "Wire 1: “Which” is empty"}},
		"no length":          {func(f url.Values) { f.Set("wires-12-length", "long") }, []string{`id="wires-12-length-wrong"`, "Wire 2: "}},
		"begins at nothing":  {func(f url.Values) { f.Set("cut-in-4-amps", "0") }, []string{`id="cut-in-4-amps-wrong"`, "Where output begins: "}},
	} {
		form := demoManual()
		c.change(form)
		a := s.ask(t, http.MethodPost, "/systems/fit", form).want(t, 422, c.want...)
		clean(t, a.body)
		for _, m := range wrongText.FindAllStringSubmatch(a.body, -1) {
			if fileWords.MatchString(html.UnescapeString(m[1])) {
				t.Errorf("%s: said as of a file: %s", what, html.UnescapeString(m[1]))
			}
		}
	}
}

var (
	wrongText = regexp.MustCompile(`<li><a href="#[^"]*">([^<]*)</a>`)
	fileWords = regexp.MustCompile(`[{}]|\b(?:amps|volts|ohms|alternator|engine|field|tolerance|page|windings|area|length|wire): |less-field|(?:output|rotor|cut-in|regulated)-[a-z0-9]|, line [0-9]`)
)

// TestManualContradiction: figures that do not go together are told by what they are, and
// there is no file until it is asked for all the same.
func TestManualContradiction(t *testing.T) {
	s := theShop(t)
	form := demoManual()
	form.Set("rotor-6-ohms", "9")
	a := s.ask(t, http.MethodPost, "/systems/fit", form).want(t, 200, "contradict each other", "Missed, ", "Show its file all the same").without(t, "Check and keep")
	clean(t, a.body)
	told := a.body[strings.Index(a.body, "contradict each other"):strings.Index(a.body, "The manual")]
	if fileWords.MatchString(strings.TrimSpace(told)) || strings.Contains(told, "rotor-") {
		t.Errorf("told as of a file: %s", firstWords(told))
	}
	form.Set("anyway", "1")
	s.ask(t, http.MethodPost, "/systems/fit", form).want(t, 200, "Check and keep", "CONTRADICTION")
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
