package model_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"allup/model"
)

// warmCircuit is a circuit that depends on charge and warms itself, as a small pack does: by grams of
// pack, 8.8 g per cell and 0.1 Ah.
func warmCircuit(c model.Circuit, k float64) model.Circuit {
	c.K = k
	c.HeatCapacity = 1080 * 0.9 * 0.088 * c.Capacity.AmpHours() / 4 * float64(c.Cells)
	c.CoolingTime = model.UsualCooling
	c.Temperature, c.Air = model.Celsius(18), model.Celsius(12)
	return c
}

// The shape of resistance against charge at its measured points, between them monotone.
// Source of the points: LCO pouch cell, 0.1 C against 2 C, as UsualK states; evaluated elsewhere.
func TestResistanceFollowsCharge(t *testing.T) {
	c := steadyCircuit(curveOf(t, model.LiPo), 4, 650, 0.01)
	c.K = 0.8
	at25 := model.Celsius(25)
	for gone, s := range map[float64]float64{
		0: 0, .05: .070, .10: .215, .20: .336, .30: .391, .40: .422, .50: .473, .60: .617, .70: .836, .80: 1, .85: 1.145, .90: 1.332, .95: 1.711, 1: 2.54,
	} {
		want := (1 + 0.8*s) / (1 + 0.8*0.473)
		r0, r1 := c.Resistances(1-gone, at25)
		near(t, fmt.Sprintf("R0 with %g gone", gone), r0/c.R0, want, 1e-12)
		near(t, fmt.Sprintf("R1 with %g gone", gone), r1/c.R1, want, 1e-12)
	}
	const h = 1e-3
	at := func(s float64) float64 { r0, _ := c.Resistances(s, at25); return float64(r0 / c.R0) }
	for s := -0.1; s < 1.1; s += h {
		if at(s) < at(s+h) {
			t.Errorf("resistance rises from %v to %v as charge does at %.3f", at(s), at(s+h), s)
		}
		// Smooth: the slope is at most 17 per unit of charge at the empty end, and changes by little in a step.
		if bend := math.Abs(at(s-h) - 2*at(s) + at(s+h)); bend > 1e-3 {
			t.Errorf("resistance bends by %g at %.3f", bend, s)
		}
	}
	near(t, "steady resistance", c.Steady(0.5), float64(c.R0+c.R1), 1e-12)
}

// The factors of two temperatures, straight lines between measured points bound the smooth one to 3 %.
// Source: as ResistanceAt.
func TestResistanceAtIsSmooth(t *testing.T) {
	celsius, ratio := []float64{5, 15, 25, 35, 45}, []float64{1.55, 1.15, 1, 0.86, 0.80}
	at := func(c float64) float64 { return model.ResistanceAt(model.Celsius(c)) }
	const h = 0.01
	for c := 5.0; c < 60; c += h {
		if at(c) < at(c+h) {
			t.Errorf("resistance rises at %.2f C", c)
		}
		if bend := math.Abs(at(c-h) - 2*at(c) + at(c+h)); c > 5+h && bend > 1e-6 {
			t.Errorf("resistance bends by %g at %.2f C", bend, c)
		}
	}
	for i := range 4 {
		for f := 0.0; f < 1; f += 0.05 {
			near(t, "resistance between measured points", at(celsius[i]+10*f), ratio[i]+f*(ratio[i+1]-ratio[i]), 0.03)
		}
	}
}

func TestDischargeWithChargeDependenceAndHeat(t *testing.T) {
	t.Parallel()
	hot := 0.0
	for _, k := range []float64{0, 0.5, 1.5} {
		for _, c := range loadCases(t, []float64{0.007, 0.03}, []float64{model.FastShare}, []float64{10, float64(model.RCTime)}, []float64{0.1, 5, 15}) {
			c.circuit = warmCircuit(c.circuit, k)
			c.name += fmt.Sprintf(", K %g", k)
			got := c.circuit.Discharge(c.load(), c.stop)
			want := slowDischarge(c.circuit, c.power, c.current, c.stop)
			if got.EndedBy != want.EndedBy {
				t.Errorf("%s: ended by %q, want %q", c.name, got.EndedBy, want.EndedBy)
			}
			near(t, c.name+": duration", got.Duration, float64(want.Duration), 1e-3)
			near(t, c.name+": delivered", got.Delivered, float64(want.Delivered), 1e-3)
			near(t, c.name+": energy", got.Energy, float64(want.Energy), 1e-3)
			within(t, c.name+": temperature at the end", got.EndTemperature, float64(want.EndTemperature), 0.1+0.03*float64(want.MaxTemperature-c.circuit.Temperature))
			within(t, c.name+": highest temperature", got.MaxTemperature, float64(want.MaxTemperature), 0.1+0.03*float64(want.MaxTemperature-c.circuit.Temperature))
			hot = max(hot, got.MaxTemperature.Celsius())
		}
	}
	if hot < 40 {
		t.Errorf("nothing got warmer than %.1f C: too little to test heat with", hot)
	}
}

func TestBurstWithChargeDependenceAndHeat(t *testing.T) {
	for _, chemistry := range model.Chemistries() {
		for _, r := range []float64{0.004, 0.010, 0.025} {
			for _, k := range []float64{0, 0.5, 1.5} {
				c := warmCircuit(steadyCircuit(curveOf(t, chemistry), 4, 640, r), k)
				p := model.UsualProtocol(650*model.MilliAmpH, 4)
				name := fmt.Sprintf("%s, %g Ohm Ah, K %g", chemistry, r, k)
				got, want := c.BurstTest(p), slowBurst(c, p)
				if got.InRamp != want.InRamp {
					t.Errorf("%s: ended in the ramp %v, want %v", name, got.InRamp, want.InRamp)
				}
				near(t, name+": current", got.Current, float64(want.Current), 1e-3)
				near(t, name+": power", got.Power, float64(want.Power), 1e-3)
				near(t, name+": charge left", got.ChargeLeft, want.ChargeLeft, 1e-3)
				within(t, name+": temperature", got.MaxTemperature, float64(want.MaxTemperature), 0.1)
			}
		}
	}
}

// By hand: 10 A through 20 mOhm for 360 s is 720 J, which warm 72 J/K by 10 K where nothing cools; and a pack that
// carries a current for ever settles where the air takes what it makes, P tau/C above it.
func TestHeatByHand(t *testing.T) {
	c := model.Circuit{
		Cells: 1, Curve: straightCurve(t, 4.2, 3.2), Capacity: 3600, R0: 0.020, HeatCapacity: 72,
		Temperature: model.Celsius(50), Air: model.Celsius(50), // where resistance no longer falls
	}
	d := c.Discharge(model.ConstantCurrent(10), model.Stop{})
	near(t, "duration", d.Duration, 360, 1e-9)
	within(t, "temperature at the end", d.EndTemperature.Celsius(), 60, 1e-9)
	c.CoolingTime, c.Capacity = 100, 3600*1000
	d = c.Discharge(model.ConstantCurrent(10), model.Stop{})
	within(t, "temperature in the end", d.EndTemperature.Celsius(), 50+2*100/72., 1e-6)
	// Warmed: one e-folding takes a warm pack to 1/e of its warmth.
	within(t, "after a cooling time", c.Warmed(model.Celsius(60), 0, 100).Celsius(), 50+10*math.Exp(-1), 0.15)
	for range 100 {
		c.Temperature = c.Warmed(c.Temperature, 2, 10)
	}
	within(t, "after ten cooling times", c.Temperature.Celsius(), 50+2*100/72., 1e-3)
}

// A warm pack flies longer than a cold one, and a pack whose resistance rises as it empties shorter than the reading
// of its fresh half promises.
func TestHeatAndChargeDependenceGoTheRightWay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := warmCircuit(drawCircuit(t), rapid.Float64Range(0, 1.5).Draw(t, "K"))
		power := model.Power(rapid.Float64Range(1, 12).Draw(t, "C") * c.Capacity.AmpHours() * 3.7 * float64(c.Cells))
		stop := model.Stop{PerCell: 3.4}
		cold := c.At(model.Celsius(5), model.Celsius(5)).Discharge(model.ConstantPower(power), stop)
		warm := c.At(model.Celsius(30), model.Celsius(30)).Discharge(model.ConstantPower(power), stop)
		if cold.Duration > warm.Duration {
			t.Errorf("%v s cold and %v s warm", cold.Duration, warm.Duration)
		}
		if cold.MaxTemperature < model.Celsius(5) || warm.MaxTemperature < model.Celsius(30) {
			t.Errorf("a pack in air of its own temperature cools to %v or %v", cold.MaxTemperature, warm.MaxTemperature)
		}
		steeper := c
		steeper.K += 0.5
		if a, b := steeper.PowerAt(0.2, 13.2), c.PowerAt(0.2, 13.2); a > b {
			t.Errorf("power at 20 %% charge rises with K, from %v to %v", b, a)
		}
	})
}

// Smooth in K, heat capacity and temperature, too: second differences stay as small as the step squared.
func TestHeatIsSmooth(t *testing.T) {
	base := warmCircuit(steadyCircuit(curveOf(t, model.LiPo), 4, 650, 0.012), 0.5)
	for name, at := range map[string]func(x float64) model.Circuit{
		"K":             func(x float64) model.Circuit { c := base; c.K = x; return c },
		"heat capacity": func(x float64) model.Circuit { c := base; c.HeatCapacity *= 0.5 + x; return c },
		"temperature":   func(x float64) model.Circuit { t := model.Celsius(6 + 30*x); return base.At(t, t) },
	} {
		answers := map[string]func(c model.Circuit) float64{
			"duration": func(c model.Circuit) float64 {
				return float64(c.Discharge(model.ConstantPower(120), model.Stop{PerCell: 3.3}).Duration)
			},
			"burst": func(c model.Circuit) float64 {
				return float64(c.BurstTest(model.UsualProtocol(650*model.MilliAmpH, 4)).Power)
			},
		}
		for answer, of := range answers {
			const h = 2e-4
			for x := 0.01; x < 1; x += 0.0037 {
				low, mid, high := of(at(x-h)), of(at(x)), of(at(x+h))
				if bend := math.Abs(low-2*mid+high) / mid; bend > 30*h*h {
					t.Errorf("%s at %s %.4f bends by %.3g", answer, name, x, bend)
				}
			}
		}
	}
}
