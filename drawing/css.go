package drawing

import (
	_ "embed"
	"fmt"
	"strings"
)

//go:embed drawing.css
var sheetCSS string

// CSS is the style sheet of every drawing: colours by theme, classes by use.
func CSS() string { return sheetCSS }

// Theme is a set of colours.
type Theme string

// Themes. Auto follows the system's setting.
const (
	Auto  Theme = "auto"
	Light Theme = "light"
	Night Theme = "night"
	Sun   Theme = "sun"
)

// css is the style sheet for a file of its own: the theme is fixed in it.
func (t Theme) css() (string, error) {
	switch t {
	case Auto, Light, Night, Sun:
	default:
		return "", fmt.Errorf("no theme is called %q: auto, light, night or sun", t)
	}
	if t == Auto {
		return sheetCSS, nil
	}
	// An SVG file has no html element to carry the theme: its own root does.
	return strings.ReplaceAll(sheetCSS, `:root[data-theme="`+string(t)+`"]`, ":root:root"), nil
}
