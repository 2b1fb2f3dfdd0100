package planner

import "allup/model"

// Full is full throttle on a full pack, which current limits do not hold down.
type Full struct {
	Current    model.Current // of each motor
	PitchSpeed model.Speed   // air past propellers without slip: about what the build cannot outfly
	TipMach    float64
}

// Bounds of what flies well (common practice).
const (
	minHoverThrottle = 0.15
	maxHoverThrottle = 0.60
	maxTipMach       = 0.70
	minPerCell       = 3.0 // V, under load
)

// readMission reads what the build's flight asks for, in package model's terms. A landing voltage of 0 is the pack's; see mission.
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

// mission is what the build flies on packs of a chemistry.
func (p *Plan) mission(c model.Chemistry) model.Mission {
	m := p.Mission
	if m.Landing.PerCell == 0 {
		m.Landing.PerCell = model.LandingPerCell(c)
	}
	return m
}

// PunchRatio is the thrust of the punch-out over the all-up weight.
func (a *Assessment) PunchRatio() float64 { return a.Punch.Ratio(a.Mass) }

// LandingRatio is the thrust of a punch-out at landing charge over the all-up weight.
func (a *Assessment) LandingRatio() float64 { return a.PunchLanding.Ratio(a.Mass) }

// heldCurrent is the greatest current of the pack in the flight's phases that are not full
// throttle; 0 without phases.
func (a *Assessment) heldCurrent() (greatest model.Current) {
	if a.Cycle == nil {
		return 0
	}
	for _, u := range a.Cycle.Phases {
		if !u.Full {
			greatest = max(greatest, u.MaxCurrent)
		}
	}
	return greatest
}

// practice warns of what a practitioner would see in a build on a pack.
func (a *Assessment) practice(p *Plan, pack model.Circuit) {
	fresh := pack
	fresh.R1 = 0 // not built up in the first moment, which is the hardest on motors and board
	full := p.Drive.FullThrottle(fresh, 1)
	a.Full = Full{
		Current:    full.Motor.Current,
		PitchSpeed: model.PitchSpeed(full.Speed, p.Prop.Pitch),
		TipMach:    model.TipMach(full.Speed, p.Prop.Diameter, p.airTemperature()),
	}
	if a.Flight.Duration <= 0 {
		return
	}
	if limit := p.Board.MaxCurrent; limit != nil && full.Motor.Current > *limit {
		a.warnOf(BoardCurrent, p.Board.ID, "carries %.1f A an output, and full throttle on a full pack would draw %.1f A: limit the throttle", float64(*limit), float64(full.Motor.Current))
	}
	if limit := p.Motor.MaxCurrent; limit != nil && full.Motor.Current > *limit {
		a.warnOf(MotorCurrent, p.Motor.ID, "states %.1f A at the most, and full throttle on a full pack would draw %.1f A: limit the throttle", float64(*limit), float64(full.Motor.Current))
	}
	if a.Full.TipMach > maxTipMach {
		a.warnOf(TipMach, p.Prop.ID, "turns its tips at Mach %.2f at full throttle on a full pack: above %.1f the coefficients no longer hold, and power and noise are higher", a.Full.TipMach, maxTipMach)
	}
	switch t := a.Flight.Throttle; {
	case t < minHoverThrottle:
		a.warn(HoverThrottle, "makes the build hover at %.1f %% throttle: under %.0f %% it is hard to fly gently; fewer cells, a lower kv or less pitch help", 100*t, 100*minHoverThrottle)
	case t > maxHoverThrottle:
		a.warn(HoverThrottle, "makes the build hover at %.1f %% throttle: above %.0f %% little is left to correct with", 100*t, 100*maxHoverThrottle)
	}
	if a.Cycle == nil {
		return
	}
	for _, u := range a.Cycle.Phases {
		if v := float64(u.MinVoltage) / float64(pack.Cells); u.Full && u.Runs > 0 && v < minPerCell {
			a.warn(PunchDip, "falls to %.2f V per cell in the flight's punches: below %.1f V cells are harmed", v, minPerCell)
			return
		}
	}
}

// warnOf warns of a part of the build that a pack drives too hard.
func (a *Assessment) warnOf(code Code, subject, format string, args ...any) {
	a.Warnings = append(a.Warnings, remark(code, subject, format, args...))
}

// airTemperature is that which the build flies in.
func (p *Plan) airTemperature() model.Temperature {
	if t := p.Build.Air.Temperature; t != nil {
		return *t
	}
	return model.StandardTemperature(p.Build.Air.Altitude)
}
