package model_test

import (
	"errors"
	"math"
	"testing"

	"allup/model"
)

func TestCalibrateMeetsItsOwnHover(t *testing.T) {
	craft := phaseCraft(t)
	for _, measured := range []model.Power{40, 47.8, 62.32, 75} {
		k, err := craft.Calibrate([]model.FlownHover{{Mass: 0.243, Bus: 15, Power: measured}})
		if err != nil {
			t.Fatal(err)
		}
		got := k.Apply(craft).Hover(0.243, 15).Power
		if math.Abs(float64(got/measured)-1) > 1e-14 {
			t.Errorf("calibrated hover = %.16g W, want %.16g W", float64(got), float64(measured))
		}
		if k.Sigma != model.SigmaFlownHover {
			t.Errorf("sigma %g from one hover, want %g", k.Sigma, model.SigmaFlownHover)
		}
	}
}

// Where efficiencies are constant (an ideal motor, one pair of coefficients, no gear) power goes as m^1.5.
func TestCalibratedPowerGoesAsMassToTheThreeHalves(t *testing.T) {
	craft := phaseCraft(t)
	craft.GearPower = 0
	craft.Rotor.Motor = model.Motor{Kv: 3600 * model.RPMPerVolt}
	craft.Rotor.Controller.Efficiency = 0.66
	k, err := craft.Calibrate([]model.FlownHover{{Mass: 0.243, Bus: 15, Power: 55}})
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range []model.Mass{0.12, 0.2, 0.249} {
		got, want := float64(k.Apply(craft).Hover(m, 15).Power), 55*math.Pow(float64(m)/0.243, 1.5)
		if math.Abs(got/want-1) > 1e-12 {
			t.Errorf("power at %g g = %.12g W, want %.12g W", m.Grams(), got, want)
		}
	}
}

// Two hovers at factors 1.1 and 1.2 of the prediction: relative least squares is worked out by hand without gear, where
// the residuals are f/1.1 - 1 and f/1.2 - 1: f = (1/1.1 + 1/1.2)/(1/1.21 + 1/1.44).
func TestCalibrateAveragesByLeastSquares(t *testing.T) {
	craft := phaseCraft(t)
	craft.GearPower = 0
	k, err := craft.Calibrate([]model.FlownHover{
		{Mass: 0.2, Bus: 15, Power: 1.1 * craft.Hover(0.2, 15).Power}, {Mass: 0.245, Bus: 15, Power: 1.2 * craft.Hover(0.245, 15).Power},
	})
	if err != nil {
		t.Fatal(err)
	}
	if want := (1/1.1 + 1/1.2) / (1/1.21 + 1/1.44); math.Abs(k.Factor-want) > 1e-12 {
		t.Errorf("factor %.12f, want %.12f", k.Factor, want)
	}
	if !(k.Sigma > model.SigmaFlownHover) || len(k.Hovers) != 2 || k.Hovers[0].Error <= 0 || k.Hovers[1].Error >= 0 {
		t.Errorf("calibration %+v", k)
	}
}

func TestCalibrateRefusesTheImplausible(t *testing.T) {
	craft := phaseCraft(t)
	for _, power := range []model.Power{6, 12, 120} {
		_, err := craft.Calibrate([]model.FlownHover{{Mass: 0.243, Bus: 15, Power: power}})
		implausible, ok := errors.AsType[*model.ImplausibleHoverError](err)
		if !ok {
			t.Fatalf("%g W: %v, want an implausible hover", float64(power), err)
		}
		// FM of the propeller is 0.5794 (worked-example.md).
		if want := 0.5794 / implausible.Factor; math.Abs(implausible.FigureOfMerit/want-1) > 1e-3 {
			t.Errorf("%g W implies a figure of merit of %.4f, want %.4f", float64(power), implausible.FigureOfMerit, want)
		}
		t.Log(err)
	}
	if _, err := craft.Calibrate(nil); err == nil {
		t.Error("no flown hover is taken")
	}
	if _, err := craft.Calibrate([]model.FlownHover{{Mass: 0.2, Bus: 15}}); err == nil {
		t.Error("a hover without power is taken")
	}
}

// The factor acts on a punch-out as on hover: the same thrust at the same bus voltage for more current.
func TestCalibrationActsOnPunches(t *testing.T) {
	craft, pack := phaseCraft(t), phasePack(t)
	k, err := craft.Calibrate([]model.FlownHover{{Mass: 0.243, Bus: 15, Power: 1.2*(craft.Hover(0.243, 15).Power-7) + 7}})
	if err != nil {
		t.Fatal(err)
	}
	before, after := craft.PunchOut(pack, 0.8), k.Apply(craft).PunchOut(pack, 0.8)
	if got, want := float64(after.Demand-7), 1.2*float64(before.Demand-7); math.Abs(got/want-1) > 1e-9 {
		t.Errorf("demand of the rotors %.6f W, want %.6f W", got, want)
	}
	if !(after.Thrust < before.Thrust) {
		t.Errorf("punch of %.3f N before, %.3f after", before.Thrust, after.Thrust)
	}
	limited := k.Apply(craft)
	limited.Rotor.Motor.MaxCurrent = 9
	if p := limited.PunchOut(pack, 0.8); math.Abs(float64(p.Rotor.Motor.Current)-9) > 1e-6 {
		t.Errorf("limited to 9 A, the motor draws %.6f A", float64(p.Rotor.Motor.Current))
	}
}

// Sources: 340.294 m/s at 15 C, ISO 2533:1975. 250 g at 25.3 m/s is the 80 J of (EU) 2019/947, Art. 14(5).
// 30,000 rpm of 3 in pitch is 500 x 0.0762 = 38.1 m/s; of 5 in diameter 199.5 m/s at the tip.
func TestSpeeds(t *testing.T) {
	for _, c := range []struct {
		name           string
		got, want, tol float64
	}{
		{"sound", float64(model.SpeedOfSound(model.Celsius(15))), 340.294, 5e-4},
		{"pitch", float64(model.PitchSpeed(30000*model.RPM, 3*model.Inch)), 38.1, 1e-9},
		{"mach", model.TipMach(30000*model.RPM, 5*model.Inch, model.Celsius(15)), 199.49 / 340.294, 1e-4},
		{"impact", float64(model.SpeedOf(0.25, 80)), 25.3, 0.05},
	} {
		if math.Abs(c.got-c.want) > c.tol {
			t.Errorf("%s = %.6g, want %.6g", c.name, c.got, c.want)
		}
	}
}
