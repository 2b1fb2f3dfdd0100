package model_test

import (
	"testing"

	"pgregory.net/rapid"

	"allup/model"
)

// BestEfficiency against a search over the loads that the motor can carry at a voltage.
func TestBestEfficiency(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := model.Motor{
			Kv: model.SpeedConstant(rapid.Float64Range(1000, 20000).Draw(t, "kv")) * model.RPMPerVolt,
			R:  model.Resistance(rapid.Float64Range(0.01, 0.5).Draw(t, "R")),
			I0: model.Current(rapid.Float64Range(0.05, 2).Draw(t, "I0")),
		}
		v := model.Voltage(rapid.Float64Range(4, 25).Draw(t, "V"))
		best, at := m.BestEfficiency(v)
		// At this voltage a current i leaves the speed Kv (V - i R) and the torque (i - I0)/Kv.
		efficiency := func(i float64) float64 {
			w := float64(m.Kv) * (float64(v) - i*float64(m.R))
			p := m.Drive(model.Torque((i-float64(m.I0))/float64(m.Kv)), model.AngularSpeed(w))
			near(t, "voltage of that load", p.Voltage, float64(v), 1e-9)
			return w * (i - float64(m.I0)) / float64(m.Kv) / float64(p.Power)
		}
		near(t, "efficiency there", efficiency(float64(at)), best, 1e-9)
		for _, f := range []float64{0.8, 0.95, 1.05, 1.25} {
			if e := efficiency(f * float64(at)); e > best {
				t.Errorf("efficiency at %g of that current is %v, above the best of %v", f, e, best)
			}
		}
	})
	// 1 A no load and 1 Ohm need a volt to turn at all.
	if e, _ := (model.Motor{Kv: 1000, R: 1, I0: 1}).BestEfficiency(0.5); e != 0 {
		t.Errorf("best efficiency of a motor that does not turn = %v, want 0", e)
	}
}

// An estimated motor turns 0.70 of its power into shaft power and runs at 0.78 of Kv V.
// Source: common practice, by the project's method.
func TestEstimatedMotor(t *testing.T) {
	m := model.Motor{Kv: 2500 * model.RPMPerVolt, Estimated: true, R: 9, I0: 9} // R and I0 are not looked at
	const w = 19500 * model.RPM
	p := m.Drive(0.01, w)
	near(t, "voltage", p.Voltage, 10, 1e-12) // 19500/2500/0.78
	near(t, "power", p.Power, 0.01*float64(w)/0.70, 1e-12)
	near(t, "current", p.Current, float64(p.Power)/10, 1e-12)
	if got := m.Drive(0, 0); got != (model.MotorPoint{}) {
		t.Errorf("at rest: %+v, want zeros", got)
	}
}
