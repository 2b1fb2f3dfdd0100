package model

// Missed fits a circuit with the usual curve to traces, and is by how much it takes itself to be off the charge or
// energy of one of them.
func Missed(known Circuit, traces []Trace) (missed float64, c Circuit, err error) {
	f := newTraceFit(known.tested(known.Temperature), traces)
	f.shapes = false
	if err := f.solve(); err != nil {
		return 0, Circuit{}, err
	}
	return f.missed(), f.result().Circuit, nil
}
