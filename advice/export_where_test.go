package advice

import "chargewright/system"

// WhereOf is whereOf for tests.
func WhereOf(sys *system.System, repair string) string { return whereOf(sys, repair) }
