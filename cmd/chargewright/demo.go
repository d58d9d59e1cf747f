package main

import "errors"

type demoCmd struct {
	Seed  uint64 `help:"Which hidden vehicle." default:"1"`
	JSON  bool   `name:"json" help:"Print the events of the job as JSON."`
	Fault string `help:"Hide this fault instead of a drawn one." placeholder:"ID"`
}

// Run is still to come.
func (c *demoCmd) Run(e *env) error { return noAnswer(errors.New("not written yet")) }
