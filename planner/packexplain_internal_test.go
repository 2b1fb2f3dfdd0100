package planner

import (
	"strings"
	"testing"

	"allup/catalog"
	"allup/model"
)

// TestExplainSays: of tested metrics that do not go together it is said what is assumed of the pack, or which one is
// left out, or which is missed most; and that a circuit of more than 1.3 times the rated capacity is another pack's.
func TestExplainSays(t *testing.T) {
	residuals := []model.Residual{{Metric: "capacity", Sigma: 1}, {Metric: "energy", Sigma: -12.4}, {Metric: "shift", Sigma: 4.2}}
	shift := []model.Residual{{Metric: "shift", Sigma: -4.2}}
	few := []model.Residual{{Metric: "energy", Sigma: 2.9}}
	for _, c := range []struct {
		what        string
		explanation model.Explanation
		delivers    float64 // times the rated capacity
		want        []string
	}{
		{"as usual", model.Explanation{Identification: model.Identification{Residuals: few}}, 1, nil},
		{"unusual", model.Explanation{Identification: model.Identification{Residuals: residuals}, Unusual: "it is warm"}, 1, []string{"unusual: has tested metrics that go together only if it is warm: that is assumed"}},
		{"left out", model.Explanation{Identification: model.Identification{Residuals: residuals}, LeftOut: "energy"}, 1, []string{"doubtful: has a tested energy that its other metrics contradict, by 12 sigma"}},
		{"contradicting", model.Explanation{Identification: model.Identification{Residuals: residuals}}, 1, []string{"doubtful: has tested metrics that contradict each other: no circuit comes nearer than 12.4 sigma to the energy,"}},
		{"of another height", model.Explanation{Identification: model.Identification{Residuals: shift}}, 1, []string{"doubtful: has tested metrics that contradict each other: no circuit comes nearer than 4.2 sigma to the usual height of its curve,"}},
		{"just as large", model.Explanation{Identification: model.Identification{Residuals: few}}, 1.3, nil},
		{"larger", model.Explanation{Identification: model.Identification{Residuals: few}}, 1.75, []string{"doubtful: has tested metrics of a pack with 175 % of the rated capacity"}},
		{"larger, and unusual", model.Explanation{Unusual: "it is warm"}, 1.31, []string{"unusual: ", "doubtful: has tested metrics of a pack with 131 % of the rated capacity"}},
	} {
		p := Pack{Pack: &catalog.Pack{Common: catalog.Common{ID: "k"}, Rated: 1}}
		c.explanation.Circuit.Capacity = model.Charge(c.delivers)
		p.explain(&c.explanation)
		same := len(p.Remarks) == len(c.want)
		for i := range min(len(p.Remarks), len(c.want)) {
			same = same && p.Remarks[i].Subject == "k" && strings.HasPrefix(string(p.Remarks[i].Code)+": "+p.Remarks[i].Text, c.want[i])
		}
		if !same {
			t.Errorf("%s: %v, want %q", c.what, p.Remarks, c.want)
		}
	}
}
