package job

import "testing"

// TestBackIsTestedAgain: where a repair was said to have cured it and was read good, the
// proof comes next, also when the job is reopened for another reason. When the complaint
// is back, a test does, and the cause that was mended has less.
func TestBackIsTestedAgain(t *testing.T) {
	shelf, err := library()
	if err != nil {
		t.Fatal(err)
	}
	const log = `format: 1
system: isolated-earth-side
complaint: {kind: low-charge}
conditions: {ambient: 18 degC}
log:
  - battery-rest-volts: 12.25 V
  - charge-volts: [13.2 V, 9 A]
  - repair: {repair: fit-rectifier, cured: yes}
  - charge-volts: [14.15 V, 9 A]
  - loaded-output: [13.9 V, 26 A]
`
	left := map[string]float64{}
	for _, reopened := range []string{"", "{why: a slip}", "{why: a slip, complaint: not-back}", "{why: dim again, complaint: back}"} {
		text, back := log, reopened == "{why: dim again, complaint: back}"
		if reopened != "" {
			text += "  - reopened: " + reopened + "\n"
		}
		j, err := Read("job.yaml", []byte(text), shelf)
		if err != nil {
			t.Fatal(err)
		}
		a := advised(t, j)
		first := a.Next[0]
		t.Logf("%q: nothing left %.3f, next %s %s", reopened, a.Mended, first.Do, first.Name)
		if proves := first.Name == "Prove the repair"; proves == back || back && first.Body.Procedure == "" {
			t.Errorf("reopened %q: next is %s", reopened, first.Name)
		}
		left[reopened] = a.Mended
		if a.CameBack() != back {
			t.Errorf("reopened %q: it came back: %v", reopened, a.CameBack())
		}
	}
	// Most of it is more than half: by what it says alone the odds fall 45 times, and pairs share the rest.
	if now, then := left["{why: dim again, complaint: back}"], left["{why: a slip}"]; now > 0.5*then {
		t.Errorf("that nothing is left has %.2f, and had %.2f", now, then)
	}
}
