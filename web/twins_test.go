package web

import (
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"
)

// intakeForm is a whole form of a new job.
func (s *shop) intakeForm(t *testing.T, more ...string) url.Values {
	t.Helper()
	f := s.get(t, "/jobs/new").want(t, 200).form(t, "/jobs", "kind", "other", "system", theSystem, "meter", "dmm")
	for i := 0; i+1 < len(more); i += 2 {
		f.Set(more[i], more[i+1])
	}
	return f
}

// TestSameNumber: a job number that is there already is asked about, with the job
// that has it and everything that was typed; it can be another job all the same.
func TestSameNumber(t *testing.T) {
	s := theShop(t)
	first := s.ask(t, http.MethodPost, "/jobs", s.intakeForm(t, "job", "Tw 7", "note", "Tow truck", "customer", "Ferry office")).want(t, 303).Get("Location")
	f := s.intakeForm(t, "job", " tw 7 ", "note", "Milk float", "words", "hums", "customer", "Dairy", "plate", "MI 1", "contact", "bell", "when", "hot", "volts", "12", "ambient", "9 °C")
	a := s.ask(t, http.MethodPost, "/jobs", f).want(t, 422, "Job tw 7 is there already: Tow truck", "ready for you", "The next free number is", first, "all the same", "Nothing was recorded")
	for name, values := range f {
		for _, v := range values {
			if name != "job" && !strings.Contains(a.body, `value="`+v+`"`) {
				t.Errorf("%s lost %q", name, v)
			}
		}
	}
	if strings.Count(a.body, " checked") < 4 {
		t.Error("what was ticked is ticked no more")
	}
	// Another number that is taken is asked about as well.
	s.ask(t, http.MethodPost, "/jobs", s.intakeForm(t, "job", "Tw 8")).want(t, 303)
	f.Set("twice", "tw 7")
	f.Set("job", "TW 8")
	s.ask(t, http.MethodPost, "/jobs", f).want(t, 422, "Job TW 8 is there already")
	// Wrong in another way, too: everything at once, and the tick stays.
	f.Set("job", "tw 7")
	f.Set("volts", "lots")
	s.ask(t, http.MethodPost, "/jobs", f).want(t, 422, "lots")
	f.Set("volts", "12 V")
	other := s.ask(t, http.MethodPost, "/jobs", f).want(t, 303).Get("Location")
	if other == first {
		t.Error("it led to the other job")
	}
	if again := s.ask(t, http.MethodPost, "/jobs", f).want(t, 303).Get("Location"); again != other {
		t.Errorf("sent again it leads to %s, want %s", again, other)
	}
	// The number that is proposed is free, however long ago the highest was used.
	n := s.get(t, "/jobs/new").body
	_, n, _ = strings.Cut(n, `id="job" name="job" value="`)
	n, _, _ = strings.Cut(n, `"`)
	if same, err := s.book.Numbered(t.Context(), n); err != nil || len(same) > 0 || n == "" {
		t.Errorf("%q is proposed, which %d jobs have (%v)", n, len(same), err)
	}
}

// TestSameNumberAtOnce: of two devices that were proposed the same number and
// send at the same time, one is asked.
func TestSameNumberAtOnce(t *testing.T) {
	s := theShop(t)
	forms := []url.Values{s.intakeForm(t, "job", "At once"), s.intakeForm(t, "job", "At once")}
	codes := make([]int, len(forms))
	var all sync.WaitGroup
	for i, f := range forms {
		all.Go(func() { codes[i] = s.ask(t, http.MethodPost, "/jobs", f).code })
	}
	all.Wait()
	if codes[0]+codes[1] != 303+422 {
		t.Errorf("answered %v, want one 303 and one 422", codes)
	}
}

// TestNoNumber: jobs without a number are no twins of each other.
func TestNoNumber(t *testing.T) {
	s := theShop(t)
	for range 2 {
		s.ask(t, http.MethodPost, "/jobs", s.intakeForm(t, "job", "")).want(t, 303)
	}
}
