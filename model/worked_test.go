package model_test

import (
	"testing"

	"allup/model"
)

// TestWorkedExample follows one build through every step. The figures were computed by an
// independent implementation of the method (small steps, no shortcuts), parts invented. What
// follows the method meets them within 0.1 %, the identification and what rests on it
// within 0.5 %, punch within 1 %. The example takes the frame's 2 % on top of the weight, and does not take it off
// a punch-out: here it is the fraction that is lost, everywhere.
func TestWorkedExample(t *testing.T) {
	const exact, identified, punch = 1e-3, 5e-3, 1e-2
	air, err := model.AirDensity(500, model.Celsius(20))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "air density", air, 1.134419, 1e-6)

	prop, err := model.NewPropeller(3.5*model.Inch, 2.5*model.Inch, 3, model.FromCoefficients, []model.StaticPoint{{CT: 0.150, CP: 0.080}})
	if err != nil {
		t.Fatal(err)
	}
	craft := model.Drive{
		Rotors: 4, GearPower: 7, ThrustLoss: 1 - 1/1.02,
		Rotor: model.Rotor{
			Propeller: prop, Motor: model.Motor{Kv: 3600 * model.RPMPerVolt, R: 120 * model.MilliOhm, I0: 0.60},
			Controller: model.Controller{Efficiency: 0.95}, Air: air,
		},
	}
	const mass = 238.4 * model.Gram
	hover := craft.Hover(mass, 14.5)
	near(t, "thrust per rotor", hover.Rotor.Thrust, 0.596166, exact)
	near(t, "rotor speed, rpm", hover.Rotor.Speed.RPM(), 14210.2, exact)
	near(t, "shaft power", hover.Rotor.ShaftPower, 6.69446, exact)
	near(t, "torque", hover.Rotor.Torque, 4.499e-3, exact)
	near(t, "figure of merit", model.FigureOfMerit(0.150, 0.080), 0.5794, exact)
	near(t, "motor current", hover.Rotor.Motor.Current, 2.29597, exact)
	near(t, "motor voltage", hover.Rotor.Motor.Voltage, 4.22278, exact)
	near(t, "motor power", hover.Rotor.Motor.Power, 9.69539, exact)
	near(t, "motor efficiency", float64(hover.Rotor.ShaftPower/hover.Rotor.Motor.Power), 0.6905, exact)
	near(t, "bus power per rotor", hover.Rotor.BusPower, 10.20568, exact)
	near(t, "hover power", hover.Power, 47.82271, exact)

	m := model.TestedMetrics{
		Protocol: model.UsualProtocol(650*model.MilliAmpH, 4),
		Capacity: 640 * model.MilliAmpH, Energy: 9.29 * model.WattHour, MidVoltage: 14.60, BurstPower: 560,
	}
	id, err := model.Identify(4, curveOf(t, model.LiPo), m)
	if err != nil {
		t.Fatal(err)
	}
	pack := id.Circuit
	near(t, "Q, mAh", pack.Capacity.MilliAmpHours(), 646.5, identified)
	near(t, "R, mOhm", (pack.R0 + pack.R1).MilliOhms(), 55.15, identified)
	near(t, "R0, mOhm", pack.R0.MilliOhms(), 35.85, identified)
	near(t, "R1, mOhm", pack.R1.MilliOhms(), 19.30, identified)
	within(t, "shift, mV", 1000*pack.Shift, -9.3, 0.1)
	for i, want := range []model.Residual{{"capacity", -0.85}, {"energy", 0.85}, {"mid voltage", 0.09}, {"burst power", -0.19}, {"shift", -0.46}} {
		if id.Residuals[i].Metric != want.Metric {
			t.Errorf("residual %d is of %s, want %s", i, id.Residuals[i].Metric, want.Metric)
		}
		within(t, "residual of "+want.Metric, id.Residuals[i].Sigma, want.Sigma, 0.015)
	}

	d := pack.Discharge(model.ConstantPower(m.Protocol.DischargePower), model.Stop{PerCell: 3.1})
	near(t, "simulated test, mAh", d.Delivered.MilliAmpHours(), 634.6, identified)
	near(t, "simulated test, Wh", d.Energy.WattHours(), 9.369, identified)
	near(t, "simulated test, mid voltage", d.MidVoltage, 14.604, identified)
	near(t, "simulated test, s", d.Duration, 233.7, identified)
	b := pack.BurstTest(m.Protocol)
	near(t, "simulated burst, A", b.Current, 42.18, identified)
	near(t, "simulated burst, W", b.Power, 556.7, identified)

	f := craft.Fly(pack, mass, model.Landing{PerCell: 3.5, Reserve: 0.20})
	near(t, "hover until the reserve, s", f.Duration, 596.5, identified)
	near(t, "usable energy, Wh", f.Usable.WattHours(), 7.923, identified)
	near(t, "current at first", f.StartCurrent, 2.871, identified)
	near(t, "current at half", f.Current, 3.160, identified)
	near(t, "current at the end", f.EndCurrent, 3.284, identified)
	if f.EndedBy != model.EndedByReserve {
		t.Errorf("ended by %s, want the reserve", f.EndedBy)
	}
	end := pack.Discharge(model.ConstantPower(f.Hover.Power), model.Stop{PerCell: 3.5, Reserve: 0.20}).EndVoltage
	near(t, "loaded voltage at the end", end, 14.564, identified)
	near(t, "hover without a reserve, s", craft.Fly(pack, mass, model.Landing{PerCell: 3.5}).Duration, 698.3, identified)

	near(t, "E at charge 0.8", pack.OpenVoltage(0.8), 15.941, identified)
	full := craft.FullThrottle(pack, 0.8)
	near(t, "full throttle, motor A", full.Motor.Current, 13.85, punch)
	near(t, "full throttle, rpm", full.Speed.RPM(), 39717, punch)
	near(t, "full throttle, N", 4*full.Thrust, 18.63, punch)
	near(t, "full throttle, bus V", full.Motor.Voltage, 12.694, punch)
	p := craft.PunchOut(pack, 0.8)
	near(t, "burst power", p.BurstPower, 655.99, punch)
	near(t, "demand", p.Demand, 829.81, punch)
	near(t, "headroom", p.Headroom, 0.7905, punch)
	near(t, "duty", p.Throttle, 0.916, punch)
	near(t, "thrust", 4*p.Rotor.Thrust, 17.08, punch)
	near(t, "punch ratio", p.Ratio(mass), 7.305/1.02, punch)
	l := craft.PunchOut(pack, 0.2)
	near(t, "landing: burst power", l.BurstPower, 369.65, punch)
	near(t, "landing: headroom", l.Headroom, 0.4455, punch)
	near(t, "landing: duty", l.Throttle, 0.739, punch)
	near(t, "landing: punch ratio", l.Ratio(mass), 4.949/1.02, punch)
	if p.LimitedBy != model.LimitedByPack || l.LimitedBy != model.LimitedByPack {
		t.Errorf("limited by %s and %s, want the pack", p.LimitedBy, l.LimitedBy)
	}
}
