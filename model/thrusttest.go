package model

import (
	"fmt"
	"math"
	"slices"
)

// ThrustRow is one row of a thrust stand's table of a motor with a propeller.
type ThrustRow struct {
	Throttle float64 // 0 to 1
	Voltage  Voltage // at the controller's input
	Current  Current // into the controller
	Thrust   Force
	Speed    AngularSpeed // 0 where it was not measured
}

// usable reports whether the row has what a fit needs.
func (r ThrustRow) usable() bool { return r.Thrust > 0 && r.Current > 0 && r.Voltage > 0 }

// FullThrottle is the throttle from which a row counts as full: the motor sees the
// whole bus voltage.
const FullThrottle = 0.995

// ThrustTest is a thrust stand's table with what is known of the parts on it.
type ThrustTest struct {
	// Motor needs its Kv. I0 is taken as it is, at NoLoadSpeed; where it is 0, EstimatedNoLoadShare of the greatest
	// motor current stands in and is fitted. R, where it is above 0, is only where the fit starts.
	Motor Motor

	Diameter, Pitch Length // Pitch may be 0
	Blades          int

	// Efficiency of the stand's speed controller; 0 for AssumedControllerEfficiency.
	Efficiency float64
	Air        Density // 0 for SeaLevelDensity
	Rows       []ThrustRow
}

// Bounds of a fit that is kept.
const (
	MaxFitRMS        = 0.08
	MaxFigureOfMerit = 0.85
)

// ThrustFit is a rotor as a thrust stand saw it.
type ThrustFit struct {
	Propeller Propeller // Known is FromThrustTest; one CT and CP
	Motor     Motor     // with the fitted R; never Estimated
	PartDuty  Voltage   // the loss at part duty, x of [Controller]
	SigmaPart Voltage   // one standard deviation of it

	RMS   float64 // of the relative errors that the fit made least
	Rows  []FittedRow
	Worst int // the row of the greatest error, an index of Rows

	// Standard uncertainties, relative, from the scatter about the fit; +Inf where
	// the rows do not fix the constant.
	UncertaintyCT, UncertaintyCP, UncertaintyR float64

	AssumedNoLoad     bool // I0 was not stated
	AssumedEfficiency bool // the stand's controller was not stated
	WithSpeed         bool // rows with a speed took part

	Glitches []SpeedGlitch // speeds that the fit left out, in the order of the rows

	// ways are those in which the constants move together so that the rows stay met: with another loss at part
	// duty, and with another growth of the no-load current.
	ways []fitDirection
}

// fitDirection is one standard deviation of something that the rows do not settle, with all constants following
// it: CT, CP, R and I0 by their logarithms, the loss at part duty in volts, and the fixed part of the no-load
// current.
type fitDirection struct {
	input         Input
	ct, cp, r, i0 float64
	partDuty      float64
	fixed         float64
}

func (d fitDirection) move(r *Rotor, by float64) {
	r.Propeller = r.Propeller.Scaled(math.Exp(by*d.ct), math.Exp(by*d.cp))
	r.Motor.R *= Resistance(math.Exp(by * d.r))
	r.Motor.I0 *= Current(math.Exp(by * d.i0))
	r.Motor.NoLoadFixed += by * d.fixed
	r.Controller.PartDutyDrop += Voltage(by * d.partDuty)
	r.follow()
}

// Apply is a rotor with what the test says of propeller, motor and loss at part duty, and with what it leaves open.
func (f *ThrustFit) Apply(r Rotor) Rotor {
	r.Propeller, r.Motor = f.Propeller, f.Motor
	r.Controller.PartDutyDrop, r.Controller.PartDutyAssumed = f.PartDuty, false
	r.fitted = append([]fitDirection{}, f.ways...)
	return r
}

// SpeedGlitch is a speed that stands apart from those of the other rows.
type SpeedGlitch struct {
	Row      int // an index of the test's Rows
	Speed    AngularSpeed
	Expected AngularSpeed // what the row's thrust and the median of w/sqrt(T) give
}

// MaxSpeedRatio is how far a row's w/sqrt(T) may be off the median of all rows, times or over, before its
// speed counts as a glitch of the stand (assumption: CT would have to change twofold over the rows).
const MaxSpeedRatio = 1.4

// leastSpeeds is how many speeds a median must rest on before one of them is left out.
const leastSpeeds = 3

// speedGlitches are the speeds of rows that stand apart from the others. T = CT rho n^2 D^4 with a CT that
// hardly changes keeps w/sqrt(T) the same over the rows.
func speedGlitches(rows []ThrustRow) []SpeedGlitch {
	var ratios []float64
	for _, r := range rows {
		if r.usable() && r.Speed > 0 {
			ratios = append(ratios, float64(r.Speed)/math.Sqrt(float64(r.Thrust)))
		}
	}
	if len(ratios) < leastSpeeds {
		return nil
	}
	slices.Sort(ratios)
	n := len(ratios)
	median := (ratios[(n-1)/2] + ratios[n/2]) / 2
	var out []SpeedGlitch
	for i, r := range rows {
		if !r.usable() || r.Speed <= 0 {
			continue
		}
		expected := median * math.Sqrt(float64(r.Thrust))
		if off := float64(r.Speed) / expected; off > MaxSpeedRatio || off < 1/MaxSpeedRatio {
			out = append(out, SpeedGlitch{Row: i, Speed: r.Speed, Expected: AngularSpeed(expected)})
		}
	}
	return out
}

// FittedRow is a row against the fit. Errors are fitted over measured, minus 1.
type FittedRow struct {
	Row          ThrustRow
	Power        Power        // electrical, that the fit gives for the row's thrust
	Speed        AngularSpeed // that the fit gives for the row's thrust
	PowerError   float64
	SpeedError   float64 // 0 where no speed was measured, or it was left out
	ThrustError  float64 // at the row's voltage; full throttle only
	CurrentError float64 // at the row's voltage; full throttle only
}

// Greatest is the row's greatest error in size, with its sign.
func (r FittedRow) Greatest() float64 {
	worst := r.PowerError
	for _, e := range []float64{r.SpeedError, r.ThrustError, r.CurrentError} {
		if math.Abs(e) > math.Abs(worst) {
			worst = e
		}
	}
	return worst
}

// Refusal says why a thrust test is not used.
type Refusal string

// Why a thrust test is not used.
const (
	RefusedIncomplete Refusal = "thrust-test-incomplete" // the rows do not fix the constants
	RefusedMisfit     Refusal = "thrust-test-misfit"     // no constants come near the rows
	RefusedUnphysical Refusal = "thrust-test-unphysical" // only impossible constants do
)

// RefusedError is a thrust test that is not used, with the reason.
type RefusedError struct {
	Code Refusal
	Text string
}

func (e *RefusedError) Error() string { return "thrust test refused: " + e.Text }

func refuse(code Refusal, format string, args ...any) error {
	return &RefusedError{Code: code, Text: fmt.Sprintf(format, args...)}
}
