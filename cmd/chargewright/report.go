package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path"
	"slices"
	"strings"
	"time"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/meter"
	"chargewright/problem"
	sheets "chargewright/report"
)

// reportCmd makes the papers of a job: customer's sheet, technician's record, job
// card, and its tables.
type reportCmd struct {
	Job        string            `arg:"" help:"Job file (YAML), - for standard input, or with --data the id of a job of the workshop."`
	Kind       string            `help:"customer (the sheet for the customer, if nothing is said), record (everything that happened) or card (to take to the vehicle)." placeholder:"KIND"`
	Paper      string            `default:"a4" help:"Size of paper: a4 or letter." placeholder:"PAPER"`
	Output     string            `short:"o" aliases:"out" help:"Write to this file; - is standard output, where JSON and CSV go if nothing is said." placeholder:"FILE"`
	JSON       bool              `name:"json" help:"Write the data as JSON instead of a PDF."`
	CSV        bool              `name:"csv" help:"Write every value of the record as CSV instead of a PDF."`
	Data       string            `help:"Data directory of a workshop: JOB is a job of its journal." placeholder:"DIR"`
	Practice   string            `help:"Lay this practice file over the shipped rates, minutes and prices." placeholder:"FILE"`
	System     string            `help:"Use this system instead of the one that the job names: an id, or a file." placeholder:"FILE"`
	Workshop   string            `help:"The workshop's name on the paper." placeholder:"NAME"`
	Customer   string            `help:"The customer's name on the paper." placeholder:"NAME"`
	Plate      string            `help:"The vehicle's plate on the paper." placeholder:"PLATE"`
	Date       string            `help:"Date on the paper, such as 2026-11-25; that of the last entry if nothing is said." placeholder:"DATE"`
	Zone       string            `help:"Time zone that times are said in, such as Europe/Paris; UTC if nothing is said." default:"UTC" placeholder:"ZONE"`
	Calibrated map[string]string `help:"When a meter was calibrated, as it is to stand on the record: dmm=2026-03-02;dc-clamp=2026-05-11." placeholder:"METER=DATE"`
}

// reportKinds are the papers that there are.
var reportKinds = []string{"card", "customer", "record"}

// Run implements the command.
func (c *reportCmd) Run(e *env) error {
	if err := c.understood(); err != nil {
		return err
	}
	ctx := context.Background()
	k, cover, err := c.open(ctx, e)
	if err != nil {
		return err
	}
	if cover, err = k.Front(cover); err != nil {
		return err
	}
	var b bytes.Buffer
	err = c.write(ctx, &b, k, cover)
	var refused *advice.Refusal
	switch {
	case errors.As(err, &refused):
		return problem.List{{File: c.name(), What: refused.Error(), Instead: "another system, or leave the vehicle alone"}}
	case err != nil:
		return noAnswer(fmt.Errorf("%s: %w", c.name(), err))
	}
	if c.Output == "" || c.Output == "-" {
		_, err = e.stdout.Write(b.Bytes())
		return err
	}
	if err := os.WriteFile(c.Output, b.Bytes(), 0o644); err != nil {
		return fmt.Errorf("%s cannot be written: %w", c.Output, plain(err))
	}
	return nil
}

// understood refuses what cannot be meant.
func (c *reportCmd) understood() error {
	switch {
	case c.JSON && c.CSV:
		return usage("--json and --csv are two forms of writing: choose one")
	case c.CSV && c.Kind != "" && c.Kind != "record":
		return usage("--csv lists the values of the record: leave out --kind %s", c.Kind)
	case c.Data != "" && c.System != "":
		return usage("a job of the workshop stays on the system that it was opened with: leave out --system, or --data")
	case !c.JSON && !c.CSV && c.Output == "":
		return usage("say where the PDF goes: --output FILE, or --output - for standard output")
	case !c.JSON && !c.CSV && path.Ext(c.Output) != "" && !strings.EqualFold(path.Ext(c.Output), ".pdf"):
		return usage("what is written is a PDF: name it so, %s.pdf, or say --json or --csv", strings.TrimSuffix(c.Output, path.Ext(c.Output)))
	}
	if c.Kind == "" {
		c.Kind = "customer"
		if c.CSV {
			c.Kind = "record"
		}
	}
	return c.named()
}

// named refuses names of nothing, all of them at once.
func (c *reportCmd) named() error {
	var errs []error
	if !slices.Contains(reportKinds, c.Kind) {
		errs = append(errs, unknown("kind of paper", c.Kind, reportKinds))
	}
	if !slices.Contains(sheets.Papers(), c.Paper) {
		errs = append(errs, unknown("paper", c.Paper, sheets.Papers()))
	}
	errs = append(errs, c.calibrations()...)
	if _, err := time.LoadLocation(c.Zone); err != nil {
		errs = append(errs, problemf("such as Europe/Paris, or UTC", "--zone %s: no time zone is called so", c.Zone))
	}
	if c.Date != "" && !isDay(c.Date) {
		errs = append(errs, problemf("such as 2026-11-25", "--date %s is no date", c.Date))
	}
	return together(errs)
}

// calibrations refuses meters that there are not and days that are none.
func (c *reportCmd) calibrations() (errs []error) {
	var known []string
	for _, in := range meter.Catalogue() {
		known = append(known, in.ID)
	}
	for _, id := range slices.Sorted(maps.Keys(c.Calibrated)) {
		if !slices.Contains(known, id) {
			errs = append(errs, unknown("meter", id, known))
		}
		if day := c.Calibrated[id]; !isDay(day) {
			errs = append(errs, problemf("such as 2026-11-25", "--calibrated %s=%s is no date", id, day))
		}
	}
	return errs
}

// isDay reports whether words are a date.
func isDay(s string) bool {
	_, err := time.Parse(time.DateOnly, s)
	return err == nil
}

// name is what problems of the job are said of.
func (c *reportCmd) name() string {
	if c.Job == stdin {
		return stdinName
	}
	return c.Job
}

// open reads the job, from its file or from the journal of a workshop.
func (c *reportCmd) open(ctx context.Context, e *env) (sheets.Case, sheets.Cover, error) {
	zone, err := time.LoadLocation(c.Zone)
	if err != nil {
		return sheets.Case{}, sheets.Cover{}, err // understood has looked
	}
	k := sheets.Case{Engine: version, Zone: zone, Calibrated: c.Calibrated}
	cover := sheets.Cover{Paper: sheets.Paper(c.Paper), Zone: zone}
	if c.Data != "" {
		err = c.fromJournal(ctx, e, &k, &cover)
	} else {
		err = c.fromFile(e, &k)
	}
	for _, given := range []struct{ to, from *string }{{&cover.Workshop, &c.Workshop}, {&cover.Customer, &c.Customer}, {&cover.Plate, &c.Plate}} {
		if *given.from != "" {
			*given.to = *given.from
		}
	}
	if c.Date != "" {
		cover.Date, _ = time.ParseInLocation(time.DateOnly, c.Date, zone) // understood has looked
	}
	return k, cover, err
}

func (c *reportCmd) fromFile(e *env, k *sheets.Case) error {
	name, data, err := e.take(c.Job)
	if err != nil {
		return err
	}
	if k.Shelf, err = e.jobShelf(path.Dir(c.Job), c.System, c.Practice); err != nil {
		return err
	}
	k.Events, err = job.Parse(name, data, k.Shelf)
	return err
}

// write writes what was asked for.
func (c *reportCmd) write(ctx context.Context, w io.Writer, k sheets.Case, cover sheets.Cover) error {
	switch c.Kind {
	case "card":
		card, err := sheets.CardOf(ctx, k)
		if err != nil {
			return err
		}
		if c.JSON {
			return sheets.JSON(w, card)
		}
		return sheets.CardPDF(w, card, cover)
	case "record":
		r, err := sheets.RecordOf(ctx, k)
		switch {
		case err != nil:
			return err
		case c.JSON:
			return sheets.JSON(w, r)
		case c.CSV:
			return sheets.CSV(w, r)
		}
		return sheets.RecordPDF(w, r, cover)
	}
	r, err := sheets.Customer(ctx, k)
	if err != nil {
		return err
	}
	if c.JSON {
		return sheets.JSON(w, r)
	}
	return sheets.PDF(w, r, cover)
}
