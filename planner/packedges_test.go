package planner_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// TestTooFewMetrics: a test that does not make a circuit, which no file can hold, leaves the pack to its label, and
// both is said.
func TestTooFewMetrics(t *testing.T) {
	cat := catalog.New()
	cat.Packs["few"] = &catalog.Pack{
		Common: catalog.Common{ID: "few", Mass: 74 * model.Gram}, Chemistry: model.LiPo, Cells: 4, Rated: 650 * model.MilliAmpH,
		Tested: &model.TestedMetrics{MidVoltage: 14.6},
	}
	pack := packSet(t, cat).Pack("few")
	if pack.Basis != planner.BasisLabel || len(pack.Remarks) != 2 || pack.Circuit.Cells != 4 {
		t.Fatalf("%+v", pack)
	}
	if r := pack.Remarks[0]; r.Code != planner.Doubtful || !strings.Contains(r.Text, "needs capacity or energy") {
		t.Errorf("%s: %q", r.Code, r.Text)
	}
	if r := pack.Remarks[1]; r.Code != planner.LabelOnly || !strings.HasPrefix(r.Text, "is taken by its label: ") {
		t.Errorf("%s: %q", r.Code, r.Text)
	}
}

// TestLabelSaysWhatItRestsOn: on how many tested packs of its kind, of between two thirds and one and a half times its
// size, or on none.
func TestLabelSaysWhatItRestsOn(t *testing.T) {
	const label = "[pack.label]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 600\nmass_g = 70\n"
	tested := func(rated float64, burst float64) string {
		return fmt.Sprintf("[pack.t%.0f]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = %g\nmass_g = %g\n[pack.t%.0f.tested]\ncapacity_mah = %g\nmid_voltage_v = 14.5\nburst_power_w = %g\n",
			rated, rated, 0.115*rated, rated, 0.97*rated, burst)
	}
	const none = "usual packs are assumed, as there is no tested pack of its chemistry, cells and like size; see its band"
	for _, c := range []struct {
		what  string
		tests string
		want  string
	}{
		{"none", "", none},
		{"just as small and as large", tested(400, 320) + tested(900, 720), "the median of 2 tested packs of its chemistry, cells and like size are assumed; see its band"},
		{"a little smaller and larger than that", tested(399, 320) + tested(901, 720), none},
		{"one", tested(650, 520), "the median of 1 tested pack of its chemistry, cells and like size are assumed; see its band"},
		{"one in doubt", tested(650, 9000), none},
	} {
		r := packSet(t, parts(t, label, c.tests)).Pack("label").Remarks
		if len(r) != 1 || r[0].Code != planner.LabelOnly || !strings.HasPrefix(r[0].Text, "is known by its label only: 0.9") || !strings.HasSuffix(r[0].Text, c.want) {
			t.Errorf("%s: %v, want %q", c.what, r, c.want)
		}
	}
}

// TestCircuitAgainstItsTests: a circuit of logs whose simulated test misses the tested metrics stays, is doubted, and
// its sigmas cover what it misses.
func TestCircuitAgainstItsTests(t *testing.T) {
	const record = "[pack.mine]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 650\nmass_g = 74\n" +
		"circuit = { capacity_mah = 640, r0_mohm = 39, r1_mohm = 21, tau_s = 20 }\n"
	sound := packSet(t, parts(t, record)).Pack("mine")
	burst := sound.Circuit.Tests(packSet(t, parts(t, example)).Pack("k").Tested.Protocol).BurstPower
	for _, c := range []struct {
		times float64
		doubt bool
	}{{1, false}, {3, true}} {
		text := record + fmt.Sprintf("[pack.mine.tested]\ncapacity_mah = 640\nburst_power_w = %.1f\n", c.times*float64(burst))
		pack := packSet(t, parts(t, text)).Pack("mine")
		if pack.Basis != planner.BasisLogs || pack.Circuit.Capacity != sound.Circuit.Capacity || pack.Circuit.R0 != sound.Circuit.R0 {
			t.Errorf("%v times the burst: the circuit is not that of the logs, but by %s", c.times, pack.Basis)
		}
		if c.doubt != (len(pack.Remarks) == 1) || c.doubt && (pack.Remarks[0].Code != planner.Doubtful || !strings.Contains(pack.Remarks[0].Text, "sigma from its tested burst power")) {
			t.Errorf("%v times the burst: %v", c.times, pack.Remarks)
		}
		if wider := pack.SigmaR > 1.5*sound.SigmaR; wider != c.doubt || pack.SigmaQ != sound.SigmaQ {
			t.Errorf("%v times the burst: sigmas %v and %v, without a test %v and %v", c.times, pack.SigmaQ, pack.SigmaR, sound.SigmaQ, sound.SigmaR)
		}
	}
}

// TestResiduals: of tested packs alone, and as the identification has them.
func TestResiduals(t *testing.T) {
	set := packSet(t, parts(t, example, hybrid))
	if r := set.Residuals("k"); len(r) == 0 {
		t.Error("a tested pack has no residuals")
	}
	if a, b := set.Residuals("h2"), set.Residuals("nobody's"); a != nil || b != nil {
		t.Errorf("by label %v, of nobody's %v", a, b)
	}
}

// TestSmallStatedSigma: what a record states of its error counts, however small.
func TestSmallStatedSigma(t *testing.T) {
	const record = "[pack.mine]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 650\nmass_g = 74\n" +
		"circuit = { capacity_mah = 600, r0_mohm = 40, r1_mohm = 20, tau_s = 20, capacity_sigma_mah = 0.2 }\n"
	if got, want := packSet(t, parts(t, record)).Pack("mine").SigmaQ, math.Hypot(0.02, 0.2/600); math.Abs(got-want) > 1e-12 {
		t.Errorf("0.2 of 600 mAh: %v, want %v", got, want)
	}
}
