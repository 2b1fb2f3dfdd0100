package model_test

import (
	"math"
	"testing"

	"allup/model"
)

// TestIdentifyOfUnlikePacks: packs whose charge dependence and heat are not what is assumed, reduced to metrics,
// identified as any pack is, and asked what they do. What is missed is the price of assuming; the old circuit, without either,
// stands beside it. The metrics say nothing of charge dependence: of a strong pack, whose burst ends a quarter full, power at 80 % charge
// may be a fifth off, and the sigma of its resistance must say so.
func TestIdentifyOfUnlikePacks(t *testing.T) {
	type misses struct{ landing, strong, weak float64 }
	run := func(known model.Circuit) (worst misses, doubtful, outside int) {
		for _, r := range []float64{0.007, 0.011, 0.018} {
			for _, k := range []float64{0, 0.25, 0.5, 0.75, 1} {
				for _, heat := range []float64{0.7, 1, 1.3} {
					const rated = 650 * model.MilliAmpH
					truth := model.NewCircuit(4, known.Curve, 74*model.Gram)
					truth.K = k
					truth.HeatCapacity *= heat
					made := steadyCircuit(known.Curve, 4, 640, r)
					truth.Capacity, truth.R0, truth.R1, truth.Tau = made.Capacity, made.R0, made.R1, made.Tau
					id, err := model.Identify(known, truth.Tests(model.UsualProtocol(rated, 4)))
					if err != nil {
						t.Fatal(err)
					}
					if _, bad := id.Doubtful(); bad {
						doubtful++
					}
					c := id.Circuit
					miss := func(worst *float64, got, want float64) { *worst = max(*worst, math.Abs(got/want-1)) }
					for _, rate := range []float64{3, 4, 5, 6} {
						load, stop := model.ConstantPower(model.Power(rate*0.65*14.8)), model.Stop{PerCell: 3.5}
						miss(&worst.landing, float64(c.Discharge(load, stop).Energy), float64(truth.Discharge(load, stop).Energy))
					}
					miss(&worst.strong, float64(c.PowerAt(0.8, 13.2)), float64(truth.PowerAt(0.8, 13.2)))
					// Resistance where the power is asked for, against one sigma of it at half charge and of the charge dependence.
					at := func(c model.Circuit, charge float64) float64 { return float64(c.Steady(charge)) }
					steeper := c
					steeper.K += model.UsualKSigma
					for _, charge := range []float64{0.3, 0.8} {
						sigma := math.Hypot(id.SigmaR, at(steeper, charge)/at(c, charge)-1)
						if math.Abs(at(truth, charge)/at(c, charge)-1) > 1.645*sigma {
							outside++
						}
					}
					miss(&worst.weak, float64(c.PowerAt(0.3, 13.2)), float64(truth.PowerAt(0.3, 13.2)))
				}
			}
		}
		return worst, doubtful, outside
	}
	curve := curveOf(t, model.LiPo)
	old, _, _ := run(model.Circuit{Cells: 4, Curve: curve})
	got, doubtful, outside := run(model.NewCircuit(4, curve, 74*model.Gram))
	t.Logf("worst of 45 packs, old and new, %%: energy to landing %.1f, %.1f; power at 80 %% charge %.1f, %.1f; at 30 %% %.1f, %.1f",
		100*old.landing, 100*got.landing, 100*old.strong, 100*got.strong, 100*old.weak, 100*got.weak)
	t.Logf("%d of 90 resistances outside the 90 %% band", outside)
	if got.landing > 0.02 || got.strong > 0.21 || got.weak > 0.19 {
		t.Errorf("missed by %.3f, %.3f and %.3f; want 0.02, 0.21 and 0.19 at most", got.landing, got.strong, got.weak)
	}
	if outside > 9 {
		t.Errorf("%d of 90 resistances outside the 90 %% band", outside)
	}
	if doubtful > 0 {
		t.Errorf("%d packs are said to contradict themselves", doubtful)
	}
}
