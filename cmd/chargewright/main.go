// Command chargewright is the program: it diagnoses a job file, shows what a
// fault would read, and proposes the next safe step.
//
// Every command is a struct with a Run(*env) method in a file of its own. A
// command writes to the writers that it is handed, reads files through the file
// system that it is handed, and returns what went wrong: main turns that into
// an exit code. Open exit.go for the codes, diagnose.go for the main command.
package main

import (
	"fmt"
	"io"
	"io/fs"
	"os"
	"runtime/debug"
	"slices"

	"github.com/alecthomas/kong"
)

// version is set by the build: -ldflags "-X main.version=…".
var version = "development"

// cli is the command line. One field for each command.
type cli struct {
	Identify   identifyCmd   `cmd:"" help:"Which charging arrangement is fitted, from what can be seen of it."`
	Diagnose   diagnoseCmd   `cmd:"" help:"Likely causes, evidence and the next safe step for a job file."`
	Demo       demoCmd       `cmd:"" help:"A whole job on an invented vehicle with a hidden fault, no questions asked."`
	Serve      serveCmd      `cmd:"" help:"The workshop's pages: jobs, hook-up, readings, report."`
	Work       workCmd       `cmd:"" help:"A worker of a workshop on PostgreSQL: takes long work, serves no pages."`
	Simulate   simulateCmd   `cmd:"" help:"What a test reads on a vehicle that is sound or has a given fault."`
	Systems    systemsCmd    `cmd:"" help:"The charging arrangements that are known."`
	Procedures proceduresCmd `cmd:"" help:"The tests and looks that a system knows."`
	Faults     faultsCmd     `cmd:"" help:"The faults that a system knows."`
	Machine    machineCmd    `cmd:"" help:"What an alternator delivers at one speed, solved in the time domain."`
	Netlist    netlistCmd    `cmd:"" help:"The circuit that was solved, to check in a circuit simulator."`
	Draw       drawCmd       `cmd:"" help:"The drawn circuit of a system, with a procedure's hook-up and leads, as SVG."`
	Fit        fitCmd        `cmd:"" help:"A system file from the few figures of a service manual."`
	Report     reportCmd     `cmd:"" help:"The papers of a job: customer's sheet, technician's record, job card; as PDF, JSON or CSV."`
	Check      checkCmd      `cmd:"" help:"Hold files against what they must be."`
	Schema     schemaCmd     `cmd:"" help:"The schemas of the files that are read and written."`
	Journal    journalCmd    `cmd:"" help:"The journal of a workshop."`
	Backup     backupCmd     `cmd:"" help:"Copy a workshop, also while the program runs."`
	Restore    restoreCmd    `cmd:"" help:"Put a copy of a workshop where none is."`
	Export     exportCmd     `cmd:"" help:"Write one job as a file that another workshop can import."`
	Import     importCmd     `cmd:"" help:"Take over a job that another workshop has exported."`
	Erase      eraseCmd      `cmd:"" help:"Erase the name, plate and contact of a job's customer."`

	Version kong.VersionFlag `help:"Print the version and stop."`
}

// env is what a command has of the world outside.
type env struct {
	stdin          io.Reader
	stdout, stderr io.Writer
	fs             fs.FS    // the file system, by slash-separated names from its root
	cwd            string   // the working directory, as a name in fs
	colour         bool     // stdout is a terminal that takes colour
	args           []string // without the program's name
	cold           bool     // a server works nothing out ahead of what is asked

	held func(moment string) // of web.Config
}

// coldStart and heldAt are for the servers that tests start: nothing but tests sets them.
var (
	coldStart bool
	heldAt    func(moment string)
)

// roomy is how much a command that answers once may throw away before it is
// swept up [% of what it keeps; measured: a sixth of diagnose's processor time,
// 60 MB instead of 45]. A server and a worker sweep as usual.
const roomy = 400

func main() {
	if os.Getenv("GOGC") == "" && !slices.Contains(os.Args, "serve") && !slices.Contains(os.Args, "work") {
		debug.SetGCPercent(roomy)
	}
	e := &env{stdin: os.Stdin, stdout: os.Stdout, stderr: os.Stderr, args: os.Args[1:], colour: takesColour(os.Stdout), cold: coldStart, held: heldAt}
	e.fs, e.cwd = disk()
	os.Exit(run(e))
}

// commandLine reads a command line. exit is called where one asks for nothing but
// help or the version, which are printed.
func commandLine(e *env, exit func(int)) (*kong.Kong, error) {
	return kong.New(&cli{},
		kong.Name("chargewright"), kong.WithHyphenPrefixedParameters(true),
		kong.Description("Diagnosis of a vehicle's charging system. It defers to the vehicle maker's manual, local rules and qualified practice."),
		kong.Writers(e.stdout, e.stderr),
		kong.Vars{"version": version},
		kong.Exit(exit),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
	)
}

// run is main with everything handed in; it returns the exit code.
func run(e *env) int {
	stopped, code := false, exitAnswer
	parser, err := commandLine(e, func(n int) { stopped, code = true, n })
	if err != nil {
		_, _ = fmt.Fprintln(e.stderr, err) // nowhere else to say it
		return exitUsage
	}
	ctx, err := parser.Parse(e.args)
	switch {
	case stopped: // --help and --version have printed
		return code
	case err != nil:
		_, _ = fmt.Fprintf(e.stderr, "chargewright: %v\nSee chargewright --help\n", inOurWords(err))
		return exitUsage
	}
	return report(e, ctx.Run(e))
}
