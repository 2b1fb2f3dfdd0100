package model_test

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"allup/model"
)

// slowBurst integrates the burst test in time: Runge-Kutta steps of 1/100 s, then halved until the end voltage
// is met. It shares the open-circuit curve, and what charge and temperature make of a resistance, with the code
// under test and nothing else.
func slowBurst(c model.Circuit, p model.Protocol) model.Burst {
	n, q, tau := float64(c.Cells), float64(c.Capacity), float64(c.Tau)
	resistances := func(s, temp float64) (r0, r1 float64) {
		if c.K == 0 && c.HeatCapacity == 0 {
			return float64(c.R0), float64(c.R1)
		}
		a, b := c.Resistances(s, model.Temperature(temp))
		return float64(a), float64(b)
	}
	conditioned := float64(p.ConditioningTime)
	current := func(t float64, ramp bool) float64 {
		if !ramp {
			return float64(p.ConditioningCurrent)
		}
		return float64(p.ConditioningCurrent) + p.Ramp*(t-conditioned)
	}
	voltage := func(t, s, v1, temp float64, ramp bool) float64 {
		r0, _ := resistances(s, temp)
		return n*float64(c.Curve.At(s)+c.Shift) - v1 - r0*current(t, ramp)
	}
	warming := func(i, s, v1, temp float64) float64 {
		if c.HeatCapacity == 0 {
			return 0
		}
		r0, r1 := resistances(s, temp)
		return (i*i*r0+v1*v1/r1)/c.HeatCapacity - (temp-float64(c.Air))/float64(c.CoolingTime)
	}
	t, s, v1, temp := 0.0, 1.0, 0.0, float64(c.Temperature)
	ramp := conditioned == 0
	for h := 0.01; h > 1e-12; {
		step := h
		if !ramp && t+step > conditioned {
			step = conditioned - t
		}
		// The current is known, so only v1 needs Runge-Kutta; s is Simpson's rule, exact here.
		a := current(t, ramp)
		b := current(t+step/2, ramp)
		d := current(t+step, ramp)
		_, r1 := resistances(s-step*(a+b)/4/q, temp) // of the middle, good enough for 1/100 s
		f := func(i, v float64) float64 { return (r1*i - v) / tau }
		k1 := f(a, v1)
		k2 := f(b, v1+step/2*k1)
		k3 := f(b, v1+step/2*k2)
		k4 := f(d, v1+step*k3)
		s2, v2 := s-step*(a+4*b+d)/6/q, v1+step*(k1+2*k2+2*k3+k4)/6
		temp2 := temp + step*warming(b, (s+s2)/2, (v1+v2)/2, temp)
		if s2 < 0 || voltage(t+step, s2, v2, temp2, ramp) < n*float64(p.BurstEndPerCell) {
			h /= 2
			continue
		}
		t, s, v1, temp = t+step, s2, v2, temp2
		if !ramp && t >= conditioned {
			t, ramp = conditioned, true
		}
	}
	i := current(t, ramp)
	return model.Burst{Current: model.Current(i), Power: model.Power(i * voltage(t, s, v1, temp, ramp)), ChargeLeft: s, InRamp: ramp, MaxTemperature: model.Temperature(temp)}
}

func TestBurstAgainstSlowIntegration(t *testing.T) {
	inRamp, before := 0, 0
	for _, chemistry := range model.Chemistries() {
		for _, r := range []float64{0.004, 0.010, 0.025, 0.045, 0.080} {
			for _, tau := range []model.Time{2, 20, 120} {
				c := steadyCircuit(curveOf(t, chemistry), 4, 640, r)
				c.Tau, c.Shift = tau, 0.01
				for _, p := range []model.Protocol{
					model.UsualProtocol(650*model.MilliAmpH, 4),
					{BurstEndPerCell: 3.4, ConditioningCurrent: 5, ConditioningTime: 20, Ramp: 3},
					{BurstEndPerCell: 3.3, Ramp: 4},
				} {
					name := fmt.Sprintf("%s, %g Ohm Ah, tau %g s, %+v", chemistry, r, float64(tau), p)
					got, want := c.BurstTest(p), slowBurst(c, p)
					if got.InRamp != want.InRamp {
						t.Errorf("%s: ended in the ramp %v, want %v", name, got.InRamp, want.InRamp)
					}
					// The oracle's steps are worth 1e-9; its end is found to 1e-10 s.
					near(t, name+": current", got.Current, float64(want.Current), 1e-7)
					near(t, name+": power", got.Power, float64(want.Power), 1e-7)
					near(t, name+": charge left", got.ChargeLeft, want.ChargeLeft, 1e-7)
					if want.InRamp {
						inRamp++
					} else {
						before++
					}
				}
			}
		}
	}
	if inRamp == 0 || before == 0 {
		t.Errorf("%d cases ended in the ramp and %d before it: want some of both", inRamp, before)
	}
}

// 15 C for 48 s is exactly 20 % of the rated capacity.
// Source: common practice; 15/h x 48/3600 h = 0.2.
func TestBurstConditioning(t *testing.T) {
	for _, rated := range []model.Charge{300 * model.MilliAmpH, 650 * model.MilliAmpH} {
		c := steadyCircuit(curveOf(t, model.LiPo), 4, rated.MilliAmpHours(), 0.005)
		p := model.UsualProtocol(rated, 4)
		p.Ramp = 0 // stop where the ramp would begin
		b := c.BurstTest(p)
		near(t, "charge left", b.ChargeLeft, 0.8, 1e-12)
		near(t, "current", b.Current, 15*rated.AmpHours(), 1e-12)
		near(t, "charge of the conditioning", float64(p.ConditioningCurrent)*float64(p.ConditioningTime), 0.2*float64(rated), 1e-12)
	}
}

// By hand: E 4 V flat, 10 mOhm, no RC element, a ramp of 1 A/s from rest meets 3.3 V at 70 A
// after 70 s, which takes 2450 As.
func TestBurstOfARampFromRest(t *testing.T) {
	c := model.Circuit{Cells: 1, Curve: straightCurve(t, 4, 4), Capacity: 10000, R0: 0.010}
	b := c.BurstTest(model.Protocol{BurstEndPerCell: 3.3, Ramp: 1})
	near(t, "current", b.Current, 70, 1e-9)
	near(t, "power", b.Power, 231, 1e-9)
	near(t, "charge left", b.ChargeLeft, 0.755, 1e-9)
	// A pack too small for that ends empty.
	c.Capacity = 800
	b = c.BurstTest(model.Protocol{BurstEndPerCell: 3.3, Ramp: 1})
	near(t, "current when empty", b.Current, 40, 1e-9) // 40^2/2 = 800
	within(t, "charge left when empty", b.ChargeLeft, 0, 1e-12)
	// One that is empty within the conditioning ends there.
	b = c.BurstTest(model.Protocol{BurstEndPerCell: 3.3, ConditioningCurrent: 10, ConditioningTime: 100, Ramp: 1})
	if b.InRamp || b.ChargeLeft > 1e-12 || b.Current != 10 {
		t.Errorf("a pack that is empty before the ramp ends as %+v", b)
	}
}

func TestBurstIsFinite(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCircuit(t)
		c.R0 *= model.Resistance(rapid.SampledFrom([]float64{0, 1, 30}).Draw(t, "R0"))
		c.R1 *= model.Resistance(rapid.SampledFrom([]float64{0, 1, 30}).Draw(t, "R1"))
		c.Tau = rapid.SampledFrom([]model.Time{0, 1e-6, 20, 1e9}).Draw(t, "tau")
		b := c.BurstTest(model.Protocol{
			BurstEndPerCell:     model.Voltage(rapid.Float64Range(0, 5).Draw(t, "end")),
			ConditioningCurrent: model.Current(rapid.SampledFrom([]float64{0, 5, 1e4}).Draw(t, "A")),
			ConditioningTime:    model.Time(rapid.SampledFrom([]float64{0, 1e-9, 48, 1e5}).Draw(t, "s")),
			Ramp:                rapid.SampledFrom([]float64{0, 1e-6, 1.3, 1e5}).Draw(t, "ramp"),
		})
		finite(t, "burst", float64(b.Current), float64(b.Power), b.ChargeLeft)
		if b.ChargeLeft < -1e-9 || b.ChargeLeft > 1 {
			t.Errorf("charge left = %v, want 0 to 1", b.ChargeLeft)
		}
	})
}
