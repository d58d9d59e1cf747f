package main

import (
	"context"
	"fmt"
	"testing"
	"time"
)

func TestScratch(t *testing.T) {
	for seed := range uint64(14) {
		c := demoCmd{Seed: seed + 1}
		t0 := time.Now()
		d, h, err := c.stage()
		if err != nil { t.Fatal(err) }
		t1 := time.Since(t0); t0 = time.Now()
		o, err := play(context.Background(), d, h, d.Planner.Policy)
		if err != nil { t.Fatal(err) }
		fmt.Println(seed+1, h.faults, h.complaint, "tests", o.tests, "rep", o.repairs, o.wrong, "min", o.minutes, o.cured, o.sound, t1.Round(time.Millisecond), time.Since(t0).Round(time.Millisecond))
	}
}
