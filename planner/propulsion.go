package planner

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"allup/catalog"
	"allup/model"
)

// FromFlownHover is the knowledge of a build whose hover was flown and measured; the
// others are package model's.
const FromFlownHover model.Knowledge = "flown-hover"

// Propulsion says what a build's rotors rest on.
type Propulsion struct {
	Source model.Knowledge // the best there is: a flown hover, or Base
	Base   model.Knowledge // of the constants of propeller and motor
	Reason string          // in words, with the figures of its quality
	Sigma  float64         // relative standard uncertainty of hover power

	Test        *catalog.ThrustTest // the test that Base rests on; nil for none
	Fit         *model.ThrustFit
	Calibration *model.Calibration // nil where nothing was flown
}

// ReadThrustTest fits a thrust test with what the catalogue says of its motor and propeller. The stand's
// speed controller is nobody's board: its efficiency is the assumed one. An error is a
// [*model.RefusedError].
func ReadThrustTest(cat *catalog.Catalogue, id string) (model.ThrustFit, error) {
	test := cat.ThrustTests[id]
	motor, prop := cat.Motors[test.Motor], cat.Props[test.Prop]
	var most model.Voltage
	for _, row := range test.Rows {
		most = max(most, row.Voltage)
	}
	m := statedMotor(motor, most)
	return model.FitThrustTest(model.ThrustTest{
		Motor: m, Diameter: prop.Diameter, Pitch: prop.Pitch, Blades: prop.Blades, Air: test.Air, Rows: test.Rows,
	})
}

// propulsion is the one place that decides which knowledge of a motor with a propeller
// counts, best first:
//
//  1. a static table of the propeller, with a motor whose constants are stated;
//  2. a thrust test of this motor with this propeller, whose fit is kept;
//  3. a static table with an estimated motor;
//  4. stated coefficients, one pair;
//  5. size.
//
// A table outranks a thrust test because it knows how the coefficients change with speed, and is
// measured at the shaft. It knows nothing of the motor, though: where the motor's constants are missing the test, which
// saw both, knows more. Flown hovers come on top of any of these; see calibrate.
func (p *Plan) propulsion(air model.Density) (model.Rotor, error) {
	r := model.Rotor{Controller: p.controller(), Air: air}
	prop := p.Prop
	motorKnown := p.Motor.R != nil && p.Motor.NoLoadCurrent != nil
	test, fit := p.thrustTest()
	var err error
	var words string
	switch {
	case len(prop.Static) > 0 && (motorKnown || fit == nil):
		r.Propeller, err = model.NewPropeller(prop.Diameter, prop.Pitch, prop.Blades, model.FromStaticTable, prop.Static)
		words = fmt.Sprintf("the static table of %s, %s", prop.ID, counted(len(prop.Static), "speed"))
	case fit != nil:
		r = fit.Apply(r)
		p.Propulsion.Test, p.Propulsion.Fit = test, fit
		words = fmt.Sprintf("thrust test %s of this motor with this propeller, met within %.1f %% RMS over %s", test.ID, 100*fit.RMS, counted(len(fit.Rows), "row"))
		if fit.AssumedNoLoad {
			words += ", its no-load current assumed"
		}
	case prop.CT != nil && prop.CP != nil:
		r.Propeller, err = model.NewPropeller(prop.Diameter, prop.Pitch, prop.Blades, model.FromCoefficients, []model.StaticPoint{{CT: *prop.CT, CP: *prop.CP}})
		words = fmt.Sprintf("the stated coefficients of %s", prop.ID)
	default:
		p.warn(PropEstimated, prop.ID, "has no measured coefficients: thrust and power are estimated from its size, thrust within 20 %% (one sigma); modern thick blades and arms in the wake are outside that estimate")
		r.Propeller, err = model.GeometryPropeller(prop.Diameter, prop.Pitch, prop.Blades)
		words = fmt.Sprintf("the size of %s alone", prop.ID)
	}
	if err != nil {
		return r, fmt.Errorf("propeller %s: %w", prop.ID, err)
	}
	if p.Propulsion.Fit == nil {
		r = p.withMotor(r)
		if r.Motor.Estimated() {
			words += " and an estimated motor"
		}
	}
	p.Propulsion.Base, p.Propulsion.Source, p.Propulsion.Reason = r.Propeller.Known, r.Propeller.Known, words
	if fit != nil && p.Propulsion.Fit == nil {
		p.warn(TestUnused, test.ID, "is not used: %s goes before it, and meets its rows within %.0f %% RMS of power", words, 100*rowsRMS(r, test, fit))
	}
	return r, nil
}

// thrustTest is the kept fit of this motor with this propeller that misses its rows least. The refused
// ones are warned of.
func (p *Plan) thrustTest() (*catalog.ThrustTest, *model.ThrustFit) {
	cat := p.Build.Parts
	var best *catalog.ThrustTest
	var bestFit *model.ThrustFit
	for _, id := range cat.IDs(catalog.KindThrustTest) {
		test := cat.ThrustTests[id]
		if test.Motor != p.Motor.ID || test.Prop != p.Prop.ID {
			continue
		}
		fit, err := ReadThrustTest(cat, id)
		if refused, ok := errors.AsType[*model.RefusedError](err); ok {
			p.warn(Code(refused.Code), id, "is not used: %s", refused.Text)
			continue
		}
		if bestFit == nil || fit.RMS < bestFit.RMS {
			best, bestFit = test, &fit
		}
	}
	return best, bestFit
}

// rowsRMS is how far a rotor's power is from a test's rows, relative, in the test's own air.
func rowsRMS(r model.Rotor, test *catalog.ThrustTest, fit *model.ThrustFit) float64 {
	r.Air, r.Controller = test.Air, model.AssumedController()
	var sum float64
	for _, row := range fit.Rows {
		measured := float64(row.Row.Voltage) * float64(row.Row.Current)
		off := float64(r.AtThrust(row.Row.Thrust, row.Row.Voltage).BusPower)/measured - 1
		sum += off * off
	}
	return math.Sqrt(sum / float64(len(fit.Rows)))
}

// calibrate lets flown hovers correct the craft, which is in the build's own air. One
// that cannot be is an error of the build file.
func (p *Plan) calibrate() error {
	if len(p.Build.Flown) == 0 {
		return nil
	}
	var flown []model.FlownHover
	for _, h := range p.Build.Flown {
		f := model.FlownHover{Mass: h.Mass, Power: h.Power, Bus: h.Bus}
		if f.Bus == 0 {
			f.Bus = p.Bus
		}
		flown = append(flown, f)
	}
	var faults catalog.InputErrors
	fault := func(field string, err error) {
		faults = append(faults, catalog.InputError{File: p.Build.File, Line: p.Build.Line("hover", "flown"), Field: field, Msg: err.Error()})
	}
	for i, h := range flown {
		if _, err := p.Drive.Calibrate([]model.FlownHover{h}); err != nil {
			fault(fmt.Sprintf("hover.flown[%d]", i+1), err)
		}
	}
	k, err := p.Drive.Calibrate(flown)
	if err != nil && len(faults) == 0 {
		fault("hover.flown", err)
	}
	if len(faults) > 0 {
		return faults
	}
	p.adopt(&k, k.Alternatives(p.Drive, p.Bus))
	worst := slices.MaxFunc(k.Hovers, func(a, b model.CalibratedHover) int { return cmp.Compare(math.Abs(a.Error), math.Abs(b.Error)) })
	if math.Abs(worst.Error) > 0.10 {
		p.warn(HoverScatter, "", "the flown hovers do not agree: together they predict %.1f W at %s, where %.1f W was flown",
			float64(worst.Calibrated), grams(worst.Mass), float64(worst.FlownHover.Power))
	}
	return nil
}

// adopt lets a calibration, of this plan or of one with the same rotors, correct the craft, with what
// it leaves uncertain.
func (p *Plan) adopt(k *model.Calibration, alternatives []model.Alternative) {
	p.Drive = k.Apply(p.Drive)
	p.Propulsion.Source, p.Propulsion.Calibration = FromFlownHover, k
	p.Propulsion.Reason = fmt.Sprintf("%s: the rotors draw %.2f times the power predicted from %s",
		counted(len(k.Hovers), "flown hover"), k.Factor, p.Propulsion.Reason)
	p.vary(alternatives)
}

// sameRotors reports whether flown hovers of one plan hold for another: the parts that
// draw and lose the rotors' power are the same.
func sameRotors(a, b *Plan) bool {
	return a.Build.Rotors == b.Build.Rotors && a.Motor == b.Motor && a.Prop == b.Prop && a.Board == b.Board && a.Frame == b.Frame
}

// counted is a number with a noun.
func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
