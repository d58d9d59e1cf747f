package main

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"chargewright/internal/need"
	"chargewright/internal/pgtest"
	"chargewright/internal/schemas/schematest"
	"chargewright/system"
)

func TestMain(m *testing.M) {
	testscript.Main(ending{m}, programs)
}

// programs are what the tests' program is under another name.
var programs = map[string]func(){"chargewright": testProgram}

// testProgram is chargewright with what tests alone may ask of it.
func testProgram() {
	coldStart = os.Getenv(coldVariable) != ""
	if moment := os.Getenv(heldVariable); moment != "" {
		heldAt = func(now string) {
			if now == moment {
				fmt.Fprintln(os.Stderr, heldWords)
				select {} // until it is killed
			}
		}
	}
	main()
}

// coldVariable tells a server that a test starts to work nothing out ahead of what
// is asked. No other program knows it.
const coldVariable = "CHARGEWRIGHT_TEST_COLD"

// heldVariable tells it at which moment of a form to stop for ever, having said
// heldWords. No other program knows it either.
const (
	heldVariable = "CHARGEWRIGHT_TEST_HELD"
	heldWords    = "held"
)

// ending ends the tests' database server with them.
type ending struct{ m *testing.M }

// Run runs the tests.
func (e ending) Run() int { return pgtest.Run(e.m) }

// TestScripts runs testdata/*.txt: runs that a user could have made, each named
// after its command. Beside what testscript knows they may say
//
//	run chargewright ARGS…    as exec does, within the tests' own program (ours)
//	valid NAME                what the last command printed satisfies schema NAME
//	lines NAME FILE           a file with one JSON object a line satisfies schema NAME
//	agree JSON LIST           what simulate and ngspice printed is the same (netlist_test.go)
//	work DIR NUMBER N         records N more events of a job that the program can read (journal_test.go)
//	record DIR N              records N more events in the journal of DIR (journal_test.go)
//	status N ARGS…            chargewright ends with exit code N (journal_test.go)
//	hashed PDF JSON         every page says the hash of a JSON file (report_test.go)
//	tamper FILE SQL           somebody changes a database with another program (journal_test.go)
//	[!exec:ngspice] [!required] skip   goes on without ngspice only where that is allowed
func TestScripts(t *testing.T) { scripts(t, "testdata", "") }

// TestPostgresScripts runs testdata/postgres/*.txt, with the address of a schema
// in which nothing is in $ONE and of another in $TWO.
func TestPostgresScripts(t *testing.T) { scripts(t, "testdata/postgres", pgtest.Schema(t)) }

func scripts(t *testing.T, dir, database string) {
	dir, err := filepath.Abs(dir) // ours goes elsewhere
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 dir,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Condition: func(cond string) (bool, error) {
			if cond != "required" {
				return false, fmt.Errorf("no condition %q: write required", cond)
			}
			v := os.Getenv(need.RequireAll)
			return v != "" && v != "0", nil
		},
		Setup: func(e *testscript.Env) error { // a system file to look at
			e.Setenv("GOGC", os.Getenv("GOGC")) // as for the tests themselves: see the Makefile
			if database != "" {
				e.Setenv("ONE", database+"_one")
				e.Setenv("TWO", database+"_two")
			}
			data, err := fs.ReadFile(system.Files(), "isolated-earth-side.yaml")
			if err != nil {
				return err
			}
			return os.WriteFile(filepath.Join(e.WorkDir, "isolated-earth-side.yaml"), data, 0o600)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"run": ours, "valid": valid, "lines": lines, "agree": agree, "record": record, "work": workOn, "status": status, "tamper": tamper, "hashed": hashed, "blocks": blocks},
	})
}

// turn is whose turn it is to stand in a directory of its own: a program has one only.
var turn sync.Mutex

// ours runs a command line within the tests' own program, where what is shipped is read
// once for all scripts. The first command of a script is a process of its own, as it is for
// a user, and so is what reads standard input or is held against another process.
func ours(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) < 2 || args[0] != "chargewright" {
		ts.Fatalf("usage: [!] run chargewright ARGS...")
	}
	turn.Lock()
	defer turn.Unlock()
	before, err := os.Getwd()
	ts.Check(err)
	ts.Check(os.Chdir(ts.MkAbs(".")))
	defer func() { ts.Check(os.Chdir(before)) }()
	e := &env{stdin: strings.NewReader(""), stdout: ts.Stdout(), stderr: ts.Stderr(), args: args[1:]}
	e.fs, e.cwd = disk()
	if code := run(e); (code != exitAnswer) != neg {
		ts.Fatalf("exit code %d", code)
	}
}

// blocks writes the YAML blocks of a page of docs into one file, as its reader
// would; those marked as examples are left. With "last" it is the last example.
func blocks(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 || len(args) > 3 || len(args) == 3 && args[2] != "last" {
		ts.Fatalf("usage: blocks PAGE FILE [last]")
	}
	turn.Lock()
	page, err := os.ReadFile(filepath.Join("..", "..", "docs", args[0]))
	turn.Unlock()
	ts.Check(err)
	var out strings.Builder
	begin, from := "```yaml\n", 1
	if len(args) == 3 {
		begin = "```yaml example\n"
		from = strings.Count(string(page), begin)
	}
	for _, after := range strings.Split(string(page), begin)[from:] {
		block, _, closed := strings.Cut(after, "```")
		if !closed {
			ts.Fatalf("%s: a block is not closed", args[0])
		}
		out.WriteString(block)
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(out.String()), 0o600))
}

func valid(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: valid NAME")
	}
	s, err := schematest.Compile(args[0])
	ts.Check(err)
	ts.Check(schematest.Validate(s, []byte(ts.ReadFile("stdout"))))
}

func lines(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: [!] lines NAME FILE")
	}
	s, err := schematest.Compile(args[0])
	ts.Check(err)
	err = schematest.ValidateLines(s, []byte(ts.ReadFile(args[1])))
	if neg && err == nil {
		ts.Fatalf("%s satisfies schema %s", args[1], args[0])
	}
	if !neg {
		ts.Check(err)
	}
}
