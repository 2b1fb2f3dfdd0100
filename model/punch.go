package model

import "math"

// PunchPerCell is the loaded voltage per cell that a punch-out may not go below
// (common practice).
const PunchPerCell Voltage = 3.3

// Limiter names what limits a punch-out.
type Limiter string

// What limits a punch-out.
const (
	LimitedByThrottle Limiter = "full-throttle"
	LimitedByPack     Limiter = "pack"
	LimitedByBoard    Limiter = "board"
	LimitedByMotor    Limiter = "motor"
)

// Punch is a punch-out that is held until the pack's RC element has settled.
type Punch struct {
	Charge     float64 // charge left
	Ratio      float64 // thrust of all rotors over weight, thrust loss not taken off
	Throttle   float64 // the duty that it was reached at
	BusVoltage Voltage
	Current    Current // of the pack
	Rotor      RotorPoint
	LimitedBy  Limiter

	BurstPower Power   // what the pack gives at PunchPerCell
	Demand     Power   // what rotors and gear would draw at that bus voltage at full throttle
	Headroom   float64 // BurstPower / Demand
}

// FullThrottle is a rotor at full throttle on a pack at a charge left, with the pack's
// steady resistance, whatever limits of voltage or current that breaks.
func (c Craft) FullThrottle(pack Circuit, charge float64) RotorPoint {
	f := unlimited(c)
	f.current(float64(pack.OpenVoltage(charge)), float64(pack.R0+pack.R1))
	return c.Rotor.AtSpeed(AngularSpeed(f.w))
}

// PunchOut finds the hardest punch-out of a craft of a mass on a pack at a charge
// left: full throttle, or the throttle at which the pack holds PunchPerCell or a motor
// current meets the motor's or the board's limit, whichever is the least. The pack is
// taken with its steady resistance R0 + R1.
func (c Craft) PunchOut(pack Circuit, m Mass, charge float64) Punch {
	n := float64(c.Rotors)
	gear := float64(c.GearPower)
	e, r := float64(pack.OpenVoltage(charge)), float64(pack.R0+pack.R1)
	floor := float64(pack.Cells) * float64(PunchPerCell)
	draws := func(w AngularSpeed) float64 { return n*float64(c.Rotor.AtSpeed(w).BusPower) + gear }

	fullAtFloor := c.Rotor.SpeedAt(Voltage(floor))
	p := Punch{
		Charge:     charge,
		BurstPower: pack.PowerAt(charge, Voltage(floor)),
		Demand:     Power(draws(fullAtFloor)),
		LimitedBy:  LimitedByThrottle,
	}
	burst := float64(p.BurstPower)
	p.Headroom = burst / float64(p.Demand)

	var w AngularSpeed
	switch {
	case burst <= gear:
		p.LimitedBy = LimitedByPack
		v := (e + math.Sqrt(max(0, e*e-4*r*gear))) / 2 // the gear alone
		p.BusVoltage, p.Current = Voltage(v), Current(gear/v)
		return p
	case p.Headroom < 1:
		p.LimitedBy = LimitedByPack
		w = c.Rotor.solveSpeed(float64(fullAtFloor), func(w float64) float64 { return draws(AngularSpeed(w)) - burst })
	default:
		spare := func(v float64) float64 { return e - v - r*draws(c.Rotor.SpeedAt(Voltage(v)))/v }
		v := bracketRoot(floor, spare(floor), e, spare(e), 1e-10*e, spare)
		w = c.Rotor.SpeedAt(Voltage(v))
	}
	current := c.Rotor.AtSpeed(w).Motor.Current
	for _, limit := range []struct {
		max Current
		by  Limiter
	}{
		{c.Rotor.Controller.MaxCurrent, LimitedByBoard},
		{c.Rotor.Motor.MaxCurrent, LimitedByMotor},
	} {
		if limit.max > 0 && current > limit.max {
			w = c.Rotor.SpeedAtCurrent(limit.max)
			current = limit.max
			p.LimitedBy = limit.by
		}
	}
	p.Rotor = c.Rotor.AtSpeed(w)
	power := draws(w)
	v := (e + math.Sqrt(max(0, e*e-4*r*power))) / 2
	p.BusVoltage = Voltage(v)
	p.Current = Current(power / v)
	p.Throttle = min(1, float64(p.Rotor.Motor.Voltage)/v)
	p.Ratio = n * float64(p.Rotor.Thrust) / float64(m.Weight())
	return p
}
