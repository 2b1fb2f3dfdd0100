package model_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"allup/model"
)

// Source: international yard and pound agreement, 1959; Canada, Weights and Measures Act,
// Schedule II. 1 lb = 0.45359237 kg exactly, so 0.55 lb = 249.4758035 g.
func TestPound(t *testing.T) {
	near(t, "0.55 lb, g", (0.55 * model.Pound).Grams(), 249.4758035, 1e-14)
	near(t, "16 oz, g", (16 * model.Ounce).Grams(), 453.59237, 1e-14)
}

// Every unit written by its definition.
func TestUnits(t *testing.T) {
	near(t, "1 in, mm", model.Inch.Millimetres(), 25.4, 1e-14)
	near(t, "1 Ah, C", float64(model.AmpHour), 3600, 0)
	near(t, "1 Wh, J", float64(model.WattHour), 3600, 0)
	near(t, "60 rpm, rev/s", (60 * model.RPM).RevPerSecond(), 1, 1e-14)
	near(t, "0 C, K", float64(model.Celsius(0)), 273.15, 0)
	near(t, "weight of 1 kg, N", model.Mass(1).Weight(), 9.80665, 0) // 3rd CGPM, 1901
}

// What goes into SI comes out of it.
func TestRoundTripOfUnits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(1e-3, 1e6).Draw(t, "v")
		for what, got := range map[string]float64{
			"g":     (model.Mass(v) * model.Gram).Grams(),
			"in":    (model.Length(v) * model.Inch).Inches(),
			"mm":    (model.Length(v) * model.Millimetre).Millimetres(),
			"min":   (model.Time(v) * model.Minute).Minutes(),
			"mOhm":  (model.Resistance(v) * model.MilliOhm).MilliOhms(),
			"Wh":    (model.Energy(v) * model.WattHour).WattHours(),
			"mAh":   (model.Charge(v) * model.MilliAmpH).MilliAmpHours(),
			"Ah":    (model.Charge(v) * model.AmpHour).AmpHours(),
			"rpm":   (model.AngularSpeed(v) * model.RPM).RPM(),
			"rpm/V": (model.SpeedConstant(v) * model.RPMPerVolt).RPMPerVolt(),
		} {
			near(t, what, got, v, 1e-14)
		}
		near(t, "C", model.Celsius(v).Celsius(), v, 1e-9)
	})
}

func TestParseMass(t *testing.T) {
	for text, grams := range map[string]float64{
		"12.5g": 12.5, " 12.5 g ": 12.5, "0.012kg": 12, "1oz": 28.349523125, "0.55lb": 249.4758035, "0g": 0,
	} {
		m, err := model.ParseMass(text)
		if err != nil {
			t.Errorf("ParseMass(%q) failed: %v", text, err)
		}
		within(t, text, m.Grams(), grams, 1e-9)
	}
	for text, why := range map[string]string{
		"12.5": "no unit", "": "not a number", "g": "not a number", "12,5g": "not a number", "12.5 stone": "not a number",
		"-3g": "0 or more", "NaNg": "not a number", "infkg": "not a number", "1e400g": "not a number",
	} {
		if m, err := model.ParseMass(text); err == nil || !strings.Contains(err.Error(), why) {
			t.Errorf("ParseMass(%q) = %v, %v; want an error with %q", text, m, err, why)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		m, err := model.ParseMass(rapid.String().Draw(t, "text"))
		if err == nil && !(m >= 0) {
			t.Errorf("a mass of %v", m)
		}
	})
}
