package model

import (
	"fmt"
	"math"
)

// FlownHover is a hover that was flown and measured, in the air that the craft is in.
type FlownHover struct {
	Mass  Mass
	Power Power   // from the pack
	Bus   Voltage // that the pack gave meanwhile
}

// Bounds of a calibration that is believed: beyond them the mass, the meter or a part is
// not what the build says.
const (
	MinCalibration = 0.6
	MaxCalibration = 1.7
)

// SigmaFlownHover is the relative standard uncertainty of a measured hover power
// (assumption: the current sensor of a flight controller, set once against a charger).
const SigmaFlownHover = 0.03

// Calibration is what flown hovers say of a craft: the power that the rotors draw is
// Factor times the predicted one.
//
// The factor is that of the rotors alone. The gear's power is stated in watts and does not
// scale with thrust, so it is taken off what was measured first and is
// added again unchanged: a single hover is met exactly.
type Calibration struct {
	Factor float64
	Sigma  float64 // relative standard uncertainty of the factor: of the meter, and of the scatter
	Hovers []CalibratedHover
}

// CalibratedHover is a flown hover against the prediction.
type CalibratedHover struct {
	FlownHover
	Predicted  Power   // without calibration
	Calibrated Power   // with it
	Error      float64 // calibrated over measured, minus 1
}

// ImplausibleHoverError is a flown hover that is not believed.
type ImplausibleHoverError struct {
	Index         int // of the flown hovers, from 0
	Hover         FlownHover
	Factor        float64
	FigureOfMerit float64 // that the propellers would have, motors and controllers as they are
	Overall       float64 // ideal power over electrical power of the rotors
}

func (e *ImplausibleHoverError) Error() string {
	if e.Factor <= 0 {
		return fmt.Sprintf("%.1f W leaves nothing for the rotors once the gear has its own power: check current and voltage", float64(e.Hover.Power))
	}
	return fmt.Sprintf("%.1f W at %.1f g is %.2f times the predicted rotor power, outside %g to %g: it would imply propellers with a figure of merit of %.2f, "+
		"and %.0f %% of the electrical power as ideal lifting power; check mass, current, voltage, and that motor and prop are the ones flown",
		float64(e.Hover.Power), e.Hover.Mass.Grams(), e.Factor, MinCalibration, MaxCalibration, e.FigureOfMerit, 100*e.Overall)
}

// Calibrate finds the factor by least squares of the relative errors of power over flown hovers,
// of which there must be one at least. What the craft was calibrated with before does
// not count. A hover whose own factor is outside MinCalibration to MaxCalibration is an [*ImplausibleHoverError].
func (d Drive) Calibrate(flown []FlownHover) (Calibration, error) {
	if len(flown) == 0 {
		return Calibration{}, fmt.Errorf("no flown hover to calibrate with")
	}
	d.Rotor.Calibration, d.Rotor.anchor = 0, anchor{}
	// Least squares of (f r + g)/p - 1, with r the rotors, g the gear and p the measured power.
	var top, bottom float64
	for i, h := range flown {
		if !(h.Mass > 0) || !(h.Power > 0) || !(h.Bus > 0) {
			return Calibration{}, fmt.Errorf("a flown hover of %.4g g at %.4g W and %.4g V: all must be above zero", h.Mass.Grams(), float64(h.Power), float64(h.Bus))
		}
		p, g := float64(h.Power), float64(d.GearPower)
		r := float64(d.Hover(h.Mass, h.Bus).Power) - g
		if f := (p - g) / r; !(f >= MinCalibration && f <= MaxCalibration) {
			return Calibration{}, d.implausible(f, i, h)
		}
		top += r * (p - g) / (p * p)
		bottom += r * r / (p * p)
	}
	k := Calibration{Factor: top / bottom}
	k.Hovers = make([]CalibratedHover, len(flown))
	var scatter float64
	for i, h := range flown {
		k.Hovers[i].FlownHover = h
		after := k.Apply(d).Hover(h.Mass, h.Bus).Power
		k.Hovers[i].Predicted, k.Hovers[i].Calibrated = d.Hover(h.Mass, h.Bus).Power, after
		k.Hovers[i].Error = float64(after/h.Power) - 1
		scatter += k.Hovers[i].Error * k.Hovers[i].Error
	}
	// The meter's error is common to all hovers; the scatter averages out.
	k.Sigma = SigmaFlownHover
	if n := float64(len(flown)); n > 1 {
		k.Sigma = math.Sqrt(SigmaFlownHover*SigmaFlownHover + scatter/(n-1)/n)
	}
	return k, nil
}

func (d Drive) implausible(factor float64, index int, h FlownHover) error {
	p := d.Hover(h.Mass, h.Bus).Rotor
	fm := FigureOfMerit(d.Rotor.Propeller.Coefficients(p.Speed, d.Rotor.Air))
	ideal := IdealPower(p.Thrust, d.Rotor.Air, d.Rotor.Propeller.DiskArea())
	return &ImplausibleHoverError{Index: index, Hover: h, Factor: factor, FigureOfMerit: fm / factor, Overall: float64(ideal/p.BusPower) / factor}
}

// Apply is the craft with its rotors' power scaled: in hover, in every phase and in
// a punch-out, where pack and current limits feel it as well. See [Rotor.Uncertain] for what stays unsure then.
func (k Calibration) Apply(d Drive) Drive {
	d.Rotor.Calibration, d.Rotor.anchor = k.Factor, anchor{}
	var mass Mass
	var bus Voltage
	for _, h := range k.Hovers {
		mass += h.Mass / Mass(len(k.Hovers))
		bus += h.Bus / Voltage(len(k.Hovers))
	}
	if mass > 0 {
		p := d.Hover(mass, bus).Rotor
		d.Rotor.anchor = anchor{thrust: p.Thrust, bus: bus, power: p.BusPower, sigma: k.Sigma}
	}
	return d
}
