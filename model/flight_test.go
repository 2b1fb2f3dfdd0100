package model_test

import (
	"testing"

	"pgregory.net/rapid"

	"allup/model"
)

// A flight is the pack's discharge at the hover power until the landing rule or, where that
// comes first, until the bus falls to the voltage that the motors need. Against the slow integration.
func TestFlyAgainstSlowIntegration(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(craft *model.Drive)
		rule   model.Landing
		ended  model.Ending
		bound  bool
	}{
		{"reserve", func(*model.Drive) {}, model.Landing{PerCell: 3.5, Reserve: 0.3}, model.EndedByReserve, false},
		{"voltage", func(*model.Drive) {}, model.Landing{PerCell: 3.6, Reserve: 0.05}, model.EndedByVoltage, false},
		{"throttle", func(c *model.Drive) { c.Rotor.Motor.Kv = 960 * model.RPMPerVolt }, model.Landing{PerCell: 3.0, Reserve: 0.05}, model.EndedByVoltage, true},
		{"reserve before the throttle", func(c *model.Drive) { c.Rotor.Motor.Kv = 960 * model.RPMPerVolt }, model.Landing{PerCell: 3.0, Reserve: 0.9}, model.EndedByReserve, false},
	} {
		craft := workedCraft(t)
		c.change(&craft)
		pack := steadyCircuit(curveOf(t, model.LiPo), 4, 650, 0.009)
		m := 238.4 * model.Gram
		f := craft.Fly(pack, m, c.rule)
		hover := craft.Hover(m, 14.5)
		stop := model.Stop{PerCell: max(c.rule.PerCell, hover.Rotor.Motor.Voltage/4), Reserve: c.rule.Reserve}
		want := slowDischarge(pack, float64(hover.Power), 0, stop)
		near(t, c.name+": duration", f.Duration, float64(want.Duration), 1e-4) // the bound that Discharge states
		near(t, c.name+": usable", f.Usable, float64(want.Energy), 1e-4)
		near(t, c.name+": usable", f.Usable, float64(hover.Power)*float64(f.Duration), 1e-12)
		near(t, c.name+": charge left", f.ChargeLeft, want.ChargeLeft, 1e-3)
		half := slowDischarge(pack, float64(hover.Power), 0, model.Stop{Reserve: (1 + f.ChargeLeft) / 2})
		near(t, c.name+": current at half", f.Current, float64(half.EndCurrent), 1e-4)
		near(t, c.name+": throttle at half", f.Throttle, float64(hover.Rotor.Motor.Voltage/half.EndVoltage), 1e-4)
		if f.EndedBy != c.ended || f.ThrottleBound != c.bound {
			t.Errorf("%s: ended by %q, bound by the throttle %v; want %q, %v", c.name, f.EndedBy, f.ThrottleBound, c.ended, c.bound)
		}
	}
}

// A craft that the pack cannot lift flies for no time, and says so in numbers.
func TestFlyCannotHover(t *testing.T) {
	craft := workedCraft(t)
	strong, weak := steadyCircuit(curveOf(t, model.LiPo), 4, 650, 0.009), steadyCircuit(curveOf(t, model.LiPo), 4, 650, 3)
	slow := craft
	slow.Rotor.Motor.Kv = 200 * model.RPMPerVolt
	for name, f := range map[string]model.Flight{
		"a pack without power":    craft.Fly(weak, 0.24, usualLanding()),
		"a motor that is slow":    slow.Fly(strong, 0.24, usualLanding()),
		"a mass out of all range": craft.Fly(strong, 30, usualLanding()),
	} {
		if f.Duration != 0 || f.Usable != 0 || f.ChargeLeft != 1 || f.EndedBy != model.EndedByVoltage {
			t.Errorf("%s: %+v, want no flight", name, f)
		}
		finite(t, name, float64(f.Current), float64(f.StartCurrent), float64(f.EndCurrent), f.Throttle)
	}
	if f := slow.Fly(strong, 0.24, usualLanding()); !(f.Throttle > 1) || !f.ThrottleBound {
		t.Errorf("a motor that is slow needs throttle %v, bound %v; want more than 1", f.Throttle, f.ThrottleBound)
	}
	// A reserve of all is a flight of none.
	if f := craft.Fly(strong, 0.24, model.Landing{Reserve: 1}); f.Duration != 0 || f.EndedBy != model.EndedByReserve {
		t.Errorf("with a reserve of 1: %v s, ended by %q", f.Duration, f.EndedBy)
	}
}

func TestFlyIsFinite(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pack := drawCircuit(t)
		craft := drawCraft(t, pack.Cells)
		pack.R0 *= model.Resistance(rapid.SampledFrom([]float64{0, 1, 20}).Draw(t, "R0"))
		pack.R1 *= model.Resistance(rapid.SampledFrom([]float64{0, 1, 20}).Draw(t, "R1"))
		pack.Tau = rapid.SampledFrom([]model.Time{0, 1e-3, 20, 1e6}).Draw(t, "tau")
		m := drawDry(t) + model.Mass(rapid.Float64Range(10, 2000).Draw(t, "pack"))*model.Gram
		rule := model.Landing{
			PerCell: model.Voltage(rapid.SampledFrom([]float64{0, 3, 3.5, 4.3}).Draw(t, "land")),
			Reserve: rapid.SampledFrom([]float64{0, 0.2, 1}).Draw(t, "reserve"),
		}
		f := craft.Fly(pack, m, rule)
		finite(t, "flight", float64(f.Duration), float64(f.Usable), f.ChargeLeft, float64(f.Current), float64(f.StartCurrent), float64(f.EndCurrent), f.Throttle, float64(f.Hover.Power))
		if f.Duration < 0 || f.ChargeLeft < rule.Reserve-1e-12 || f.ChargeLeft > 1 {
			t.Errorf("flight of %v s that leaves %v", f.Duration, f.ChargeLeft)
		}
		// Energy delivered is less than the open curve holds, and power is constant.
		if most := float64(pack.Capacity) * float64(pack.OpenVoltage(1)) * (1 - f.ChargeLeft); float64(f.Usable) > most*(1+1e-9) {
			t.Errorf("usable %v J of a pack that holds %v J", f.Usable, most)
		}
	})
}

// pairing is a craft on a pack with a landing rule.
type pairing struct {
	craft model.Drive
	pack  model.Circuit
	mass  model.Mass
	rule  model.Landing
}

func drawPairing(t *rapid.T) pairing {
	pack := drawCircuit(t)
	craft := drawCraft(t, pack.Cells)
	return pairing{
		craft: craft, pack: pack,
		mass: drawDry(t) + model.Mass(rapid.Float64Range(10, 120).Draw(t, "pack mass"))*model.Gram,
		rule: model.Landing{
			PerCell: model.Voltage(rapid.Float64Range(3, 3.7).Draw(t, "land")),
			Reserve: rapid.Float64Range(0, 0.4).Draw(t, "reserve"),
		},
	}
}

func (p pairing) seconds() float64 { return float64(p.craft.Fly(p.pack, p.mass, p.rule).Duration) }

// notMore reports a figure that is more than another by more than grace.
func notMore(t reporter, what string, a, b float64) {
	t.Helper()
	if a > b*(1+grace) {
		t.Errorf("%s: %v, want not more than %v", what, a, b)
	}
}

func TestStricterLanding(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPairing(t)
		early := p
		early.rule.Reserve += rapid.Float64Range(0, 0.3).Draw(t, "more reserve")
		early.rule.PerCell += model.Voltage(rapid.Float64Range(0, 0.3).Draw(t, "more V"))
		notMore(t, "time with a stricter landing", early.seconds(), p.seconds())
	})
}

// More thrust loss and more gear power are never free, and a better controller never costs.
func TestLosses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPairing(t)
		for name, change := range map[string]func(*model.Drive){
			"thrust loss":    func(c *model.Drive) { c.ThrustLoss += 0.05 },
			"gear power":     func(c *model.Drive) { c.GearPower += 2 },
			"worse board":    func(c *model.Drive) { c.Rotor.Controller.Efficiency *= 0.95 },
			"motor no-load":  func(c *model.Drive) { c.Rotor.Motor.I0 += 0.2 },
			"motor windings": func(c *model.Drive) { c.Rotor.Motor.R += 0.05 },
		} {
			worse := p
			change(&worse.craft)
			notMore(t, "time with "+name, worse.seconds(), p.seconds())
		}
	})
}

// What is lost at part duty falls with the bus voltage. The oracle steps the circuit in time with the power
// that the craft takes from each voltage, P = A - B/V, solved by halving; the simulator takes its tangent. The
// difference stays far below the 0.2 % of time that would be seen, down to a pack that sags to a third of its
// voltage.
func TestFlyWithLossAtPartDuty(t *testing.T) {
	for _, x := range []model.Voltage{-0.5, 1.5, 3, 6} {
		for _, ohmAmpHours := range []float64{0.004, 0.013, 0.03} {
			craft := workedCraft(t)
			craft.Rotor.Controller.Drop, craft.Rotor.Controller.PartDutyDrop = 0.05, x
			pack := steadyCircuit(curveOf(t, model.LiPo), 4, 650, ohmAmpHours)
			rule := model.Landing{PerCell: 3.3, Reserve: 0.1}
			f := craft.Fly(pack, 0.2384, rule)

			// P = A - B/V through two hovers.
			high, low := craft.Hover(0.2384, 16).Power, craft.Hover(0.2384, 12).Power
			b := float64(high-low) / (1./12 - 1./16)
			power := func(v float64) float64 { return float64(high) + b*(1./16-1/v) }
			near(t, "power of a third voltage", craft.Hover(0.2384, 13.5).Power, power(13.5), 1e-12)
			const dt = 0.01
			var now, energy, v1 float64
			s := 1.0
			for s > rule.Reserve {
				e := 4*float64(pack.Curve.At(s)) - v1
				low, high := e/2, e
				for range 50 {
					v := (low + high) / 2
					if v*(e-v)/float64(pack.R0) > power(v) {
						low = v
					} else {
						high = v
					}
				}
				i := (e - low) / float64(pack.R0)
				if low < 4*float64(rule.PerCell) {
					break
				}
				s -= i * dt / float64(pack.Capacity)
				v1 += dt * (float64(pack.R1)*i - v1) / float64(pack.Tau)
				now += dt
				energy += low * i * dt
			}
			t.Logf("x %g V, %g ohm Ah: %.3f s against %.3f s", float64(x), ohmAmpHours, float64(f.Duration), now)
			near(t, "duration", f.Duration, now, 7e-4)
			near(t, "usable", f.Usable, energy, 7e-4)
			near(t, "power at half", float64(f.Current)*float64(f.Hover.Bus), float64(f.Hover.Power), 2e-4)
		}
	}
}
