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
	Thrust     Force   // of all rotors, with what is lost to arms, guards and ducts taken off
	Throttle   float64 // the duty that it was reached at
	BusVoltage Voltage
	Current    Current // of the pack
	Rotor      RotorPoint
	LimitedBy  Limiter

	BurstPower Power   // what the pack gives at PunchPerCell
	Demand     Power   // what rotors and gear would draw at that bus voltage at full throttle
	Headroom   float64 // BurstPower / Demand
}

// Ratio is the thrust over the weight of a mass.
func (p Punch) Ratio(m Mass) float64 { return float64(p.Thrust) / float64(m.Weight()) }

// FullThrottle is a rotor at full throttle on a pack at a charge left, with the pack's
// steady resistance, whatever limits of voltage or current that breaks.
func (d Drive) FullThrottle(pack Circuit, charge float64) RotorPoint {
	f := unlimited(d)
	f.current(float64(pack.OpenVoltage(charge)), float64(pack.Steady(charge)))
	return d.Rotor.AtFull(AngularSpeed(f.w))
}

// PunchOut finds the hardest punch-out on a pack at a charge left, whatever mass it lifts: full throttle, or
// the throttle at which the pack holds PunchPerCell or a motor current meets the motor's or the board's limit,
// whichever is the least. The pack is taken with its steady resistance at that charge and its temperature at
// the start.
func (d Drive) PunchOut(pack Circuit, charge float64) Punch {
	n := float64(d.Rotors)
	gear := float64(d.GearPower)
	e, r := float64(pack.OpenVoltage(charge)), float64(pack.Steady(charge))
	floor := float64(pack.Cells) * float64(PunchPerCell)
	f := unlimited(d)

	fullAtFloor := d.Rotor.FullSpeed(Voltage(floor))
	p := Punch{
		Charge:     charge,
		BurstPower: pack.PowerAt(charge, Voltage(floor)),
		Demand:     Power(f.partly(float64(fullAtFloor), Voltage(floor))),
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
		w = d.Rotor.solveSpeed(float64(fullAtFloor), func(w float64) float64 { return f.partly(w, Voltage(floor)) - burst })
	default:
		f.current(e, r)
		w = AngularSpeed(f.w)
	}
	full := d.Rotor.AtFull(w)
	current := full.Motor.Current
	for _, limit := range []struct {
		max Current
		by  Limiter
	}{
		{d.Rotor.Controller.MaxCurrent, LimitedByBoard},
		{d.Rotor.Motor.MaxCurrent, LimitedByMotor},
	} {
		if limit.max > 0 && current > limit.max {
			w = d.Rotor.SpeedAtCurrent(limit.max)
			full = d.Rotor.AtFull(w)
			current = limit.max
			p.LimitedBy = limit.by
		}
	}
	load := d.load(&full)
	v := load.settled(e, r)
	p.BusVoltage = Voltage(v)
	p.Current = Current(load.at(v) / v)
	p.Rotor = d.Rotor.Controller.feed(full, p.BusVoltage)
	p.Throttle = min(1, p.Rotor.Duty)
	p.Thrust = Force(n*(1-d.ThrustLoss)) * p.Rotor.Thrust
	return p
}
