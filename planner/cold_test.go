package planner_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"allup/planner"
)

// TestColdWidens: below the temperatures that were measured the bands of time and punch widen to the worse
// side, the more so the colder, while the figures stay those at 5 C; at 5 C and above nothing widens.
func TestColdWidens(t *testing.T) {
	cat := parts(t, example)
	// The air stays, so that the pack cools alike in each.
	at := func(celsius float64) (planner.Assessment, []planner.Input) {
		p := plan(t, cat, exampleBuild+fmt.Sprintf("pack_temperature_c = %g\n", celsius))
		a := rank(t, p).Ranked[0]
		var inputs []planner.Input
		for _, u := range p.Uncertain(a.Pack) {
			inputs = append(inputs, u.Input)
		}
		return a, inputs
	}
	check := func(t *rapid.T) {
		celsius := rapid.Float64Range(-29, 4).Draw(t, "celsius")
		colder := rapid.Float64Range(-30, celsius-0.5).Draw(t, "colder")
		known, listed := at(rapid.Float64Range(5, 7).Draw(t, "known"))
		if slices.Contains(listed, planner.InputCold) {
			t.Fatalf("an uncertain input of cold at 5 C and above: %v", listed)
		}
		cold, listed := at(celsius)
		if !slices.Contains(listed, planner.InputCold) {
			t.Fatalf("no uncertain input of cold at %g C: %v", celsius, listed)
		}
		frost, _ := at(colder)
		for _, of := range []struct {
			what string
			band func(*planner.Band) planner.Interval
			is   func(*planner.Assessment) float64
		}{
			{"time", func(b *planner.Band) planner.Interval { return b.Time }, func(a *planner.Assessment) float64 { return float64(a.Duration()) }},
			{"punch", func(b *planner.Band) planner.Interval { return b.Punch }, (*planner.Assessment).PunchRatio},
		} {
			for name, pick := range map[string]func(*planner.Assessment) *planner.Band{
				"drawn": func(a *planner.Assessment) *planner.Band { return a.Band }, "quick": func(a *planner.Assessment) *planner.Band { return a.Quick },
			} {
				below := func(a *planner.Assessment) float64 { return 1 - of.band(pick(a)).Low/of.is(a) }
				if k, c, f := below(&known), below(&cold), below(&frost); !(k < c && c < f || c == 1 && f == 1) {
					t.Errorf("the %s band of %s reaches %.4f below at 5 C, %.4f at %.1f C and %.4f at %.1f C", name, of.what, k, c, celsius, f, colder)
				}
			}
		}
	}
	rapid.Check(t, check)
}

// TestColdAir: a pack that takes off as it was measured and cools below that in the air has the input, too; a
// pack whose own test was as cold does not.
func TestColdAir(t *testing.T) {
	has := func(build, test string) bool {
		p := plan(t, parts(t, example+test), build)
		pack := packOf(t, p, "k")
		return slices.ContainsFunc(p.Uncertain(pack), func(u planner.Uncertain) bool { return u.Input == planner.InputCold })
	}
	air := func(celsius string) string {
		return strings.Replace(exampleBuild, "temperature_c = 20", "temperature_c = "+celsius, 1)
	}
	if !has(air("-10"), "") || has(air("5"), "") {
		t.Errorf("input of cold in air of -10 C %v, of 5 C %v: want it in the first alone", has(air("-10"), ""), has(air("5"), ""))
	}
	if has(air("-10")+"pack_temperature_c = -10\n", "ambient_c = -10\n") {
		t.Error("an input of cold at the temperature of the pack's own test")
	}
	if !has(air("-11")+"pack_temperature_c = -10\n", "ambient_c = -10\n") {
		t.Error("no input of cold below the temperature of the pack's own test")
	}
}
