package main

import (
	_ "embed"
	"fmt"

	"chargewright/internal/yamlread"
	"chargewright/system"
)

//go:embed benchmark.yaml
var benchmarkFile []byte

// lastBenchmark is benchmark.yaml as read.
type lastBenchmark struct {
	date           string
	seed, vehicles int
	minutes        float64
	fixed, clamp   [2]float64
}

func readBenchmark() (lastBenchmark, error) {
	f, top := yamlread.Open("benchmark.yaml", benchmarkFile)
	m := top.Map("benchmark")
	system.ReadFormat(m, 1)
	pair := func(key string) (out [2]float64) {
		for i, n := range m.Need(key, "[62.9, 15.6]").List() {
			if i < len(out) {
				out[i] = n.Number(yamlread.NotNegative)
			}
		}
		return out
	}
	b := lastBenchmark{
		date:     m.Need("date", "27 November 2026").Text(),
		seed:     int(m.Need("seed", "1001").Number(yamlread.NotNegative)),
		vehicles: int(m.Need("vehicles", "200").Number(yamlread.NotNegative)),
		minutes:  m.Need("minutes", "77.9").Number(yamlread.NotNegative),
		fixed:    pair("fixed"), clamp: pair("clamp"),
	}
	m.Done()
	return b, f.Err()
}

// words says what the benchmark found.
func (b lastBenchmark) words() string {
	return fmt.Sprintf("One vehicle proves nothing. Over %d hidden vehicles (make bench, seed %d, %s) this program took %.0f min a job; the fixed order %.0f ± %.0f min more and the technician's %.0f ± %.0f min more, 19 times in 20.",
		b.vehicles, b.seed, b.date, b.minutes, b.fixed[0], b.fixed[1], b.clamp[0], b.clamp[1])
}
