package model_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"allup/model"
)

// grace is what two results that should not differ the wrong way may, relative: the roots are
// found that well, and the simulator is smooth that well.
const grace = 1e-7

func usualLanding() model.Landing { return model.Landing{PerCell: 3.5, Reserve: 0.2} }

func TestMoreMassNeverFliesLongerOrPunchesHarder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pack := drawCircuit(t)
		craft := drawCraft(t, pack.Cells)
		m := drawDry(t) + model.Mass(rapid.Float64Range(20, 120).Draw(t, "pack g"))*model.Gram
		more := m * model.Mass(rapid.Float64Range(1.001, 1.3).Draw(t, "more"))
		a, b := craft.Fly(pack, m, usualLanding()), craft.Fly(pack, more, usualLanding())
		if float64(b.Duration) > float64(a.Duration)*(1+grace) {
			t.Errorf("%v kg fly %v s, %v kg %v s", m, a.Duration, more, b.Duration)
		}
		if p := craft.PunchOut(pack, 0.8); p.Ratio(more) > p.Ratio(m) {
			t.Errorf("%v kg punch %v, %v kg %v", m, p.Ratio(m), more, p.Ratio(more))
		}
	})
}

func TestMoreResistanceNeverFliesLongerOrPunchesHarder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pack := drawCircuit(t)
		craft := drawCraft(t, pack.Cells)
		m := drawDry(t) + 70*model.Gram
		worse := pack
		f := model.Resistance(rapid.Float64Range(1.001, 2).Draw(t, "factor"))
		worse.R0 *= f
		if rapid.Bool().Draw(t, "both") {
			worse.R1 *= f
		}
		a, b := craft.Fly(pack, m, usualLanding()), craft.Fly(worse, m, usualLanding())
		if float64(b.Duration) > float64(a.Duration)*(1+grace) {
			t.Errorf("%v s, with more resistance %v s", a.Duration, b.Duration)
		}
		if b.Duration > 0 && b.StartCurrent < a.StartCurrent*(1-grace) {
			t.Errorf("%v A at first, with more resistance %v A", a.StartCurrent, b.StartCurrent)
		}
		if p, q := craft.PunchOut(pack, 0.8), craft.PunchOut(worse, 0.8); q.Thrust > p.Thrust*(1+grace) {
			t.Errorf("punch %v, with more resistance %v", p.Thrust, q.Thrust)
		}
	})
}

// More capacity at the same resistance flies longer; landing later never flies shorter.
func TestMoreChargeFliesLonger(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pack := drawCircuit(t)
		craft := drawCraft(t, pack.Cells)
		m := drawDry(t) + 70*model.Gram
		rule := model.Landing{
			PerCell: model.Voltage(rapid.Float64Range(3.0, 3.7).Draw(t, "V")),
			Reserve: rapid.Float64Range(0, 0.5).Draw(t, "reserve"),
		}
		base := craft.Fly(pack, m, rule)
		bigger := pack
		bigger.Capacity *= 1.1
		if f := craft.Fly(bigger, m, rule); f.Duration < base.Duration || base.Duration > 1 && f.Duration <= base.Duration {
			t.Errorf("%v s, with a tenth more charge %v s", base.Duration, f.Duration)
		}
		later := rule
		later.PerCell -= 0.05
		later.Reserve *= 0.9
		if f := craft.Fly(pack, m, later); float64(f.Duration) < float64(base.Duration)*(1-grace) {
			t.Errorf("%v s, landing later %v s", base.Duration, f.Duration)
		}
		finite(t, "flight", float64(base.Duration), float64(base.Usable), float64(base.Current), float64(base.EndCurrent), base.Throttle, base.ChargeLeft)
	})
}

// Thinner air never saves power, and where the coefficients are constant the shaft power of a
// thrust goes as rho^-1/2. Source: P/T^1.5 is CP/(CT^1.5 D sqrt rho) by the definitions.
func TestThinnerAirNeverSavesPower(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		craft := drawCraft(t, 4)
		thin := craft
		f := rapid.Float64Range(0.6, 0.999).Draw(t, "density")
		thin.Rotor.Air *= model.Density(f)
		m := drawDry(t) + 70*model.Gram
		a, b := craft.Hover(m, 15), thin.Hover(m, 15)
		ctA, cpA := craft.Rotor.Propeller.Coefficients(a.Rotor.Speed, craft.Rotor.Air)
		ctB, cpB := craft.Rotor.Propeller.Coefficients(b.Rotor.Speed, thin.Rotor.Air)
		if ctA == ctB && cpA == cpB {
			near(t, "shaft power", b.Rotor.ShaftPower/a.Rotor.ShaftPower, 1/math.Sqrt(f), 1e-9)
			if b.Power < a.Power {
				t.Errorf("%v W, in thinner air %v W", a.Power, b.Power)
			}
		}
	})
}

// At fixed thrust 2000 m needs 10.3 % more power than sea level, 3000 m 16.1 %. Source: rho^-1/2 on the standard
// atmosphere; rotor power also goes as m^1.5 where efficiencies are constant.
func TestPowerAtAltitudeAndMass(t *testing.T) {
	p := propellerOf(t, 3.5, model.StaticPoint{CT: 0.15, CP: 0.08})
	rotor := model.Rotor{
		Propeller: p, Motor: model.Motor{Kv: 400}, Controller: model.Controller{Efficiency: 0.95}, Air: model.SeaLevelDensity,
	}
	craft := model.Drive{Rotors: 4, Rotor: rotor}
	base := craft.Hover(0.24, 15).Power
	for altitude, more := range map[model.Length]float64{2000: 0.103, 3000: 0.161} {
		air, err := model.StandardAir(altitude)
		if err != nil {
			t.Fatal(err)
		}
		high := craft
		high.Rotor.Air = air
		within(t, "more power", float64(high.Hover(0.24, 15).Power/base)-1, more, 6e-4)
	}
	near(t, "power of twice the mass", craft.Hover(0.48, 15).Power/base, math.Pow(2, 1.5), 1e-9)
}

// What limits a punch-out holds at it: the duty is at most 1, the bus at least 3.3 V per cell, currents at most
// the limits, and the power is what the pack gives at that bus voltage.
func TestPunchHoldsItsLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pack := drawCircuit(t)
		craft := drawCraft(t, pack.Cells)
		charge := rapid.Float64Range(0.05, 1).Draw(t, "charge")
		p := craft.PunchOut(pack, charge)
		finite(t, "punch", float64(p.Thrust), p.Throttle, float64(p.BusVoltage), float64(p.Current), float64(p.BurstPower), float64(p.Demand), p.Headroom)
		if p.Thrust == 0 {
			return
		}
		floor := float64(pack.Cells) * 3.3
		if p.Throttle > 1 || float64(p.BusVoltage) < floor*(1-1e-9) {
			t.Errorf("duty %v at a bus of %v V, %v at the least", p.Throttle, p.BusVoltage, floor)
		}
		e, r := float64(pack.OpenVoltage(charge)), float64(pack.R0+pack.R1)
		drawn := float64(craft.Rotors)*float64(p.Rotor.BusPower) + float64(craft.GearPower)
		near(t, "pack's power", float64(p.BusVoltage)*(e-float64(p.BusVoltage))/r, drawn, 1e-6)
		switch p.LimitedBy {
		case model.LimitedByPack:
			near(t, "bus", p.BusVoltage, floor, 1e-8)
			if p.Headroom >= 1 {
				t.Errorf("the pack limits with a headroom of %v", p.Headroom)
			}
		case model.LimitedByBoard:
			near(t, "motor current", p.Rotor.Motor.Current, float64(craft.Rotor.Controller.MaxCurrent), 1e-8)
		case model.LimitedByThrottle:
			near(t, "duty", p.Throttle, 1, 1e-6)
		}
		free := craft
		free.Rotor.Controller.MaxCurrent = 0
		if q := free.PunchOut(pack, charge); q.Thrust < p.Thrust*(1-grace) {
			t.Errorf("punch %v, without the board's limit %v", p.Thrust, q.Thrust)
		}
		if q := craft.PunchOut(pack, charge*0.9); q.Thrust > p.Thrust*(1+grace) {
			t.Errorf("punch %v at charge %v, %v with less", p.Thrust, charge, q.Thrust)
		}
	})
}

// A propeller's speed for a thrust gives that thrust.
func TestSpeedForInvertsThrust(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		craft := drawCraft(t, 4)
		thrust := model.Force(math.Exp(rapid.Float64Range(-4, 3).Draw(t, "log N")))
		w := craft.Rotor.Propeller.SpeedFor(thrust, craft.Rotor.Air)
		near(t, "thrust", craft.Rotor.Propeller.Thrust(w, craft.Rotor.Air), float64(thrust), 1e-9)
	})
}

func TestNothingAllocates(t *testing.T) {
	pack := steadyCircuit(curveOf(t, model.LiPo), 4, 650, 0.01)
	craft := model.Drive{
		Rotors: 4, GearPower: 7,
		Rotor: model.Rotor{
			Propeller: propellerOf(t, 3.5, model.StaticPoint{CT: 0.15, CP: 0.08}),
			Motor:     model.Motor{Kv: 3600 * model.RPMPerVolt, R: 0.12, I0: 0.6}, Controller: model.Controller{Efficiency: 0.95}, Air: 1.2,
		},
	}
	protocol := model.UsualProtocol(650*model.MilliAmpH, 4)
	for what, f := range map[string]func(){
		"Discharge": func() { pack.Discharge(model.ConstantPower(150), model.Stop{PerCell: 3.1}) },
		"BurstTest": func() { pack.BurstTest(protocol) },
		"Fly":       func() { craft.Fly(pack, 0.24, usualLanding()) },
		"PunchOut":  func() { craft.PunchOut(pack, 0.8) },
	} {
		if n := testing.AllocsPerRun(100, f); n > 0 {
			t.Errorf("%s allocates %v times", what, n)
		}
	}
}
