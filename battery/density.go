package battery

// DensityAt is the specific gravity at 26.7 degC for any state of charge, with
// its slope: the smooth curve that the circuit uses, also a little outside 0..1.
func DensityAt(soc float64) (sg, slope float64) { return density(soc) }
