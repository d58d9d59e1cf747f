package main

import (
	"chargewright/machine"
	"chargewright/unit"
)

// ranMachineOut is what --json prints; schema output-machine.
type ranMachineOut struct {
	Format      int          `json:"format"`
	Machine     string       `json:"machine"`
	Winding     string       `json:"winding"`
	Faults      []string     `json:"faults"`
	Speed       quantity     `json:"speed"`
	Frequency   quantity     `json:"frequency"`
	EMF         quantity     `json:"emf"` // peak of a winding
	Field       quantity     `json:"field"`
	FedBy       string       `json:"fed_by"`
	Output      figuresOut   `json:"output_amps"`
	OutputVolts figuresOut   `json:"output_volts"`
	DPlus       *figuresOut  `json:"dplus_amps,omitempty"`
	DPlusVolts  *figuresOut  `json:"dplus_volts,omitempty"`
	Battery     float64      `json:"battery_amps"`
	Load        float64      `json:"load_amps"`
	Windings    []windingOut `json:"windings"`
	Circulating float64      `json:"circulating_amps"`
	Wave        waveOut      `json:"wave"`
}

type figuresOut struct {
	Mean       float64    `json:"mean"`
	Least      float64    `json:"least"`
	Greatest   float64    `json:"greatest"`
	PeakToPeak float64    `json:"peak_to_peak"`
	ACRms      float64    `json:"ac_rms"`
	Orders     []orderOut `json:"orders"`
}

type orderOut struct {
	Order int     `json:"order"`
	Peak  float64 `json:"peak"`
}

type windingOut struct {
	Mean     float64 `json:"mean"`
	RMS      float64 `json:"rms"`
	Peak     float64 `json:"peak"`
	LeadRMS  float64 `json:"lead_rms"`
	LeadPeak float64 `json:"lead_peak"`
	Volts    float64 `json:"phase_volts"` // mean of the rectifier terminal
}

// waveOut is one period, evenly sampled; the last sample ends it.
type waveOut struct {
	Output      []float64 `json:"output_amps"`
	OutputVolts []float64 `json:"output_volts"`
	DPlusVolts  []float64 `json:"dplus_volts,omitempty"`
}

func (r *ranMachine) out() ranMachineOut {
	a := r.a
	o := ranMachineOut{
		Format: outputFormat, Machine: r.d.ID, Winding: r.d.Winding.String(), Faults: append([]string{}, r.faults...),
		Speed: amount(unit.AngularSpeed, r.at.Speed), Frequency: amount(unit.Hertz, r.hertz()),
		EMF: amount(unit.Volt, a.EMF), Field: amount(unit.Amp, a.Field), FedBy: a.FedBy,
		Output: figuresOf(&a.Stud), OutputVolts: figuresOf(&a.StudVolts),
		Battery: a.Battery, Load: a.Load, Circulating: a.Circulating,
	}
	if r.d.FieldDiode != nil {
		amps, volts := figuresOf(&a.DPlus), figuresOf(&a.DPlusVolts)
		o.DPlus, o.DPlusVolts = &amps, &volts
	}
	for k, w := range a.Windings {
		o.Windings = append(o.Windings, windingOut{w.Mean, w.RMS, w.Peak, a.Leads[k].RMS, a.Leads[k].Peak, a.PhaseVolts[k]})
	}
	for _, s := range a.Wave {
		o.Wave.Output, o.Wave.OutputVolts = append(o.Wave.Output, s.Stud), append(o.Wave.OutputVolts, s.StudVolts)
		if r.d.FieldDiode != nil {
			o.Wave.DPlusVolts = append(o.Wave.DPlusVolts, s.DPlusVolts)
		}
	}
	return o
}

func figuresOf(f *machine.Figures) figuresOut {
	o := figuresOut{Mean: f.Mean, Least: f.Least, Greatest: f.Greatest, PeakToPeak: f.PeakToPeak, ACRms: f.ACRms}
	for k, n := range machine.Orders() {
		o.Orders = append(o.Orders, orderOut{n, f.Orders[k]})
	}
	return o
}
