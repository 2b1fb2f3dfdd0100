package main

import (
	"fmt"
	"testing"

	"allup/catalog"
)

// TestAllLimitsValues compares a mass beside every threshold with the thresholds' own texts.
func TestAllLimitsValues(t *testing.T) {
	text := builds(t)["plover"]
	got := askJSON(t, text, "weigh", "-", "--all-limits")
	w := planOf(t, text).Weigh()
	for i, l := range catalog.Thresholds() {
		at := fmt.Sprintf("all_limits[%d].", i)
		want := values{"rule": l.ID, "where": l.Where, "named": l.ID == "uk-a1", "relieves": l.Relieves, "source": string(l.Source)}
		if l.Limit != nil {
			want["mass_g"], want["inclusive"] = gramsOf(l.Limit.Mass), l.Limit.Inclusive
			// Plover is 260.9 g, over all of them by more than anything that is open.
			want["passes"], want["margin_g"], want["over_limit_chance"] = false, gramsOf(l.Limit.Mass-w.Mass), 1.0
		}
		for key, v := range want {
			checkValues(t, values{key: got[at+key]}, values{key: v}, 1e-3)
		}
	}
}
