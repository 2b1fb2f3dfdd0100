package model

import "math"

// Motor is a brushless motor by the three constants of the first-order DC model:
//
//	I = (V - w/Kv)/R,  Q = (I - I0)/Kv
//
// with Kv in rad/s per V. Where R or I0 is not known the motor is an estimate; see Estimated.
//
// Source: M. Drela, First-Order DC Electric Motor Model, MIT, 2007.
type Motor struct {
	Kv SpeedConstant
	R  Resistance
	I0 Current

	// Estimated stands in for R and I0: the motor turns electrical into shaft power
	// with the efficiency EstimatedEfficiency, and runs loaded at the fraction
	// EstimatedLoadedSpeed of Kv V (common practice, from memory).
	Estimated bool

	MaxCurrent Current // the maker's limit; 0 where not stated
}

// The stand-ins for a motor's R and I0, with one standard deviation.
const (
	EstimatedEfficiency       = 0.70
	EstimatedEfficiencySigma  = 0.08
	EstimatedLoadedSpeed      = 0.78
	EstimatedLoadedSpeedSigma = 0.06
)

// MotorPoint is a motor at work.
type MotorPoint struct {
	Voltage Voltage
	Current Current
	Power   Power // V I
}

// Drive is the voltage and current at which the motor gives a torque at a speed.
func (m Motor) Drive(q Torque, w AngularSpeed) MotorPoint {
	if m.Estimated {
		v := float64(w) / float64(m.Kv) / EstimatedLoadedSpeed
		p := float64(q) * float64(w) / EstimatedEfficiency
		if v == 0 {
			return MotorPoint{}
		}
		return MotorPoint{Voltage: Voltage(v), Current: Current(p / v), Power: Power(p)}
	}
	i := float64(m.Kv)*float64(q) + float64(m.I0)
	v := float64(w)/float64(m.Kv) + i*float64(m.R)
	return MotorPoint{Voltage: Voltage(v), Current: Current(i), Power: Power(v * i)}
}

// BestEfficiency is the greatest efficiency at a voltage, and the current it is at:
// (1 - sqrt(I0 R/V))^2 at I = sqrt(I0 V/R). It needs R and I0, and is zero where the
// voltage does not even drive the no-load current.
func (m Motor) BestEfficiency(v Voltage) (efficiency float64, at Current) {
	i0, r := float64(m.I0), float64(m.R)
	e := max(0, 1-math.Sqrt(i0*r/float64(v)))
	return e * e, Current(math.Sqrt(i0 * float64(v) / r))
}

// Controller is a speed controller: at duty d the motor sees d times the bus
// voltage, and the bus gives the motor's power divided by the efficiency.
type Controller struct {
	Efficiency float64
	Assumed    bool    // the board does not state its efficiency
	MaxCurrent Current // each output; 0 where not stated
}

// The efficiency of a controller whose board does not state one, with one standard
// deviation (assumption from memory).
const (
	AssumedControllerEfficiency = 0.95
	ControllerEfficiencySigma   = 0.03
)
