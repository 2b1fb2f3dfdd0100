package planner

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"allup/catalog"
	"allup/model"
	"allup/model/words"
)

// FromFlownHover is the knowledge of a build whose hover was flown and measured; the
// others are package model's.
const FromFlownHover model.Knowledge = "flown-hover"

// Propulsion says what a build's rotors rest on.
type Propulsion struct {
	Source model.Knowledge // the best there is: a flown hover, or Base
	Base   model.Knowledge // of the constants of propeller and motor
	Reason string          // in words, with the figures of its quality

	Kinds []model.Knowledge // that there are of motor and propeller, best first; Base is the first, but in a comparison

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
// counts, best first, with the thrust tests of the two:
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
func (p *rotorWork) propulsion(air model.Density, bus model.Voltage, tests []fittedTest) (model.Rotor, error) {
	r := model.Rotor{Controller: p.controller(), Air: air}
	prop := p.Prop
	test, fit := p.thrustTest(tests)
	kinds := p.kinds(fit)
	kind := kinds[0]
	if slices.Contains(kinds, p.only) {
		kind = p.only
	}
	var err error
	var reason string
	switch kind {
	case model.FromStaticTable:
		r.Propeller, err = model.NewPropeller(prop.Diameter, prop.Pitch, prop.Blades, model.FromStaticTable, prop.Static)
		reason = fmt.Sprintf("the static table of %s, %s", prop.ID, words.Count(len(prop.Static), "speed", "speeds"))
	case model.FromThrustTest:
		r = fit.Apply(r)
		p.Propulsion.Test, p.Propulsion.Fit = test, fit
		reason = fmt.Sprintf("thrust test %s of this motor with this propeller, met within %.1f %% RMS over %s", test.ID, 100*fit.RMS, words.Count(len(fit.Rows), "row", "rows"))
		if fit.AssumedNoLoad {
			reason += ", its no-load current assumed"
		}
	case model.FromCoefficients:
		r.Propeller, err = model.NewPropeller(prop.Diameter, prop.Pitch, prop.Blades, model.FromCoefficients, []model.StaticPoint{{CT: *prop.CT, CP: *prop.CP}})
		reason = fmt.Sprintf("the stated coefficients of %s", prop.ID)
	default:
		if kind == kinds[0] {
			p.warn(PropEstimated, prop.ID, "has no measured coefficients: thrust and power are estimated from its size, thrust within 20 %% (one sigma); modern thick blades and arms in the wake are outside that estimate")
		}
		r.Propeller, err = model.GeometryPropeller(prop.Diameter, prop.Pitch, prop.Blades)
		reason = fmt.Sprintf("the size of %s alone", prop.ID)
	}
	if err != nil {
		return r, fmt.Errorf("propeller %s: %w", prop.ID, err)
	}
	if p.Propulsion.Fit == nil {
		p.withMotor(&r, bus)
		if r.Motor.Estimated() {
			reason += " and an estimated motor"
		}
	}
	p.Propulsion.Base, p.Propulsion.Source, p.Propulsion.Reason = r.Propeller.Known, r.Propeller.Known, reason
	p.Propulsion.Kinds = kinds
	if fit != nil && p.Propulsion.Fit == nil && kind == kinds[0] {
		p.warn(TestUnused, test.ID, "is not used: %s goes before it, and meets its rows within %.0f %% RMS of power", reason, 100*rowsRMS(r, test, fit))
	}
	return r, nil
}

// kinds lists the kinds of knowledge that there are of the motor with the propeller, best first; fit is that of a kept
// thrust test of the two, nil for none.
func (p *rotorWork) kinds(fit *model.ThrustFit) []model.Knowledge {
	var kinds []model.Knowledge
	if fit != nil {
		kinds = append(kinds, model.FromThrustTest)
	}
	if len(p.Prop.Static) > 0 {
		at := len(kinds)
		if p.Motor.R != nil && p.Motor.NoLoadCurrent != nil {
			at = 0
		}
		kinds = slices.Insert(kinds, at, model.FromStaticTable)
	}
	if p.Prop.CT != nil && p.Prop.CP != nil {
		kinds = append(kinds, model.FromCoefficients)
	}
	return append(kinds, model.FromGeometry)
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

// calibrate lets the flown hovers correct the drive that flew them, which is in the air that the build's file
// names. One that cannot be is an error of the file.
func (p *Plan) calibrate(flew model.Drive) (*model.Calibration, error) {
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
		if _, err := flew.Calibrate([]model.FlownHover{h}); err != nil {
			fault(fmt.Sprintf("hover.flown[%d]", i+1), err)
		}
	}
	k, err := flew.Calibrate(flown)
	if err != nil && len(faults) == 0 {
		fault("hover.flown", err)
	}
	if len(faults) > 0 {
		return nil, faults
	}
	worst := slices.MaxFunc(k.Hovers, func(a, b model.CalibratedHover) int { return cmp.Compare(math.Abs(a.Error), math.Abs(b.Error)) })
	if math.Abs(worst.Error) > 0.10 {
		p.warn(HoverScatter, "", "the flown hovers do not agree: together they predict %.1f W at %s, where %.1f W was flown",
			float64(worst.Calibrated), words.Grams(worst.Mass), float64(worst.FlownHover.Power))
	}
	return &k, nil
}

// applyCalibration lets a calibration, of this plan or of one with the same rotors, correct the craft.
func (p *Plan) applyCalibration(k *model.Calibration) {
	p.Drive = k.Apply(p.Drive)
	p.moved = movedRotors(&p.Drive.Rotor)
	p.Propulsion.Source, p.Propulsion.Calibration = FromFlownHover, k
	p.Propulsion.Reason = fmt.Sprintf("%s: the rotors draw %.2f times the power predicted from %s",
		words.Count(len(k.Hovers), "flown hover", "flown hovers"), k.Factor, p.Propulsion.Reason)
}

// sameRotors reports whether flown hovers of one plan hold for another: the parts that
// draw and lose the rotors' power are the same.
func sameRotors(a, b request) bool {
	s, t := a.selection, b.selection
	return a.build.Rotors == b.build.Rotors && s.Motor == t.Motor && s.Prop == t.Prop && s.Board == t.Board && s.Frame == t.Frame
}
