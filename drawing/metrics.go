package drawing

import (
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// Widths are measured in the Go fonts, which the PDF is set in. A page may set
// the same words in another face; margin is what its words may be wider.
const margin = 1.03

// face is a font with a buffer for reading it.
type face struct {
	font *sfnt.Font
	buf  sfnt.Buffer
	wide map[rune]float64 // advance at 1 px
	sync.Mutex
}

var faces = sync.OnceValue(func() [2]*face {
	var out [2]*face
	for i, data := range [][]byte{goregular.TTF, gobold.TTF} {
		f, err := sfnt.Parse(data)
		if err != nil {
			panic("the built-in font does not parse: " + err.Error()) // a constant of the library
		}
		out[i] = &face{font: f, wide: map[rune]float64{}}
	}
	return out
})

// TextWidth is how wide a text is set [px], a little on the wide side.
func TextWidth(s string, size float64, bold bool) float64 {
	f := faces()[0]
	if bold {
		f = faces()[1]
	}
	f.Lock()
	defer f.Unlock()
	w := 0.0
	for _, r := range s {
		w += f.advance(r)
	}
	return w * size * margin
}

// advance is a rune's at 1 px; one that the font lacks counts as an em.
func (f *face) advance(r rune) float64 {
	if w, known := f.wide[r]; known {
		return w
	}
	const at = 1000
	w := 1.0
	if g, err := f.font.GlyphIndex(&f.buf, r); err == nil && g != 0 {
		if a, err := f.font.GlyphAdvance(&f.buf, g, fixed.I(at), font.HintingNone); err == nil {
			w = float64(a) / 64 / at
		}
	}
	f.wide[r] = w
	return w
}

// Of a line of text: what stands over the base line and under it, in sizes.
// Capitals of the Go fonts are 0.72 high and descenders 0.21 deep; accents and
// brackets stay within.
const (
	ascent  = 0.78
	descent = 0.22
	leading = 1.14
)
