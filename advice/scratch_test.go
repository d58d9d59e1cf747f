package advice

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"testing"
	"time"

	"chargewright/diagnosis"
	"chargewright/planning"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
	"chargewright/truth"
	"math/rand/v2"
)

func TestScratch(t *testing.T) {
	sys, _ := system.ByID("isolated-earth-side")
	procs, _ := question.Library()
	prac, _ := system.DefaultPractice()
	t0 := time.Now()
	p, err := Prepare(sys, prac, procs, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	fmt.Println("prepare", time.Since(t0))
	for i, d := range p.does {
		id := "SOUND"
		if i < len(sys.Faults) {
			id = sys.Faults[i].ID
		}
		fmt.Printf("%-26s", id)
		for k, v := range d {
			if v > 0.005 {
				fmt.Printf(" %s %.2f", doingNames[k], v)
			}
		}
		fmt.Println()
	}
	for _, fid := range []string{"rotor-open", "diode-open", "control-wire-earthed", "feed-joint-bulkhead-a"} {
		kind := map[string]string{"rotor-open": "no-charge", "diode-open": "low-charge", "control-wire-earthed": "overcharge", "feed-joint-bulkhead-a": "low-charge"}[fid]
		t0 = time.Now()
		d, err := p.Desk(kind)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Println("=== ", fid, "desk", time.Since(t0))
		fi, _ := d.Model.FaultIndex(fid)
		rng := rand.New(rand.NewPCG(1, 2))
		v := truth.Figures(rng, d.Model, []int{fi}, truth.DrawOptions{})
		tab := v.Table(d.Model, truth.Looks{Procedures: procs, Seed: 1})
		in := Input{Prepared: p, Complaint: kind, Rig: sys.Rig.Rest, Settings: DefaultSettings(), Day: question.Setup{Ambient: question.Temp{K: 293.15, U: 2}, Battery: question.Temp{Derive: true}, Reg: question.Temp{Derive: true}, Rotor: question.Temp{Derive: true}}}
		b, _ := diagnosis.Begin(d.Prior)
		for step := range 10 {
			t0 = time.Now()
			plan, err := d.Planner.Next(d.State(in, b))
			if err != nil {
				t.Fatal(err)
			}
			s := plan.Next[0]
			if s.Procedure == nil {
				fmt.Println("STOP", s.Do, s.Repair, s.Chance)
				break
			}
			vals, err := tab.Answer(s.Question)
			if err != nil {
				t.Fatal(err)
			}
			for k := range vals {
				if vals[k].How == question.Measured {
					vals[k].X += d.Prior.Noise(s.Question.Seek[k], vals[k].X) * rng.NormFloat64()
				}
			}
			r := question.Reading{ID: fmt.Sprint("r", step+1), Question: s.Question, Values: vals}
			b, err = b.With(r)
			if err != nil {
				t.Fatal(err)
			}
			in.Readings = append(in.Readings, r)
			in.Rig = s.To
			fmt.Println(s.Procedure.ID, vals[0].X, vals[0].Class, len(s.Hookup), s.Minutes+s.Rigging, "|", b.Suspects(p.groups)[0].ID, b.Suspects(p.groups)[0].Probability, time.Since(t0))
		}
		t0 = time.Now()
		a, err := Ask(context.Background(), in)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Println("ask", time.Since(t0))
		j, err := json.MarshalIndent(a, "", "  ")
		if err != nil {
			t.Fatal(err)
		}
		os.WriteFile("/tmp/cw/h8/"+fid+".json", j, 0o644)
		for _, q := range a.Parameters {
			fmt.Println("  ", q.Name, q.Median, q.Low, q.High, q.Unit)
		}
		for _, q := range a.Joints {
			fmt.Printf("   %+v\n", q)
		}
	}
	_ = planning.Test
	_ = rig.State(0)
}
