package model

import "math"

// Motor is a brushless motor by the three constants of the first-order DC model:
//
//	I = (V - w/Kv)/R,  Q = (I - I0(w))/Kv
//
// with Kv in rad/s per V. The no-load current grows with speed, from bearings that rub to iron and air that
// are turned faster; see [Motor.NoLoadCurrent].
//
// Source: M. Drela, First-Order DC Electric Motor Model, MIT, 2007; that no-load torque rises with speed is in his
// second-order model of the same year.
type Motor struct {
	Kv SpeedConstant
	R  Resistance
	I0 Current // the no-load current at NoLoadSpeed

	// NoLoadSpeed is the speed that I0 was measured at, and NoLoadFixed the fraction of I0 there that
	// is the same at every speed. A NoLoadSpeed of 0 keeps the whole of I0 at every speed.
	NoLoadSpeed AngularSpeed
	NoLoadFixed float64

	// What was not known and stands in as [Rotor.EstimateMotor] makes it, and from what.
	EstimatedR, EstimatedI0 bool
	Estimate                MotorEstimate

	MaxCurrent Current // the maker's limit; 0 where not stated
}

// Estimated reports whether R or I0 stands in for what was not known.
func (m Motor) Estimated() bool { return m.EstimatedR || m.EstimatedI0 }

// The fraction of a no-load current that does not grow with speed, with one standard deviation (assumption: between
// all of it and none).
const (
	AssumedNoLoadFixed      = 0.5
	AssumedNoLoadFixedSigma = 0.3
)

// noLoad is the no-load current as a straight line over speed.
func (m *Motor) noLoad() (fixed, perSpeed float64) {
	if m.NoLoadSpeed <= 0 {
		return float64(m.I0), 0
	}
	grows := 1 - m.NoLoadFixed
	return float64(m.I0) * m.NoLoadFixed, float64(m.I0) * grows / float64(m.NoLoadSpeed)
}

// NoLoadCurrent is the current that turns the motor at a speed without a propeller:
// I0 (a + (1 - a) w/w0), with a = NoLoadFixed and w0 = NoLoadSpeed.
func (m Motor) NoLoadCurrent(w AngularSpeed) Current {
	fixed, per := m.noLoad()
	return Current(fixed + per*float64(w))
}

// MotorPoint is a motor at work.
type MotorPoint struct {
	Voltage Voltage
	Current Current
	Power   Power // V I
}

// Drive is the voltage and current at which the motor gives a torque at a speed.
func (m *Motor) Drive(q Torque, w AngularSpeed) MotorPoint {
	fixed, per := m.noLoad()
	i := float64(m.Kv)*float64(q) + fixed + per*float64(w)
	v := float64(w)/float64(m.Kv) + i*float64(m.R)
	return MotorPoint{Voltage: Voltage(v), Current: Current(i), Power: Power(v * i)}
}

// BestEfficiency is the greatest efficiency at a voltage, and the current it is at, of a motor whose I0 does not change
// with speed: (1 - sqrt(I0 R/V))^2 at I = sqrt(I0 V/R). It needs R and I0, and is zero where the
// voltage does not even drive the no-load current.
func (m Motor) BestEfficiency(v Voltage) (efficiency float64, at Current) {
	i0, r := float64(m.I0), float64(m.R)
	e := max(0, 1-math.Sqrt(i0*r/float64(v)))
	return e * e, Current(math.Sqrt(i0 * float64(v) / r))
}

// What stands in for a motor's R and I0 where they are not known: the speed at full throttle on a bus voltage, as
// a fraction of Kv V, with one standard deviation, and the no-load current as a share of the current then, within a
// factor (common practice, from memory; seven motors with eight propellers on a stand ran at 0.764 of Kv V,
// standard deviation 0.043: StrawsonDesign/motor_propeller_testing, MIT, 2018).
const (
	EstimatedLoadedSpeed      = 0.78
	EstimatedLoadedSpeedSigma = 0.06
	EstimatedNoLoadShare      = 0.07
	EstimatedNoLoadFactor     = 1.6
)

// MotorEstimate is what unknown constants of a motor are made from: its loaded speed at full throttle on a bus
// voltage, as a fraction of Kv V, and the no-load share of the current then.
type MotorEstimate struct {
	Bus         Voltage
	LoadedSpeed float64
	NoLoadShare float64
}

// UsualMotor is the estimate of a motor of which nothing is known, for a bus voltage.
func UsualMotor(bus Voltage) MotorEstimate {
	return MotorEstimate{Bus: bus, LoadedSpeed: EstimatedLoadedSpeed, NoLoadShare: EstimatedNoLoadShare}
}

// Bounds of an estimate: the least part of the bus voltage that the motor loses in its windings at full throttle, and
// the greatest share of the no-load current.
const (
	leastEstimatedDrop = 0.02
	mostNoLoadShare    = 0.6
)

// EstimateMotor fills in the constants that the rotor's motor is marked to lack: a motor is chosen for its propeller
// and pack so that it is loaded down to about the same fraction of its free speed.
//
//	w = L Kv V,  I = Kv Q(w)/(1 - s),  R = (Vm - w/Kv)/I,  I0 = s I at w
//
// with L the loaded speed, V the bus voltage, s the no-load share, Vm what the controller leaves of V, and all
// of it at sea level. A constant that is known is used as it is, and the speed is then the one that it gives.
func (r *Rotor) EstimateMotor() {
	m, from := &r.Motor, r.Motor.Estimate
	seen := (1 - r.Controller.Drop) * float64(from.Bus)
	kv := float64(m.Kv)
	share := min(from.NoLoadShare, mostNoLoadShare)
	w := from.LoadedSpeed * kv * float64(from.Bus)
	drag := func(w float64) float64 { return kv * float64(r.Propeller.Torque(AngularSpeed(w), SeaLevelDensity)) }
	if m.EstimatedI0 {
		m.NoLoadFixed = AssumedNoLoadFixed
		if !m.EstimatedR {
			// The speed at which the known windings leave what the loaded motor asks for.
			w = float64(r.solveSpeed(kv*seen, func(w float64) float64 { return w/kv + float64(m.R)*drag(w)/(1-share) - seen }))
		}
		m.NoLoadSpeed = AngularSpeed(w)
		m.I0 = Current(share / (1 - share) * drag(w))
	}
	if m.EstimatedR {
		i := drag(w) + float64(m.NoLoadCurrent(AngularSpeed(w)))
		m.R = Resistance(max(seen-w/kv, leastEstimatedDrop*seen) / i)
	}
}
