package model_test

import (
	"testing"

	"gonum.org/v1/gonum/floats/scalar"
	"pgregory.net/rapid"

	"allup/model"
)

// A pack of one resistance, as the closed forms have it: E and R, constant power P.
// Source: P = (E - R I) I, greatest power E^2/(4 R), cut-off power Vc (E - Vc)/R (pulse power
// capability, FreedomCAR Battery Test Manual, DOE/ID-11069, 2003); the numbers evaluated elsewhere.
func TestPackClosedForms(t *testing.T) {
	for _, c := range []struct{ e, r, p, i, v, greatest, cut, cutA, cutW float64 }{
		{22.2, 0.060, 600, 29.356176, 20.438629, 2053.5, 19.8, 40.000, 792.0},
		{15.2, 0.030, 400, 27.846206, 14.364614, 1925.333, 13.2, 66.6667, 880.0},
		{3.8, 0.004, 60, 16.061006, 3.735756, 902.5, 3.3, 125.0, 412.5},
	} {
		e := model.Voltage(c.e)
		pack := model.Circuit{Cells: 1, Curve: straightCurve(t, e, e-0.1), Capacity: model.AmpHour, R0: model.Resistance(c.r)}
		d := pack.Discharge(model.ConstantPower(model.Power(c.p)), model.Stop{})
		within(t, "current", d.StartCurrent, c.i, 5e-7)
		within(t, "voltage", d.StartVoltage, c.v, 5e-7)
		within(t, "power at the cut-off", pack.PowerAt(1, model.Voltage(c.cut)), c.cutW, 0.05)
		within(t, "current at the cut-off", model.Current(float64(pack.PowerAt(1, model.Voltage(c.cut)))/c.cut), c.cutA, 5e-5)
		within(t, "power at half the voltage, the greatest", pack.PowerAt(1, e/2), c.greatest, 5e-4)
		// A hair more than the greatest power is not held at all; a hair less is.
		more := pack.Discharge(model.ConstantPower(model.Power(c.greatest*1.0001)), model.Stop{})
		less := pack.Discharge(model.ConstantPower(model.Power(c.greatest*0.9999)), model.Stop{})
		if more.Duration != 0 || !more.Collapsed || less.Duration <= 0 {
			t.Errorf("at %g W: %v s a hair above the greatest power, %v s below", c.greatest, more.Duration, less.Duration)
		}
	}
}

// Source: 10 s pulses of an NMC 18650 cell, Oxford Brookes University BTC data, 2021.
func TestResistanceAt(t *testing.T) {
	for celsius, want := range map[float64]float64{-10: 1.55, 5: 1.55, 15: 1.15, 25: 1, 35: 0.86, 45: 0.80, 60: 0.80} {
		near(t, "resistance", model.ResistanceAt(model.Celsius(celsius)), want, 1e-9)
	}
	c := steadyCircuit(curveOf(t, model.LiPo), 4, 650, 0.01)
	c.Temperature = model.Celsius(35)
	cold := c.At(model.Celsius(5), model.Celsius(5))
	near(t, "R0 from 35 C to 5 C", cold.R0/c.R0, 1.55/0.86, 1e-12)
	near(t, "R1 from 35 C to 5 C", cold.R1/c.R1, 1.55/0.86, 1e-12)
}

// By hand: 0.93 x 650 mAh = 604.5 mAh; 0.013 Ohm Ah / 0.6045 Ah x 4 cells = 86.02 mOhm, 65 % of
// it at once.
func TestLabelCircuit(t *testing.T) {
	c := model.LabelCircuit(model.Circuit{Cells: 4, Curve: curveOf(t, model.LiPo)}, 650*model.MilliAmpH, model.DefaultSteadyR)
	near(t, "capacity, mAh", c.Capacity.MilliAmpHours(), 604.5, 1e-12)
	within(t, "R, mOhm", (c.R0 + c.R1).MilliOhms(), 86.02, 0.005)
	near(t, "share at once", c.R0/(c.R0+c.R1), 0.65, 1e-12)
	near(t, "R x Q per cell", c.SteadyRTimesCapacity(), 0.013, 1e-12)
}

// A pack at 5 C has 1.55 times its resistance at 25 C.
func TestUsualSteadyR(t *testing.T) {
	c := steadyCircuit(curveOf(t, model.LiPo), 3, 500, 0.012)
	near(t, "at 25 C", c.UsualSteadyR(), 0.012, 1e-12)
	c.Temperature = model.Celsius(5)
	near(t, "from 5 C", c.UsualSteadyR(), 0.012/1.55, 1e-12)
}

func TestCurves(t *testing.T) {
	// The knots are the published curves themselves; lihv by its definition.
	near(t, "lipo, half full", curveOf(t, model.LiPo).At(0.5), 3.7925, 1e-12)
	near(t, "liion, half full", curveOf(t, model.LiIon).At(0.5), 3.7509, 1e-12)
	near(t, "lihv, 0.45", curveOf(t, model.LiHV).At(0.45), 3.7925, 1e-9)
	near(t, "lihv, 0.9", curveOf(t, model.LiHV).At(0.9), 4.20, 1e-12)
	near(t, "lihv, 0.95", curveOf(t, model.LiHV).At(0.95), 4.275, 1e-12)
	near(t, "lihv, full", curveOf(t, model.LiHV).At(1), 4.35, 1e-12)
	if _, err := model.CurveOf("nimh"); err == nil {
		t.Error("an unknown chemistry has a curve")
	}
	for _, volts := range [][]model.Voltage{nil, {3}, {3, 2.9}, {0, 3}} {
		if _, err := model.EvenCurve(volts); err == nil {
			t.Errorf("EvenCurve(%v) is a curve", volts)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		c := curveOf(t, rapid.SampledFrom(model.Chemistries()).Draw(t, "chemistry"))
		s := rapid.Float64Range(-0.1, 1.1).Draw(t, "charge")
		ds := rapid.Float64Range(0, 0.1).Draw(t, "more")
		if a, b := c.At(s), c.At(s+ds); b < a-1e-12 {
			t.Errorf("the voltage falls from %v to %v V as charge rises from %v by %v", a, b, s, ds)
		}
		// Within a knot of the straight line through the knots around it.
		charge, volts := c.Knots()
		for i := range len(charge) - 1 {
			if s >= charge[i] && s <= charge[i+1] && !(c.At(s) >= volts[i]-1e-12 && c.At(s) <= volts[i+1]+1e-12) {
				t.Errorf("%v V at charge %v leaves its knots %v and %v V", c.At(s), s, volts[i], volts[i+1])
			}
		}
	})
}

// A burst test by hand: no RC element, a flat curve. Conditioning leaves 80 %; the ramp ends where
// E - R I = Vc.
func TestBurstByHand(t *testing.T) {
	c := model.Circuit{Cells: 4, Curve: straightCurve(t, 3.9, 3.9), Capacity: 650 * model.MilliAmpH, R0: 0.05}
	b := c.BurstTest(model.UsualProtocol(650*model.MilliAmpH, 4))
	near(t, "current", b.Current, (15.6-13.2)/0.05, 1e-9)
	near(t, "power", b.Power, 48*13.2, 1e-9)
	// 48 A after a ramp of 1.3 A/s from 9.75 A.
	seconds := (48 - 9.75) / 1.3
	near(t, "charge left", b.ChargeLeft, 0.8-(9.75+48)/2*seconds/(0.65*3600), 1e-9)
}

// Source: common practice, no source: 15 C for 48 s is 20 % of the rated capacity.
func TestConditioningIsAFifth(t *testing.T) {
	p := model.UsualProtocol(650*model.MilliAmpH, 4)
	near(t, "share", float64(p.ConditioningCurrent)*float64(p.ConditioningTime)/float64(650*model.MilliAmpH), 0.2, 1e-12)
	near(t, "15 C x 3.7 V per cell, W", p.DischargePower, 15*0.65*14.8, 1e-12)
}

// The burst test against its equations integrated in steps of a millisecond.
func TestBurstMeetsSmallSteps(t *testing.T) {
	for _, chemistry := range model.Chemistries() {
		for _, rq := range []float64{0.005, 0.013, 0.03} {
			c := steadyCircuit(curveOf(t, chemistry), 3, 550, rq)
			c.Shift = 0.012
			p := model.UsualProtocol(550*model.MilliAmpH, 3)
			got := c.BurstTest(p)
			s, v1, i := 1.0, 0.0, 0.0
			const h = 1e-3
			for k := 0; ; k++ {
				at := float64(k) * h
				i = float64(p.ConditioningCurrent) + p.Ramp*max(0, at-float64(p.ConditioningTime))
				if v := 3*float64(c.Curve.At(s)+c.Shift) - v1 - float64(c.R0)*i; v <= 3*3.3 || s <= 0 {
					break
				}
				v1 += h * (float64(c.R1)*i - v1) / float64(c.Tau)
				s -= h * i / float64(c.Capacity)
			}
			if !scalar.EqualWithinRel(float64(got.Current), i, 3e-4) || !scalar.EqualWithinAbs(got.ChargeLeft, s, 1e-4) {
				t.Errorf("%s, %g Ohm Ah: %v A with %v left, want %v A with %v", chemistry, rq, got.Current, got.ChargeLeft, i, s)
			}
		}
	}
}
