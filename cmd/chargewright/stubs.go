package main

// Stubs until the commands stand in files of their own; each line goes as its
// file comes.
type (
	simulateCmd struct{}
	netlistCmd  struct{}
	checkCmd    struct{}
	schemaCmd   struct{}
)

func (simulateCmd) Run(*env) error { return nil }
func (netlistCmd) Run(*env) error  { return nil }
func (checkCmd) Run(*env) error    { return nil }
func (schemaCmd) Run(*env) error   { return nil }
