package model

import "math"

// Input is an uncertain input of a rotor.
type Input string

// The uncertain inputs of a rotor.
const (
	InputThrust     Input = "thrust-coefficient" // with the figure of merit held
	InputMerit      Input = "figure-of-merit"
	InputGrowth     Input = "merit-growth"          // how the figure of merit falls at small thrust
	InputElectric   Input = "electrical-efficiency" // of motor and controller
	InputLoaded     Input = "loaded-speed"          // of an estimated motor
	InputNoLoad     Input = "no-load-share"         // of an estimated motor
	InputNoLoadLine Input = "no-load-growth"        // how the no-load current grows with speed
	InputPartDuty   Input = "part-duty"
	InputHover      Input = "flown-hover"
)

// knownMotorSigma is one relative standard deviation of the efficiency of a motor whose constants are stated (assumption).
const knownMotorSigma = 0.03

// Alternative is a rotor with one uncertain input moved by one standard deviation, up and down. Its hover
// power moves more on one side than on the other where the input is known within a factor.
type Alternative struct {
	Input    Input
	Up, Down Rotor
}

// Alternatives are the rotor with each of its uncertain inputs moved; they are independent of each other. Estimated constants of
// the motor are made anew for a bus voltage, so that they stay those of a motor that suits the propeller. What flown
// hovers settle is told by [Calibration.Alternatives].
func (r Rotor) Alternatives(bus Voltage) []Alternative {
	estimate := func(r Rotor, loaded, share float64) Rotor {
		if !r.Motor.Estimated() {
			return r
		}
		return r.EstimateMotor(bus, loaded, share)
	}
	scaled := func(ct, fm float64) Rotor {
		v := r
		v.Propeller = r.Propeller.Scaled(ct, math.Pow(ct, 1.5)/fm)
		return estimate(v, EstimatedLoadedSpeed, EstimatedNoLoadShare)
	}
	p := &r.Propeller
	out := []Alternative{
		{InputThrust, scaled(1+p.SigmaCT, 1), scaled(1-p.SigmaCT, 1)},
		{InputMerit, scaled(1, 1+p.SigmaFM), scaled(1, 1-p.SigmaFM)},
	}
	if p.SigmaGrowth > 0 {
		grown := func(by float64) Rotor {
			v := r
			v.Propeller.growth = max(v.Propeller.growth+by, 0)
			return estimate(v, EstimatedLoadedSpeed, EstimatedNoLoadShare)
		}
		out = append(out, Alternative{InputGrowth, grown(p.SigmaGrowth), grown(-p.SigmaGrowth)})
	}
	efficient := func(by float64) Rotor {
		v := r
		v.Controller.Efficiency *= by // power for power, the same as the motor's
		return v
	}
	sigma := r.electricSigma()
	out = append(out, Alternative{InputElectric, efficient(1 + sigma), efficient(1 - sigma)})
	if r.Motor.Estimated() {
		const l, s = EstimatedLoadedSpeed, EstimatedNoLoadShare
		if r.Motor.EstimatedR {
			out = append(out, Alternative{InputLoaded, estimate(r, l+EstimatedLoadedSpeedSigma, s), estimate(r, l-EstimatedLoadedSpeedSigma, s)})
		}
		if r.Motor.EstimatedI0 {
			out = append(out, Alternative{InputNoLoad, estimate(r, l, s*EstimatedNoLoadFactor), estimate(r, l, s/EstimatedNoLoadFactor)})
		}
	}
	if r.others != nil {
		return append(out, r.others...)
	}
	if r.Motor.NoLoadSpeed > 0 && !r.Motor.EstimatedI0 { // the share of an estimated one is uncertain enough
		fixed := func(by float64) Rotor {
			v := r
			v.Motor.NoLoadFixed += by
			return v
		}
		out = append(out, Alternative{InputNoLoadLine, fixed(AssumedNoLoadFixedSigma), fixed(-AssumedNoLoadFixedSigma)})
	}
	if r.Controller.PartDutyAssumed {
		times := func(by Voltage) Rotor {
			v := r
			v.Controller.PartDutyDrop *= by
			return v
		}
		out = append(out, Alternative{InputPartDuty, times(AssumedPartDutyFactor), times(1. / AssumedPartDutyFactor)})
	}
	return out
}

// electricSigma is the relative standard deviation of the efficiency of motor and controller, beyond that of a motor's
// estimated constants. What was measured at a stand's controller has the motor in it.
func (r *Rotor) electricSigma() float64 {
	controller, motor := statedControllerSigma, knownMotorSigma
	if r.Controller.Assumed {
		controller = ControllerEfficiencySigma / r.Controller.Efficiency
	}
	if r.Propeller.Known == FromThrustTest || r.Motor.Estimated() {
		motor = 0
	}
	return math.Hypot(controller, motor)
}

// PowerSpread is the relative change of the power of a thrust on a bus voltage with each of the rotor's
// alternatives, and their root sum of squares to either side.
func (r Rotor) PowerSpread(thrust Force, bus Voltage, alternatives []Alternative) (more, less float64) {
	base := float64(r.AtThrust(thrust, bus).BusPower)
	for _, a := range alternatives {
		up, down := float64(a.Up.AtThrust(thrust, bus).BusPower)/base-1, float64(a.Down.AtThrust(thrust, bus).BusPower)/base-1
		high, low := max(up, down, 0), min(up, down, 0)
		more += high * high
		less += low * low
	}
	return math.Sqrt(more), math.Sqrt(less)
}
