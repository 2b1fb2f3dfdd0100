package model

// Landing says when a flight ends: at the first of a loaded voltage per cell and a
// charge left.
type Landing struct {
	PerCell Voltage
	Reserve float64
}

// LandingPerCell is the loaded voltage per cell to land at where nobody set one: cells of NMC hold charge
// worth flying below the voltage at which those of LCO are all but empty (common practice).
func LandingPerCell(c Chemistry) Voltage {
	if c == LiIon {
		return 3.2
	}
	return 3.5
}

// Flight is a hover from full charge until landing.
type Flight struct {
	Hover      Hover
	Duration   Time
	Usable     Energy // delivered until landing
	ChargeLeft float64
	EndedBy    Ending

	// Current of the pack when half of the charge that it delivers until landing is gone,
	// and at the start and on landing.
	Current, StartCurrent, EndCurrent Current
	// Throttle is the duty in hover at that half, and Hover the hover at its bus voltage. Above 1 the craft
	// cannot hover at all.
	Throttle float64

	EndTemperature, MaxTemperature Temperature // of the pack

	// ThrottleBound means that full throttle no longer held the hover before the landing
	// rule was met: the motors needed more voltage than the pack had left.
	ThrottleBound bool
}

// Fly hovers a craft of a mass on a pack until landing. Where the pack cannot give
// the hover power or voltage at all, Duration is zero.
func (d Drive) Fly(pack Circuit, m Mass, rule Landing) Flight {
	return d.fly(pack, m, rule, nil)
}

func (d *Drive) fly(c Circuit, m Mass, rule Landing, each func(Moment)) Flight {
	h := d.Hover(m, c.OpenVoltage(1))
	load := d.load(&h.Rotor)
	// Hover throttle reaches 1 where the bus falls to the voltage that the motor needs.
	bus := d.Rotor.Controller.busFor(h.Rotor.Motor.Voltage)
	needs := bus / Voltage(c.Cells)
	bound := needs > rule.PerCell
	drain := c.discharge(load.near(load.during(&c)), Stop{PerCell: max(rule.PerCell, needs), Reserve: rule.Reserve}, each)
	f := Flight{
		Hover: d.onBus(h, drain.MidVoltage), Duration: drain.Duration, Usable: drain.Energy, ChargeLeft: drain.ChargeLeft, EndedBy: drain.EndedBy,
		Current: drain.MidCurrent, StartCurrent: drain.StartCurrent, EndCurrent: drain.EndCurrent,
		EndTemperature: drain.EndTemperature, MaxTemperature: drain.MaxTemperature,
		ThrottleBound: bound && drain.EndedBy == EndedByVoltage,
	}
	f.Throttle = f.Hover.Rotor.Duty
	return f
}
