package model_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"allup/model"
	"allup/model/bench"
)

func lipo650() (known model.Circuit, label model.Label) {
	curve, err := model.CurveOf(model.LiPo)
	if err != nil {
		panic(err)
	}
	return model.NewCircuit(4, curve, 74*model.Gram), model.Label{Chemistry: model.LiPo, Rated: 650 * model.MilliAmpH}
}

// truePack is what NewCircuit knows, with a capacity and resistances.
func truePack(known model.Circuit) model.Circuit {
	known.Capacity, known.R0, known.R1, known.Tau = 640*model.MilliAmpH, 0.030, 0.016, 20
	return known
}

// TestExplainNames: what is not as usual of a simulated pack is found and named. Metrics alone tell it only
// where a shift of the whole curve that no pack has would be needed otherwise.
func TestExplainNames(t *testing.T) {
	known, label := lipo650()
	lihv := known
	lihv.Curve = curveOf(t, model.LiHV)
	flat := known
	flat.K = -0.1
	for _, c := range []struct {
		name  string
		truth model.Circuit
		shift model.Voltage
		want  string
		curve model.Chemistry
	}{
		{"as usual", known, 0, "", ""},
		{"shifted", known, 0.045, "", ""},
		{"another curve, and shifted", lihv, 0.080, "its open-circuit curve is that of lihv, not of lipo", model.LiHV},
	} {
		truth := truePack(c.truth)
		truth.Shift = c.shift
		e, err := model.Explain(known, label, truth.Tests(model.UsualProtocol(label.Rated, 4)))
		if err != nil {
			t.Fatal(err)
		}
		if _, bad := e.Doubtful(); bad || e.Unusual != c.want || e.OtherCurve != c.curve || e.LeftOut != "" || e.MisfitQ+e.MisfitR > 0 {
			t.Errorf("%s: unusual %q, curve %q, left out %q, misfits %.2f and %.2f, residuals %v; want %q, %q and none",
				c.name, e.Unusual, e.OtherCurve, e.LeftOut, e.MisfitQ, e.MisfitR, e.Residuals, c.want, c.curve)
		}
	}
	// A curve that is low as no other is: only a resistance that hardly depends on charge makes it likely.
	truth := truePack(flat)
	truth.R0, truth.R1, truth.Shift = 0.026, 0.013, -0.087
	e, err := model.Explain(known, label, truth.Tests(model.UsualProtocol(label.Rated, 4)))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(e.Unusual, "less on charge") {
		t.Errorf("a flat pack: %q, residuals %v", e.Unusual, e.Residuals)
	}
}

// TestExplainLeavesOut: of the sound metrics of a simulated pack each is spoilt in turn. It is found, or at
// least covered by the band. (A burst power a fifth off contradicts nothing: any burst power is that of some
// resistance.)
func TestExplainLeavesOut(t *testing.T) {
	known, label := lipo650()
	truth := truePack(known)
	sound := truth.Tests(model.UsualProtocol(label.Rated, 4))
	for name, spoil := range map[string]func(m *model.TestedMetrics, by float64){
		"capacity":    func(m *model.TestedMetrics, by float64) { m.Capacity *= model.Charge(1 + by) },
		"energy":      func(m *model.TestedMetrics, by float64) { m.Energy *= model.Energy(1 + by) },
		"mid voltage": func(m *model.TestedMetrics, by float64) { m.MidVoltage *= model.Voltage(1 + by/4) },
		"burst power": func(m *model.TestedMetrics, by float64) { m.BurstPower *= model.Power(math.Exp(8 * by)) },
	} {
		for _, by := range []float64{-0.2, 0.2} {
			m := sound
			spoil(&m, by)
			e, err := model.Explain(known, label, m)
			if err != nil {
				t.Fatal(err)
			}
			_, bad := e.Doubtful()
			t.Logf("%s %+.0f %%: left out %q, misfits %.2f and %.2f, capacity %+.1f %%, resistance %+.0f %%, %v", name, 100*by, e.LeftOut, e.MisfitQ, e.MisfitR,
				100*float64(e.Circuit.Capacity/truth.Capacity-1), 100*float64(e.Circuit.R0/truth.R0-1), e.Residuals)
			if e.LeftOut != "" && e.LeftOut != name {
				t.Errorf("%s %+.0f %%: left out %q", name, 100*by, e.LeftOut)
			}
			if e.LeftOut == "" && bad && e.MisfitQ+e.MisfitR == 0 {
				t.Errorf("%s %+.0f %%: contradictory, and no misfit", name, 100*by)
			}
			const sigmas = 1.645
			wide := func(s ...float64) float64 { return sigmas * math.Sqrt(s[0]*s[0]+s[1]*s[1]+s[2]*s[2]) }
			if off := math.Abs(float64(e.Circuit.Capacity/truth.Capacity) - 1); off > wide(e.MisfitQ, e.SigmaQ, model.ModelSigmaQ) {
				t.Errorf("%s %+.0f %%: the capacity is %.0f %% off, which the misfit does not cover", name, 100*by, 100*off)
			}
			if off := math.Abs(float64(e.Circuit.R0/truth.R0) - 1); off > wide(e.MisfitR, e.SigmaR, model.ModelSigmaR) {
				t.Errorf("%s %+.0f %%: the resistance is %.0f %% off, which the misfit does not cover", name, 100*by, 100*off)
			}
		}
	}
}

// TestIdentifyPartly: one kind of test fixes what it can, and what the label stands for stays as it is said to be.
func TestIdentifyPartly(t *testing.T) {
	known, label := lipo650()
	truth := truePack(known)
	sound := truth.Tests(model.UsualProtocol(label.Rated, 4))
	discharge, burst := sound, sound
	discharge.BurstPower, discharge.BurstCurrent = 0, 0
	burst.Capacity, burst.Energy, burst.MidVoltage = 0, 0, 0
	for name, c := range map[string]struct {
		m            model.TestedMetrics
		q, r         float64 // how far capacity and resistance may be off
		leastQ, mayR float64 // sigma of capacity at least, of resistance at most
	}{
		"discharge": {discharge, 0.01, 0.35, 0, 0.35},
		"burst":     {burst, 0.12, 0.15, 0.04, 0.2},
	} {
		id, err := model.IdentifyPartly(known, label, c.m)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		q, r := float64(id.Circuit.Capacity/truth.Capacity)-1, float64((id.Circuit.R0+id.Circuit.R1)/(truth.R0+truth.R1))-1
		t.Logf("%s alone: capacity %+.1f %% +- %.1f, resistance %+.0f %% +- %.0f, %v", name, 100*q, 100*id.SigmaQ, 100*r, 100*id.SigmaR, id.Residuals)
		if math.Abs(q) > c.q || math.Abs(r) > c.r || id.SigmaQ < c.leastQ || id.SigmaR > c.mayR {
			t.Errorf("%s alone: capacity %+.3f +- %.3f, resistance %+.3f +- %.3f", name, q, id.SigmaQ, r, id.SigmaR)
		}
	}
	if _, err := model.IdentifyPartly(known, label, model.TestedMetrics{Protocol: sound.Protocol}); err == nil {
		t.Error("no test at all gave a circuit")
	}
}

// TestLogsInAnyOrder: logs and loads in any order give the same circuit to the last bit.
func TestLogsInAnyOrder(t *testing.T) {
	p := benchPacks(t)[0]
	known, label := lipo650()
	d, b, m := tested(t, p, bench.Run{VoltageNoise: 0.005, CurrentNoise: 0.005, Source: rand.NewPCG(8, 3)})
	traces := []model.Trace{d.Trace, b.Trace}
	rates := []model.TestedMetrics{bench.Metrics(m.Protocol, &d, nil)}
	for _, load := range []model.Power{40, 80} {
		reducer := bench.NewDischargeReducer(p.pack, model.Protocol{DischargeEndPerCell: 3.1, DischargePower: load}, bench.ReduceSettings{})
		for _, s := range (bench.Run{VoltageNoise: 0.005, Source: rand.NewPCG(9, uint64(load))}).Discharge(p.circuit, model.ConstantPower(load), 3.1) {
			reducer.Add(s)
		}
		slow, err := reducer.Finish()
		if err != nil {
			t.Fatal(err)
		}
		traces, rates = append(traces, slow.Trace), append(rates, bench.Metrics(m.Protocol, &slow, nil))
	}
	same := func(a, b model.Circuit) bool {
		return a.Capacity == b.Capacity && a.R0 == b.R0 && a.R1 == b.R1 && a.Tau == b.Tau && a.Shift == b.Shift && a.K == b.K
	}
	want, err := model.ExplainLogs(known, label, traces, rates, m)
	if err != nil {
		t.Fatal(err)
	}
	wantRates, err := model.IdentifyRates(known, rates)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for range 4 {
		traces, rates := slices.Clone(traces), slices.Clone(rates)
		rng.Shuffle(len(traces), func(i, j int) { traces[i], traces[j] = traces[j], traces[i] })
		rng.Shuffle(len(rates), func(i, j int) { rates[i], rates[j] = rates[j], rates[i] })
		got, err := model.ExplainLogs(known, label, traces, rates, m)
		if err != nil || !same(got.Circuit, want.Circuit) || got.RMS != want.RMS || got.Sigma != want.Sigma {
			t.Errorf("%v: %+v, want %+v", err, got, want)
		}
		gotRates, err := model.IdentifyRates(known, rates)
		if err != nil || !same(gotRates.Circuit, wantRates.Circuit) {
			t.Errorf("%v: %+v, want %+v", err, gotRates, wantRates)
		}
	}
}

// TestOtherCurveOfLogs: logs of a cell that its label takes for another chemistry name the curve that they
// follow; those of a cell that its label knows do not.
func TestOtherCurveOfLogs(t *testing.T) {
	for _, c := range []struct{ truth, label, want model.Chemistry }{
		{model.LiPo, model.LiPo, ""},
		{model.LiIon, model.LiIon, ""},
		{model.LiHV, model.LiHV, ""},
		{model.LiPo, model.LiIon, model.LiPo},
		{model.LiIon, model.LiPo, model.LiIon},
	} {
		known, label := lipo650()
		label.Chemistry = c.label
		p := benchPacks(t)[0]
		p.circuit.Curve, p.circuit.Shift, p.pack.Chemistry = curveOf(t, c.truth), 0, c.truth
		d, b, m := tested(t, p, bench.Run{VoltageNoise: 0.005, CurrentNoise: 0.005, Source: rand.NewPCG(4, 3)})
		known.Curve = curveOf(t, c.label)
		fit, err := model.ExplainLogs(known, label, []model.Trace{d.Trace, b.Trace}, nil, m)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s labelled %s: RMS %.1f mV, curve %q, own curve %.0f mV off, fallback %q", c.truth, c.label, 1e3*float64(fit.RMS), fit.OtherCurve, 1e3*float64(fit.CurveOff), fit.Fallback)
		if fit.OtherCurve != c.want {
			t.Errorf("%s labelled %s: curve of %q, want %q", c.truth, c.label, fit.OtherCurve, c.want)
		}
	}
}
