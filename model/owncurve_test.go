package model_test

import (
	"math"
	"testing"

	"allup/model"
	"allup/model/bench"
)

// Packs whose open-circuit curve is flatter, steeper or bent otherwise than usual: the fitted circuit has the pack's
// own curve, and the tests that it simulates are the measured ones.
func TestFitLogsFindOwnCurve(t *testing.T) {
	usual, err := model.CurveOf(model.LiPo)
	if err != nil {
		t.Fatal(err)
	}
	for name, of := range map[string]func(s, u float64) float64{
		"steeper": func(_, u float64) float64 { return u + 0.06*(u-3.8) },
		"flatter": func(_, u float64) float64 { return u - 0.06*(u-3.8) },
		"humped":  func(s, u float64) float64 { return u + 0.025*math.Exp(-math.Pow((s-0.6)/0.2, 2)) },
	} {
		volts := make([]model.Voltage, 21)
		for k := range volts {
			s := float64(k) / 20
			volts[k] = model.Voltage(of(s, float64(usual.At(s))))
			if k > 0 {
				volts[k] = max(volts[k], volts[k-1])
			}
		}
		own, err := model.EvenCurve(volts)
		if err != nil {
			t.Fatal(err)
		}
		p := benchPacks(t)[0]
		known := p.circuit
		p.circuit.Curve = own
		d, b, m := tested(t, p, bench.Run{})
		fit, err := model.FitLogs(known, []model.Trace{d.Trace, b.Trace})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if fit.CurveOff < 0.005 {
			t.Errorf("%s: a curve of its own is %.1f mV from the usual one", name, 1e3*float64(fit.CurveOff))
		}
		worst := 0.0
		for s := 0.1; s <= 0.951; s += 0.05 {
			worst = max(worst, math.Abs(float64(fit.Circuit.OpenVoltage(s)-p.circuit.OpenVoltage(s)))/4)
		}
		again := fit.Circuit.Tests(m.Protocol)
		t.Logf("%s: curve off %.1f mV, open voltage within %.1f mV per cell, mid voltage %+.2f %%, energy %+.2f %%, burst %+.2f %%, RMS %.2f mV", name, 1e3*float64(fit.CurveOff), 1e3*worst,
			100*float64(again.MidVoltage/m.MidVoltage-1), 100*float64(again.Energy/m.Energy-1), 100*float64(again.BurstPower/m.BurstPower-1), 1e3*float64(fit.RMS))
		if worst > 0.015 || math.Abs(float64(again.MidVoltage/m.MidVoltage-1)) > 0.002 || math.Abs(float64(again.Energy/m.Energy-1)) > 0.003 || math.Abs(float64(again.BurstPower/m.BurstPower-1)) > 0.01 {
			t.Errorf("%s: the fitted circuit has another curve or other tests", name)
		}
	}
}
