package main

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

// TestBenchmarkIsTheReport: what the demonstration says of the benchmark stands in
// docs/results.md. Source: that file, which `make bench` printed.
func TestBenchmarkIsTheReport(t *testing.T) {
	b, err := readBenchmark()
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile("../../docs/results.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		b.date, fmt.Sprintf("Seed %d", b.seed),
		fmt.Sprintf("| planner | %.1f |", b.minutes),
		fmt.Sprintf("+%.1f ± %.1f", b.fixed[0], b.fixed[1]),
		fmt.Sprintf("+%.1f ± %.1f", b.clamp[0], b.clamp[1]),
	} {
		if !strings.Contains(string(data), want) {
			t.Errorf("docs/results.md does not hold %q: write benchmark.yaml anew from it", want)
		}
	}
}
