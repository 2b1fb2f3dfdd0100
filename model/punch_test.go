package model_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"allup/model"
)

// checkPunch reports what of a punch-out contradicts circuit theory, the motor or the limits.
func checkPunch(t reporter, craft model.Drive, pack model.Circuit, p model.Punch) {
	t.Helper()
	finite(t, "punch", float64(p.Thrust), p.Throttle, float64(p.BusVoltage), float64(p.Current), float64(p.BurstPower), float64(p.Demand), p.Headroom,
		float64(p.Rotor.Speed), float64(p.Rotor.Thrust), float64(p.Rotor.Motor.Current), float64(p.Rotor.BusPower))
	if p.Thrust < 0 || p.Throttle < 0 || p.Throttle > 1 {
		t.Errorf("thrust %v at throttle %v: want one of 0 to 1", p.Thrust, p.Throttle)
	}
	e, r := float64(pack.OpenVoltage(p.Charge)), float64(pack.R0+pack.R1)
	rotors, v, i := float64(craft.Rotors), float64(p.BusVoltage), float64(p.Current)
	// Kirchhoff: the pack gives what rotors and gear take, at the voltage that its resistance leaves.
	if p.Rotor.Speed > 0 {
		near(t, "power of the bus", v*i, rotors*float64(p.Rotor.BusPower)+float64(craft.GearPower), 1e-7)
		near(t, "bus", v, e-r*i, 1e-7)
		near(t, "thrust", p.Thrust, rotors*(1-craft.ThrustLoss)*float64(p.Rotor.Thrust), 1e-12)
		near(t, "ratio", p.Ratio(0.24), rotors*(1-craft.ThrustLoss)*float64(p.Rotor.Thrust)/(0.24*9.80665), 1e-12)
		if p.LimitedBy == model.LimitedByThrottle {
			near(t, "throttle", p.Throttle, 1, 1e-7)
		}
		if p.Throttle < 1 {
			near(t, "motor voltage", float64(p.Rotor.Motor.Voltage), p.Throttle*v*(1-craft.Rotor.Controller.Drop), 1e-7)
		}
	}
	floor := 3.3 * float64(pack.Cells)
	switch p.LimitedBy {
	case model.LimitedByPack:
		if p.Headroom > 1 {
			t.Errorf("limited by the pack with a headroom of %v", p.Headroom)
		}
		if p.Rotor.Speed > 0 {
			near(t, "bus of a pack that limits", v, floor, 1e-8)
		}
	case model.LimitedByBoard:
		near(t, "motor current", p.Rotor.Motor.Current, float64(craft.Rotor.Controller.MaxCurrent), 1e-8)
	case model.LimitedByMotor:
		near(t, "motor current", p.Rotor.Motor.Current, float64(craft.Rotor.Motor.MaxCurrent), 1e-8)
	}
	if v < floor*(1-1e-8) && p.Rotor.Speed > 0 {
		t.Errorf("bus of %v V is under 3.3 V per cell", v)
	}
	if p.Headroom >= 1 && p.LimitedBy == model.LimitedByPack && p.Rotor.Speed > 0 {
		t.Errorf("limited by the pack with a headroom of %v", p.Headroom)
	}
}

func TestPunchOutIsConsistent(t *testing.T) {
	seen := map[model.Limiter]int{}
	rapid.Check(t, func(t *rapid.T) {
		pack := drawCircuit(t)
		craft := drawCraft(t, pack.Cells)
		if rapid.Bool().Draw(t, "motor limit") {
			craft.Rotor.Motor.MaxCurrent = model.Current(rapid.Float64Range(2, 15).Draw(t, "motor A"))
		}
		p := craft.PunchOut(pack, rapid.Float64Range(0, 1).Draw(t, "charge"))
		checkPunch(t, craft, pack, p)
		seen[p.LimitedBy]++
	})
	for _, by := range []model.Limiter{model.LimitedByThrottle, model.LimitedByPack, model.LimitedByBoard, model.LimitedByMotor} {
		if seen[by] == 0 {
			t.Logf("none of the drawn punch-outs was limited by %q", by)
		}
	}
}

// The edges: nothing there to divide by.
func TestPunchOutEdges(t *testing.T) {
	base := workedCraft(t)
	pack := steadyCircuit(curveOf(t, model.LiPo), 4, 650, 0.009)
	for _, c := range []struct {
		name   string
		change func(craft *model.Drive, pack *model.Circuit)
		charge float64
		want   model.Limiter
		ratio  bool // there is thrust
	}{
		{"empty pack, E below 3.3 V per cell", func(*model.Drive, *model.Circuit) {}, 0, model.LimitedByPack, false},
		{"E of exactly 3.3 V per cell", func(_ *model.Drive, p *model.Circuit) { p.Curve = straightCurve(t, 3.3, 3.3) }, 0.5, model.LimitedByPack, false},
		{"the same without gear power", func(c *model.Drive, p *model.Circuit) {
			p.Curve, c.GearPower = straightCurve(t, 3.3, 3.3), 0
		}, 0.5, model.LimitedByPack, false},
		{"gear that takes all that there is", func(c *model.Drive, _ *model.Circuit) { c.GearPower = 700 }, 0.8, model.LimitedByPack, false},
		{"no gear power", func(c *model.Drive, _ *model.Circuit) { c.GearPower = 0 }, 0.8, model.LimitedByPack, true},
		{"no resistance", func(_ *model.Drive, p *model.Circuit) { p.R0, p.R1 = 0, 0 }, 0.8, model.LimitedByThrottle, true},
		{"no resistance and E of 3.3 V per cell", func(_ *model.Drive, p *model.Circuit) {
			p.R0, p.R1, p.Curve = 0, 0, straightCurve(t, 3.3, 3.3)
		}, 0.8, model.LimitedByPack, false},
		{"estimated motor", func(c *model.Drive, _ *model.Circuit) {
			c.Rotor.Motor.EstimatedR, c.Rotor.Motor.EstimatedI0, c.Rotor.Motor.Estimate = true, true, model.UsualMotor(14.8)
			c.Rotor.EstimateMotor()
		}, 0.8, model.LimitedByPack, true},
		{"ideal motor", func(c *model.Drive, _ *model.Circuit) { c.Rotor.Motor.R, c.Rotor.Motor.I0 = 0, 0 }, 0.8, model.LimitedByPack, true},
		{"static table", func(c *model.Drive, _ *model.Circuit) {
			c.Rotor.Propeller = propellerOf(t, 3.5,
				model.StaticPoint{Speed: 8000 * model.RPM, CT: 0.14, CP: 0.08},
				model.StaticPoint{Speed: 20000 * model.RPM, CT: 0.15, CP: 0.08})
		}, 0.8, model.LimitedByPack, true},
		{"a motor that the bus can barely turn", func(c *model.Drive, _ *model.Circuit) { c.Rotor.Motor.Kv = 50 * model.RPMPerVolt }, 0.8, model.LimitedByThrottle, true},
		{"a motor that does not turn at all", func(c *model.Drive, _ *model.Circuit) { c.Rotor.Motor.R, c.Rotor.Motor.I0 = 30, 0.6 }, 0.8, model.LimitedByThrottle, false},
		{"a board that gives less than the no-load current", func(c *model.Drive, _ *model.Circuit) { c.Rotor.Controller.MaxCurrent = 0.5 }, 0.8, model.LimitedByBoard, false},
		{"a motor limit below the board's", func(c *model.Drive, _ *model.Circuit) {
			c.Rotor.Controller.MaxCurrent, c.Rotor.Motor.MaxCurrent = 8, 5
		}, 0.8, model.LimitedByMotor, true},
		{"a board limit below the motor's", func(c *model.Drive, _ *model.Circuit) {
			c.Rotor.Controller.MaxCurrent, c.Rotor.Motor.MaxCurrent = 5, 8
		}, 0.8, model.LimitedByBoard, true},
	} {
		craft, p := base, pack
		c.change(&craft, &p)
		got := craft.PunchOut(p, c.charge)
		finite(t, c.name, float64(got.Thrust), got.Throttle, float64(got.BusVoltage), float64(got.Current), float64(got.BurstPower), float64(got.Demand), got.Headroom)
		if got.LimitedBy != c.want || (got.Thrust > 0) != c.ratio || got.Throttle > 1 {
			t.Errorf("%s: limited by %q with a thrust of %v N at throttle %v, want by %q, thrust %v", c.name, got.LimitedBy, got.Thrust, got.Throttle, c.want, c.ratio)
		}
		if c.ratio {
			checkPunch(t, craft, p, got)
		}
	}
}

// Where the headroom passes 1 the pack stops to limit, and nothing jumps.
func TestPunchOutWhereThePackStopsToLimit(t *testing.T) {
	craft := workedCraft(t)
	punch := func(headroom float64) model.Punch {
		pack := steadyCircuit(curveOf(t, model.LiPo), 4, 650, 0.009)
		demand := float64(craft.PunchOut(pack, 0.8).Demand)
		r := model.Resistance(13.2 * (float64(pack.OpenVoltage(0.8)) - 13.2) / (headroom * demand)) // of the power at 13.2 V
		pack.R0, pack.R1 = r*model.FastShare, r*(1-model.FastShare)
		p := craft.PunchOut(pack, 0.8)
		checkPunch(t, craft, pack, p)
		near(t, "headroom", p.Headroom, headroom, 1e-9)
		return p
	}
	below, above := punch(1-1e-6), punch(1+1e-6)
	if below.LimitedBy != model.LimitedByPack || above.LimitedBy != model.LimitedByThrottle {
		t.Errorf("limited by %q below and %q above a headroom of 1", below.LimitedBy, above.LimitedBy)
	}
	near(t, "thrust", above.Thrust, float64(below.Thrust), 1e-5)
	near(t, "throttle", below.Throttle, 1, 1e-5)
	if p := punch(1.02); p.LimitedBy != model.LimitedByThrottle || !(p.BusVoltage > 13.2) {
		t.Errorf("with a headroom of 1.02 limited by %q at %v V", p.LimitedBy, p.BusVoltage)
	}
}

// Gear that takes more than the pack has at 3.3 V per cell still has its own voltage.
func TestPunchOutOfGearAlone(t *testing.T) {
	craft := workedCraft(t)
	craft.GearPower = 900
	pack := steadyCircuit(curveOf(t, model.LiPo), 4, 650, 0.009)
	p := craft.PunchOut(pack, 0.8)
	near(t, "power", float64(p.BusVoltage)*float64(p.Current), 900, 1e-12)
	near(t, "bus", p.BusVoltage, float64(pack.OpenVoltage(0.8))-float64(pack.R0+pack.R1)*float64(p.Current), 1e-12)
	if p.Thrust != 0 || p.LimitedBy != model.LimitedByPack {
		t.Errorf("thrust %v, limited by %q", p.Thrust, p.LimitedBy)
	}
}

// A pack that has no resistance gives full throttle its open voltage; by hand for an ideal motor:
// w = Kv V, T = CT rho (w/2 pi)^2 D^4.
func TestPunchOutByHand(t *testing.T) {
	c := simpleCraft(t, 1.2)
	pack := model.Circuit{Cells: 4, Curve: straightCurve(t, 4, 4), Capacity: 2000, Tau: 20}
	p := c.PunchOut(pack, 0.5)
	n := 3600.0 * 16 / 60
	thrust := 4 * 0.15 * 1.2 * n * n * math.Pow(3.5*0.0254, 4)
	near(t, "ratio", p.Ratio(0.2), thrust/(0.2*9.80665), 1e-8)
	near(t, "bus", p.BusVoltage, 16, 1e-8)
	near(t, "throttle", p.Throttle, 1, 1e-12)
	// P = CP rho n^3 D^5 per rotor, over the controller's 0.95.
	near(t, "current", p.Current, 4*0.08*1.2*n*n*n*math.Pow(3.5*0.0254, 5)/0.95/16, 1e-8)
	if p.LimitedBy != model.LimitedByThrottle {
		t.Errorf("limited by %q, want full throttle", p.LimitedBy)
	}
}

// A higher current limit never lowers the ratio, whosever limit it is.
func TestPunchOutCurrentLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pack := drawCircuit(t)
		craft := drawCraft(t, pack.Cells)
		charge := rapid.Float64Range(0.1, 1).Draw(t, "charge")
		a := model.Current(rapid.Float64Range(0.1, 30).Draw(t, "A"))
		b := a * model.Current(rapid.Float64Range(1, 3).Draw(t, "times"))
		thrust := func(limit model.Current) model.Force {
			c := craft
			if rapid.Bool().Draw(t, "motor") {
				c.Rotor.Motor.MaxCurrent = limit
			} else {
				c.Rotor.Controller.MaxCurrent = limit
				c.Rotor.Motor.MaxCurrent = 0
			}
			return c.PunchOut(pack, charge).Thrust
		}
		craft.Rotor.Controller.MaxCurrent = 0
		low, high, none := thrust(a), thrust(b), craft.PunchOut(pack, charge).Thrust
		if low > high*(1+1e-9) || high > none*(1+1e-9) {
			t.Error(fmt.Sprintf("thrust %v with %v A, %v with %v A, %v without a limit", low, a, high, b, none))
		}
	})
}
