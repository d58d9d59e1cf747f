package main

// Stubs until the commands stand in files of their own; each line goes as its
// file comes.
type (
	systemsCmd    struct{}
	proceduresCmd struct{}
	faultsCmd     struct{}
	simulateCmd   struct{}
	netlistCmd    struct{}
	checkCmd      struct{}
	schemaCmd     struct{}
)

func (systemsCmd) Run(*env) error    { return nil }
func (proceduresCmd) Run(*env) error { return nil }
func (faultsCmd) Run(*env) error     { return nil }
func (simulateCmd) Run(*env) error   { return nil }
func (netlistCmd) Run(*env) error    { return nil }
func (checkCmd) Run(*env) error      { return nil }
func (schemaCmd) Run(*env) error     { return nil }
