package model

import "math"

// Follow is the loaded voltage of the circuit, from full and at rest, at each point of a trace under the trace's own
// current, which runs in straight lines from point to point and is that of the first before it. The charge left is that
// of the trace's delivered charge. A drawing lays it over the trace to show what a fit misses.
func (c Circuit) Follow(t Trace) []Voltage {
	r0, r1, tau := c.unpack()
	out := make([]Voltage, len(t.Points))
	var v1, before, at float64
	for k, p := range t.Points {
		i := float64(p.Current)
		if k == 0 {
			before = i
		}
		if dt := float64(p.Time) - at; dt > 0 {
			// Exact in the RC element for a current that changes linearly.
			phi := math.Exp(-dt / tau)
			v1 = v1*phi + r1*(i-before*phi-(i-before)*(1-phi)*tau/dt)
		}
		before, at = i, float64(p.Time)
		s := 1 - float64(p.Delivered/c.Capacity)
		out[k] = c.OpenVoltage(s) - Voltage(v1+r0*i)
	}
	return out
}
