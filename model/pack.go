package model

import "slices"

// What a label says of a pack that nobody tested (common practice and assumption).
const (
	LabelCapacity      = 0.93 // delivered over rated
	LabelCapacitySigma = 0.06
	LabelRSigma        = 0.35 // relative; the tested packs of a chemistry scatter about as much
)

// DefaultSteadyR is the steady resistance of a cell times its capacity, Ohm Ah, where
// no tested pack of a chemistry is known (common practice).
const DefaultSteadyR = 0.013

// SteadyRTimesCapacity is (R0 + R1) x capacity per cell in Ohm Ah, at half charge and the circuit's temperature: the
// resistance with the size of the pack taken out of it.
func (c Circuit) SteadyRTimesCapacity() float64 {
	return float64(c.R0+c.R1) / float64(c.Cells) * c.Capacity.AmpHours()
}

// UsualSteadyR is SteadyRTimesCapacity at 25 C.
func (c Circuit) UsualSteadyR() float64 {
	return c.At(usualTemperature(), usualTemperature()).SteadyRTimesCapacity()
}

// medianOf sorts values, of which there is one at least, and returns their median.
func medianOf(values []float64) float64 {
	slices.Sort(values)
	n := len(values)
	return (values[(n-1)/2] + values[n/2]) / 2
}

// LabelCircuit is the circuit of a pack of which only the label is known, and what [NewCircuit] says: the rated
// capacity x LabelCapacity, and a steady resistance per cell of steadyR (Ohm Ah)
// divided by that capacity.
func LabelCircuit(known Circuit, rated Charge, steadyR float64) Circuit {
	c := known
	c.Capacity = rated * LabelCapacity
	c.setSteadyR(steadyR)
	return c
}

// setSteadyR gives a circuit of a capacity the resistances that SteadyRTimesCapacity is of.
func (c *Circuit) setSteadyR(steadyR float64) {
	r := Resistance(steadyR / c.Capacity.AmpHours() * float64(c.Cells))
	c.R0, c.R1, c.Tau = r*FastShare, r*(1-FastShare), RCTime
}

// leastResistance keeps the power of a circuit without resistance finite.
const leastResistance Resistance = 1e-9

// PowerAt is the greatest power that the circuit gives at a bus voltage, held until
// its RC element has settled, at a charge left and the temperature at the start: v (E - v)/(R0 + R1). It is zero
// where the voltage at rest is not above v.
//
// Source: pulse power capability, FreedomCAR Battery Test Manual, DOE/ID-11069, 2003.
func (c Circuit) PowerAt(charge float64, v Voltage) Power {
	e := float64(c.OpenVoltage(charge))
	return Power(max(0, float64(v)*(e-float64(v))/float64(max(c.Steady(charge), leastResistance))))
}

// OpenVoltage is the voltage of the pack at rest.
func (c Circuit) OpenVoltage(charge float64) Voltage {
	return Voltage(c.Cells) * (c.Curve.At(charge) + c.Shift)
}
