package truth

import (
	"math"
	"testing"

	"chargewright/question"
)

// A vehicle whose machine runs in the time domain comes as near to ngspice's
// transients as the tables must, and nearer on the whole: the tables' share of the
// difference is gone. The source of both is program: ngspice, transients of the
// whole vehicle (pairs_test.go).
func TestTimedAgainstNgspice(t *testing.T) {
	for _, c := range []struct {
		system, file string
		least        int // that deliver
	}{{"isolated-earth-side", "pairs.json", 20}, {"lamp-excited", "pairs-lamp-excited.json", 10}} {
		t.Run(c.system, func(t *testing.T) {
			m, procs := compiled(t, c.system)
			f := fixture(t, c.file)
			var tables, inTime apartness
			solved := 0
			for k := range f.Vehicles {
				s, err := f.Stored(m, k)
				if err != nil {
					t.Fatal(err)
				}
				if _, known := apart[s.Vehicle.Name]; known {
					continue
				}
				twin, q := bare(t, m, procs, s)
				theirs, err := s.Answer(q)
				if err != nil {
					t.Fatal(err)
				}
				run, _ := s.Run(q.Setup)
				ours := withoutModelTerms(m, s.Vehicle).Timed(m, Looks{})
				for _, w := range []struct {
					from Answerer
					sum  *apartness
				}{{twin, &tables}, {ours, &inTime}} {
					got, err := w.from.Answer(q)
					if err != nil {
						t.Fatal(err)
					}
					w.sum.add(q, got, theirs, run)
				}
				solved += ours.Solved
				if ours.Unsettled > 0 {
					t.Errorf("%s: machine and network do not come to one point", s.Vehicle.Name)
				}
			}
			t.Logf("%d values, %d points in the time domain; rms apart, in tolerances: tables %.3f, time domain %.3f; most %.2f and %.2f", tables.n, solved, tables.rms(), inTime.rms(), tables.most, inTime.most)
			if solved < c.least {
				t.Errorf("only %d of %d vehicles were solved in the time domain", solved, len(f.Vehicles))
			}
			if inTime.most > 1 {
				t.Errorf("a value lies %.2f tolerances away", inTime.most)
			}
			if inTime.rms() > tables.rms() {
				t.Errorf("the time domain is further from ngspice than the tables: %.3f and %.3f tolerances", inTime.rms(), tables.rms())
			}
		})
	}
}

// apartness sums differences in units of their tolerance.
type apartness struct {
	n         int
	sum, most float64
}

func (a *apartness) add(q question.Question, got, want []question.Value, run *Run) {
	for i, o := range q.Seek {
		tol := tolerance(o.Kind, run)
		if o.Red == "dplus" && o.Black == "stud" {
			tol.Abs = tolDPlus
		}
		d := math.Abs(got[i].X-want[i].X) / math.Max(tol.Abs, tol.Rel*math.Abs(want[i].X))
		a.n++
		a.sum += d * d
		a.most = max(a.most, d)
	}
}

func (a *apartness) rms() float64 { return math.Sqrt(a.sum / float64(max(1, a.n))) }
