package main

import (
	"fmt"
	"strings"
	"testing"
)

// stream makes the lines of `go test -json`, one `action test seconds` each.
func stream(lines ...string) string {
	var b strings.Builder
	for _, line := range lines {
		var action, test string
		var seconds float64
		if _, err := fmt.Sscanf(line, "%s %s %f", &action, &test, &seconds); err != nil {
			panic(fmt.Sprintf("a bad line in this test: %q: %v", line, err))
		}
		fmt.Fprintf(&b, `{"Action":"output","Package":"p/q","Test":%q,"Output":"said by %s\n"}`+"\n", test, test)
		fmt.Fprintf(&b, `{"Action":%q,"Package":"p/q","Test":%q,"Elapsed":%g}`+"\n", action, test, seconds)
	}
	return b.String()
}

const closing = `{"Action":"output","Package":"p/q","Output":"ok  \tp/q\t0.3s\n"}` + "\n" +
	`{"Action":"pass","Package":"p/q","Elapsed":0.3}` + "\n"

func TestGoodRun(t *testing.T) {
	var out strings.Builder
	in := "make: a line that is not JSON\n" + stream("pass TestB 0.1", "pass TestA/sub 0.2", "pass TestA 0.25") + closing
	if err := run(strings.NewReader(in), &out); err != nil {
		t.Fatal(err)
	}
	got := out.String()
	for _, want := range []string{"a line that is not JSON", "ok  \tp/q\t0.3s", "2 tests"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is missing in:\n%s", want, got)
		}
	}
	if strings.Contains(got, "said by") {
		t.Errorf("output of a test that passed was printed:\n%s", got)
	}
	if a, b := strings.Index(got, "TestA"), strings.Index(got, "TestB"); a < 0 || b < a {
		t.Errorf("TestA (0.25 s) does not stand before TestB (0.1 s):\n%s", got)
	}
	if strings.Contains(got, "TestA/sub") {
		t.Errorf("a subtest is listed beside the test that ran it:\n%s", got)
	}
}

func TestListsTen(t *testing.T) {
	var lines []string
	for i := range 15 {
		lines = append(lines, fmt.Sprintf("pass Test%02d 0.%02d", i, i))
	}
	var out strings.Builder
	if err := run(strings.NewReader(stream(lines...)), &out); err != nil {
		t.Fatal(err)
	}
	if got := strings.Count(out.String(), " s  p/q Test"); got != 10 {
		t.Errorf("%d tests listed, want 10:\n%s", got, out.String())
	}
}

func TestBadRuns(t *testing.T) {
	for name, c := range map[string]struct{ in, says string }{
		"skip":          {stream("pass TestA 1", "skip TestB 0") + closing, "skipped, which counts as failed here: p/q TestB"},
		"fail":          {stream("fail TestB 0") + closing, "failed: p/q TestB"},
		"build":         {`{"ImportPath":"p/q","Action":"build-output","Output":"x.go:1:1: no\n"}` + "\n" + `{"Action":"fail","Package":"p/q","Elapsed":0}` + "\n", "failed: p/q"},
		"cut short":     {`{"Action":"output","Package":"p/q","Test":"TestC","Output":"said by TestC\n"}` + "\n" + `{"Action":"fail","Package":"p/q","Elapsed":9}` + "\n", "failed: p/q"},
		"nothing run":   {closing, "no test in the stream"},
		"an empty pipe": {"", "no test in the stream"},
	} {
		var out strings.Builder
		err := run(strings.NewReader(c.in), &out)
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: got %v, want a problem with %q", name, err, c.says)
		}
		if name == "fail" && !strings.Contains(out.String(), "said by TestB") {
			t.Errorf("the failed test's output is missing:\n%s", out.String())
		}
		if name == "cut short" && !strings.Contains(out.String(), "said by TestC") {
			t.Errorf("the output of the test that never ended is missing:\n%s", out.String())
		}
		if name == "build" && !strings.Contains(out.String(), "x.go:1:1: no") {
			t.Errorf("the compiler's output is missing:\n%s", out.String())
		}
	}
}
