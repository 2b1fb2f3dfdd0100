package model_test

import (
	"math"
	"testing"

	"allup/model"
)

// TestSteeperMeetsTheMetrics: a circuit whose charge dependence is one sigma off, moved with what goes with it,
// meets the metrics that it was made from as before; moved alone it does not.
func TestSteeperMeetsTheMetrics(t *testing.T) {
	curve := curveOf(t, model.LiPo)
	for _, ohmAh := range []float64{0.007, 0.011, 0.018} {
		m := unlike(curve, [6]float64{1: math.Log(ohmAh / 0.011)}).Tests(metricsProtocol())
		id, err := model.Identify(model.NewCircuit(4, curve, 74*model.Gram), m)
		if err != nil {
			t.Fatal(err)
		}
		for _, by := range []float64{-model.UsualKSigma, model.UsualKSigma / 2, model.UsualKSigma} {
			moved, alone := id.Steeper.Moved(id.Circuit, by), id.Circuit
			alone.K += by
			if math.Abs(moved.K-id.Circuit.K-by) > 1e-12 {
				t.Errorf("charge dependence moved from %v to %v, want %v more", id.Circuit.K, moved.K, by)
			}
			if got, was := worstSigma(moved, m), worstSigma(alone, m); got > 0.6 || was < 2*got {
				t.Errorf("%v: with %+v of charge dependence metrics are missed by %.2f sigma, and alone by %.2f", ohmAh, by, got, was)
			}
		}
	}
	beyond := model.Steeper{LogR: 0.1}.Moved(model.Circuit{K: model.MostK, R0: 1, R1: 1}, 1)
	if beyond.K != model.MostK || beyond.R0 != 1 {
		t.Errorf("moved beyond the most to %+v", beyond)
	}
}

func worstSigma(c model.Circuit, m model.TestedMetrics) (worst float64) {
	for _, r := range model.MetricResiduals(c, m) {
		worst = max(worst, math.Abs(r.Sigma))
	}
	return worst
}
