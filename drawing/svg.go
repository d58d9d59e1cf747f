package drawing

import (
	"fmt"
	"html"
	"io"
	"math"
	"strconv"
	"strings"
)

// SVG writes the scene as one svg element: classes only, no style and no
// script, so that it stands under a strict content policy; its look comes from
// the style sheet that CSS returns.
func (s *Scene) SVG(w io.Writer) error { return s.write(w, "") }

// Standalone writes the scene as a file of its own, with its look within.
func (s *Scene) Standalone(w io.Writer, theme Theme) error {
	css, err := theme.css()
	if err != nil {
		return err
	}
	return s.write(w, css)
}

func (s *Scene) write(w io.Writer, css string) error {
	b := &strings.Builder{}
	name := html.EscapeString(s.Name)
	fmt.Fprintf(b, `<svg xmlns="http://www.w3.org/2000/svg" class="drawing" role="img" viewBox="0 0 %s %s" width="%[1]s" height="%[2]s" aria-labelledby="%[3]s-t %[3]s-d">`,
		num(s.W), num(s.H), name)
	fmt.Fprintf(b, "\n<title id=\"%s-t\">%s</title>\n<desc id=\"%[1]s-d\">%[3]s</desc>\n", name, html.EscapeString(s.Title), html.EscapeString(s.Desc))
	if css != "" {
		fmt.Fprintf(b, "<style>\n%s</style>\n<rect class=\"dr-ground\" width=\"100%%\" height=\"100%%\"/>\n", css)
	}
	for i, g := range s.Groups {
		if len(g.Items) == 0 && g.written == "" {
			continue
		}
		if g.Clip != nil {
			fmt.Fprintf(b, "<clipPath id=\"%s-c%d\"><rect x=\"%s\" y=\"%s\" width=\"%s\" height=\"%s\"/></clipPath>\n", name, i,
				num(g.Clip.X0), num(g.Clip.Y0), num(g.Clip.w()), num(g.Clip.h()))
			fmt.Fprintf(b, "<g class=\"dr-g-%s\" clip-path=\"url(#%s-c%d)\">\n", g.Name, name, i)
		} else {
			fmt.Fprintf(b, "<g class=\"dr-g-%s\">\n", g.Name)
		}
		b.WriteString(g.written)
		for _, it := range g.Items {
			it.svg(b)
		}
		b.WriteString("</g>\n")
	}
	b.WriteString("</svg>\n")
	_, err := io.WriteString(w, b.String())
	return err
}

func (it Item) svg(b *strings.Builder) {
	to := make([]byte, 0, 512)
	if it.Text == "" {
		to = append(append(append(to, `<path class="dr-`...), it.Class...), `" d="`...)
		to = append(it.Path.svg(to), "\"/>\n"...)
		b.Write(to)
		return
	}
	anchor := [...]string{"", ` text-anchor="middle"`, ` text-anchor="end"`}[it.Align]
	to = append(append(append(to, `<text class="dr-`...), it.Class...), `" x="`...)
	to = append(appendNum(to, it.At.X), `" y="`...)
	to = append(appendNum(to, it.At.Y), `" font-size="`...)
	to = append(append(append(appendNum(to, it.Size), '"'), anchor...), '>')
	to = append(append(to, html.EscapeString(it.Text)...), "</text>\n"...)
	b.Write(to)
}

// svg is a path as SVG writes it. Curves go from where the last step ended: a dot or a pin
// is then the same letters wherever it stands, which packs to a third.
func (p Path) svg(to []byte) []byte {
	var at Pt
	for _, s := range p {
		op, n, from := s.Op, 1, Pt{}
		if s.Op == 'C' {
			op, n, from = 'c', 3, at
		}
		if s.Op == 'Z' {
			n = 0
		}
		to = append(to, op)
		for k := range n {
			if k > 0 {
				to = append(to, ' ')
			}
			at = s.P[k]
			to = appendNum(append(appendNum(to, at.X-from.X), ' '), at.Y-from.Y)
		}
	}
	return to
}

// num writes a length to a tenth of a px.
func num(x float64) string { return string(appendNum(nil, x)) }

func appendNum(to []byte, x float64) []byte {
	tenths := math.Round(x * 10)
	if math.Abs(tenths) > 1e9 || tenths != tenths {
		return strconv.AppendFloat(to, tenths/10+0, 'f', -1, 64)
	}
	n := int64(tenths) // nothing under nought keeps its sign
	if n < 0 {
		to, n = append(to, '-'), -n
	}
	if to = strconv.AppendInt(to, n/10, 10); n%10 > 0 {
		to = append(to, '.', byte('0'+n%10))
	}
	return to
}
