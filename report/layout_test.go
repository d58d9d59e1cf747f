package report_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"chargewright/internal/near"
	"chargewright/job"
	"chargewright/report"
)

// papers are the papers of the made-up job in several states: in the middle, with
// the cause found, signed.
func papers(t *testing.T) map[string]any {
	t.Helper()
	events, r := signed(t), record(t)
	once.Lock()
	defer once.Unlock()
	if once.papers != nil {
		return once.papers
	}
	out := map[string]any{"record": r}
	for name, n := range map[string]int{"half": 9, "found": 13, "signed": len(events)} {
		c := caseOf(t, events[:n])
		sheet, err := report.Customer(t.Context(), c)
		if err != nil {
			t.Fatal(err)
		}
		card, err := report.CardOf(t.Context(), c)
		if err != nil {
			t.Fatal(err)
		}
		out["customer "+name], out["card "+name] = sheet, card
	}
	once.papers = out
	return out
}

// TestTwoFaults: a job whose likely causes are two faults at once has a card, each
// letter where its fault sits.
func TestTwoFaults(t *testing.T) {
	name := "../examples/two-faults.yaml"
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	c := caseOf(t, nil)
	if c.Events, err = job.Parse(name, data, c.Shelf); err != nil {
		t.Fatal(err)
	}
	k, err := report.CardOf(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(k.Causes[0].Letter, "+") {
		t.Fatalf("the example's first cause is %+v: this test needs two faults together", k.Causes[0])
	}
	pages, _, err := report.Pages(k, front(report.A4))
	if err != nil {
		t.Fatal(err)
	}
	for n, page := range pages {
		for _, x := range wrongs(page, report.A4) {
			t.Errorf("page %d: %s", n+1, x)
		}
	}
	for i, letter := range strings.Split(k.Causes[0].Letter, "+") {
		if !strings.Contains(report.Described(k, 0), letter+" marks the place of") {
			t.Errorf("letter %d, %s, is not on the drawing: %s", i+1, letter, report.Described(k, 0))
		}
	}
}

// TestNothingOverlaps: on every page of every paper, at both sizes, no words lie
// over others, over a drawing or in a blank; nothing leaves the paper's margins;
// no heading ends a page; each page says the same hash and which of how many it
// is.
func TestNothingOverlaps(t *testing.T) {
	for name, v := range papers(t) {
		sum, err := report.SHA256(v)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range []report.Paper{report.A4, report.Letter} {
			pages, cuts, err := report.Pages(v, front(p))
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if cuts > 0 {
				t.Errorf("%s on %s: %d words find no room in their column", name, p, cuts)
			}
			for n, page := range pages {
				for _, x := range wrongs(page, p) {
					t.Errorf("%s on %s, page %d: %s", name, p, n+1, x)
				}
				foot := fmt.Sprintf("page %d of %d", n+1, len(pages))
				if !says(page, "Content sha256 "+sum) || !says(page, foot) {
					t.Errorf("%s on %s, page %d: no %q, or not the hash %s", name, p, n+1, foot, sum)
				}
			}
		}
	}
}

func says(page []report.Placed, text string) bool {
	for _, x := range page {
		if x.Text == text {
			return true
		}
	}
	return false
}

// wrongs are the faults of a page.
func wrongs(page []report.Placed, p report.Paper) []string {
	const (
		margin = 15.0 - 0.01
		hair   = 0.05 // rounding of millimetres; lines of one text touch
		least  = 7.0  // [pt] the smallest that is read without effort (memory)
	)
	wide, high := report.Size(p)
	var out []string
	lowest := 0.0
	for _, a := range page {
		if a.Kind == "words" || a.Kind == "picture" {
			lowest = max(lowest, a.Y0)
		}
		bottom := high - 4 // the foot's last line
		if a.X0 < margin || a.Y0 < margin-1 && a.Kind != "frame" || a.X1 > wide-margin || a.Y1 > bottom {
			out = append(out, fmt.Sprintf("%s %q leaves the margins: %.1f, %.1f to %.1f, %.1f", a.Kind, a.Text, a.X0, a.Y0, a.X1, a.Y1))
		}
		if a.Kind == "words" && a.Size < least {
			out = append(out, fmt.Sprintf("%q is set in %g pt", a.Text, a.Size))
		}
	}
	for i, a := range page {
		for _, b := range page[i+1:] {
			if solid(a) && solid(b) && a.X0 < b.X1-hair && b.X0 < a.X1-hair && a.Y0 < b.Y1-hair && b.Y0 < a.Y1-hair {
				out = append(out, fmt.Sprintf("%s %q and %s %q lie over each other", a.Kind, a.Text, b.Kind, b.Text))
			}
		}
	}
	last := -1.0
	for _, a := range page { // the last thing over the foot
		if a.Kind == "words" && a.Y1 < high-14 {
			last = max(last, a.Y0)
		}
	}
	for _, a := range page {
		if a.Heading && a.Y0 >= last-0.01 && !below(page, a) {
			out = append(out, fmt.Sprintf("heading %q ends the page", a.Text))
		}
	}
	return out
}

// solid says whether nothing else may stand where a piece stands: words,
// drawings, and boxes that are written in.
func solid(a report.Placed) bool {
	const written = 5.0 // [mm] a box lower than this is a tick box or a mark
	return a.Kind == "words" || a.Kind == "picture" || a.Kind == "frame" && a.Y1-a.Y0 > written
}

// below says whether something other than the foot stands under a heading.
func below(page []report.Placed, h report.Placed) bool {
	for _, a := range page {
		if a.Y0 >= h.Y1-0.5 && (a.Kind == "picture" || a.Kind == "frame" || a.Kind == "rule" && a.Y0 < h.Y1+30) {
			return true
		}
	}
	return false
}

// TestOverlapIsSeen: the test above sees what it is there for.
func TestOverlapIsSeen(t *testing.T) {
	word := func(x, y, w float64, s string) report.Placed {
		return report.Placed{Kind: "words", X0: x, Y0: y, X1: x + w, Y1: y + 4, Text: s, Size: 9}
	}
	head := word(20, 250, 30, "Head")
	head.Heading = true
	small := word(20, 100, 30, "small")
	small.Size = 6
	for want, page := range map[string][]report.Placed{
		"lie over each other": {word(20, 20, 30, "one"), word(45, 22, 30, "two")},
		"\"one\" and frame":   {word(20, 20, 30, "one"), {Kind: "frame", X0: 30, Y0: 18, X1: 60, Y1: 27}},
		"\"one\" and picture": {word(20, 20, 30, "one"), {Kind: "picture", X0: 30, Y0: 18, X1: 60, Y1: 27}},
		"leaves the margins":  {word(190, 20, 30, "one")},
		"is set in 6 pt":      {small},
		"ends the page":       {word(20, 20, 30, "one"), head},
	} {
		if got := strings.Join(wrongs(page, report.A4), "\n"); !strings.Contains(got, want) {
			t.Errorf("want %q, got %q", want, got)
		}
	}
	if got := wrongs([]report.Placed{word(20, 20, 30, "one"), word(20, 24, 30, "two"), word(50, 20, 30, "three")}, report.A4); len(got) > 0 {
		t.Errorf("a good page: %v", got)
	}
}

// TestOddWords: whatever somebody types, a page stays a page.
func TestOddWords(t *testing.T) {
	r := sampleRecord()
	long := strings.Repeat("Donaudampfschifffahrtselektrizitätenhauptbetriebswerkbauunterbeamtengesellschaft", 12)
	odd := []string{
		"", " ", "\u00a0", "🔋 flat since Monday 🚗", "e\u0301te\u0301", "مرحبا", "日本語の説明", "a\x00b\x1bc\u202ed\ufeff", "\U00010000\U0010ffff", "two\nlines\r\nand\tmore", long,
		strings.Repeat("word ", 3000), "\xff\xfe broken bytes", "=HYPERLINK(\"x\")",
	}
	for _, text := range odd {
		x := r
		x.Vehicle.Note, x.Complaint.Words, x.Assumed = text, text, []string{text}
		x.Events = append([]report.Entry{}, r.Events...)
		x.Events[1].Title, x.Events[1].Says = text, []string{text, text}
		c := front(report.Letter)
		c.Workshop, c.Customer, c.Plate = text, text, text
		pages, _, err := report.Pages(x, c)
		if err != nil {
			t.Fatalf("%.20q: %v", text, err)
		}
		for n, page := range pages {
			for _, w := range wrongs(page, report.Letter) {
				t.Errorf("%.20q, page %d: %s", text, n+1, w)
			}
		}
		var b strings.Builder
		if err := report.RecordPDF(&b, x, c); err != nil {
			t.Errorf("%.20q: %v", text, err)
		}
	}
	x := r
	x.Complaint.Words = "🔋 flat"
	pages, _, err := report.Pages(x, front(report.A4))
	if err != nil {
		t.Fatal(err)
	}
	if all := texts(pages); !strings.Contains(all, "□ flat") || !strings.Contains(all, "□ stands for a sign") {
		t.Error("a sign that cannot be printed is left out without a word")
	}
}

// texts are the words of pages in the order in which they are read aloud.
func texts(pages [][]report.Placed) string {
	var b strings.Builder
	for n, page := range pages {
		fmt.Fprintf(&b, "-- %d\n", n+1)
		for _, x := range page {
			if x.Kind == "words" {
				b.WriteString(x.Text + "\n")
			} else if x.Kind == "picture" {
				b.WriteString("[drawing]\n")
			}
		}
	}
	return b.String()
}

// TestGoldenPapers: golden: the words of each paper, made from data written by
// hand below, as somebody last looked at them. It proves only that nothing moved
// unseen; no figure in it comes from the model.
func TestGoldenPapers(t *testing.T) {
	for name, v := range map[string]any{"customer": sampleReport(), "record": sampleRecord(), "card": sampleCard()} {
		for _, p := range []report.Paper{report.A4, report.Letter} {
			pages, cuts, err := report.Pages(v, front(p))
			if err != nil || cuts > 0 {
				t.Fatalf("%s on %s: %d words find no room (%v)", name, p, cuts, err)
			}
			for n, page := range pages {
				for _, w := range wrongs(page, p) {
					t.Errorf("%s on %s, page %d: %s", name, p, n+1, w)
				}
			}
			near.Golden(t, filepath.Join("testdata", name+"-"+string(p)+".txt"), []byte(texts(pages)), near.Tol{})
		}
	}
}
