package system_test

import (
	"crypto/sha256"
	"math"
	"os"
	"testing"

	"chargewright/system"
)

func TestLibraryLoads(t *testing.T) {
	ids := system.Library()
	if len(ids) == 0 {
		t.Fatal("the library is empty")
	}
	for _, id := range ids {
		s, err := system.ByID(id)
		if err != nil {
			t.Errorf("%s:\n%v", id, err)
			continue
		}
		if s.SHA256 != sha256.Sum256(s.Source) {
			t.Errorf("%s: the hash is not that of the bytes", id)
		}
		t.Logf("%s: %d points, %d elements, %d params, %d places, %d faults, %d limits, %d cautions",
			id, len(s.Points), len(s.Elements), len(s.Params), len(s.Rig.Places), len(s.Faults), len(s.Limits), len(s.Cautions))
	}
	if _, err := system.DefaultPractice(); err != nil {
		t.Error(err)
	}
	if _, err := system.ByID("no-such-system"); err == nil {
		t.Error("a system that is not there was loaded")
	}
}

// TestValuesInSI holds what is read against the file's own figures, converted
// by hand.
func TestValuesInSI(t *testing.T) {
	data, err := os.ReadFile("testdata/good/small.yaml")
	if err != nil {
		t.Fatal(err)
	}
	s, err := system.Parse("small.yaml", data)
	if err != nil {
		t.Fatal(err)
	}
	element := func(id string) system.Element {
		for _, e := range s.Elements {
			if e.ID == id {
				return e
			}
		}
		t.Fatalf("no element %s", id)
		return system.Element{}
	}
	// closed form: 1/58 Ohm mm2/m, 2 m, 4 mm2
	wire := 2.0 / 58 / 4
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"joint", element("j-out").Median, 1e-3},
		{"wire", element("w-spare").Median, wire},
		{"gap left open", element("g-jumper").Median, system.OpenOhms},
		{"1250 rpm", s.Machine.RatedEngine, 1250 * 2 * 3.141592653589793 / 60},
		{"55 Ah", s.Battery.AmpHours, 55},
		{"slope", s.Params[9].Median, -0.010},
		{"times-magnitude has no unit", s.Faults[2].Magnitude.Low, 0.3},
		{"magnitude", s.Faults[1].Magnitude.High, 2},
		{"limit", *s.Limits[0].Low, 13.8},
		{"limit's slope", s.Limits[0].PerKelvin, -0.010},
	} {
		// Both sides are a few roundings of the same product.
		if math.Abs(c.got-c.want) > 1e-12*math.Abs(c.want) {
			t.Errorf("%s: %v, want %v", c.name, c.got, c.want)
		}
	}
	engine := s.Rig.Places[0]
	if need := engine.Moves[0].Needs[0]; need.Place != 1 || len(need.Positions) != 1 || need.Positions[0] != 0 {
		t.Errorf("condition resolved to %+v, want place 1, position 0", need)
	}
	if sets := s.Rig.Places[1].Positions[1].Sets; !sets[0].Closed || sets[1].Add != 0.010 {
		t.Errorf("sets read as %+v", sets)
	}
	if !element("lamp").Off || element("j-out").Off {
		t.Error("only the lamp is off")
	}
	if v, ok := s.Nominal("machine.slip"); v != 0 || !ok {
		t.Errorf("slip that the file does not give is %v, want the model's nominal 0", v)
	}
	if v, ok := s.Nominal("battery.r0"); math.Abs(v-6.5e-3) > 1e-15 || !ok {
		t.Errorf("battery.r0 is %v", v)
	}
	if _, ok := s.Nominal("battery.colour"); ok {
		t.Error("an unknown parameter has a nominal value")
	}
}

// TestSameIDSameThing: an id means the same thing in every shipped system, so
// that a procedure can go by it: cautions word for word, elements by kind, places
// by role, faults by part.
func TestSameIDSameThing(t *testing.T) {
	said := map[string]string{}
	same := func(system, kind, id, what string) {
		key := kind + " " + id
		if before, ok := said[key]; ok && before != what {
			t.Errorf("%s: %s is %q here and %q elsewhere", system, key, what, before)
		}
		said[key] = what
	}
	for _, id := range system.Library() {
		s, err := system.ByID(id)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range s.Cautions {
			same(id, "caution", c.ID, c.Text)
		}
		for _, e := range s.Elements {
			same(id, "element", e.ID, string(e.Kind))
		}
		for _, p := range s.Rig.Places {
			same(id, "place", p.ID, p.Role)
		}
		for _, f := range s.Faults {
			same(id, "fault", f.ID, f.Part)
		}
	}
}

// TestPracticeForEach: a system with rates of its own has none of the base's, and
// the base's repairs where it gives none.
func TestPracticeForEach(t *testing.T) {
	base, err := system.DefaultPractice()
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range system.OwnPractice() {
		own, err := system.PracticeFor(id)
		if err != nil {
			t.Fatal(err)
		}
		s, err := system.ByID(id)
		if err != nil {
			t.Errorf("practice figures for %s, which is no system", id)
			continue
		}
		rated := 0
		for _, f := range s.Faults {
			if _, ok := own.Rates[f.ID]; ok {
				rated++
			}
		}
		if rated != len(own.Rates) || rated == 0 {
			t.Errorf("%s: %d rates, %d of them of its faults", id, len(own.Rates), rated)
		}
		if own.Repairs["fit-belt"].Attended != base.Repairs["fit-belt"].Attended || own.Labour != base.Labour {
			t.Errorf("%s: belt or labour are not the base's", id)
		}
		if own.SHA256 == base.SHA256 || len(own.Orders) == 0 {
			t.Errorf("%s: the hash does not tell its own file, or it has no order", id)
		}
	}
	if p, err := system.PracticeFor("a-system-of-ones-own"); err != nil || p.SHA256 != base.SHA256 {
		t.Errorf("a system without figures of its own: %v", err)
	}
	if _, err := system.ForArrangement(base, "half.yaml", []byte("format: 1\nname: x\n")); err == nil {
		t.Error("an arrangement without rates was taken")
	}
}
