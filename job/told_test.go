package job

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"strings"
	"testing"

	"chargewright/advice"
	"chargewright/internal/sample"
)

// What a job file may say is what advice weighs.
func TestToldWordsAgree(t *testing.T) {
	shelf, err := library()
	if err != nil {
		t.Fatal(err)
	}
	j := told(t, "hot-quitter")
	in := input(t, j, shelf.PracticeOf(j.System))
	in.Readings = nil
	in.Told = advice.Told{When: slices.DeleteFunc(Occasions(), func(w string) bool { _, spoken := spokenOccasions[w]; return spoken }), Before: BeforeWords, Noticed: NoticedWords, Use: UseWords}
	a, err := advice.Ask(context.Background(), in)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := len(a.Told), len(in.Told.When)+len(BeforeWords)+len(NoticedWords)+len(UseWords); got != want {
		t.Errorf("%d words are weighed of %d", got, want)
	}
}

// TestMisleadingStory: with the two words ticked that speak most against what is
// wrong, the readings still find it in all jobs of the trade but one at most, and no
// other cure is stated above 0.9. Every job is tried with CHARGEWRIGHT_ALL.
func TestMisleadingStory(t *testing.T) {
	missed := 0
	shelf, err := library()
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range sample.Of(stories, 4, func(struct{ file, repair, decides string }) string { return "" }) {
		t.Run(s.file, func(t *testing.T) {
			j := told(t, s.file)
			in := input(t, j, shelf.PracticeOf(j.System))
			fault := ""
			for _, x := range asTold(t, s.file).Suspects {
				if x.Repair == s.repair && fault == "" {
					fault = x.Faults[0].Fault
				}
			}
			worst := slices.SortedFunc(slices.Values(everyWord(t, in)), func(a, b advice.Heard) int { return cmp.Compare(a.Bits[fault]-most(a), b.Bits[fault]-most(b)) })[:2]
			in.Told = advice.Told{}
			for _, w := range worst {
				if w.Group == "before" {
					in.Told.Before = append(in.Told.Before, w.Word)
				} else {
					in.Told.Noticed = append(in.Told.Noticed, w.Word)
				}
			}
			a, err := advice.Ask(context.Background(), in)
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%s with %v: %s %.3f", fault, in.Told, a.Suspects[0].Repair, a.Suspects[0].Probability)
			share := 0.0
			for _, x := range a.Suspects {
				if slices.Contains(strings.Split(x.Repair, "+"), s.repair) {
					share += x.Probability
				}
			}
			if share < 0.8 {
				missed++
			}
			if a.Suspects[0].Repair != s.repair && share < 0.8 && a.Suspects[0].Probability > 0.9 {
				t.Errorf("with %v told, %s has %.2f and %s leads with %.2f", in.Told, s.repair, share, a.Suspects[0].Repair, a.Suspects[0].Probability)
			}
		})
	}
	if missed > 1 {
		t.Errorf("%d jobs are led astray by what was told", missed)
	}
}

// everyWord is what each word speaks for, before anything is read.
func everyWord(t *testing.T, in advice.Input) []advice.Heard {
	t.Helper()
	in.Readings, in.Repairs, in.Told = nil, nil, advice.Told{Before: BeforeWords, Noticed: NoticedWords}
	all, err := advice.Consider(context.Background(), in)
	if err != nil {
		t.Fatal(err)
	}
	return all.Advice.Told
}

// most is what a word says of the fault that it speaks for most.
func most(h advice.Heard) float64 { return slices.Max(slices.Collect(maps.Values(h.Bits))) }
