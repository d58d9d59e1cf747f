package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"chargewright/fit"
	"chargewright/system"
)

type fitCmd struct {
	Figures string `arg:"" help:"A figures file: what the service manual says, page by page (chargewright schema figures); - is standard input." placeholder:"FIGURES"`
	Out     string `short:"o" help:"Write the system file here. Without it the system file stands on standard output and the report on standard error." placeholder:"FILE"`
	Force   bool   `help:"Overwrite the file of --out."`
	Anyway  bool   `help:"Write the system file although figures contradict each other."`
	Seed    uint64 `default:"1" help:"Of the vehicles that the search starts from." placeholder:"N"`
	Starts  int    `default:"8" help:"How many of them." placeholder:"N"`
	JSON    bool   `name:"json" help:"Print the report as JSON, with the system file in it unless --out is given."`
}

// Run fits a machine to the figures of a manual.
func (c *fitCmd) Run(e *env) error {
	if c.Starts < 1 || c.Starts > 1000 {
		return usage("--starts %d: give one from 1 to 1000", c.Starts)
	}
	name, data, err := e.take(c.Figures)
	if err != nil {
		return err
	}
	if err := wanted("figures", name, data); err != nil {
		return err
	}
	x, err := fit.Parse(name, data, func(id string) (*system.System, error) { return openSystem(e, id) })
	if err != nil {
		return err
	}
	if c.Out != "" && !c.Force {
		if _, err := fs.Stat(e.fs, e.name(c.Out)); err == nil {
			return problemf("another --out, or --force", "--out: %s is there already", c.Out)
		}
	}
	r, err := fit.Run(x, fit.Options{Seed: c.Seed, Starts: c.Starts})
	if err != nil {
		return noAnswer(err)
	}
	return c.hand(e, r)
}

// hand writes file and report. Figures that contradict each other give a report
// and no file.
func (c *fitCmd) hand(e *env, r *fit.Result) error {
	refused := len(r.Conflicts) > 0 && !c.Anyway
	if c.Out != "" && !refused {
		if err := c.write(r.System); err != nil {
			return err
		}
	}
	report := e.stdout
	switch {
	case c.JSON:
	case c.Out == "" && !refused:
		report = e.stderr
		if _, err := e.stdout.Write(r.System); err != nil {
			return err
		}
	case c.Out == "":
		report = e.stderr
	}
	if c.JSON {
		if err := printJSON(e.stdout, c.out(r, refused)); err != nil {
			return err
		}
	} else {
		t := &text{colour: e.colour && report == e.stdout}
		printFit(t, r)
		if c.Out != "" && !refused {
			t.head("WRITTEN")
			t.line(2, "%s; look at it, then: chargewright check %s", c.Out, c.Out)
		}
		if err := t.to(report); err != nil {
			return err
		}
	}
	if refused {
		return &coded{exitConflict, errors.New("the figures contradict each other, so no system file was written: mend the figures file, or write it with --anyway")}
	}
	return nil
}

// write writes the system file, never over another one unless that is asked for.
func (c *fitCmd) write(data []byte) error {
	flags := os.O_WRONLY | os.O_CREATE | os.O_TRUNC
	if !c.Force {
		flags = os.O_WRONLY | os.O_CREATE | os.O_EXCL
	}
	f, err := os.OpenFile(c.Out, flags, 0o644)
	if err == nil {
		_, err = f.Write(data)
		err = errors.Join(err, f.Close())
	}
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", c.Out, plain(err))
	}
	return nil
}
