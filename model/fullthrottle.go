package model

import "math"

// usualLoadedSpeed is where the search for a speed at full throttle starts, as a fraction of Kv V.
const usualLoadedSpeed = 0.78

// fullThrottle is all rotors of a craft at full throttle, with the gear, as a load on a pack: each motor
// sees the bus voltage, unless a motor's or the board's current limit holds its speed down.
type fullThrottle struct {
	rotor   Rotor
	rotors  float64
	lifts   float64 // fraction of the rotors' thrust that is not lost
	gear    float64 // W
	fastest float64 // rad/s at the current limit; +Inf without one
	limited busLoad // all rotors and gear at that speed
	passes  float64 // fraction of the bus voltage that the motors see
	torque  float64 // N m s2, Q = torque w^2, where the propeller has one pair of coefficients; else 0

	w         float64 // rad/s, the solution last found: where the next search starts
	collapsed bool    // the last search found none: gear and rotors pull the pack past its greatest power
}

// unlimited is full throttle without limits of current.
func unlimited(d Drive) fullThrottle {
	f := fullThrottle{rotor: d.Rotor, rotors: float64(d.Rotors), lifts: 1 - d.ThrustLoss, gear: float64(d.GearPower), passes: 1 - d.Rotor.Controller.Drop, fastest: math.Inf(1)}
	if p := &d.Rotor.Propeller; len(p.points) == 1 && p.growth == 0 {
		f.torque = float64(d.Rotor.Propeller.Torque(1, d.Rotor.Air))
	}
	return f
}

func newFullThrottle(d Drive) *fullThrottle {
	f := unlimited(d)
	for _, limit := range []Current{d.Rotor.Controller.MaxCurrent, d.Rotor.Motor.MaxCurrent} {
		if limit > 0 {
			f.fastest = min(f.fastest, float64(d.Rotor.SpeedAtCurrent(limit)))
		}
	}
	if !math.IsInf(f.fastest, 1) {
		p := d.Rotor.AtFull(AngularSpeed(f.fastest))
		f.limited = d.load(&p)
	}
	return &f
}

// motor is one motor at a speed.
func (f *fullThrottle) motor(w float64) MotorPoint {
	q := Torque(f.torque * w * w)
	if f.torque == 0 {
		q = f.rotor.Propeller.Torque(AngularSpeed(w), f.rotor.Air)
	}
	return f.rotor.drive(q, AngularSpeed(w))
}

// at is the bus voltage that full throttle needs for a speed, and the power of all rotors and the gear.
func (f *fullThrottle) at(w float64) (volts, power float64) {
	m := f.motor(w)
	return float64(m.Voltage) / f.passes, f.drawn(m.Power)
}

// partly is the power of all rotors and the gear at a speed on a bus voltage, at the duty that this takes.
func (f *fullThrottle) partly(w float64, bus Voltage) float64 {
	m := f.motor(w)
	_, lost := f.rotor.Controller.partDuty(&m, bus)
	return f.drawn(m.Power + lost)
}

// drawn is what all rotors and the gear draw from the bus for a power into each controller's bridge.
func (f *fullThrottle) drawn(bridge Power) float64 {
	return f.rotors*float64(bridge)/f.rotor.Controller.Efficiency + f.gear
}

// current is what full throttle draws from a voltage e behind a resistance r0.
//
// The root of e - V(w) - r0 P(w)/V(w), which falls as w rises: secants from the last
// solution, or from a usual loaded speed, and a bracket where they leave it. A pack holds no load
// below half of e: there it has collapsed, and the current is that of its greatest power.
func (f *fullThrottle) current(e, r0 float64) float64 {
	var volts, amps float64
	over := func(w float64) float64 {
		v, p := f.at(w)
		volts, amps = v, p/v
		return e - v - r0*amps
	}
	tolerance := 1e-11 * e
	w := f.w
	if w == 0 {
		w = usualLoadedSpeed * float64(f.rotor.Motor.Kv) * e
	}
	fw := over(w)
	x := w * (1 + fw/e) // speed goes about as voltage
	found := false
	for range 8 {
		if found = math.Abs(fw) <= tolerance; found {
			break
		}
		fx := over(x)
		next := x - fx*(x-w)/(fx-fw)
		w, fw = x, fx
		if !(next > 0.5*x && next < 2*x) {
			found = math.Abs(fw) <= tolerance
			break
		}
		x = next
	}
	f.collapsed = e <= 0
	if !f.collapsed && (!found || volts < e/2) {
		low, high := float64(f.rotor.FullSpeed(Voltage(e/2))), float64(f.rotor.FullSpeed(Voltage(e)))
		atLow := over(low)
		f.collapsed = !(atLow >= 0)
		w = bracketRoot(low, atLow, high, over(high), tolerance, over)
		over(w)
	}
	f.w = w
	if f.collapsed {
		return max(e, 1e-3) / (2 * r0)
	}
	if w > f.fastest {
		v := f.limited.settled(e, r0)
		return f.limited.at(v) / v
	}
	return amps
}

// currentAt is what full throttle draws at a bus voltage.
func (f *fullThrottle) currentAt(v float64) float64 {
	w := float64(f.rotor.FullSpeed(Voltage(v)))
	if w > f.fastest {
		return f.limited.at(v) / v
	}
	_, p := f.at(w)
	return p / v
}

// thrustAt is the thrust of all rotors at a bus voltage, thrust loss taken off, N.
func (f *fullThrottle) thrustAt(v float64) float64 {
	w := min(float64(f.rotor.FullSpeed(Voltage(v))), f.fastest)
	return f.rotors * f.lifts * float64(f.rotor.Propeller.Thrust(AngularSpeed(w), f.rotor.Air))
}

// thrust of all rotors at the solution last found, thrust loss taken off, N.
func (f *fullThrottle) thrust() float64 {
	return f.rotors * f.lifts * float64(f.rotor.Propeller.Thrust(AngularSpeed(min(f.w, f.fastest)), f.rotor.Air))
}
