package chargewright

import (
	"bytes"
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"go.yaml.in/yaml/v4"
)

// The rules of the house, held against the tree as it is. The rules themselves
// stand in house_rules_test.go; house_bites_test.go shows each of them a small
// offence that it must see.

func TestImportOrder(t *testing.T) {
	report(t, importOrder(packages(t)))
}

func TestWebDoesNoArithmetic(t *testing.T) {
	report(t, webImports(packages(t)))
}

func TestEngineTouchesNothingOutside(t *testing.T) {
	pkgs := packages(t)
	for _, p := range pkgs {
		if p.mayTouchOutside(pkgs) {
			continue
		}
		p.eachFile(t, func(src source) { report(t, src.touchesOutside()) })
	}
}

func TestEngineKnowsNoFaultOrArrangement(t *testing.T) {
	ids := libraryIDs(t, os.DirFS("system/library"))
	for _, p := range packages(t) {
		if !slices.Contains([]string{"circuit", "machine", "regulator", "battery", "prediction"}, p.home()) {
			continue
		}
		known := ids.faults
		if p.home() != "machine" { // the machine owns the names of rectifier patterns
			known = append(slices.Clone(known), ids.patternNamed...)
		}
		p.eachFile(t, func(src source) { report(t, src.names(append(slices.Clone(ids.arrangements), known...))) })
	}
}

func TestOnlyTestsHashCheaply(t *testing.T) {
	for _, p := range packages(t) {
		if p.home() != "account" {
			p.eachFile(t, func(src source) { report(t, src.hashesCheaply()) })
		}
	}
}

func TestSizes(t *testing.T) {
	for _, p := range packages(t) {
		p.eachFile(t, func(src source) { report(t, src.tooLong()) })
	}
}

func TestPackageComments(t *testing.T) {
	for _, p := range packages(t) {
		var files []source
		p.eachFile(t, func(src source) { files = append(files, src) })
		if len(files) > 0 {
			report(t, packageComment(p, files))
		}
	}
}

// TestRootHoldsNoCode: a shared word lives with the package that owns it.
func TestRootHoldsNoCode(t *testing.T) {
	for _, p := range packages(t) {
		if p.ImportPath == module && !slices.Equal(p.GoFiles, []string{"doc.go"}) {
			t.Errorf("the root package holds %v: only doc.go may stand there. Give each to the package that owns its words", p.GoFiles)
		}
	}
}

func report(t *testing.T, problems []string) {
	t.Helper()
	for _, p := range problems {
		t.Error(p)
	}
}

// pkg is what `go list` says of one package.
type pkg struct {
	ImportPath, Name, Dir              string
	GoFiles, CgoFiles                  []string
	Imports, TestImports, XTestImports []string
}

// packages lists every package of the module. A package that does not compile
// is listed all the same. They are listed once for all tests, which run one after the
// other.
func packages(t *testing.T) []pkg {
	t.Helper()
	if len(known.packages) > 0 {
		return known.packages
	}
	cmd := exec.Command("go", "list", "-e", "-json=ImportPath,Name,Dir,GoFiles,CgoFiles,Imports,TestImports,XTestImports", "./...")
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var all []pkg
	listed := map[string]bool{}
	for dec := json.NewDecoder(bytes.NewReader(out)); dec.More(); {
		var p pkg
		if err := dec.Decode(&p); err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
		listed[p.Dir] = true
	}
	for _, dir := range goDirs(t) {
		if !listed[dir] {
			t.Errorf("%s holds Go files that go list does not see: build constraints hide them from these rules", dir)
		}
	}
	known.packages = all
	return all
}

// known is what was listed and parsed before; nobody changes it.
var known = struct {
	packages []pkg
	sources  map[string]source
}{sources: map[string]source{}}

// goDirs walks the tree for directories with Go files. Reading them also tells
// go test's cache what this result depends on.
func goDirs(t *testing.T) []string {
	t.Helper()
	root, err := filepath.Abs(".")
	if err != nil {
		t.Fatal(err)
	}
	var dirs []string
	err = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && path != root && (strings.HasPrefix(d.Name(), ".") || strings.HasPrefix(d.Name(), "_") || d.Name() == "testdata"):
			return fs.SkipDir
		case !d.IsDir() && strings.HasSuffix(path, ".go") && !slices.Contains(dirs, filepath.Dir(path)):
			dirs = append(dirs, filepath.Dir(path))
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return dirs
}

// eachFile parses the package's own files, tests and generated ones left out.
func (p pkg) eachFile(t *testing.T, do func(source)) {
	t.Helper()
	for _, file := range p.GoFiles {
		name := filepath.Join(p.rel(), file)
		src, there := known.sources[name]
		if !there {
			text, err := os.ReadFile(filepath.Join(p.Dir, file))
			if err != nil {
				t.Fatal(err)
			}
			if src, err = parse(name, string(text)); err != nil {
				t.Error(err)
				continue
			}
			known.sources[name] = src
		}
		if !ast.IsGenerated(src.tree) {
			do(src)
		}
	}
}

// source is one parsed file.
type source struct {
	name string
	set  *token.FileSet
	tree *ast.File
}

func parse(name, text string) (source, error) {
	set := token.NewFileSet()
	tree, err := parser.ParseFile(set, name, text, parser.ParseComments)
	return source{name, set, tree}, err
}

// at says where a node stands.
func (s source) at(n ast.Node) string {
	return fmt.Sprintf("%s:%d", s.name, s.set.Position(n.Pos()).Line)
}

// idLists are the ids that only data may name.
type idLists struct {
	arrangements, faults []string
	patternNamed         []string // faults named like the rectifier pattern they set
}

// libraryIDs reads the ids of every arrangement and fault in the library.
func libraryIDs(t *testing.T, library fs.FS) idLists {
	t.Helper()
	var ids idLists
	patterns := map[string]bool{}
	var faults []string
	err := fs.WalkDir(library, ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || filepath.Ext(path) != ".yaml" {
			return err
		}
		text, err := fs.ReadFile(library, path)
		if err != nil {
			return err
		}
		var file struct {
			ID     string
			Faults []struct{ ID, Pattern string }
		}
		// Other files of the library hold other keys under these names, and a
		// file that cannot be read is for system's own tests to report.
		err = yaml.Unmarshal(text, &file)
		if err != nil || len(file.Faults) == 0 {
			return nil //nolint:nilerr // as said above
		}
		ids.arrangements = append(ids.arrangements, file.ID)
		for _, f := range file.Faults {
			faults = append(faults, f.ID)
			patterns[f.Pattern] = true
		}
		return nil
	})
	if err != nil {
		t.Fatalf("reading the library: %v", err)
	}
	for _, f := range faults {
		if patterns[f] {
			ids.patternNamed = append(ids.patternNamed, f)
		} else {
			ids.faults = append(ids.faults, f)
		}
	}
	if len(ids.arrangements) == 0 && hasYAML(library) {
		t.Error("no arrangement with faults found in system/library: has the file format changed?")
	}
	return ids
}

// hasYAML says whether a file that ought to be an arrangement lies at the top.
func hasYAML(library fs.FS) bool {
	files, err := fs.Glob(library, "*.yaml")
	return err == nil && slices.ContainsFunc(files, func(name string) bool { return name != "practice.yaml" })
}
