package model_test

import (
	"math"

	"gonum.org/v1/gonum/floats/scalar"
	"pgregory.net/rapid"

	"allup/model"
)

// reporter is what a test and a rapid property have in common.
type reporter interface {
	Helper()
	Errorf(format string, args ...any)
	Fatalf(format string, args ...any)
}

// near reports a figure that is not within a relative tolerance of the wanted one.
func near[T ~float64](t reporter, what string, got T, want, tolerance float64) {
	t.Helper()
	if !scalar.EqualWithinRel(float64(got), want, tolerance) {
		t.Errorf("%s = %.9g, want %.9g within %g of it", what, float64(got), want, tolerance)
	}
}

// within reports a figure that is further from the wanted one than half a unit of its last
// printed digit, or another absolute tolerance.
func within[T ~float64](t reporter, what string, got T, want, tolerance float64) {
	t.Helper()
	if !scalar.EqualWithinAbs(float64(got), want, tolerance) {
		t.Errorf("%s = %.9g, want %.9g +- %g", what, float64(got), want, tolerance)
	}
}

// finite reports figures that are NaN or infinite.
func finite(t reporter, what string, values ...float64) {
	t.Helper()
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Errorf("%s: figure %d is %v", what, i, v)
		}
	}
}

func curveOf(t reporter, c model.Chemistry) model.Curve {
	t.Helper()
	curve, err := model.CurveOf(c)
	if err != nil {
		t.Fatalf("CurveOf(%q) failed: %v", c, err)
	}
	return curve
}

// straightCurve is one whose voltage falls in a straight line from full to empty.
func straightCurve(t reporter, full, empty model.Voltage) model.Curve {
	t.Helper()
	curve, err := model.EvenCurve([]model.Voltage{empty, full})
	if err != nil {
		t.Fatalf("EvenCurve(%v, %v) failed: %v", empty, full, err)
	}
	return curve
}

func propellerOf(t reporter, inches float64, points ...model.StaticPoint) model.Propeller {
	t.Helper()
	p, err := model.NewPropeller(model.Length(inches)*model.Inch, 3*model.Inch, 2, model.FromStaticTable, points)
	if err != nil {
		t.Fatalf("NewPropeller(%v) failed: %v", points, err)
	}
	return p
}

// steadyCircuit is a circuit as identification makes them: from a capacity, and a steady
// resistance per cell in Ohm Ah that has the size of the pack taken out of it.
func steadyCircuit(curve model.Curve, cells int, milliampHours, ohmAmpHours float64) model.Circuit {
	r := model.Resistance(ohmAmpHours / milliampHours * 1000 * float64(cells))
	return model.Circuit{
		Cells: cells, Curve: curve, Capacity: model.Charge(milliampHours) * model.MilliAmpH,
		R0: r * model.FastShare, R1: r * (1 - model.FastShare), Tau: model.RCTime,
	}
}

// workedCraft is the build of the worked example (invented parts) without its pack, at 500 m and 20 C.
func workedCraft(t reporter) model.Drive {
	t.Helper()
	air, err := model.AirDensity(500, model.Celsius(20))
	if err != nil {
		t.Fatalf("AirDensity failed: %v", err)
	}
	return model.Drive{
		Rotors: 4, GearPower: 7, ThrustLoss: 1 - 1/1.02,
		Rotor: model.Rotor{
			Propeller:  propellerOf(t, 3.5, model.StaticPoint{CT: 0.150, CP: 0.080}),
			Motor:      model.Motor{Kv: 3600 * model.RPMPerVolt, R: 120 * model.MilliOhm, I0: 0.60},
			Controller: model.Controller{Efficiency: 0.95}, Air: air,
		},
	}
}

// identifyMetrics is Identify where it must succeed.
func identifyMetrics(t reporter, cells int, curve model.Curve, m model.TestedMetrics) model.Identification {
	t.Helper()
	id, err := model.Identify(model.Circuit{Cells: cells, Curve: curve}, m)
	if err != nil {
		t.Fatalf("Identify(%+v) failed: %v", m, err)
	}
	return id
}

// drawCircuit is a pack of the kind that flies on small aircraft, poor to very good.
func drawCircuit(t *rapid.T) model.Circuit {
	chemistry := rapid.SampledFrom(model.Chemistries()).Draw(t, "chemistry")
	c := steadyCircuit(curveOf(t, chemistry),
		rapid.IntRange(1, 6).Draw(t, "cells"),
		rapid.Float64Range(300, 850).Draw(t, "mAh"),
		rapid.Float64Range(0.004, 0.03).Draw(t, "Ohm Ah"))
	c.Shift = model.Voltage(rapid.Float64Range(-0.03, 0.03).Draw(t, "shift"))
	return c
}

// drawCraft is a craft for that pack: one that would hover, or nearly.
func drawCraft(t *rapid.T, cells int) model.Drive {
	size := rapid.Float64Range(2, 5).Draw(t, "inches")
	ct := rapid.Float64Range(0.06, 0.20).Draw(t, "ct")
	cp := model.PowerCoefficient(ct, rapid.Float64Range(0.35, 0.75).Draw(t, "fm"))
	points := []model.StaticPoint{{CT: ct, CP: cp}}
	if rapid.Bool().Draw(t, "table") {
		f := rapid.Float64Range(0.95, 1.15).Draw(t, "growth")
		points = []model.StaticPoint{
			{Speed: 3000 * model.RPM, CT: ct / f, CP: cp / f},
			{Speed: 9000 * model.RPM, CT: ct, CP: cp},
			{Speed: 20000 * model.RPM, CT: ct * f, CP: cp * f},
		}
	}
	kv := rapid.Float64Range(60000, 120000).Draw(t, "rpm at 16 V") / size / (4 * float64(cells))
	rated := rapid.Float64Range(4, 20).Draw(t, "motor A")
	return model.Drive{
		Rotors: rapid.SampledFrom([]int{3, 4, 6, 8}).Draw(t, "rotors"),
		Rotor: model.Rotor{
			Propeller: propellerOf(t, size, points...),
			Motor: model.Motor{
				Kv:          model.SpeedConstant(kv) * model.RPMPerVolt,
				R:           model.Resistance(rapid.Float64Range(0, 0.3).Draw(t, "motor R")),
				I0:          model.Current(rapid.Float64Range(0, 1).Draw(t, "I0")),
				NoLoadSpeed: model.AngularSpeed(rapid.SampledFrom([]float64{0, 1000, 4000}).Draw(t, "w0")), NoLoadFixed: rapid.Float64Range(0, 1).Draw(t, "a"),
			},
			Controller: model.Controller{
				Efficiency: rapid.Float64Range(0.85, 1).Draw(t, "controller"),
				Drop:       rapid.Float64Range(0, 0.15).Draw(t, "drop"), PartDutyDrop: model.Voltage(float64(cells) * rapid.Float64Range(-0.05, 0.5).Draw(t, "x a cell")),
				MaxCurrent: model.Current(rapid.SampledFrom([]float64{0, rated}).Draw(t, "board A")),
			},
			Air: model.Density(rapid.Float64Range(0.7, 1.3).Draw(t, "air")),
		},
		GearPower:  model.Power(rapid.Float64Range(0, 10).Draw(t, "gear")),
		ThrustLoss: rapid.Float64Range(0, 0.2).Draw(t, "loss"),
	}
}

// drawDry is what such a craft weighs without its pack.
func drawDry(t *rapid.T) model.Mass {
	return model.Mass(rapid.Float64Range(20, 250).Draw(t, "dry")) * model.Gram
}
