package main

// Stubs until the commands stand in files of their own; each line goes as its
// file comes.
type (
	checkCmd  struct{}
	schemaCmd struct{}
)

func (checkCmd) Run(*env) error  { return nil }
func (schemaCmd) Run(*env) error { return nil }
