package chargewright

import (
	"fmt"
	"go/ast"
	"go/token"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

const module = "chargewright"

// order is the import order: a package imports only packages of earlier lines,
// never a neighbour on its own line. A sub-package counts with its parent.
// Move a package when the data's way asks for it, with a note in
// docs/decisions.
var order = [][]string{
	{"unit", "problem"},
	{"circuit", "waveform", "internal"},
	{"meter", "rig", "battery", "machine", "regulator"},
	{"system"},
	{"question", "identify"},
	{"prediction"},
	{"truth", "diagnosis"},
	{"planning"},
	{"advice"},
	{"job", "drawing", "fit"},
	{"store"},
	{"task"},
	{"journal", "account", "instrument"},
	{"practice", "balance", "report", "learning"},
	{"web"},
	{"cmd"},
}

// outside are the packages that may touch clock, disk, network and chance.
var outside = []string{"store", "task", "journal", "account", "instrument", "web", "cmd"}

// rel is the package's path within the module, "." for the root.
func (p pkg) rel() string {
	if p.ImportPath == module {
		return "."
	}
	return strings.TrimPrefix(p.ImportPath, module+"/")
}

// home is the package on the list that this one counts with; one package
// under internal does not count with another.
func (p pkg) home() string { return home(p.ImportPath) }

func home(importPath string) string {
	rest, ok := strings.CutPrefix(importPath, module+"/")
	if !ok {
		return ""
	}
	first, _, _ := strings.Cut(rest, "/")
	return first
}

// line is the number of the package's line, -1 when it is on none.
func line(importPath string) int {
	return slices.IndexFunc(order, func(names []string) bool { return slices.Contains(names, home(importPath)) })
}

// supports says whether a package under internal serves only tests and main
// programs there: nothing that ships imports it.
func (p pkg) supports(all []pkg) bool {
	if p.home() != "internal" {
		return false
	}
	return p.Name == "main" || !slices.ContainsFunc(all, func(q pkg) bool {
		return slices.Contains(q.Imports, p.ImportPath) && !q.supports(all)
	})
}

// mayTouchOutside says whether the package may use clock, disk and network:
// those of the list, generators (main programs), and what serves only tests.
func (p pkg) mayTouchOutside(all []pkg) bool {
	return slices.Contains(outside, p.home()) || p.Name == "main" || p.supports(all)
}

// importOrder holds every import, tests' too, against the order.
func importOrder(all []pkg) (problems []string) {
	say := func(format string, args ...any) { problems = append(problems, fmt.Sprintf(format, args...)) }
	for _, p := range all {
		if p.ImportPath != module && line(p.ImportPath) < 0 {
			say("%s is not in the import order: give it a line in house_rules_test.go and a note in docs/decisions", p.rel())
			continue
		}
		if len(p.CgoFiles) > 0 {
			say("%s uses cgo (%v): the program is built without", p.rel(), p.CgoFiles)
		}
		support := p.supports(all)
		for _, q := range p.Imports {
			if home(q) != "" && !support && !earlier(p, q) {
				say("%s imports %s, which stands on its own line or a later one: the import order is in house_rules_test.go", p.rel(), q)
			}
		}
		for _, q := range slices.Concat(p.TestImports, p.XTestImports) {
			if home(q) != "" && home(q) != "internal" && !support && !earlier(p, q) {
				say("a test of %s imports %s, which stands on its own line or a later one: move the test there, or the help it needs to internal/", p.rel(), q)
			}
		}
	}
	return problems
}

// earlier says whether p may import q.
func earlier(p pkg, q string) bool {
	if p.home() == home(q) && p.home() != "internal" {
		return true // with its parent
	}
	if p.ImportPath == q {
		return true // a test of its own package
	}
	return line(q) < line(p.ImportPath)
}

// webImports: pages show what others have computed.
func webImports(all []pkg) (problems []string) {
	never := []string{"circuit", "machine", "prediction", "diagnosis", "planning"}
	for _, p := range all {
		if p.home() != "web" {
			continue
		}
		for _, q := range p.Imports {
			if q == "math" || slices.Contains(never, home(q)) {
				problems = append(problems, fmt.Sprintf("%s imports %s: no arithmetic in web; let advice, job or report hand over the finished figure", p.rel(), q))
			}
		}
	}
	return problems
}

// touching lists what reaches outside, by import path: nil means everything in
// it, else the selectors named.
var touching = map[string][]string{
	"os": nil, "os/exec": nil, "os/signal": nil, "os/user": nil, "syscall": nil,
	"net": nil, "net/http": nil, "net/rpc": nil, "net/smtp": nil,
	"database/sql": nil, "io/ioutil": nil, "log": nil, "crypto/rand": nil, "math/rand": nil,
	"time": {"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTicker", "NewTimer"},
	"fmt":  {"Print", "Printf", "Println", "Scan", "Scanf", "Scanln"},
	// Chance comes from a seeded generator that is handed in, never from the shared one.
	"math/rand/v2": {
		"ExpFloat64", "Float32", "Float64", "Int", "Int32", "Int32N", "Int64", "Int64N", "IntN", "N", "NormFloat64",
		"Perm", "Shuffle", "Uint", "Uint32", "Uint32N", "Uint64", "Uint64N", "UintN",
	},
}

// touchesOutside finds the selectors in a file that reach clock, disk, network,
// standard output or unseeded chance. It goes by use, not by import, so that
// time.Duration and rand.New stay free; embed and io/fs are not on the table.
func (s source) touchesOutside() (problems []string) {
	names := map[string]string{} // local name -> import path
	for _, spec := range s.tree.Imports {
		importPath, _ := strconv.Unquote(spec.Path.Value)
		if _, ok := touching[importPath]; !ok {
			continue
		}
		name := path.Base(strings.TrimSuffix(importPath, "/v2"))
		if spec.Name != nil {
			name = spec.Name.Name
		}
		if name == "." {
			problems = append(problems, fmt.Sprintf("%s: dot import of %s", s.at(spec), importPath))
		}
		names[name] = importPath
	}
	ast.Inspect(s.tree, func(n ast.Node) bool {
		sel, ok := n.(*ast.SelectorExpr)
		if !ok {
			return true
		}
		x, ok := sel.X.(*ast.Ident)
		if !ok || x.Obj != nil { // Obj: a variable of this file, not a package
			return true
		}
		importPath, ok := names[x.Name]
		if only := touching[importPath]; ok && (only == nil || slices.Contains(only, sel.Sel.Name)) {
			problems = append(problems, fmt.Sprintf("%s: %s.%s: only %s may touch clock, disk, network or unseeded chance; take bytes, an fs.FS, a time or a seed as an argument",
				s.at(sel), importPath, sel.Sel.Name, strings.Join(outside, ", ")))
		}
		return true
	})
	return problems
}

// names finds string literals that hold one of the ids as a whole word: a
// fault or an arrangement is data, never an `if`.
func (s source) names(ids []string) (problems []string) {
	if len(ids) == 0 {
		return nil
	}
	words := regexp.MustCompile(`[A-Za-z0-9]+(?:[-_.][A-Za-z0-9]+)*`)
	ast.Inspect(s.tree, func(n ast.Node) bool {
		lit, ok := n.(*ast.BasicLit)
		if !ok || lit.Kind != token.STRING {
			return true
		}
		text, err := strconv.Unquote(lit.Value)
		if err != nil {
			return true
		}
		for _, w := range words.FindAllString(text, -1) {
			if slices.Contains(ids, w) {
				problems = append(problems, fmt.Sprintf("%s: names %q, a fault or arrangement of the library: say it in the data as a change of parameters", s.at(lit), w))
			}
		}
		return true
	})
	return problems
}

// hashesCheaply finds where passwords would be kept so that they are quickly guessed.
func (s source) hashesCheaply() (problems []string) {
	ast.Inspect(s.tree, func(n ast.Node) bool {
		if x, ok := n.(*ast.Ident); ok && x.Name == "CheapHashes" {
			problems = append(problems, s.at(x)+": CheapHashes is for tests: leave it out")
		}
		return true
	})
	return problems
}

// A function fits a screen, a file a sitting.
const (
	maxFunc = 60
	maxFile = 500
)

// tooLong finds functions and files that are too long, counted in lines from
// the word func to the closing brace.
func (s source) tooLong() (problems []string) {
	if n := s.set.File(s.tree.FileStart).LineCount(); n > maxFile {
		problems = append(problems, fmt.Sprintf("%s has %d lines, at most %d: split it by subject", s.name, n, maxFile))
	}
	for _, d := range s.tree.Decls {
		f, ok := d.(*ast.FuncDecl)
		if !ok {
			continue
		}
		if n := s.set.Position(f.End()).Line - s.set.Position(f.Pos()).Line + 1; n > maxFunc {
			problems = append(problems, fmt.Sprintf("%s: %s has %d lines, at most %d: name its steps as functions", s.at(f), f.Name.Name, n, maxFunc))
		}
	}
	return problems
}

// packageComment wants one package comment that begins as Go's documentation
// asks and says more than the name.
func packageComment(p pkg, files []source) (problems []string) {
	begins := "Package " + p.Name + " "
	if p.Name == "main" {
		begins = "Command "
	}
	var comments []string
	for _, f := range files {
		if f.tree.Doc != nil {
			comments = append(comments, f.tree.Doc.Text())
		}
	}
	switch {
	case len(comments) == 0:
		problems = append(problems, fmt.Sprintf("%s has no package comment: say what it does, what it refuses, and which file to open first", p.rel()))
	case len(comments) > 1:
		problems = append(problems, fmt.Sprintf("%s has %d package comments: keep one (a blank line parts a file's comment from the package clause)", p.rel(), len(comments)))
	case !strings.HasPrefix(comments[0], begins) || len(strings.Fields(comments[0])) < 8:
		problems = append(problems, fmt.Sprintf("%s: the package comment begins with %q and says what the package does, refuses, and which file to open first", p.rel(), begins))
	}
	return problems
}
