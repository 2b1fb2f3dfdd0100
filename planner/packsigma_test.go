package planner_test

import (
	"math"
	"strings"
	"testing"
	"testing/fstest"

	"allup/catalog"
	"allup/planner"
)

// TestRecordSigmas: the errors that a record states join the 2 % and 8 % from unit to unit; a circuit
// without them has the 2.5 % and 14 % that a circuit gets wrong of a cell, and 0.4 of charge dependence. Closed form: 3 and 4 give 5.
func TestRecordSigmas(t *testing.T) {
	const record = `[pack.mine]
chemistry = "lipo"
cells = 4
rated_mah = 650
mass_g = 74
circuit = { capacity_mah = 600, r0_mohm = 40, r1_mohm = 20, tau_s = 20SIGMAS }
`
	for _, c := range []struct {
		sigmas  string
		q, r, k float64
	}{
		{", capacity_sigma_mah = 9, r_sigma_mohm = 3.6, charge_dependence = 0.6, charge_dependence_sigma = 0.07", 0.025, 0.10, 0.07},
		{"", math.Sqrt(0.001025), math.Sqrt(0.026), 0.4},
	} {
		text := strings.Replace(record, "SIGMAS", c.sigmas, 1)
		cat, _, err := catalog.Load(catalog.Layer{Name: "mine", Files: []catalog.File{
			{Name: "mine.toml", FS: fstest.MapFS{"mine.toml": {Data: []byte(text)}}, Path: "mine.toml"},
		}})
		if err != nil {
			t.Fatal(err)
		}
		p := packSet(t, cat).Pack("mine")
		if math.Abs(p.SigmaQ-c.q) > 1e-12 || math.Abs(p.SigmaR-c.r) > 1e-12 || p.SigmaK != c.k {
			t.Errorf("with %q: sigmas %.5f, %.5f and %.2f, want %.5f, %.5f and %.2f", c.sigmas, p.SigmaQ, p.SigmaR, p.SigmaK, c.q, c.r, c.k)
		}
	}
}

// TestLogsAreSurerThanMetrics: of the demo packs, those known by their logs are surer in everything than the same packs known
// by the metrics of those logs.
func TestLogsAreSurerThanMetrics(t *testing.T) {
	b, file := demoBench(t)
	packs, err := planner.ReduceBench(b, catalog.BenchFS(file), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	set := func(circuit bool) *planner.PackSet {
		var text []byte
		for i := range packs {
			if p := packs[i].Record; p != nil {
				record := *p
				if !circuit {
					record.Circuit = nil
				}
				text = append(text, catalog.FormatPack(&record, nil)...)
			}
		}
		cat, _, err := catalog.Load(catalog.Layer{Name: "mine", Files: []catalog.File{{Name: "mine.toml", FS: fstest.MapFS{"mine.toml": {Data: text}}, Path: "mine.toml"}}})
		if err != nil {
			t.Fatal(err)
		}
		return packSet(t, cat)
	}
	logs, metrics := set(true), set(false)
	n := 0
	for i := range packs {
		if packs[i].Record == nil {
			continue
		}
		n++
		l, m := logs.Pack(packs[i].Bench.ID), metrics.Pack(packs[i].Bench.ID)
		if l.Basis != planner.BasisLogs || m.Basis != planner.BasisTested {
			t.Fatalf("%s: bases %s and %s", l.ID, l.Basis, m.Basis)
		}
		t.Logf("%s: sigmas of capacity %.3f and %.3f, of resistance %.3f and %.3f, of charge dependence %.2f and %.2f", l.ID, l.SigmaQ, m.SigmaQ, l.SigmaR, m.SigmaR, l.SigmaK, m.SigmaK)
		if l.SigmaQ > m.SigmaQ || l.SigmaR > m.SigmaR || l.SigmaK > m.SigmaK {
			t.Errorf("%s is less sure by its logs", l.ID)
		}
	}
	if n < 6 {
		t.Errorf("%d packs", n)
	}
}
