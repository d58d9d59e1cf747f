package main

import (
	"fmt"
	"os"
	"strings"

	"chargewright/drawing"
)

type drawCmd struct {
	System    string `required:"" help:"An id of the library, or a system file." placeholder:"ID"`
	Procedure string `help:"Show how the vehicle is hooked up for this one, with the leads on. Without it the vehicle stands as it rolls in." placeholder:"PROCEDURE"`
	Reading   int    `help:"Only the leads of this one of the procedure's readings; without it those of all." placeholder:"N"`
	Width     int    `default:"984" help:"Width in pixels: 366 and 390 suit phones, 622 tablets, 984 wide screens and paper." placeholder:"PX"`
	Close     bool   `help:"Only what is around the procedure's points, as a phone shows it."`
	Theme     string `default:"light" help:"Colours: auto, light, night or sun." placeholder:"THEME"`
	Output    string `short:"o" help:"Write to this file instead of standard output." placeholder:"FILE"`
}

// Run draws a system.
func (c *drawCmd) Run(e *env) error {
	sh, err := openShelf(e, c.System)
	if err != nil {
		return err
	}
	o := drawing.Options{Name: sh.sys.ID, Rig: sh.sys.Rig.Rest}
	if c.Procedure != "" {
		if o, err = c.hookedUp(sh); err != nil {
			return err
		}
	}
	lay := drawing.New
	if o.Close = c.Close; o.Close {
		lay = drawing.CloseUp
		if len(o.Leads)+len(o.Clamps) == 0 {
			return problemf("--procedure with one that measures at points", "--close: there are no points to be close to")
		}
	}
	sheet, err := lay(sh.sys, c.Width)
	if err != nil {
		return problemf("another --width", "%v", err)
	}
	scene, err := sheet.Draw(o)
	if err != nil {
		return err
	}
	var b strings.Builder
	if err := scene.Standalone(&b, drawing.Theme(c.Theme)); err != nil {
		return problemf("another --theme", "%v", err)
	}
	if c.Output == "" {
		_, err = fmt.Fprint(e.stdout, b.String())
		return err
	}
	if err := os.WriteFile(c.Output, []byte(b.String()), 0o644); err != nil {
		return fmt.Errorf("%s cannot be written: %w", c.Output, plain(err))
	}
	return nil
}

// hookedUp is a procedure's picture, reached from the vehicle as it rolls in.
func (c *drawCmd) hookedUp(sh *shelf) (drawing.Options, error) {
	var o drawing.Options
	list, err := sh.named([]string{c.Procedure})
	if err != nil {
		return o, err
	}
	p := list[0]
	if n := max(1, len(p.Measure)); c.Reading < 0 || c.Reading > n {
		return o, problemf(fmt.Sprintf("one from 1 to %d", n), "--reading %d: procedure %s has %s", c.Reading, p.ID, plural(len(p.Measure), "reading", "readings"))
	}
	want, err := p.Target(sh.sys)
	if err != nil {
		return o, err
	}
	way, err := sh.sys.Rig.Path(sh.sys.Rig.Rest, want)
	if err != nil {
		return o, fmt.Errorf("procedure %s: %w", p.ID, err)
	}
	o = drawing.ForProcedure(sh.sys, p, way.Final, c.Reading)
	o.Name = p.ID
	return o, nil
}
