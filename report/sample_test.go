package report_test

import (
	"time"

	"chargewright/advice"
	"chargewright/report"
)

// The papers below are written by hand and computed by nothing: they hold the
// layout, not the model. Vehicle, people and figures are invented.

func at(x float64) *float64 { return &x }

func clock(hour, minute int) *time.Time {
	t := time.Date(2026, 11, 25, hour, minute, 0, 0, time.UTC)
	return &t
}

const noSum = "0000000000000000000000000000000000000000000000000000000000000000"

func sampleReport() report.Report {
	return report.Report{
		Format: 1, Job: "412", System: "isolated-earth-side", SystemSHA: noSum, Practice: noSum, EventsSHA: noSum, Engine: "0.4.0", Events: 9,
		Vehicle: "Made-up saloon", Complaint: "low charge", Words: "battery always low", Title: "Charging system: found and mended",
		Wrong:  []string{"Bulkhead pin A poor: 97\u00a0% likely that this was it.", "Bulkhead pin A: at full output it makes 88 W of heat."},
		Done:   []string{"Mend the bulkhead connector; the complaint is gone."},
		Before: []report.Pair{{Name: "Voltage drop, stud to battery positive", Limit: "0.7\u00a0V at most, a manual", Before: "1.980\u00a0V", After: "0.486\u00a0V", Scale: &report.Scale{High: at(0.3), Before: at(0.9), After: 0.2}}},
		Readings: []report.Reading{
			{Taken: "09:32", Name: "Voltage drop, stud to battery positive", Box: "stud to positive post", Value: "1.980\u00a0V", Doubt: "± 0.014\u00a0V", Limit: "700\u00a0mV at most", Source: "a manual", Says: "Over the limit", Likely: "under\u00a01\u00a0%"},
			{Box: "output amps", Value: "24.6\u00a0A", Doubt: "± 0.9\u00a0A"},
			{Taken: "11:03", Name: "Battery voltage, loads off", Box: "battery volts", Value: "14.21\u00a0V", Doubt: "± 0.11\u00a0V", Limit: "13.8\u00a0V to 14.6\u00a0V", Source: "a manual", Says: "Not to be called yet", Likely: "over\u00a099\u00a0%", After: true},
		},
		Proof: "3 of 6 readings of the proof were taken after the last repair.", Watch: []string{"The battery rested at 12.15\u00a0V."},
		Time: "49\u00a0min", Cost: "67", CostNote: "estimated", Assumed: []string{},
	}
}

func sampleValue() report.Value {
	return report.Value{
		Box: "stud to positive post", Quantity: "volts", Leads: "red on 1 alternator output stud (B+), black on 13 battery positive post (30)", Red: "stud", Black: "batp",
		How: "measured", Value: at(1.98), Unit: "V", U: 0.007, Resolution: 0.001, Shown: "1.980\u00a0V", Doubt: "± 0.014\u00a0V", Meter: "dmm", Accuracy: "to 6\u00a0V: ±\u00a0(0.5\u00a0% + 2\u00a0×\u00a01\u00a0mV)",
		Call: "Over the limit: under\u00a01\u00a0% likely within",
		Limits: []report.Limit{{
			Bound: report.Bound{ID: "feed-drop", High: at(0.7), Unit: "V", Words: "700\u00a0mV at most", Condition: "20 A", Source: "a manual p. 11-7", Basis: "read"}, PWithin: 0.0001,
			Likely: "under\u00a01\u00a0%", Verdict: "outside", Call: "Over the limit: under\u00a01\u00a0% likely within",
		}},
	}
}

func sampleRecord() report.Record {
	misread := sampleValue()
	misread.Value, misread.Shown, misread.Doubt, misread.Call = at(0.198), "198.0\u00a0mV", "± 1.7\u00a0mV", "Within the limit: over\u00a099\u00a0% likely within"
	misread.Limits = nil
	causes := []report.Shift{{ID: "pin", Name: "Bulkhead pin A poor", Before: at(0.12), After: 0.92}, {ID: "others", Name: "All others together", Before: at(0.88), After: 0.08}}
	return report.Record{
		Format: 1, Job: "412", System: advice.Named{ID: "isolated-earth-side", Name: "Isolated field, electronic regulator on the earth side"},
		SystemSHA: noSum, Practice: noSum, EventsSHA: noSum, Engine: "0.4.0", Vehicle: report.Vehicle{Volts: 12, Note: "Made-up saloon"}, Customer: "c-9", Opened: clock(8, 10),
		Complaint:  report.Complaint{Kind: "low-charge", Words: "battery always low", When: []string{"always"}},
		Conditions: []report.Condition{{What: "air", Value: at(18), Unit: "Cel", U: 2, Words: "18\u00a0°C, give or take 4\u00a0K"}},
		Assumed:    []string{"no meters were named"},
		Instruments: []report.Instrument{
			{ID: "dmm", Name: "hand-held multimeter", Used: true, Ranges: []report.Accuracy{{Quantity: "volts", Full: 6, Unit: "V", Words: "to 6\u00a0V: ±\u00a0(0.5\u00a0% + 2\u00a0×\u00a01\u00a0mV)"}}, Source: "meter pages", Basis: "common practice", Calibrated: "March 2026"},
			{ID: "dc-clamp", Name: "DC clamp meter", Source: "clamp pages", Basis: "memory"},
		},
		Events: []report.Entry{
			{N: 1, ID: "e-1", Kind: "opened", V: 1, Recorded: clock(8, 10), Person: "p-7", Device: "tablet-2", Title: "Opened: low charge", Says: []string{"“battery always low”"}},
			{
				N: 2, ID: "e-2", Kind: "reading", V: 1, Recorded: clock(8, 32), At: clock(8, 12), Person: "p-8", Device: "phone", Title: "Reading r1: Voltage drop, stud to battery positive", Says: []string{}, CorrectedBy: []int{3}, Causes: causes,
				Reading: &report.Taken{
					ID: "r1", Procedure: "drop-feed", Name: "Voltage drop, stud to battery positive", HookUp: []advice.At{{Place: "engine", Position: "fast", Name: "engine: held at 1250 rpm"}}, Held: []string{"load tester at 12\u00a0A"}, Basis: "entered",
					Values: []report.Value{misread}, Speaks: []string{"14 to 1 for  Bulkhead pin A poor"}, Odd: []string{"47\u00a0% likely that a value of it is wrong."}, PWrong: 0.47,
				},
			},
			{N: 3, ID: "e-3", Kind: "correct", V: 1, Recorded: clock(8, 33), Title: "Correction of reading r1: Voltage drop, stud to battery positive", Says: []string{"why: misread"}, Correction: &report.Correction{Reading: "r1", Event: 2, Was: []string{"198.0\u00a0mV"}, Values: []report.Value{sampleValue()}}, Causes: causes},
			{N: 4, ID: "e-4", Kind: "wait", V: 1, Recorded: clock(9, 0), Title: "Waits for a part", Says: []string{"promised for noon"}, BackBy: 5, Causes: causes, NothingLeft: at(0.91)},
			{N: 5, ID: "e-5", Kind: "withdraw", V: 1, Recorded: clock(9, 1), Title: "Took back entry 4: Waits for a part", Says: []string{}},
		},
		Causes: []report.Cause{{ID: "pin", Name: "Bulkhead pin A poor", Share: 0.92, Mended: true}}, NothingLeft: 0.91, Repairs: 1, Before: sampleReport().Before, Proof: "1 of 6 readings of the proof were taken.", Standing: "proved",
	}
}

func sampleCard() report.Card {
	hands := advice.Cautions{ID: "c25", Text: "Hands, sleeves and leads clear of belt and fan; an electric fan can start by itself."}
	return report.Card{
		Format: 1, Job: "412", System: advice.Named{ID: "isolated-earth-side", Name: "Isolated field, electronic regulator on the earth side"}, SystemSHA: noSum, Practice: noSum, EventsSHA: noSum, Engine: "0.4.0",
		Vehicle: report.Vehicle{Note: "Made-up saloon"}, Complaint: report.Complaint{Kind: "low-charge", Words: "battery always low"},
		Conditions: []report.Condition{{What: "air", Value: at(18), Unit: "Cel", Words: "18\u00a0°C, give or take 4\u00a0K"}}, Assumed: []string{}, Stands: []advice.At{}, Against: []string{"The engine turns with the field jumped."},
		Causes: []report.CardCause{{Letter: "S", Name: "Bulkhead pin A poor", Share: 0.56}, {Name: "All others together", Share: 0.44}},
		Steps: []report.CardStep{
			{
				N: 1, When: []string{}, Do: "test", Verb: "Test", Name: "Voltage drop, ring to bulkhead pin A", Procedure: "walk-charge-wire", Why: "tells one from the other", Cost: "3\u00a0min", Confirm: []string{"earth cable: on its post", "plug: in", "a line that is much too long to stand beside another one, and so has a row of its own"},
				Warn: []string{"more than 400 A is possible"}, Watch: []advice.Cautions{}, Cautions: []advice.Cautions{}, Hold: []string{"Hold the load tester at 12\u00a0A"}, Work: []string{"Read volts and amps together"},
				Lines:  []report.CardLine{{N: 1, Say: "Put the leads on", Leads: []string{"ring to pin: red on 2 ring, black on 3 pin"}, Cautions: []advice.Cautions{hands}}, {N: 2, Say: "Start the engine", Cautions: []advice.Cautions{}, Again: []report.AsAt{{Line: 1, ID: "c25", Begin: "Hands, sleeves and leads clear of belt and fan …"}}}},
				Boxes:  []report.Box{{Name: "ring to pin", Quantity: "volts", Leads: "red on 2 ring, black on 3 pin", Units: []string{"V", "mV"}, Meter: "hand-held multimeter", Limits: []report.Bound{sampleValue().Limits[0].Bound}}, {Name: "output amps", Quantity: "amps", Units: []string{"A", "mA"}, Optional: true, Limits: []report.Bound{}}},
				Expect: []report.Expected{{Letter: "S", Name: "Bulkhead pin A poor", Words: "ring to pin 201 to 262\u00a0mV"}},
			},
			{N: 2, When: []string{"it reads about: ring to pin 232\u00a0mV"}, Chance: 0.72, Do: "look", Verb: "Look", Name: "The pins, seen", Procedure: "look-wiring", Why: "green pins", Cost: "1\u00a0min", Question: "What do the pins look like?", Answers: []report.Answer{{Name: "bright", Chance: "20\u00a0%"}, {Name: "green", Chance: "80\u00a0%"}}, Work: []string{"Key out"}, Cautions: []advice.Cautions{hands}},
			{N: 3, When: []string{"to prove it"}, Do: "repair", Verb: "Repair", Name: "Mend the bulkhead connector", Repair: "mend-bulkhead", Why: "9 to 1", Work: []string{"Earth cable off", "Both pins out"}, Cautions: []advice.Cautions{hands}},
		},
	}
}
