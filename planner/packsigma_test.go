package planner_test

import (
	"math"
	"strings"
	"testing"
	"testing/fstest"

	"allup/catalog"
)

// TestRecordSigmas: the errors that a record states join the 2 % and 8 % from unit to unit; a circuit
// without them has the fit's usual 3 % and 10 %. Closed form: 5 and 12 give 13, 3 and 4 give 5.
func TestRecordSigmas(t *testing.T) {
	const record = `[pack.mine]
chemistry = "lipo"
cells = 4
rated_mah = 650
mass_g = 74
circuit = { capacity_mah = 600, r0_mohm = 40, r1_mohm = 20, tau_s = 20SIGMAS }
`
	for _, c := range []struct {
		sigmas string
		q, r   float64
	}{
		{", capacity_sigma_mah = 9, r_sigma_mohm = 3.6", 0.025, 0.10},
		{"", math.Sqrt(0.0013), math.Sqrt(0.0164)},
	} {
		text := strings.Replace(record, "SIGMAS", c.sigmas, 1)
		cat, _, err := catalog.Load(catalog.Layer{Name: "mine", Files: []catalog.File{
			{Name: "mine.toml", FS: fstest.MapFS{"mine.toml": {Data: []byte(text)}}, Path: "mine.toml"},
		}})
		if err != nil {
			t.Fatal(err)
		}
		p := packSet(t, cat).Pack("mine")
		if math.Abs(p.SigmaQ-c.q) > 1e-12 || math.Abs(p.SigmaR-c.r) > 1e-12 {
			t.Errorf("with %q: sigmas %.5f and %.5f, want %.5f and %.5f", c.sigmas, p.SigmaQ, p.SigmaR, c.q, c.r)
		}
	}
}
