package catalog

import "allup/model"

// readTested reads the figures of a bench test. A figure that the file gives may not
// be zero: zero stands for one that was not measured. Where a circuit stands beside them one test of
// the two is enough.
func readTested(t *table, p *Pack, circuit bool) *model.TestedMetrics {
	m := &model.TestedMetrics{Protocol: model.UsualProtocol(p.Rated, p.Cells)}
	readProtocol(t, &m.Protocol)
	m.Capacity = scaled(t, "capacity_mah", model.MilliAmpH, deliveredMAh())
	m.Energy = scaled(t, "energy_wh", model.WattHour, span(0.02, 500, "Wh"))
	m.MidVoltage = scaled(t, "mid_voltage_v", model.Voltage(1), span(2, 30, "V"))
	m.BurstPower = scaled(t, "burst_power_w", model.Power(1), span(0.5, 20000, "W"))
	m.BurstCurrent = scaled(t, "burst_current_a", model.Current(1), span(0.1, 1000, "A"))
	if c, ok := t.number("ambient_c", span(-30, 60, "degrees Celsius")); ok {
		m.Ambient = model.Celsius(c)
	}
	p.TestDate = t.date("date")
	p.TestCycles = readCycles(t)
	p.TestSource = t.text("source")
	discharged := t.has("capacity_mah") || t.has("energy_wh")
	bursted := t.has("burst_power_w") || t.has("burst_current_a")
	if circuit && (discharged || bursted) {
		checkTested(t, m, p)
		return m
	}
	if !discharged {
		t.fault("", InputError{Msg: "has neither capacity_mah nor energy_wh", Allowed: "at least one of the two, and one of burst_power_w and burst_current_a"})
	}
	if !bursted {
		t.fault("", InputError{Msg: "has neither burst_power_w nor burst_current_a", Allowed: "at least one of the two, and one of capacity_mah and energy_wh"})
	}
	checkTested(t, m, p)
	return m
}

// readProtocol replaces what the file states of the usual protocol.
func readProtocol(t *table, p *model.Protocol) {
	if t.has("discharge_power_w") && t.has("discharge_current_a") {
		t.fault("discharge_current_a", InputError{Msg: "contradicts discharge_power_w beside it", Hint: "keep the one that the tester held constant"})
	}
	override(&p.DischargePower, t, "discharge_power_w", span(1, 5000, "W"))
	if override(&p.DischargeCurrent, t, "discharge_current_a", span(0.05, 1000, "A")) {
		p.DischargePower = 0
	}
	override(&p.DischargeEndPerCell, t, "discharge_end_v_per_cell", endVoltage())
	override(&p.BurstEndPerCell, t, "burst_end_v_per_cell", burstVoltage())
	override(&p.Ramp, t, "ramp_a_per_s", span(0.01, 1000, "A/s"))
	conditioning := t.child("conditioning")
	if conditioning == nil {
		return
	}
	// Without conditioning the burst starts from full: zeros are figures here.
	override(&p.ConditioningCurrent, conditioning, "current_a", span(0, 1000, "A").from(0.01).must())
	override(&p.ConditioningTime, conditioning, "seconds", span(0, 3600, "s").from(0.01).must())
	conditioning.done()
}

// tested writes what readTested reads.
func (w *recordWriter) tested(p *Pack) {
	m := p.Tested
	w.measured("discharge_power_w", float64(m.Protocol.DischargePower))
	w.measured("discharge_current_a", float64(m.Protocol.DischargeCurrent))
	w.measured("discharge_end_v_per_cell", float64(m.Protocol.DischargeEndPerCell))
	w.measured("capacity_mah", m.Capacity.MilliAmpHours())
	w.measured("energy_wh", m.Energy.WattHours())
	w.measured("mid_voltage_v", float64(m.MidVoltage))
	w.measured("burst_power_w", float64(m.BurstPower))
	w.measured("burst_current_a", float64(m.BurstCurrent))
	w.measured("burst_end_v_per_cell", float64(m.Protocol.BurstEndPerCell))
	w.line("conditioning = { current_a = " + tomlNumber(float64(m.Protocol.ConditioningCurrent)) + ", seconds = " + tomlNumber(float64(m.Protocol.ConditioningTime)) + " }")
	w.measured("ramp_a_per_s", m.Protocol.Ramp)
	if m.Ambient != 0 {
		w.number("ambient_c", m.Ambient.Celsius())
	}
	if p.TestDate != "" {
		w.line("date = " + p.TestDate)
	}
	if p.TestCycles != nil {
		w.number("cycles", float64(*p.TestCycles))
	}
	w.text("source", p.TestSource)
}
