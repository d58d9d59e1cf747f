package main

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"chargewright/machine"
	"chargewright/unit"
)

// hertz is the electrical frequency [Hz].
func (r *ranMachine) hertz() float64 { return r.a.Omega / (2 * math.Pi) }

// print writes the answer as text.
func (r *ranMachine) print(t *text) {
	a := r.a
	t.head("%s", r.d)
	if r.d.About != "" {
		t.line(0, "%s", r.d.About)
	}
	t.line(0, "Figures: %s.", strings.TrimSuffix(r.d.Source, "."))
	speed := "standing"
	if r.at.Speed > 0 {
		speed = unit.Format(unit.AngularSpeed, r.at.Speed) + " of its own shaft (" + unit.Format(unit.Hertz, r.hertz()) + ")"
	}
	fed := "by " + a.FedBy
	if a.FedBy == machine.FedByOutside {
		fed = "from outside"
	}
	t.line(0, "%s, %d poles, %s, field %s fed %s, EMF %s peak a winding.",
		r.d.Winding, r.d.Poles, speed, unit.Format(unit.Amp, a.Field), fed, unit.Format(unit.Volt, a.EMF))
	t.line(0, "Output: %s", r.sideWords())
	if len(r.faults) == 0 {
		t.line(0, "Fault: none.")
	} else {
		t.line(0, "Fault: %s.", strings.Join(r.faults, ", "))
	}

	r.printMeans(t)
	r.printOrders(t)
	r.printWindings(t)
	r.plot(t)
}

// cells prints figures of one row. What is less than a hundred thousandth of
// the row's largest is the solver's residue and prints as 0.
func cells(name string, dim unit.Dim, row ...float64) []string {
	largest := 0.0
	for _, x := range row {
		largest = max(largest, math.Abs(x))
	}
	out := []string{name}
	for _, x := range row {
		if math.Abs(x) < 1e-5*largest {
			x = 0
		}
		out = append(out, unit.Format(dim, x))
	}
	return out
}

func (r *ranMachine) printMeans(t *text) {
	a := r.a
	t.head("Means and ripple")
	widths := []int{16, 12, 12, 12, 12}
	t.columns(2, widths, "", "mean", "least", "greatest", "ripple p-p", "ripple rms")
	show := func(name string, dim unit.Dim, f *machine.Figures) {
		t.columns(2, widths, cells(name, dim, f.Mean, f.Least, f.Greatest, f.PeakToPeak, f.ACRms)...)
	}
	show("output amps", unit.Amp, &a.Stud)
	show("output volts", unit.Volt, &a.StudVolts)
	if r.d.FieldDiode != nil {
		show("D+ amps", unit.Amp, &a.DPlus)
		show("D+ volts", unit.Volt, &a.DPlusVolts)
	}
	t.columns(2, widths, cells("into battery", unit.Amp, a.Battery)...)
	t.columns(2, widths, cells("load", unit.Amp, a.Load)...)
}

func (r *ranMachine) printWindings(t *text) {
	t.head("Windings and their leads")
	widths := []int{16, 12, 12, 12, 12}
	t.columns(2, widths, "", "mean", "rms", "peak", "lead rms", "lead peak")
	for k, w := range r.a.Windings {
		l := r.a.Leads[k]
		t.columns(2, widths, cells("phase "+string(rune('a'+k)), unit.Amp, w.Mean, w.RMS, w.Peak, l.RMS, l.Peak)...)
	}
	if r.d.Winding == machine.Delta && r.at.Changes.WindingOpen == [3]bool{} {
		t.line(2, "of it round the delta: %s rms", unit.Format(unit.Amp, r.a.Circulating))
	}
}

func (r *ranMachine) sideWords() string {
	s := r.at.Side
	w := unit.Format(unit.Volt, s.EMF) + " behind " + unit.Format(unit.Ohm, s.Ohms)
	switch {
	case s.LoadOhms > 0:
		w += ", a load of " + unit.Format(unit.Ohm, s.LoadOhms) + " across it"
	case s.LoadAmps > 0:
		w += ", a load of " + unit.Format(unit.Amp, s.LoadAmps) + " across it"
	}
	if r.a.FedBy == machine.FedByOutput {
		w += ", and its own field"
	}
	return w + "."
}

// printOrders writes the amplitudes of the orders.
func (r *ranMachine) printOrders(t *text) {
	if r.a.Omega == 0 {
		t.line(2, "It stands: nothing alternates.")
		return
	}
	t.head("Orders of %s, peak amplitude", unit.Format(unit.Hertz, r.hertz()))
	widths := []int{16, 10, 10, 10, 10, 10, 10}
	heads := []string{""}
	for _, o := range machine.Orders() {
		heads = append(heads, strconv.Itoa(o))
	}
	t.columns(2, widths, heads...)
	show := func(name string, dim unit.Dim, f *machine.Figures) {
		row := append([]float64(nil), f.Orders[:]...)
		for k := range row {
			// What the solver leaves of an order that symmetry makes zero.
			if row[k] < 1e-4*math.Abs(f.Mean) {
				row[k] = 0
			}
		}
		t.columns(2, widths, cells(name, dim, row...)...)
	}
	show("output amps", unit.Amp, &r.a.Stud)
	show("output volts", unit.Volt, &r.a.StudVolts)
	if r.d.FieldDiode != nil {
		show("D+ volts", unit.Volt, &r.a.DPlusVolts)
	}
}

// plot draws one period of the output current, and of D+ where there is one.
func (r *ranMachine) plot(t *text) {
	if len(r.a.Wave) < 2 {
		return
	}
	draw := func(what string, dim unit.Dim, f *machine.Figures, of func(*machine.Sample) float64) {
		t.head("One period of the %s", what)
		lo, hi := f.Least, f.Greatest
		if hi-lo < 1e-5*math.Abs(hi) {
			hi, lo = hi+0.5, lo-0.5
		}
		for _, line := range sketch(r.a.Wave, of, lo, hi) {
			t.WriteString(strings.TrimRight(line, " ") + "\n")
		}
		t.line(10, "top %s, bottom %s; 0 to %s", unit.Format(dim, hi), unit.Format(dim, lo), unit.Format(unit.Second, 2*math.Pi/r.a.Omega))
	}
	draw("output amps", unit.Amp, &r.a.Stud, func(s *machine.Sample) float64 { return s.Stud })
	if r.d.FieldDiode != nil {
		draw("D+ volts", unit.Volt, &r.a.DPlusVolts, func(s *machine.Sample) float64 { return s.DPlusVolts })
	}
}

// Size of a sketch, in letters.
const (
	sketchColumns = 68
	sketchRows    = 9
)

// sketch draws a wave with letters: every column shows from the least to the
// greatest sample that falls into it.
func sketch(wave []machine.Sample, of func(*machine.Sample) float64, lo, hi float64) []string {
	grid := make([][]byte, sketchRows)
	for k := range grid {
		grid[k] = []byte(strings.Repeat(" ", 10) + "|" + strings.Repeat(" ", sketchColumns))
	}
	row := func(x float64) int {
		return min(max(int(math.Round((hi-x)/(hi-lo)*(sketchRows-1))), 0), sketchRows-1)
	}
	for c := range sketchColumns {
		from, to := c*len(wave)/sketchColumns, (c+1)*len(wave)/sketchColumns
		top, bottom := sketchRows-1, 0
		for k := from; k < max(to, from+1); k++ {
			y := row(of(&wave[k]))
			top, bottom = min(top, y), max(bottom, y)
		}
		for y := top; y <= bottom; y++ {
			grid[y][11+c] = '*'
		}
	}
	lines := make([]string, sketchRows)
	for k, g := range grid {
		lines[k] = string(g)
	}
	return lines
}

// csv writes the waveforms of one period.
func (r *ranMachine) csv(w io.Writer) error {
	var b strings.Builder
	b.WriteString("time_s,turn,output_A,output_V,dplus_A,dplus_V,phase_a_V,phase_b_V,phase_c_V,winding_a_A,winding_b_A,winding_c_A\n")
	period := 0.0
	if r.a.Omega > 0 {
		period = 2 * math.Pi / r.a.Omega
	}
	for _, s := range r.a.Wave {
		for k, x := range []float64{
			s.Turn * period, s.Turn, s.Stud, s.StudVolts, s.DPlus, s.DPlusVolts,
			s.PhaseVolts[0], s.PhaseVolts[1], s.PhaseVolts[2], s.Windings[0], s.Windings[1], s.Windings[2],
		} {
			if k > 0 {
				b.WriteByte(',')
			}
			b.WriteString(strconv.FormatFloat(x, 'g', 7, 64))
		}
		b.WriteByte('\n')
	}
	_, err := fmt.Fprint(w, b.String())
	return err
}
