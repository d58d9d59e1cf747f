package report

import (
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/text/unicode/norm"
)

// style is how words are set.
type style struct {
	size  float64 // [pt]
	bold  bool
	grey  bool // still dark enough for a copier
	right bool // x is their right end
}

var (
	titleType  = style{size: 17, bold: true}
	headType   = style{size: 11.5, bold: true}
	stepType   = style{size: 14, bold: true}
	bodyType   = style{size: 10}
	strongType = style{size: 10, bold: true}
	noteType   = style{size: 8.5, grey: true}
	tableType  = style{size: 9}
	finelyType = style{size: 8.5}
	topType    = style{size: 9, bold: true}
	footType   = style{size: 7, grey: true}
)

// em is the height of the type [mm].
func (st style) em() float64 { return st.size * 25.4 / 72 }

// line is the height of a line; base is where its letters stand in it. The Go
// faces reach 0.94 em over the base line with accents and 0.21 em under it.
func (st style) line() float64 { return 1.3 * st.em() }
func (st style) base() float64 { return 1.0 * st.em() }

// missing stands for a sign that the printed faces lack.
const missing = '□'

// signs are those that the printed faces have.
var signs = sync.OnceValue(func() map[rune]bool {
	out := map[rune]bool{}
	f, err := sfnt.Parse(goregular.TTF)
	if err != nil {
		panic("the built-in font does not parse: " + err.Error()) // a constant of the library
	}
	var b sfnt.Buffer
	for r := rune(0x20); r < 0x10000; r++ {
		if g, err := f.GlyphIndex(&b, r); err == nil && g != 0 {
			out[r] = true
		}
	}
	return out
})

// printable is a text as it can be printed: joined letters, plain spaces, no
// signs that only steer a screen, and a square for what the faces lack.
func (s *setter) printable(text string) string {
	has := signs()
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n':
			return r
		case unicode.IsSpace(r):
			return ' '
		case r == '\u2011': // a hyphen that does not break
			return '-'
		case unicode.In(r, unicode.Cc, unicode.Cf, unicode.Variation_Selector):
			return -1
		case has[r]:
			return r
		}
		s.lacks = true
		return missing
	}, norm.NFC.String(text))
}

// wrap breaks a text into lines. It breaks at spaces, not at those that keep a
// number and its unit together; a word wider than a line is cut.
func (s *setter) wrap(text string, w float64, st style) []string {
	var out []string
	for para := range strings.SplitSeq(strings.TrimRight(text, "\n "), "\n") {
		line := ""
		for word := range strings.SplitSeq(para, " ") {
			word = s.printable(word)
			switch {
			case word == "":
				continue
			case line == "":
				line = word
			case s.width(line+" "+word, st) <= w:
				line += " " + word
			default:
				out = append(out, line)
				line = word
			}
			for s.width(line, st) > w {
				head, rest := s.cut(line, w, st)
				out = append(out, head)
				line = rest
			}
		}
		out = append(out, line)
	}
	return out
}

// cut takes as much of a long word as a line holds, at least one sign.
func (s *setter) cut(word string, w float64, st style) (head, rest string) {
	s.cuts++
	r := []rune(word)
	n := len(r) - 1
	for n > 1 && s.width(string(r[:n]), st) > w {
		n--
	}
	return string(r[:n]), string(r[n:])
}
