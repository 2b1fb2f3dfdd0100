package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestSmallMassesDoNotReadAsNothing: a build that breaks or keeps its limit by a thousandth of a gram, or less, is not
// said to do so by 0.00 g, neither in words nor in a table's cells.
func TestSmallMassesDoNotReadAsNothing(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(repository(t), "testdata", "builds", "stint.toml"))
	if err != nil {
		t.Fatal(err)
	}
	// 239.00 g all-up: 164.8 g dry and a pack of 74.2 g, as README.md shows.
	limit := regexp.MustCompile(`(?s)\[limit\].*?\n\n`)
	at := func(grams string) string {
		return limit.ReplaceAllString(string(text), "[limit]\nmass_g = "+grams+"\ninclusive = false\n\n")
	}
	nothing := regexp.MustCompile(`\b0\.0+ g\b`)
	for _, c := range []struct {
		limit string
		args  []string
		want  []string
	}{
		{"238.996", []string{"weigh", "-"}, []string{"OVER 239 g by 0.004 g."}},
		{"238.9999", []string{"weigh", "-"}, []string{"OVER 239 g by 0.0001 g."}},
		{"239.004", []string{"weigh", "-"}, []string{"under 239 g by 0.004 g."}},
		{"239.00003", []string{"weigh", "-"}, []string{"under 239 g by 0.00003 g."}},
		{"238.996", []string{"rank", "-"}, []string{"makes 239.0 g all-up, 0.004 g over the limit"}},
		{"239.004", []string{"rank", "-"}, []string{"239.0    0.004"}},
		{"238.996", []string{"swap", "-", "without=strap", "with=strap:2.4g"}, []string{
			"NO: OVER 239 g by 0.004 g: 239.0 g all-up (as before)", "Fails before and after: sedge-650 makes 239.0 g all-up, 0.004 g over the limit", "-0.004  -0.004 ",
		}},
		{"250", []string{"swap", "-", "with=label:0.004g"}, []string{"239.0 g all-up (+0.004 g)", "all-up g              239.0  239.0      +0.004", "under limit g          11.0   11.0      -0.004"}},
	} {
		got := tell(t, 200, at(c.limit), c.args...)
		if got.Code == exitFail || got.Code == exitInput {
			t.Errorf("%v with a limit of %s g: exit %d: %s", c.args, c.limit, got.Code, got.Err)
		}
		for _, want := range c.want {
			if !strings.Contains(got.Out, want) {
				t.Errorf("%v with a limit of %s g does not say %q:\n%s", c.args, c.limit, want, got.Out)
			}
		}
		if at := nothing.FindString(got.Out); at != "" {
			t.Errorf("%v with a limit of %s g says %q:\n%s", c.args, c.limit, at, got.Out)
		}
	}
}

// TestNullWhereNothingIsKnown: a build without a pack has no figure of a flight, and no phases.
func TestNullWhereNothingIsKnown(t *testing.T) {
	const build = "rotors = 4\n[limit]\nmass_g = 250\n[slots]\nframe = \"lark-35\"\nmotor = \"wick-1404-3800\"\nprop = \"fen-35x25-3\"\nboard = \"loam-20\"\ngear = [\"mote-rx\"]\n"
	got := tell(t, 0, build, "swap", "-", "without=mote-rx", "--format", "json")
	var whole map[string]any
	if err := json.Unmarshal([]byte(got.Out), &whole); err != nil {
		t.Fatal(err)
	}
	for _, side := range []string{"before", "after"} {
		known := map[string]bool{
			"all_up_g": true, "margin_g": true, "spare_g": true, "over_limit_chance": true, "dry_mass_g": true,
			"verdict": true, "broken": true, "reasons": true, "warnings": true,
		}
		for key, v := range whole[side].(map[string]any) {
			if v != nil && !known[key] {
				t.Errorf("%s.%s is %v without a pack, want null", side, key, v)
			}
			if v == nil && known[key] {
				t.Errorf("%s.%s is null and known", side, key)
			}
		}
	}
	if d := whole["delta"].(map[string]any); d["flight_s"] != nil || d["all_up_g"].(float64) >= 0 {
		t.Errorf("delta is %v", d)
	}
}

// TestNoScatterIsUnknown: a scatter of nothing is one that is not known, and a small one is not shown as nothing.
func TestNoScatterIsUnknown(t *testing.T) {
	for v, want := range map[float64]string{0: "-", 0.004: "0.004", 1.26: "1.3"} {
		if got := grownOrNone(v).Text; got != want {
			t.Errorf("%v is shown as %q, want %q", v, got, want)
		}
	}
}
