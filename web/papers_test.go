package web

import (
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"chargewright/internal/need"
	"chargewright/journal"
	"chargewright/report"
)

var contentHash = regexp.MustCompile(`Content sha256 ([0-9a-f]{64})`)

// printed is the text of a PDF, and how wide its first page is [pt].
func printed(t *testing.T, pdf string) (text, size string) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "paper.pdf")
	if err := os.WriteFile(file, []byte(pdf), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(need.Program(t, "pdftotext"), "-layout", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	info, err := exec.Command(need.Program(t, "pdfinfo"), file).Output()
	if err != nil {
		t.Fatal(err)
	}
	_, size, _ = strings.Cut(string(info), "Page size:")
	size, _, _ = strings.Cut(size, "\n")
	return string(out), strings.TrimSpace(size)
}

// TestPapers: page, PDF on either paper and JSON of each paper carry one content
// hash, which is that of the JSON's bytes; the same job gives the same bytes,
// dated by its last entry.
func TestPapers(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t, "job", "P 1", "customer", "Lock keeper", "plate", "PAP 1")
	s.read(t, at, "charge-volts", "14.1 V", "8.0 A").want(t, 303)
	date := s.events(t, at)[1].Recorded.In(s.Now().Location()).Format("2 January 2006")
	for _, kind := range []string{"report", "record", "card"} {
		page := s.get(t, at+"/"+kind).want(t, 200, "Lock keeper", "PAP 1", date)
		if strings.Contains(page.body, ", journal ") {
			t.Errorf("%s: an unsigned paper names a head of the journal, which moves without it", kind)
		}
		sum := sha256.Sum256([]byte(s.get(t, at+"/"+kind+".json").want(t, 200).body))
		want := hex.EncodeToString(sum[:])
		pdf := s.get(t, at+"/"+kind+".pdf").want(t, 200)
		if again := s.get(t, at+"/"+kind+".pdf"); again.body != pdf.body {
			t.Errorf("%s: made twice it is not the same", kind)
		}
		text, size := printed(t, pdf.body)
		letter, letterSize := printed(t, s.ask(t, http.MethodGet, at+"/"+kind+".pdf", nil, with(paperCookie+"=letter")).body)
		if !strings.HasPrefix(size, "595") || !strings.Contains(size, "A4") || !strings.HasPrefix(letterSize, "612 x 792") {
			t.Errorf("%s is on %s, and on %s where Letter was chosen", kind, size, letterSize)
		}
		for what, x := range map[string]string{"page": page.body, "PDF": text, "PDF on Letter": letter} {
			all := contentHash.FindAllStringSubmatch(x, -1)
			if len(all) == 0 || what != "page" && len(all) != strings.Count(x, "\f") {
				t.Errorf("%s, %s: the hash stands %d times on %d pages", kind, what, len(all), strings.Count(x, "\f"))
			}
			for _, m := range all {
				if m[1] != want {
					t.Errorf("%s, %s: hash %s, the JSON's is %s", kind, what, m[1], want)
				}
			}
		}
	}
	if b := s.get(t, at+"?key=do:rotor-ohms").body; strings.Contains(b, " ohm<") || strings.Contains(b, "\u00a0ohm") || !strings.Contains(b, "Ω") {
		t.Error("a strip or a reading says ohm where the page says Ω")
	}
}

// TestExport: the export of a job is a parcel that reads back whole; the name
// goes along on its own address alone.
func TestExport(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t, "job", "P 2", "note", "hybrid van", "customer", "Ferryman") // refused: it can be handed on all the same
	for _, c := range []struct {
		path, name string
		customer   bool
	}{{"/export", "job-P2.job", false}, {"/export-with-customer", "job-with-customer-P2.job", true}} {
		a := s.get(t, at+c.path).want(t, 200)
		if got := a.Get("Content-Disposition"); got != `attachment; filename="`+c.name+`"` {
			t.Errorf("%s is sent as %s", c.path, got)
		}
		p, err := journal.ParseParcel("export", []byte(a.body))
		if err != nil {
			t.Fatal(err)
		}
		events, err := p.Events()
		if err != nil || len(events) != len(s.events(t, at)) || (p.Customer != nil) != c.customer || strings.Contains(a.body, "Ferryman") != c.customer {
			t.Errorf("%s: %d events, customer %v (%v)", c.path, len(events), p.Customer, err)
		}
	}
	s.get(t, at+"/record").want(t, 422, "high voltage")
}

// TestSignedHash: the sheet that is shown before the signature is the one that
// is signed, byte for byte of its data.
func TestSignedHash(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	s.read(t, at, "look-belt", "sound and tight").want(t, 303)
	before := contentHash.FindString(s.get(t, at+"/report").body)
	s.signOff(t, at)
	if after := contentHash.FindString(s.get(t, at+"/report").want(t, 200, ", journal ").body); after != before || before == "" {
		t.Errorf("signed it is %s, before %s", after, before)
	}
	if _, err := report.Parse([]byte(s.get(t, at+"/report.json").body)); err != nil {
		t.Error(err)
	}
}
