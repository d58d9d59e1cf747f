package machine

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

// columns reads a CSV file's columns of numbers.
func columns(t *testing.T, name string) [][]float64 {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 3 {
		t.Fatalf("%s: %v", name, err)
	}
	out := make([][]float64, len(rows[0]))
	for _, r := range rows[1:] {
		for k, s := range r {
			x, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			out[k] = append(out[k], x)
		}
	}
	return out
}

// loaded130 is the machine of testdata/bridge: cable, battery and load as one
// voltage behind one resistance.
func loaded130() Build {
	const load, battery, cable = 0.30, 8e-3, 4e-3
	return Build{
		EMF: 15.154713, Omega: 2 * math.Pi * 180, Ohms: 37e-3, Henries: 120e-6,
		Volts: 12.6 * load / (load + battery), SourceOhms: cable + load*battery/(load+battery),
		Diode: Diode{Saturation: 1e-9, Emission: 1.4, Ohms: 2e-3}, Wave: true,
	}
}

// Means, orders and the waveform itself against a run of another simulator with
// a battery, a cable and a load around the machine.
// program: ngspice 39, testdata/bridge/SOURCE.txt (reltol 1e-3, 400 samples).
func TestWaveformAgainstNgspice(t *testing.T) {
	for _, c := range []struct {
		file   string
		change string
		mean   float64
		orders [6]float64 // 1 2 3 4 6 12
	}{
		{"healthy", "", 59.775, [6]float64{0.002, 0.002, 0, 0, 3.411, 0.816}},
		{"d1_open", "diode-a+=open", 42.319, [6]float64{25.465, 11.508, 4.382, 1.554, 1.044, 0.375}},
	} {
		b := loaded130()
		if c.change != "" {
			if err := b.Changes.Apply(c.change); err != nil {
				t.Fatal(err)
			}
		}
		b.Steps = 2003
		p, err := Run(b)
		if err != nil {
			t.Fatal(err)
		}
		// 0.2 %: the moonshot of the bars; the run's own tolerance is 0.1 %.
		if d := p.Stud.Mean/c.mean - 1; math.Abs(d) > 2e-3 {
			t.Errorf("%s: mean %.3f A, stored %.3f", c.file, p.Stud.Mean, c.mean)
		}
		for k, want := range c.orders {
			if d := math.Abs(p.Stud.Orders[k] - want); d > 2e-3*c.mean {
				t.Errorf("%s: order %d %.3f A, stored %.3f", c.file, orders[k], p.Stud.Orders[k], want)
			}
		}
		rms := misfit(p.Wave, columns(t, "testdata/bridge/"+c.file+".csv")[0])
		t.Logf("%s: mean %+.3f %%, waveform off by %.2f %% rms of the mean", c.file, 100*(p.Stud.Mean/c.mean-1), 100*rms/c.mean)
		// Half a sample of time, at slopes of some 2 % of the mean a sample.
		if rms > 0.01*c.mean {
			t.Errorf("%s: the waveform is off by %.3f A rms", c.file, rms)
		}
	}
}

// misfit is the rms difference of a stored period from ours, at the best shift
// in time: the two begin at different angles.
func misfit(ours []Sample, stored []float64) float64 {
	best := math.Inf(1)
	for shift := range ours {
		sum := 0.0
		for k, x := range stored {
			d := ours[(k*len(ours)/len(stored)+shift)%len(ours)].Stud - x
			sum += d * d
		}
		best = math.Min(best, math.Sqrt(sum/float64(len(stored))))
	}
	return best
}

func measuredDelta(t *testing.T) *Description {
	t.Helper()
	data, err := os.ReadFile("testdata/good/measured-delta.yaml")
	if err != nil {
		t.Fatal(err)
	}
	d, err := ParseDescription("measured-delta.yaml", data)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// The points measured at 2000 rpm foretell those at 4000 rpm where EMF is
// proportional to speed. It is not quite: eddy currents in the solid poles, which
// the model does not have, take some of the flux at speed.
// table: testdata/measured, Sarafianos et al. 2015, digitised. Found: the law
// gives 5 % to 7 % too much from 2 A up, 12 % to 15 % about 1 A; the bounds are
// these, rounded up, so that the test says when the reading of a file changes.
func TestOpenCircuitScalesWithSpeed(t *testing.T) {
	d := measuredDelta(t)
	points := columns(t, "testdata/measured/open_circuit_4000rpm.csv")
	omega := 4000.0 / 60 * 2 * math.Pi * float64(d.Poles) / 2
	above, below := 0.0, 0.0
	for k, field := range points[0] {
		peak, err := d.EMF(field, omega)
		if err != nil {
			t.Fatal(err)
		}
		share := peak/math.Sqrt2/points[1][k] - 1
		switch {
		case field > 1.9:
			above = max(above, math.Abs(share))
		case field > 0.7:
			below = max(below, math.Abs(share))
		}
	}
	t.Logf("4000 rpm from 2000 rpm: off by at most %.1f %% above 1.9 A, %.1f %% from 0.7 A", 100*above, 100*below)
	if above > 0.07 || below > 0.16 {
		t.Errorf("off by %.1f %% and %.1f %%", 100*above, 100*below)
	}
}

// What two measured machines deliver, from their open-circuit voltage, winding
// resistance and inductance alone.
//
// table: Sarafianos et al. 2015: called a 180 A machine, delta. A rating is a
// round figure, at 13.5 V and 6000 rpm (memory: ISO 8854): 10 %.
//
// The other (Rivas 2004, Perreault and Caliskan 2004: star, 10.716 V rms a phase at
// 180 Hz on 3.6 A, 120 uH) is called a 130 A class machine, which its own figures
// do not allow: closed form: no bridge delivers more than (3/pi) E/(wL), 106.6 A.
// So it is held against that: at E/V_o' 3.3 the exact form without resistance takes
// off 2.3 %, resistance a few more.
func TestRatedOutputOfMeasuredMachines(t *testing.T) {
	d := measuredDelta(t)
	field := 4.74 // the last point of its inductance
	a, err := d.Run(Condition{Speed: 6000.0 / 60 * 2 * math.Pi, Field: &field, Side: Side{EMF: 13.5}})
	if err != nil {
		t.Fatal(err)
	}
	b := loaded130()
	b.EMF, b.Omega = 10.716*math.Sqrt2*600/180, 2*math.Pi*600
	b.Volts, b.SourceOhms = 13.5, 0
	p, err := Run(b)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("180 A machine: %.1f A; 130 A machine: %.1f A", a.Stud.Mean, p.Stud.Mean)
	if s := a.Stud.Mean / 180; math.Abs(s-1) > 0.1 {
		t.Errorf("the 180 A machine delivers %.1f A", a.Stud.Mean)
	}
	limit := 3 / math.Pi * b.EMF / (b.Omega * b.Henries)
	if s := p.Stud.Mean / limit; s > 0.977 || s < 0.93 {
		t.Errorf("the 130 A class machine delivers %.1f A of at most %.1f", p.Stud.Mean, limit)
	}
}
