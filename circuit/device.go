package circuit

// Device is a nonlinear element with any number of terminals and, where it
// needs them, unknowns of its own (a branch current). It holds no state: all
// that can change between solves stands in its parameters.
//
// With t terminals and u unknowns, n = t+u. x holds the terminal voltages [V]
// against the reference, then the unknowns. A device must be C1 in x.
type Device interface {
	// Size returns the number of terminals, own unknowns and parameters.
	Size() (terminals, unknowns, params int)
	// Stamp writes the currents that flow from each terminal into the device
	// [A], then the residuals of its own equations, into f (length n), and
	// their derivatives with respect to x into jac (n by n, row-major). Both
	// slices arrive zeroed.
	Stamp(x, p, f, jac []float64)
	// Grad writes the derivatives of f with respect to the parameters into
	// dfdp (n by params, row-major, arrives zeroed).
	Grad(x, p, dfdp []float64)
}

// Preparer is a Device with figures that follow from its parameters alone and
// are dear to compute. They are computed once for a solve.
type Preparer interface {
	// Figures is how many there are.
	Figures() int
	// Prepare writes them into k. Stamp then receives them behind the parameters
	// in p; it must give the same without them.
	Prepare(p, k []float64)
}
