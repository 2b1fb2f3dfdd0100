package model

// Tests is what the tests of a protocol would yield of the circuit.
func (c Circuit) Tests(p Protocol) TestedMetrics {
	o := simulate(c, TestedMetrics{Protocol: p, Capacity: 1, MidVoltage: 1, BurstPower: 1})
	return TestedMetrics{
		Protocol: p, Capacity: o.discharge.Delivered, Energy: o.discharge.Energy, MidVoltage: o.mid,
		BurstPower: o.burst.Power, BurstCurrent: o.burst.Current,
	}
}

// metricResiduals is how far a circuit's simulated tests are from tested metrics, in
// the sigmas of [Identify].
func MetricResiduals(c Circuit, m TestedMetrics) []Residual {
	var out []Residual
	o := simulate(c, m)
	add := func(metric string, tested, sigma, simulated float64) {
		if tested > 0 {
			out = append(out, Residual{Metric: metric, Sigma: (simulated - tested) / (sigma * tested)})
		}
	}
	add("capacity", float64(m.Capacity), SigmaCapacity, float64(o.discharge.Delivered))
	add("energy", float64(m.Energy), SigmaEnergy, float64(o.discharge.Energy))
	if m.BurstPower > 0 {
		add("burst power", float64(m.BurstPower), SigmaBurst, float64(o.burst.Power))
	} else {
		add("burst current", float64(m.BurstCurrent), SigmaBurst, float64(o.burst.Current))
	}
	add("mid voltage", float64(m.MidVoltage), SigmaMidVoltage, float64(o.mid))
	return out
}
