package model

// Circuit is the first-order Thevenin circuit of a pack of Cells cells in series:
//
//	V = Cells (u(s) + Shift) - v1 - R0 I,  dv1/dt = (R1 I - v1)/Tau,  ds/dt = -I/Capacity
//
// with s the charge left, 0 to 1, and u the open-circuit curve of a cell. Resistances are of the whole pack.
//
// Source: Plett, Battery Management Systems, Volume I, 2015, chapter 2.
type Circuit struct {
	Cells    int
	Curve    Curve
	Capacity Charge
	R0, R1   Resistance
	Tau      Time
	Shift    Voltage // per cell
}

// unpack is the resistances and the time constant in SI; an RC element that settles at
// once is a part of R0.
func (c Circuit) unpack() (r0, r1, tau float64) {
	if c.Tau > 0 {
		return float64(c.R0), float64(c.R1), float64(c.Tau)
	}
	return float64(c.R0 + c.R1), 0, 1
}
