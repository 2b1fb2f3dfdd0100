package model_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"allup/model"
)

// simpleCraft hovers with an ideal motor and constant coefficients: its hover power has a closed form.
func simpleCraft(t reporter, air model.Density) model.Drive {
	return model.Drive{
		Rotors: 4,
		Rotor: model.Rotor{
			Propeller:  propellerOf(t, 3.5, model.StaticPoint{CT: 0.15, CP: 0.08}),
			Motor:      model.Motor{Kv: 3600 * model.RPMPerVolt},
			Controller: model.Controller{Efficiency: 0.95},
			Air:        air,
		},
	}
}

// With constant efficiencies power goes as rho^-1/2 and m^1.5, and is ideal power over the
// efficiencies. Source: momentum theory.
func TestHoverPowerScaling(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rho := rapid.Float64Range(0.6, 1.4).Draw(t, "rho")
		m := rapid.Float64Range(0.05, 0.5).Draw(t, "m")
		f := rapid.Float64Range(1.01, 3).Draw(t, "f")
		c := simpleCraft(t, model.Density(rho))
		p := float64(c.Hover(model.Mass(m), 15).Power)
		near(t, "power of more mass", c.Hover(model.Mass(f*m), 15).Power, p*math.Pow(f, 1.5), 1e-10)
		near(t, "power in denser air", simpleCraft(t, model.Density(f*rho)).Hover(model.Mass(m), 15).Power, p/math.Sqrt(f), 1e-10)
		area := math.Pi / 4 * (3.5 * 0.0254) * (3.5 * 0.0254)
		ideal := 4 * math.Pow(m*9.80665/4, 1.5) / math.Sqrt(2*rho*area)
		near(t, "ideal over bus power", ideal/p, 0.95*math.Sqrt(2/math.Pi)*math.Pow(0.15, 1.5)/0.08, 1e-10)
		// Twice the weight is twice the mass, and losses and gear come on top.
		near(t, "power of a multiple", c.Lift(model.Mass(m), f, 15).Power, float64(c.Hover(model.Mass(f*m), 15).Power), 1e-12)
		c.ThrustLoss, c.GearPower = 1-1/f, 3
		near(t, "power with losses and gear", c.Hover(model.Mass(m), 15).Power, p*math.Pow(f, 1.5)+3, 1e-10)
	})
}

// A rotor at the speed that a motor voltage gives needs that voltage, and the same for a current.
func TestSpeedAtVoltageAndCurrent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawCraft(t, 4).Rotor
		v := rapid.Float64Range(1, 25).Draw(t, "V")
		if w := r.SpeedAt(model.Voltage(v)); w > 0 {
			near(t, "voltage at that speed", r.AtSpeed(w, 15).Motor.Voltage, v, 1e-9)
		} else if !(float64(r.Motor.I0)*float64(r.Motor.R) >= v) {
			t.Errorf("speed at %v V is %v, and the no-load current needs less than that", v, w)
		}
		i := rapid.Float64Range(0.1, 50).Draw(t, "A")
		if w := r.SpeedAtCurrent(model.Current(i)); w > 0 {
			near(t, "current at that speed", r.AtSpeed(w, 15).Motor.Current, i, 1e-9)
		} else if float64(r.Motor.I0) < i {
			t.Errorf("speed at %v A is 0, and the no-load current is %v", i, r.Motor.I0)
		}
	})
	// A motor whose no-load current drops more than the bus has does not turn.
	r := simpleCraft(t, 1.2).Rotor
	r.Motor.R, r.Motor.I0 = 10, 2
	if w := r.SpeedAt(15); w != 0 {
		t.Errorf("speed = %v with 20 V lost in the windings of 15 V, want 0", w)
	}
}
