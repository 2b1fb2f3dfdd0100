package model

// Landing says when a flight ends: at the first of a loaded voltage per cell and a
// charge left.
type Landing struct {
	PerCell Voltage
	Reserve float64
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
	// Throttle is the duty in hover at that half. Above 1 the craft cannot hover at all.
	Throttle float64

	EndTemperature, MaxTemperature Temperature // of the pack

	// ThrottleBound means that full throttle no longer held the hover before the landing
	// rule was met: the motors needed more voltage than the pack had left.
	ThrottleBound bool
}

// Fly hovers a craft of a mass on a pack until landing. Where the pack cannot give
// the hover power or voltage at all, Duration is zero.
func (d Drive) Fly(pack Circuit, m Mass, rule Landing) Flight {
	return pack.hold(d.Hover(m), rule, nil)
}

func (c Circuit) hold(h Hover, rule Landing, each func(Moment)) Flight {
	// Hover throttle reaches 1 where the bus falls to the voltage that the motor needs.
	needs := h.Rotor.Motor.Voltage / Voltage(c.Cells)
	bound := needs > rule.PerCell
	d := c.discharge(ConstantPower(h.Power), Stop{PerCell: max(rule.PerCell, needs), Reserve: rule.Reserve}, each)
	f := Flight{
		Hover: h, Duration: d.Duration, Usable: d.Energy, ChargeLeft: d.ChargeLeft, EndedBy: d.EndedBy,
		StartCurrent: d.StartCurrent, EndCurrent: d.EndCurrent,
		EndTemperature: d.EndTemperature, MaxTemperature: d.MaxTemperature,
		ThrottleBound: bound && d.EndedBy == EndedByVoltage,
	}
	f.Current = d.MidCurrent
	f.Throttle = float64(h.Rotor.Motor.Voltage / d.MidVoltage)
	return f
}
