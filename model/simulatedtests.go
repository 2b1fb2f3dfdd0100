package model

// dischargeLoad is the load of a protocol's discharge.
func (p Protocol) dischargeLoad() Load {
	if p.DischargePower > 0 {
		return ConstantPower(p.DischargePower)
	}
	return ConstantCurrent(p.DischargeCurrent)
}

// TestTemperature is the highest temperature that the tests of a protocol warm the circuit to, from its own at
// the start.
func (c Circuit) TestTemperature(p Protocol) Temperature {
	t := c.StartTemperature()
	if p.DischargePower > 0 || p.DischargeCurrent > 0 {
		t = max(t, c.Discharge(p.dischargeLoad(), Stop{PerCell: p.DischargeEndPerCell}).MaxTemperature)
	}
	if p.BurstEndPerCell > 0 {
		t = max(t, c.BurstTest(p).MaxTemperature)
	}
	return t
}

// Tests is what the tests of a protocol would yield of the circuit. Without a burst end
// voltage there is no burst test.
func (c Circuit) Tests(p Protocol) TestedMetrics {
	d := c.Discharge(p.dischargeLoad(), Stop{PerCell: p.DischargeEndPerCell})
	m := TestedMetrics{Protocol: p, Capacity: d.Delivered, Energy: d.Energy, MidVoltage: d.MidVoltage}
	if p.BurstEndPerCell > 0 {
		b := c.BurstTest(p)
		m.BurstPower, m.BurstCurrent = b.Power, b.Current
	}
	return m
}

// MetricResiduals are how far a circuit's simulated tests are from tested metrics, in
// the sigmas of [Identify].
func MetricResiduals(c Circuit, m TestedMetrics) []Residual {
	var out []Residual
	o := c.Tests(m.Protocol)
	add := func(metric string, tested, sigma, simulated float64) {
		if tested > 0 {
			out = append(out, Residual{Metric: metric, Sigma: (simulated - tested) / (sigma * tested)})
		}
	}
	add("capacity", float64(m.Capacity), SigmaCapacity, float64(o.Capacity))
	add("energy", float64(m.Energy), SigmaEnergy, float64(o.Energy))
	if m.BurstPower > 0 {
		add("burst power", float64(m.BurstPower), SigmaBurst, float64(o.BurstPower))
	} else {
		add("burst current", float64(m.BurstCurrent), SigmaBurst, float64(o.BurstCurrent))
	}
	add("mid voltage", float64(m.MidVoltage), SigmaMidVoltage, float64(o.MidVoltage))
	return out
}
