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

// SteadyRTimesCapacity is (R0 + R1) x capacity per cell in Ohm Ah: the resistance
// with the size of the pack taken out of it.
func (c Circuit) SteadyRTimesCapacity() float64 {
	return float64(c.R0+c.R1) / float64(c.Cells) * c.Capacity.AmpHours()
}

// MedianSteadyR is the median of SteadyRTimesCapacity over circuits, and
// DefaultSteadyR where there are none.
func MedianSteadyR(circuits []Circuit) float64 {
	if len(circuits) == 0 {
		return DefaultSteadyR
	}
	values := make([]float64, len(circuits))
	for i, c := range circuits {
		values[i] = c.SteadyRTimesCapacity()
	}
	return medianOf(values)
}

// medianOf sorts values, of which there is one at least, and returns their median.
func medianOf(values []float64) float64 {
	slices.Sort(values)
	n := len(values)
	return (values[(n-1)/2] + values[n/2]) / 2
}

// LabelCircuit is the circuit of a pack of which only the label is known: the rated
// capacity x LabelCapacity, and a steady resistance per cell of steadyR (Ohm Ah)
// divided by that capacity.
func LabelCircuit(cells int, curve Curve, rated Charge, steadyR float64) Circuit {
	q := rated * LabelCapacity
	r := Resistance(steadyR / q.AmpHours() * float64(cells))
	return Circuit{
		Cells: cells, Curve: curve, Capacity: q,
		R0: r * FastShare, R1: r * (1 - FastShare), Tau: RCTime,
	}
}

// ResistanceAt is the ratio of a pack's resistance at a temperature to that at 25 C,
// straight lines between 1.55, 1.15, 1, 0.86 and 0.80 at 5, 15, 25, 35 and 45 C, and held flat outside.
//
// Source: 10 s pulses of an NMC 18650 cell, Oxford Brookes University BTC data, 2021. Other
// cells differ.
func ResistanceAt(t Temperature) float64 {
	celsius := [...]float64{5, 15, 25, 35, 45}
	ratio := [...]float64{1.55, 1.15, 1, 0.86, 0.80}
	x := t.Celsius()
	if x <= celsius[0] {
		return ratio[0]
	}
	for i := 1; i < len(celsius); i++ {
		if x <= celsius[i] {
			f := (x - celsius[i-1]) / (celsius[i] - celsius[i-1])
			return ratio[i-1] + f*(ratio[i]-ratio[i-1])
		}
	}
	return ratio[len(ratio)-1]
}

// At is the circuit with its resistances taken from one pack temperature to another.
func (c Circuit) At(t, tested Temperature) Circuit {
	f := Resistance(ResistanceAt(t) / ResistanceAt(tested))
	c.R0 *= f
	c.R1 *= f
	return c
}

// leastResistance keeps the power of a circuit without resistance finite.
const leastResistance Resistance = 1e-9

// PowerAt is the greatest power that the circuit gives at a bus voltage, held until
// its RC element has settled, at a charge left: v (E - v)/(R0 + R1). It is zero
// where the voltage at rest is not above v.
//
// Source: pulse power capability, FreedomCAR Battery Test Manual, DOE/ID-11069, 2003.
func (c Circuit) PowerAt(charge float64, v Voltage) Power {
	e := float64(c.OpenVoltage(charge))
	return Power(max(0, float64(v)*(e-float64(v))/float64(max(c.R0+c.R1, leastResistance))))
}

// OpenVoltage is the voltage of the pack at rest.
func (c Circuit) OpenVoltage(charge float64) Voltage {
	return Voltage(c.Cells) * (c.Curve.At(charge) + c.Shift)
}
