package chargewright

import (
	"fmt"
	"strings"
	"testing"
	"testing/fstest"
)

// Each rule is shown an offence that it must see, and the nearest thing that
// is none.

func TestImportOrderBites(t *testing.T) {
	in := func(path string, imports ...string) pkg {
		p := pkg{ImportPath: path, Name: path[strings.LastIndex(path, "/")+1:]}
		for _, q := range imports {
			p.Imports = append(p.Imports, module+"/"+q)
		}
		p.ImportPath = module + "/" + path
		return p
	}
	test := func(p pkg, imports ...string) pkg {
		for _, q := range imports {
			p.XTestImports = append(p.XTestImports, module+"/"+q)
		}
		return p
	}
	program := func(p pkg) pkg { p.Name = "main"; return p }

	for name, c := range map[string]struct {
		pkgs []pkg
		says string // "" = no offence
	}{
		"up the list":                     {[]pkg{in("system", "rig", "unit")}, ""},
		"down the list":                   {[]pkg{in("rig", "system")}, "rig imports"},
		"a neighbour":                     {[]pkg{in("truth", "diagnosis")}, "truth imports"},
		"not on the list":                 {[]pkg{in("helpers")}, "helpers is not in the import order"},
		"a sub-package counts as parent":  {[]pkg{in("system/library", "planning")}, "system/library imports"},
		"a sub-package and its parent":    {[]pkg{in("machine/tablegen", "machine", "circuit")}, ""},
		"a test down the list":            {[]pkg{test(in("rig"), "system")}, "a test of rig imports"},
		"a test of its own package":       {[]pkg{test(in("rig"), "rig", "internal/near")}, ""},
		"a test on a line with internal":  {[]pkg{test(in("circuit"), "internal/near")}, ""},
		"internal that ships, upwards":    {[]pkg{in("internal/a", "system"), in("question", "internal/a")}, "internal/a imports"},
		"internal that ships, each other": {[]pkg{in("internal/a", "internal/b"), in("internal/b"), in("system", "internal/a")}, "internal/a imports"},
		"internal that ships, units":      {[]pkg{in("internal/a", "problem"), in("system", "internal/a")}, ""},
		"internal for tests only":         {[]pkg{in("internal/a", "advice"), test(in("system"), "internal/a")}, ""},
		"a program under internal":        {[]pkg{program(in("internal/bench", "advice", "internal/a")), in("internal/a", "truth")}, ""},
		"cgo":                             {[]pkg{{ImportPath: module + "/unit", CgoFiles: []string{"c.go"}}}, "unit uses cgo"},
	} {
		expect(t, name, importOrder(c.pkgs), c.says)
	}
}

func TestWebImportsBites(t *testing.T) {
	for name, c := range map[string]struct{ path, imports, says string }{
		"the circuit":        {"web", module + "/circuit", "no arithmetic"},
		"mathematics":        {"web/page", "math", "no arithmetic"},
		"what advice says":   {"web", module + "/advice", ""},
		"another's business": {"report", "math", ""},
	} {
		p := pkg{ImportPath: module + "/" + c.path, Imports: []string{c.imports}}
		expect(t, name, webImports([]pkg{p}), c.says)
	}
}

func TestHashesCheaplyBites(t *testing.T) {
	for name, c := range map[string]struct{ code, says string }{
		"cheap":          {`import "chargewright/account"; var a = account.New(nil, nil, account.CheapHashes)`, "is for tests"},
		"cheap, renamed": {`import a "chargewright/account"; var o = a.CheapHashes`, "is for tests"},
		"as it ships":    {`import "chargewright/account"; var a = account.New(nil, nil)`, ""},
	} {
		expect(t, name, file(t, c.code).hashesCheaply(), c.says)
	}
}

func TestTouchesOutsideBites(t *testing.T) {
	for name, c := range map[string]struct{ code, says string }{
		"clock":             {`import "time"; var t = time.Now()`, "time.Now"},
		"sleep":             {`import "time"; func f() { time.Sleep(1) }`, "time.Sleep"},
		"a length of time":  {`import "time"; var d = 3 * time.Second`, ""},
		"disk":              {`import "os"; var b, _ = os.ReadFile("x")`, "os.ReadFile"},
		"disk, renamed":     {`import disk "os"; var b, _ = disk.ReadFile("x")`, "os.ReadFile"},
		"disk, dotted":      {`import . "os"; var b, _ = ReadFile("x")`, "dot import of os"},
		"files handed in":   {`import "io/fs"; func f(f fs.FS) { fs.ReadFile(f, "x") }`, ""},
		"network":           {`import "net/http"; var r, _ = http.Get("x")`, "net/http.Get"},
		"standard output":   {`import "fmt"; func f() { fmt.Println() }`, "fmt.Println"},
		"a sentence":        {`import "fmt"; var s = fmt.Sprint(1)`, ""},
		"chance":            {`import "math/rand/v2"; var x = rand.IntN(6)`, "math/rand/v2.IntN"},
		"chance, seeded":    {`import "math/rand/v2"; var r = rand.New(rand.NewPCG(1, 2)); var x = r.IntN(6)`, ""},
		"a variable called": {`import "os"; type s struct{ Exit int }; func f(os s) int { return os.Exit }`, ""},
	} {
		expect(t, name, file(t, c.code).touchesOutside(), c.says)
	}
}

func TestNamesBites(t *testing.T) {
	ids := libraryIDs(t, fstest.MapFS{
		"twelve-volts.yaml": {Data: []byte("id: twelve-volts\nfaults:\n  - {id: rotor-open}\n  - {id: diode-open, pattern: diode-open}\n")},
		"practice.yaml":     {Data: []byte("rates: {faults: {rotor-open: 1}}\n")},
	})
	if got := fmt.Sprint(ids); got != "{[twelve-volts] [rotor-open] [diode-open]}" {
		t.Errorf("ids read: %s", got)
	}
	for name, c := range map[string]struct{ code, says string }{
		"a fault":          {`func f(id string) bool { return id == "rotor-open" }`, "rotor-open"},
		"within a text":    {"var s = `if rotor-open, then`", "rotor-open"},
		"an arrangement":   {`var s = "library/twelve-volts.yaml"`, ""},
		"its id":           {`var s = "twelve-volts"`, "twelve-volts"},
		"another word":     {`var s = "rotor-opening"`, ""},
		"only in comments": {"// rotor-open is a fault.\nvar s = 1", ""},
	} {
		expect(t, name, file(t, c.code).names(append(ids.faults, ids.arrangements...)), c.says)
	}
}

func TestTooLongBites(t *testing.T) {
	body := func(lines int) string { return strings.Repeat("\tx++\n", lines) }
	for name, c := range map[string]struct{ code, says string }{
		"a long function":     {"func (t T) far(x int) {\n" + body(maxFunc-1) + "}\n", "far has 61 lines"},
		"just a function":     {"func f(x int) {\n" + body(maxFunc-2) + "}\n", ""},
		"a long file":         {strings.Repeat("var _ = 1\n", maxFile+1), "has 501 lines"},
		"just a file":         {strings.Repeat("var _ = 1\n", maxFile), ""},
		"a long type is fine": {"type t struct {\n" + strings.Repeat("\t_ int\n", 100) + "}\n", ""},
	} {
		expect(t, name, file(t, c.code).tooLong(), c.says)
	}
}

func TestPackageCommentBites(t *testing.T) {
	good := "// Package p adds up. It refuses to subtract. Open add.go first.\n"
	for name, c := range map[string]struct {
		heads []string
		says  string
	}{
		"none":           {[]string{"", ""}, "no package comment"},
		"good":           {[]string{"", good}, ""},
		"two":            {[]string{good, good}, "2 package comments"},
		"an idle one":    {[]string{"// Package p is p.\n"}, "begins with"},
		"another's name": {[]string{strings.Replace(good, "p adds", "q adds", 1)}, "begins with"},
	} {
		var files []source
		for _, head := range c.heads {
			src, err := parse("p.go", head+"package p\n")
			if err != nil {
				t.Fatal(err)
			}
			files = append(files, src)
		}
		expect(t, name, packageComment(pkg{ImportPath: module + "/p", Name: "p"}, files), c.says)
	}
}

// file parses code below a package clause on the same first line.
func file(t *testing.T, code string) source {
	t.Helper()
	src, err := parse("bad.go", "package p; "+code)
	if err != nil {
		t.Fatal(err)
	}
	return src
}

// expect wants exactly one problem with says in it, or none where says is "".
func expect(t *testing.T, name string, problems []string, says string) {
	t.Helper()
	switch {
	case says == "" && len(problems) > 0:
		t.Errorf("%s: no offence, but reported: %q", name, problems)
	case says != "" && (len(problems) != 1 || !strings.Contains(problems[0], says)):
		t.Errorf("%s: want one problem with %q, got %q", name, says, problems)
	}
}
