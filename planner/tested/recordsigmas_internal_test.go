package tested

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"

	"allup/catalog"
	"allup/model"
)

// The errors that a record keeps, worked out from their parts: a fit's own, or those of metrics with what any circuit
// gets wrong; with what either misses of the metrics; none where none are known; and never more than a record takes.
func TestRecordSigmas(t *testing.T) {
	c := model.Circuit{Capacity: 650 * model.MilliAmpH, R0: 0.030, R1: 0.020}
	own := model.CircuitSigma{Capacity: 13 * model.MilliAmpH, Steady: 0.001, K: 0.15}
	none := model.CircuitSigma{}
	fit := func(fallback string, sigma model.CircuitSigma, q, r, misfitQ, misfitR float64) model.LogFit {
		out := model.LogFit{Fallback: fallback, Sigma: sigma}
		out.Circuit, out.SigmaQ, out.SigmaR, out.MisfitQ, out.MisfitR = c, q, r, misfitQ, misfitR
		return out
	}
	for _, f := range []struct {
		name    string
		fit     model.LogFit
		q, r, k float64 // q and r as shares
	}{
		{"fitted", fit("", own, 0, 0, 0, 0), 0.02, 0.02, 0.15},
		{"fitted, and off the metrics", fit("", own, 0, 0, 0.015, 0.048), 0.025, 0.052, 0.15},
		{"from metrics", fit("too short", none, 0.02, 0.05, 0, 0), math.Hypot(0.02, model.ModelSigmaQ), math.Hypot(0.05, model.ModelSigmaR), model.UsualKSigma},
		{
			"from metrics that go ill together", fit("too short", none, 0.02, 0.05, 0.01, 0.1),
			math.Hypot(math.Hypot(0.02, 0.01), model.ModelSigmaQ), math.Hypot(math.Hypot(0.05, 0.1), model.ModelSigmaR), model.UsualKSigma,
		},
		{"from discharges at several loads", fit("no burst", none, 0, 0, 0.01, 0.1), 0, 0, model.UsualKSigma},
		{"hardly known", fit("", own, 0, 0, 3, 4), 0.999 * catalog.MostCircuitSigma, 0.999 * catalog.MostCircuitSigma, 0.15},
	} {
		q, r, k := recordSigmas(&f.fit)
		const digits = 1e-5 // of a record
		if !scalar.EqualWithinAbsOrRel(float64(q/c.Capacity), f.q, 1e-12, digits) || !scalar.EqualWithinAbsOrRel(float64(r/(c.R0+c.R1)), f.r, 1e-12, digits) || !scalar.EqualWithinRel(k, f.k, digits) {
			t.Errorf("%s: %.6f, %.6f, %.4f; want %.6f, %.6f, %.4f", f.name, float64(q/c.Capacity), float64(r/(c.R0+c.R1)), k, f.q, f.r, f.k)
		}
	}
}
