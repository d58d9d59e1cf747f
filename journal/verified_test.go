package journal

import (
	"strings"
	"testing"

	"chargewright/internal/storetest"
)

// TestVerifyOn: what was found is kept for every server; an end that was cut off since the
// last time is found, and goes on being found.
func TestVerifyOn(t *testing.T) { storetest.Each(t, onVerifyOn) }

func onVerifyOn(t *testing.T, k storetest.Kind) {
	s, db := three(t, k)
	if _, was, err := s.LastVerified(t.Context()); was || err != nil {
		t.Fatalf("verified before it was (%v)", err)
	}
	head := sound(t, s).Head
	for range 2 {
		if v, err := s.VerifyOn(t.Context()); err != nil || v.Breaks != 0 || v.Head != head {
			t.Fatalf("%+v (%v)", v, err)
		}
	}
	if v, was, err := s.LastVerified(t.Context()); !was || err != nil || v.Breaks != 0 || v.Head != head || v.At.IsZero() {
		t.Errorf("%+v (%v)", v, err)
	}
	tamper(t, db, "DELETE FROM event WHERE place = (SELECT max(place) FROM event)")
	for range 2 {
		v, err := s.VerifyOn(t.Context())
		if err != nil || v.Breaks == 0 || v.First == "" {
			t.Fatalf("the end was cut off, and what is found is %+v (%v)", v, err)
		}
		if kept, _, err := s.LastVerified(t.Context()); err != nil || kept.Breaks != v.Breaks || kept.First != v.First || kept.Head != head {
			t.Errorf("kept is %+v (%v)", kept, err)
		}
	}
	r, err := s.Verify(t.Context(), head.Sum)
	if err != nil || r.At != -1 || !strings.Contains(r.Breaks[len(r.Breaks)-1].Error(), "never had the head") {
		t.Errorf("%+v (%v)", r, err)
	}
}
