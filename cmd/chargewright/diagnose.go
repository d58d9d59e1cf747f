package main

import "errors"

type diagnoseCmd struct {
	Job      string `arg:"" help:"Job file (YAML), or - for standard input."`
	JSON     bool   `name:"json" help:"Print JSON instead of text."`
	Practice string `help:"Lay this practice file over the shipped rates, minutes and prices." placeholder:"FILE"`
	System   string `help:"Use this system instead of the one that the job names: an id, or a file." placeholder:"FILE"`
	Top      int    `help:"How many likely causes and steps to show." default:"5"`
}

// Run is still to come.
func (c *diagnoseCmd) Run(e *env) error { return noAnswer(errors.New("not written yet")) }
