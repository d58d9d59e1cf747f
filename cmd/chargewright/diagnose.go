package main

import (
	"context"
	"errors"
	"fmt"
	"path"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/problem"
	"chargewright/system"
)

// diagnoseCmd reads a job file and says what to make of it.
type diagnoseCmd struct {
	Job      string `arg:"" help:"Job file (YAML), or - for standard input."`
	JSON     bool   `name:"json" help:"Print JSON instead of text."`
	Practice string `help:"Lay this practice file over the shipped rates, minutes and prices." placeholder:"FILE"`
	System   string `help:"Use this system instead of the one that the job names: an id, or a file." placeholder:"FILE"`
	Top      int    `help:"How many likely causes and steps to show." default:"5"`
}

// Run implements the command.
func (c *diagnoseCmd) Run(e *env) error {
	if c.Top < 1 {
		return usage("--top %d: show at least 1", c.Top)
	}
	j, a, _, err := c.ask(e)
	if err != nil {
		return err
	}
	if c.JSON {
		return printJSON(e.stdout, a)
	}
	p := text{colour: e.colour}
	p.diagnosis(j, a, c.Top)
	return p.to(e.stdout)
}

// ask reads the job and gets the advice.
func (c *diagnoseCmd) ask(e *env) (*job.Job, advice.Advice, *system.Practice, error) {
	name, data, err := e.take(c.Job)
	if err != nil {
		return nil, advice.Advice{}, nil, err
	}
	if err := wanted("job", name, data); err != nil {
		return nil, advice.Advice{}, nil, err
	}
	shelf, err := e.jobShelf(path.Dir(c.Job), c.System, c.Practice)
	if err != nil {
		return nil, advice.Advice{}, nil, err
	}
	j, err := job.Read(name, data, shelf)
	if err != nil {
		return nil, advice.Advice{}, nil, err
	}
	in := j.Input(shelf.PracticeOf(j.System), shelf.Catalogue)
	in.Settings.Top = c.Top
	a, err := advice.Ask(context.Background(), in)
	var refused *advice.Refusal
	switch {
	case errors.As(err, &refused):
		return nil, a, nil, problem.List{{File: name, What: refused.Error(), Instead: "another system, or leave the vehicle alone"}}
	case err != nil:
		return nil, a, nil, noAnswer(fmt.Errorf("%s: %w", name, err))
	}
	return j, a, shelf.PracticeOf(j.System), nil
}
