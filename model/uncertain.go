package model

import "math"

// Input names a kind of uncertain input of a rotor. The names are stable.
type Input string

// The uncertain inputs of a rotor.
const (
	InputThrust        Input = "ct"              // thrust coefficient at an unchanged figure of merit
	InputFigureOfMerit Input = "figure-of-merit" // of the propeller, at an unchanged thrust coefficient
	InputGrowth        Input = "merit-growth"    // how the figure of merit falls at small thrust
	InputEfficiency    Input = "efficiency"      // electrical, of motor and controller
	InputLoadedSpeed   Input = "loaded-speed"    // of an estimated motor, over Kv times voltage
	InputNoLoadShare   Input = "no-load-share"   // of an estimated motor
	InputNoLoadGrowth  Input = "no-load-growth"  // how the no-load current grows with speed
	InputPartDuty      Input = "part-duty"       // loss at part duty
)

// knownMotorSigma is one relative standard deviation of the efficiency of a motor whose constants are stated
// (assumption).
const knownMotorSigma = 0.03

// UncertainInput is an input of a rotor that is not known exactly. Different ones are taken as independent.
type UncertainInput struct {
	Input Input
	Sigma float64 // one standard deviation, above 0, in the unit of Move

	// Move adds an error to a rotor. Moves by several inputs may follow each other in any order.
	Move func(r *Rotor, by float64)
}

// Uncertain lists what is uncertain of the rotor. The estimated constants of a motor follow every move, so that
// they stay those of a motor that suits the propeller. Where hovers were flown, their own error takes the place
// of the figure of merit and of efficiency, and every other move leaves the hover that was flown at the power
// that was measured.
func (r *Rotor) Uncertain() []UncertainInput {
	p, m := &r.Propeller, &r.Motor
	list := []UncertainInput{{InputThrust, p.SigmaCT, moveThrust}}
	if r.anchor.power > 0 {
		list = append(list, UncertainInput{InputFigureOfMerit, r.anchor.sigma, moveFlown})
	} else {
		list = append(list, UncertainInput{InputFigureOfMerit, p.SigmaFM, moveFigureOfMerit})
		if p.SigmaGrowth > 0 {
			list = append(list, UncertainInput{InputGrowth, p.SigmaGrowth / p.growth, moveGrowth})
		}
		list = append(list, UncertainInput{InputEfficiency, r.electricSigma(), moveEfficiency})
	}
	if m.EstimatedR {
		list = append(list, UncertainInput{InputLoadedSpeed, EstimatedLoadedSpeedSigma / EstimatedLoadedSpeed, moveLoadedSpeed})
	}
	if m.EstimatedI0 {
		list = append(list, UncertainInput{InputNoLoadShare, math.Log(EstimatedNoLoadFactor), moveNoLoadShare})
	}
	if r.fitted != nil {
		for _, d := range r.fitted {
			list = append(list, UncertainInput{d.input, 1, d.move})
		}
		return list
	}
	if m.NoLoadSpeed > 0 && !m.EstimatedI0 { // the share of an estimated one is uncertain enough
		list = append(list, UncertainInput{InputNoLoadGrowth, AssumedNoLoadFixedSigma, moveNoLoadGrowth})
	}
	if r.Controller.PartDutyAssumed {
		list = append(list, UncertainInput{InputPartDuty, math.Log(AssumedPartDutyFactor), movePartDuty})
	}
	return list
}

// electricSigma is the relative standard deviation of the efficiency of motor and controller, beyond that of a motor's
// estimated constants. What was measured at a stand's controller has the motor in it.
func (r *Rotor) electricSigma() float64 {
	motor := knownMotorSigma
	if r.Propeller.Known == FromThrustTest || r.Motor.Estimated() {
		motor = 0
	}
	return math.Hypot(r.Controller.EfficiencySigma(), motor)
}

// EfficiencySigma is the relative standard deviation of the controller's efficiency.
func (c Controller) EfficiencySigma() float64 {
	if c.Assumed {
		return ControllerEfficiencySigma / c.Efficiency
	}
	return statedControllerSigma
}

// follow makes estimated constants anew and keeps a flown hover at its power, after a move.
func (r *Rotor) follow() {
	if r.Motor.Estimated() {
		r.EstimateMotor()
	}
	if f := &r.anchor; f.power > 0 {
		r.Calibration *= float64(f.power / r.AtThrust(f.thrust, f.bus).BusPower)
	}
}

// moveThrust holds the figure of merit, FM ~ CT^1.5/CP.
func moveThrust(r *Rotor, by float64) {
	r.Propeller = r.Propeller.Scaled(1+by, math.Pow(1+by, 1.5))
	r.follow()
}

func moveFigureOfMerit(r *Rotor, by float64) {
	r.Propeller = r.Propeller.Scaled(1, 1/(1+by))
	r.follow()
}

// moveFlown moves the measured power, as a better figure of merit would.
func moveFlown(r *Rotor, by float64) {
	r.anchor.power /= Power(1 + by)
	r.follow()
}

func moveGrowth(r *Rotor, by float64) {
	r.Propeller.growth = max(r.Propeller.growth*(1+by), 0)
	r.follow()
}

// moveEfficiency moves the controller's: power for power, it is the same as the motor's.
func moveEfficiency(r *Rotor, by float64) { r.Controller.Efficiency *= 1 + by }

func moveLoadedSpeed(r *Rotor, by float64) {
	r.Motor.Estimate.LoadedSpeed *= 1 + by
	r.follow()
}

// moveNoLoadShare and movePartDuty move what is known within a factor, by its logarithm.
func moveNoLoadShare(r *Rotor, by float64) {
	r.Motor.Estimate.NoLoadShare *= math.Exp(by)
	r.follow()
}

func movePartDuty(r *Rotor, by float64) {
	r.Controller.PartDutyDrop *= Voltage(math.Exp(by))
	r.follow()
}

func moveNoLoadGrowth(r *Rotor, by float64) {
	r.Motor.NoLoadFixed += by
	r.follow()
}

// PowerSpread is how far the power of a thrust on a bus voltage may be off, relative, to either side: the root
// sum of squares of what one standard deviation of each input changes.
func (r Rotor) PowerSpread(thrust Force, bus Voltage, inputs []UncertainInput) (more, less float64) {
	base := float64(r.AtThrust(thrust, bus).BusPower)
	at := func(u UncertainInput, by float64) float64 {
		v := r
		u.Move(&v, by)
		return float64(v.AtThrust(thrust, bus).BusPower)/base - 1
	}
	for _, u := range inputs {
		up, down := at(u, u.Sigma), at(u, -u.Sigma)
		high, low := max(up, down, 0), min(up, down, 0)
		more += high * high
		less += low * low
	}
	return math.Sqrt(more), math.Sqrt(less)
}
