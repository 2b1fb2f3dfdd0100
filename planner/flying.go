package planner

import "allup/model"

// Full is full throttle on a full pack, which current limits do not hold down.
type Full struct {
	Current    model.Current // of each motor
	PitchSpeed model.Speed   // air past propellers without slip: an upper bound on airspeed
	TipMach    float64
}

// readMission reads what the build's flight asks for, in package model's terms. A landing voltage of 0 is the
// pack's; see MissionOn.
func (p *Plan) readMission() {
	f := p.Build.Flight
	p.Mission = model.Mission{
		Landing:     model.Landing{PerCell: f.LandPerCell, Reserve: f.Reserve},
		PunchCharge: f.PunchCharge,
	}
	for _, phase := range f.Phases {
		p.Mission.Phases = append(p.Mission.Phases, model.Phase{Duration: phase.Duration, Thrust: phase.Thrust, Full: phase.Full})
	}
}

// MissionOn is what the build flies on packs of a chemistry: to its own landing voltage, or to theirs.
func (p *Plan) MissionOn(c model.Chemistry) model.Mission {
	m := p.Mission
	if m.Landing.PerCell == 0 {
		m.Landing.PerCell = model.LandingPerCell(c)
	}
	return m
}

// PunchRatio is the thrust of the punch-out over the all-up weight.
func (c *Candidate) PunchRatio() float64 { return c.Punch.Ratio(c.Mass) }

// LandingRatio is the thrust of a punch-out at landing charge over the all-up weight.
func (a *Assessment) LandingRatio() float64 { return a.PunchLanding.Ratio(a.Mass) }

// fly puts the build on its mission, and on full throttle.
func (c *Candidate) fly() {
	p := c.Plan
	c.Circuit = p.circuitOf(c.Pack)
	mission := p.MissionOn(c.Pack.Chemistry)
	c.LandPerCell = mission.Landing.PerCell
	c.Answer = p.Drive.Answer(c.Circuit, c.Mass, mission)
	fresh := c.Circuit
	fresh.R1 = 0 // not built up in the first moment, which is the hardest on motors and board
	full := p.Drive.FullThrottle(fresh, 1)
	c.Full = Full{
		Current:    full.Motor.Current,
		PitchSpeed: model.PitchSpeed(full.Speed, p.Prop.Pitch),
		TipMach:    model.TipMach(full.Speed, p.Prop.Diameter, p.AirTemperature()),
	}
}

// AirTemperature is that of the air that the build flies in: the stated one, or the standard atmosphere's.
func (p *Plan) AirTemperature() model.Temperature {
	if t := p.Build.Air.Temperature; t != nil {
		return *t
	}
	return model.StandardTemperature(p.Build.Air.Altitude)
}
