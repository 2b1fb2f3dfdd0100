package planner_test

import (
	"math"
	"strings"
	"testing"
	"testing/fstest"

	"allup/catalog"
)

// TestRecordSigmas: the errors that a record states join the 2 % and 8 % from unit to unit; a circuit without
// them has the 2.5 % and 14 % that a circuit gets wrong of a cell, and 0.4 of charge dependence. Closed form: 3
// and 4 give 5.
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
