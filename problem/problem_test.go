package problem

import (
	"encoding/json"
	"errors"
	"fmt"
	"testing"
)

func TestString(t *testing.T) {
	cases := []struct {
		p    Problem
		want string
	}{
		{Problem{File: "a.yaml", Line: 3, Col: 7, What: "no unit", Instead: "14.2 V"}, "a.yaml:3:7: no unit; write instead: 14.2 V"},
		{Problem{File: "a.yaml", Line: 3, What: "no unit"}, "a.yaml:3: no unit"},
		{Problem{File: "a.yaml", What: "empty"}, "a.yaml: empty"},
		{Problem{Line: 3, Col: 7, What: "no unit"}, "line 3:7: no unit"},
		{Problem{What: "no unit", Instead: "14.2 V"}, "no unit; write instead: 14.2 V"},
	}
	for _, c := range cases {
		if got := c.p.String(); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}

func TestErrIsNilWhenEmpty(t *testing.T) {
	var none List
	if none.Err() != nil || (List{}).Err() != nil {
		t.Error("an empty list must give a nil error")
	}
	none.Add(Problem{What: "x"})
	if none.Err() == nil {
		t.Error("a list with a problem must not give nil")
	}
}

func TestSortAndError(t *testing.T) {
	var l List
	for _, p := range []Problem{
		{File: "b", Line: 1, What: "5"},
		{File: "a", Line: 10, What: "4"},
		{File: "a", Line: 2, Col: 9, What: "2"},
		{File: "a", Line: 2, Col: 9, What: "3"},
		{File: "a", Line: 2, Col: 1, What: "1"},
	} {
		l.Add(p)
	}
	l.Sort()
	want := "a:2:1: 1\na:2:9: 2\na:2:9: 3\na:10: 4\nb:1: 5"
	if got := l.Error(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func TestAsAndJSON(t *testing.T) {
	l := List{{File: "a", Line: 1, Col: 2, What: "w", Instead: "i"}, {What: "only"}}
	err := fmt.Errorf("reading: %w", l.Err())
	var list List
	if !errors.As(err, &list) || len(list) != 2 {
		t.Error("errors.As does not find the list")
	}
	var one Problem
	if !errors.As(err, &one) || one.What != "w" {
		t.Error("errors.As does not find the first problem")
	}
	b, _ := json.Marshal(l)
	if want := `[{"file":"a","line":1,"col":2,"what":"w","instead":"i"},{"what":"only"}]`; string(b) != want {
		t.Errorf("got %s", b)
	}
}
