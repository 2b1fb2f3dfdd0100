package tested

import (
	"fmt"
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

// Logs leave R0 open where one sigma of it is over a fifth, and say by how much; what was not fitted says nothing.
func TestResistanceOpen(t *testing.T) {
	fit := model.LogFit{Sigma: model.CircuitSigma{R0: 0.0041, R1: 0.0099, Steady: 0.0012}}
	fit.Circuit = model.Circuit{R0: 0.0204, R1: 0.0103}
	said, open := resistanceOpen("k", &fit)
	const want = "logs do not part R0 from R1 well: R0 20.4 +- 4.1 mohm, together 30.7 +- 1.2 mohm"
	if !open || said.Text != want || said.Subject != "k" || said.Code != ResistanceOpen {
		t.Errorf("%v, %+v; want %q", open, said, want)
	}
	fit.Sigma.R0 = 0.0204 / 5
	if said, open := resistanceOpen("k", &fit); open {
		t.Errorf("a fifth says %q", said.Text)
	}
	fit.Sigma.R0, fit.Fallback = 0.0041, "too short"
	if said, open := resistanceOpen("k", &fit); open {
		t.Errorf("after a fallback it says %q", said.Text)
	}
}

// The tests of a group in words, to the digits that say something.
func TestGroupWords(t *testing.T) {
	g := FieldGroup{test: model.Protocol{
		DischargePower: 18.27 * model.Power(model.NominalPerCell), DischargeEndPerCell: 3.123, ConditioningTime: 12.34, ConditioningCurrent: 3.46, Ramp: 1.236, BurstEndPerCell: 3.456,
	}}
	load := fmt.Sprintf("18.3 C x %.1f V per cell down to 3.12 V per cell", float64(model.NominalPerCell))
	if got := g.LoadWords(); got != load {
		t.Errorf("%q, want %q", got, load)
	}
	if got, want := g.BurstWords(), "burst after 12.3 s at 3.5 C, 1.24 C more each second down to 3.46 V per cell"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	g.test.DischargePower, g.test.DischargeCurrent = 0, 9.96
	if got, want := g.LoadWords(), "10 C of steady current down to 3.12 V per cell"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	for _, none := range []model.Protocol{{ConditioningTime: 5, Ramp: 2, BurstEndPerCell: 3}, {ConditioningCurrent: 5, Ramp: 2, BurstEndPerCell: 3}} {
		g.test = none
		if got, want := g.BurstWords(), "burst from full, 2 C more each second down to 3 V per cell"; got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
