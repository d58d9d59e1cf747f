package drawing_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"codeberg.org/go-pdf/fpdf"

	"chargewright/drawing"
	"chargewright/question"
)

// fullPicture has everything on it that a picture can have.
func fullPicture(t *testing.T, name string, width int) *drawing.Scene {
	t.Helper()
	sys := shipped(t)
	o := drawing.ForProcedure(sys, catalogue(t)["full-field-output"], reached(t, sys, "full-field-output"), 0)
	o.Name = name
	o.Leads = append(o.Leads, drawing.Lead{Red: "stud", Black: "case", Quantity: question.Volts, Box: 3})
	o.Now = &drawing.Now{Place: "regulator-plug", Stage: 5}
	o.Causes = []drawing.Cause{{Letter: "H", Faults: []string{"feed-joint-stud"}}, {Letter: "J", Faults: []string{"belt-slip"}}}
	sc, err := sheet(t, sys, width).Draw(o)
	if err != nil {
		t.Fatal(err)
	}
	return sc
}

func svg(t *testing.T, sc *drawing.Scene) string {
	t.Helper()
	var b strings.Builder
	if err := sc.SVG(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// TestSVG: well formed, classes only, its own ids, a title and a sentence.
func TestSVG(t *testing.T) {
	sys := shipped(t)
	known := regexp.MustCompile(`\.(dr-[a-z0-9-]+)`).FindAllStringSubmatch(drawing.CSS(), -1)
	page := svg(t, fullPicture(t, "wide", drawing.Wide)) + svg(t, fullPicture(t, "tablet", drawing.Tablet))
	o := drawing.ForProcedure(sys, catalogue(t)["drop-feed"], reached(t, sys, "drop-feed"), 0)
	o.Close, o.Name = true, "phone"
	sc, err := closeUp(t, sys, drawing.Phone).Draw(o)
	if err != nil {
		t.Fatal(err)
	}
	page += svg(t, sc)
	ids, texts := map[string]bool{}, map[string]string{}
	roots, inside := 0, ""
	for dec := xml.NewDecoder(strings.NewReader(page)); ; {
		tok, err := dec.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		switch x := tok.(type) {
		case xml.StartElement:
			inside = x.Name.Local
			if x.Name.Local == "script" || x.Name.Local == "style" {
				t.Errorf("a %s element", x.Name.Local)
			}
			roots += heldElement(t, x, ids, known)
		case xml.CharData:
			if s := strings.TrimSpace(string(x)); s != "" {
				texts[inside] += s + "\n"
			}
		}
	}
	if roots != 3 {
		t.Errorf("%d svg elements with role img, want 3", roots)
	}
	if len(ids) < 7 { // a title and a description each, and the phone's windows
		t.Errorf("ids: %v", ids)
	}
	for _, want := range []string{
		"Circuit: Isolated field", "\n",
	} {
		if !strings.Contains(texts["title"], want) {
			t.Errorf("the titles say %q", texts["title"])
		}
	}
	for _, want := range []string{
		"Meter 2 is the watch meter across the battery.", "Clamp meter 1 round the charge wire, its arrow from 2, ",
		"Meter 3 on DC volts: red lead on 1, alternator output stud; black lead on 19, alternator case.",
		"Off: plug off.", "H marks the place of: ring on the output stud poor.", "A dotted ring marks the regulator plug.", "At battery volts: points 1, 2, 3,",
		"red lead on 1, alternator output stud; black lead on 13, battery positive post.",
	} {
		if !strings.Contains(texts["desc"], want) {
			t.Errorf("the descriptions do not say %q: %s", want, texts["desc"])
		}
	}
}

// heldElement holds one element of a page; 1 for an svg that is an image.
func heldElement(t *testing.T, x xml.StartElement, ids map[string]bool, known [][]string) int {
	t.Helper()
	root := 0
	for _, a := range x.Attr {
		switch {
		case a.Name.Local == "style" || strings.HasPrefix(a.Name.Local, "on"):
			t.Errorf("%s has the attribute %s", x.Name.Local, a.Name.Local)
		case a.Name.Local == "id":
			if ids[a.Value] {
				t.Errorf("id %s is given twice on one page", a.Value)
			}
			ids[a.Value] = true
		case a.Name.Local == "role" && a.Value == "img" && x.Name.Local == "svg":
			root = 1
		case a.Name.Local == "class" && x.Name.Local != "svg" && x.Name.Local != "g":
			if !slices.ContainsFunc(known, func(k []string) bool { return k[1] == a.Value }) {
				t.Errorf("class %s has no look in the style sheet", a.Value)
			}
		}
	}
	return root
}

// TestSamePicture: the same question gives the same bytes.
func TestSamePicture(t *testing.T) {
	first := svg(t, fullPicture(t, "x", drawing.Phone))
	for range 3 {
		if svg(t, fullPicture(t, "x", drawing.Phone)) != first {
			t.Fatal("the picture changes from one time to the next")
		}
	}
}

func TestStandalone(t *testing.T) {
	sc := fullPicture(t, "x", drawing.Tablet)
	for _, theme := range []drawing.Theme{drawing.Auto, drawing.Light, drawing.Night, drawing.Sun} {
		var b strings.Builder
		if err := sc.Standalone(&b, theme); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(b.String(), "<style>") || !strings.Contains(b.String(), "dr-ground") {
			t.Errorf("%s: the file has no look of its own", theme)
		}
		if err := xml.Unmarshal([]byte(b.String()), new(struct{})); err != nil {
			t.Errorf("%s: %v", theme, err)
		}
	}
	if err := sc.Standalone(io.Discard, "dusk"); err == nil {
		t.Error("a theme that does not exist is taken")
	}
}

// TestStylesAgree: paper and page give each class the same look.
func TestStylesAgree(t *testing.T) {
	rules := regexp.MustCompile(`(?m)^\.drawing \.dr-([a-z0-9-]+) \{ ([^}]*)\}`).FindAllStringSubmatch(drawing.CSS(), -1)
	if len(rules) < 40 {
		t.Fatalf("%d classes in the style sheet", len(rules))
	}
	for _, r := range rules {
		props := map[string]string{}
		for p := range strings.SplitSeq(r[2], ";") {
			if k, v, ok := strings.Cut(strings.TrimSpace(p), ": "); ok {
				props[k] = v
			}
		}
		st := drawing.StyleOf(drawing.Class(r[1]))
		want := map[string]string{}
		if st.Stroke != "" && st.Stroke != drawing.Nothing {
			want["stroke"], want["stroke-width"] = fmt.Sprintf("var(--%s)", st.Stroke), strconv.FormatFloat(st.Width, 'f', -1, 64)
		}
		if st.Fill != "" && st.Fill != drawing.Nothing {
			want["fill"] = fmt.Sprintf("var(--%s)", st.Fill)
		}
		if st.Bold {
			want["font-weight"] = "700"
		}
		if st.Round {
			want["stroke-linecap"] = "round"
		}
		for i, d := range st.Dash {
			want["stroke-dasharray"] = strings.TrimSpace(want["stroke-dasharray"] + " " + strconv.FormatFloat(st.Dash[i], 'f', -1, 64))
			_ = d
		}
		if fmt.Sprint(props) != fmt.Sprint(want) {
			t.Errorf("class %s: the page has %v, paper %v", r[1], props, want)
		}
	}
}

// TestTokens: each theme gives every colour, and print those that paper uses.
func TestTokens(t *testing.T) {
	blocks := regexp.MustCompile(`(?s):root[^{]*\{([^}]*--paper[^}]*)\}`).FindAllStringSubmatch(drawing.CSS(), -1)
	if len(blocks) != 6 { // light, by the system's setting, light, night, sun, print
		t.Fatalf("%d sets of colours, want 6", len(blocks))
	}
	names := func(b string) string {
		var out []string
		for _, m := range regexp.MustCompile(`(--[a-z0-9-]+): #[0-9a-f]{6};`).FindAllStringSubmatch(b, -1) {
			out = append(out, m[1])
		}
		return strings.Join(out, " ")
	}
	for i, b := range blocks[1:] {
		if names(b[1]) != names(blocks[0][1]) {
			t.Errorf("set %d has %s, the first %s", i+2, names(b[1]), names(blocks[0][1]))
		}
	}
	printed := blocks[5][1]
	for _, tok := range []drawing.Token{drawing.Sheets, drawing.Ink, drawing.Ink2, drawing.Act, drawing.OnAct, drawing.Red, drawing.OnRed, drawing.Black, drawing.OnBlack, drawing.Casing} {
		c, ok := drawing.PaperColour(tok)
		if want := fmt.Sprintf("--%s: #%02x%02x%02x;", tok, c[0], c[1], c[2]); !ok || !strings.Contains(printed, want) {
			t.Errorf("paper has %s, which print has not", want)
		}
	}
}

// TestPDF: the scene on paper has a path for each shape and a text for each
// word, and its height keeps the picture's shape.
func TestPDF(t *testing.T) {
	sc := fullPicture(t, "x", drawing.Wide)
	doc := fpdf.New("L", "mm", "A4", "")
	doc.SetCompression(false)
	drawing.PDFFonts(doc)
	doc.AddPage()
	h, err := sc.PDF(doc, 15, 15, 267)
	if err != nil {
		t.Fatal(err)
	}
	if want := 267 * sc.H / sc.W; h < want-0.01 || h > want+0.01 {
		t.Errorf("%.2f mm high, want %.2f", h, want)
	}
	var b bytes.Buffer
	if err := doc.Output(&b); err != nil {
		t.Fatal(err)
	}
	shapes, texts := 0, 0
	for _, g := range sc.Groups {
		for _, it := range g.Items {
			switch {
			case it.Text != "":
				texts++
			case len(it.Path) > 0:
				shapes++
			}
		}
	}
	if n := len(regexp.MustCompile(`(?m)^(S|f|B|b|s|F|B\*|f\*)$`).FindAll(b.Bytes(), -1)); n < shapes {
		t.Errorf("%d shapes painted, want %d", n, shapes)
	}
	if n := bytes.Count(b.Bytes(), []byte(" Tj")); n != texts {
		t.Errorf("%d texts set, want %d", n, texts)
	}
	bad := fpdf.New("L", "mm", "A4", "")
	bad.AddPage()
	if _, err := sc.PDF(bad, 0, 0, 100); err == nil {
		t.Error("a document without the faces is taken")
	}
}
