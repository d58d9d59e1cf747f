// Package sample thins wide enumerations in tests: those that send every fault,
// reading or arrangement the same way through the same code. By default a test
// takes the part that is chosen here, the same one every time; with
// CHARGEWRIGHT_ALL=1 in the environment, as make test-all sets it, the whole.
//
// It is for tests only. States and rules of the hook-up are never thinned: what
// keeps a hand safe is looked at whole. Open sample.go; CONTRIBUTING.md says how
// many to take.
package sample

import (
	"flag"
	"math"
	"os"
	"strconv"
	"testing"
)

// Variable is the environment variable that asks for the whole. Any value but ""
// and "0" does.
const Variable = "CHARGEWRIGHT_ALL"

// All says whether the whole was asked for.
func All() bool {
	v := os.Getenv(Variable)
	return v != "" && v != "0"
}

// Count is few, or all where the whole was asked for: of draws, seeds, rounds.
func Count(few, all int) int {
	if All() {
		return all
	}
	return few
}

// Part is the k-th of n parts of a list, or all of it where the whole was asked
// for. The parts together are the list: a test that goes through it under several
// circumstances, such as widths of paper, takes another part under each, and so
// leaves nothing out.
func Part[T any](list []T, k, n int) (out []T) {
	if All() || n < 2 {
		return list
	}
	for i := k % n; i < len(list); i += n {
		out = append(out, list[i])
	}
	return out
}

// Checks lets rapid make fewer checks than its hundred until the test ends. It
// draws others every time, so that they add up over the runs. A number on the
// command line (-rapid.checks) stands.
func Checks(t testing.TB, few int) {
	t.Helper()
	f := flag.Lookup("rapid.checks")
	if f == nil {
		t.Fatal("sample: this package does not use rapid")
	}
	if was := f.Value.String(); !All() && was == f.DefValue {
		_ = f.Value.Set(strconv.Itoa(few)) // a number is taken
		t.Cleanup(func() { _ = f.Value.Set(was) })
	}
}

// Of takes about n of a list, in its order: the first of each kind, however many
// kinds there are, and of the rest as many as are left, evenly spread from the
// first to the last. A hard case that must be in is a kind of its own. With kind
// nil all are of one kind.
func Of[T any](list []T, n int, kind func(T) string) []T {
	if All() || n >= len(list) {
		return list
	}
	return pick(list, n, kind)
}

func pick[T any](list []T, n int, kind func(T) string) (out []T) {
	var rest []int
	in, seen := make([]bool, len(list)), map[string]bool{}
	for i, x := range list {
		k := ""
		if kind != nil {
			k = kind(x)
		}
		if in[i] = !seen[k]; in[i] {
			n--
		} else {
			rest = append(rest, i)
		}
		seen[k] = true
	}
	for k := range max(0, min(n, len(rest))) {
		// The middle of the k-th of n equal stretches.
		in[rest[int(math.Floor((float64(k)+0.5)*float64(len(rest))/float64(n)))]] = true
	}
	for i, x := range list {
		if in[i] {
			out = append(out, x)
		}
	}
	return out
}
