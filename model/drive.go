package model

import "math"

// Rotor is one motor with its propeller and its share of the speed controller, in
// the air that it works in.
type Rotor struct {
	Propeller  Propeller
	Motor      Motor
	Controller Controller
	Air        Density

	// Calibration is what flown hovers multiply the motor's current and power by; 0
	// stands for 1. See [Calibrate].
	Calibration float64
}

// RotorPoint is a rotor at work.
type RotorPoint struct {
	Speed      AngularSpeed
	Thrust     Force
	Torque     Torque
	ShaftPower Power
	Motor      MotorPoint
	BusPower   Power // what the controller draws
}

// drive is the motor giving a torque at a speed, as flown hovers correct it.
func (r *Rotor) drive(q Torque, w AngularSpeed) MotorPoint {
	m := r.Motor.Drive(q, w)
	if f := r.Calibration; f > 0 {
		m.Current *= Current(f)
		m.Power *= Power(f)
	}
	return m
}

// AtSpeed is the rotor turning at a speed.
func (r Rotor) AtSpeed(w AngularSpeed) RotorPoint {
	q := r.Propeller.Torque(w, r.Air)
	m := r.drive(q, w)
	return RotorPoint{
		Speed: w, Thrust: r.Propeller.Thrust(w, r.Air), Torque: q, ShaftPower: Power(float64(q) * float64(w)),
		Motor: m, BusPower: m.Power / Power(r.Controller.Efficiency),
	}
}

// AtThrust is the rotor giving a thrust.
func (r Rotor) AtThrust(t Force) RotorPoint { return r.AtSpeed(r.Propeller.SpeedFor(t, r.Air)) }

// SpeedAt is the speed at which the motor sees a voltage. The voltage rises with speed.
func (r Rotor) SpeedAt(v Voltage) AngularSpeed {
	free := float64(r.Motor.Kv) * float64(v) // no load is faster than this
	if r.Motor.Estimated {
		return AngularSpeed(free * EstimatedLoadedSpeed)
	}
	needs := func(w float64) float64 {
		return float64(r.Motor.Drive(r.Propeller.Torque(AngularSpeed(w), r.Air), AngularSpeed(w)).Voltage) - float64(v)
	}
	return r.solveSpeed(free, needs)
}

// SpeedAtCurrent is the speed at which the motor draws a current. It is zero where the
// motor's no-load current is already above it.
func (r Rotor) SpeedAtCurrent(i Current) AngularSpeed {
	over := func(w float64) float64 {
		return float64(r.drive(r.Propeller.Torque(AngularSpeed(w), r.Air), AngularSpeed(w)).Current) - float64(i)
	}
	hi := 1000.0
	for range 40 {
		if over(hi) > 0 {
			break
		}
		hi *= 2
	}
	return r.solveSpeed(hi, over)
}

// solveSpeed is the root of a function that rises with speed, between 0 and hi.
func (r Rotor) solveSpeed(hi float64, f func(float64) float64) AngularSpeed {
	f0 := f(0)
	if f0 >= 0 {
		return 0
	}
	return AngularSpeed(bracketRoot(0, f0, hi, f(hi), 1e-10*math.Abs(f0), f))
}

// Drive is what lifts a build: its rotors, and the gear that draws from the same bus. It has no mass: thrust does
// not depend on mass, so a punch-out is worked out once for a drive with a pack, whatever they lift.
type Drive struct {
	Rotors     int
	Rotor      Rotor
	GearPower  Power   // board, camera, transmitter, receiver, drawn from the bus
	ThrustLoss float64 // fraction of the rotors' thrust lost to arms, guards and ducts, 0 to below 1
}

// Hover is the craft in hover at a mass.
type Hover struct {
	Mass  Mass
	Rotor RotorPoint
	Power Power // all rotors and the gear, from the bus
}

// Lift is the craft giving a multiple of its weight at a mass: 1 is hover. Each
// rotor's thrust is multiple x m g0/((1 - ThrustLoss) Rotors).
func (d Drive) Lift(m Mass, multiple float64) Hover {
	thrust := Force(multiple * float64(m.Weight()) / ((1 - d.ThrustLoss) * float64(d.Rotors)))
	p := d.Rotor.AtThrust(thrust)
	return Hover{Mass: m, Rotor: p, Power: Power(d.Rotors)*p.BusPower + d.GearPower}
}

// Hover is the craft in hover at a mass.
func (d Drive) Hover(m Mass) Hover { return d.Lift(m, 1) }
