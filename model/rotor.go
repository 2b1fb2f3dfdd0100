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

	anchor anchor         // the hover that Calibration meets; no power for none
	fitted []fitDirection // ways in which the constants of a thrust test's fit move together; nil for none
}

// anchor is a rotor's part in a hover that was flown.
type anchor struct {
	thrust Force
	bus    Voltage
	power  Power
	sigma  float64 // one relative standard deviation of power
}

// RotorPoint is a rotor at work.
type RotorPoint struct {
	Speed      AngularSpeed
	Thrust     Force
	Torque     Torque
	ShaftPower Power
	Motor      MotorPoint
	Duty       float64 // 0 to 1; above 1 where the bus has less than the motor needs
	PartDuty   Power   // lost at part duty; see [Controller]
	BusPower   Power   // what the controller draws
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

// AtSpeed is the rotor turning at a speed, fed from a bus voltage.
func (r Rotor) AtSpeed(w AngularSpeed, bus Voltage) RotorPoint {
	q := r.Propeller.Torque(w, r.Air)
	p := RotorPoint{
		Speed: w, Thrust: r.Propeller.Thrust(w, r.Air), Torque: q, ShaftPower: Power(float64(q) * float64(w)), Motor: r.drive(q, w),
	}
	return r.Controller.feed(p, bus)
}

// AtThrust is the rotor giving a thrust, fed from a bus voltage.
func (r Rotor) AtThrust(t Force, bus Voltage) RotorPoint {
	return r.AtSpeed(r.Propeller.SpeedFor(t, r.Air), bus)
}

// AtFull is the rotor turning at a speed because the motor has the whole of the bus voltage that this takes.
func (r Rotor) AtFull(w AngularSpeed) RotorPoint {
	q := r.Propeller.Torque(w, r.Air)
	return r.AtSpeed(w, r.Controller.busFor(r.drive(q, w).Voltage))
}

// SpeedAt is the speed at which the motor sees a voltage. The voltage rises with speed.
func (r Rotor) SpeedAt(v Voltage) AngularSpeed {
	free := float64(r.Motor.Kv) * float64(v) // no load is faster than this
	needs := func(w float64) float64 {
		return float64(r.Motor.Drive(r.Propeller.Torque(AngularSpeed(w), r.Air), AngularSpeed(w)).Voltage) - float64(v)
	}
	return r.solveSpeed(free, needs)
}

// FullSpeed is the speed at full throttle on a bus voltage.
func (r Rotor) FullSpeed(bus Voltage) AngularSpeed {
	return r.SpeedAt(bus * Voltage(1-r.Controller.Drop))
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
