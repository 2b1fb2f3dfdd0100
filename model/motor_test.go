package model_test

import (
	"math"
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

// An estimated motor turns at the loaded speed at full throttle, and draws the no-load share then. With a
// propeller of one pair of coefficients: w = 0.78 x 2500 rpm/V x 10 V, Q = CP rho w^2 D^5/(2 pi)^3, R = (9.5 V
// - w/Kv)/(Kv Q/0.93).
func TestEstimatedMotor(t *testing.T) {
	c := simpleCraft(t, model.SeaLevelDensity)
	c.Rotor.Motor = model.Motor{Kv: 2500 * model.RPMPerVolt, EstimatedR: true, EstimatedI0: true, Estimate: model.MotorEstimate{Bus: 10, LoadedSpeed: 0.78, NoLoadShare: 0.07}}
	c.Rotor.Controller.Drop = 0.05
	r := c.Rotor
	r.EstimateMotor()
	kv, w := 2500*2*math.Pi/60, 19500*2*math.Pi/60
	amps := kv * 0.08 * float64(model.SeaLevelDensity) * w * w * math.Pow(3.5*0.0254, 5) / math.Pow(2*math.Pi, 3) / 0.93
	near(t, "R", r.Motor.R, (9.5-7.8)/amps, 1e-12)
	full := r.AtFull(r.FullSpeed(10))
	near(t, "speed", full.Speed, w, 1e-9)
	near(t, "current", full.Motor.Current, amps, 1e-9)
	near(t, "no-load current", r.Motor.NoLoadCurrent(full.Speed), 0.07*amps, 1e-9)

	// What is known of a motor is used: with its R the same I0 share, with its I0 the same loaded speed.
	known := c.Rotor
	known.Motor.EstimatedR, known.Motor.R = false, 0.2
	known.EstimateMotor()
	full = known.AtFull(known.FullSpeed(10))
	near(t, "stated R", known.Motor.R, 0.2, 0)
	near(t, "no-load share beside it", float64(known.Motor.NoLoadCurrent(full.Speed)/full.Motor.Current), 0.07, 1e-9)
	known = c.Rotor
	known.Motor.EstimatedI0, known.Motor.I0, known.Motor.NoLoadSpeed, known.Motor.NoLoadFixed = false, 0.6, 2000, 0.5
	known.EstimateMotor()
	near(t, "stated I0", known.Motor.I0, 0.6, 0)
	near(t, "loaded speed beside it", known.FullSpeed(10), w, 1e-9)
}

// Half of the no-load current grows with speed, from none at rest to the stated one where it was measured.
func TestNoLoadCurrentGrows(t *testing.T) {
	m := model.Motor{Kv: 300, I0: 0.8, NoLoadSpeed: 4000, NoLoadFixed: 0.5}
	for w, want := range map[model.AngularSpeed]float64{0: 0.4, 1000: 0.5, 4000: 0.8, 6000: 1} {
		near(t, "no-load current", m.NoLoadCurrent(w), want, 1e-12)
		near(t, "current without torque", m.Drive(0, w).Current, want, 1e-12)
	}
	m.NoLoadSpeed = 0
	near(t, "no-load current without a speed", m.NoLoadCurrent(9000), 0.8, 0)
}
