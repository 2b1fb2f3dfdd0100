package planner_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"allup/planner"
)

// TestVerdictAtTheEdge: a spare is kept where just it is left, and a limit that is below is broken at itself.
func TestVerdictAtTheEdge(t *testing.T) {
	for _, c := range []struct {
		limit string
		grams float64
		want  planner.Verdict
	}{
		{"mass_g = 250\nspare_g = 2", 247.99, planner.Under},
		{"mass_g = 250\nspare_g = 2", 248, planner.Under},
		{"mass_g = 250\nspare_g = 2", 248.01, planner.SpareShort},
		{"mass_g = 250\nspare_g = 2", 249.99, planner.SpareShort},
		{"mass_g = 250\nspare_g = 2", 250, planner.Over},
		{"mass_g = 250\ninclusive = true", 250, planner.Under},
		{"mass_g = 250\ninclusive = true", 250.01, planner.Over},
		{"mass_g = 250\nsure = 0.95", 249.9, planner.NotSure},
		{"mass_g = 250\nsure = 0.95\nspare_g = 0.2", 249.9, planner.SpareShort}, // what is less wanting is not told
		{"mass_g = 250\nsure = 0.5", 250, planner.Over},
		{"mass_g = 250\nsure = 0.95", 200, planner.Under},
	} {
		if w := limited(t, c.limit, c.grams).Weigh(); w.Verdict != c.want {
			t.Errorf("%.2f g under %q: %s, want %s", c.grams, c.limit, w.Verdict, c.want)
		}
	}
}

// TestWeighIsTheListsSum: the figures of a weighing by hand; the standard uncertainties are those of scale_test.go.
func TestWeighIsTheListsSum(t *testing.T) {
	for _, c := range []struct {
		build        string
		mass, margin float64
		u            float64
	}{
		{exampleBuild, 238.4, 11.6, math.Hypot(uDry, uPack)},
		{strings.Replace(exampleBuild, "pack = \"k\"\n", "", 1), 164.4, 85.6, uDry},
		{strings.NewReplacer("pack = \"k\"\n", "", "mass_g = 60", "mass_g = 160").Replace(exampleBuild), 264.4, -14.4, 0},
	} {
		w := plan(t, parts(t, example), strings.Replace(c.build, "mass_g = 250", "mass_g = 250\nspare_g = 1.5", 1)).Weigh()
		near(t, "sum, g", w.Sum.Grams(), c.mass, 1e-9)
		near(t, "all-up, g", w.Mass.Grams(), c.mass, 1e-9)
		near(t, "margin, g", w.Margin.Grams(), c.margin, 1e-9)
		near(t, "spare, g", w.Spare.Grams(), c.margin-1.5, 1e-9)
		if c.u > 0 {
			near(t, "uncertainty of the sum, g", w.SumExpanded.Grams(), 2*c.u, 1e-9)
			near(t, "uncertainty, g", w.Expanded.Grams(), 2*c.u, 1e-9)
			near(t, "uncertainty of the dry mass, g", w.DryExpanded.Grams(), 2*uDry, 1e-9)
		}
	}
}

// TestSwapYes: a swap can be made where the build after it keeps the limit, breaks no rule that it kept before and
// flies, whatever was wrong before.
func TestSwapYes(t *testing.T) {
	const more = "[frame.small]\nmass_g = 25\nrotors = 4\nmax_prop_in = 3.0\n[pack.light]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 500\nmass_g = 50\nplug = \"xt30\"\n" +
		"[pack.right]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 500\nmass_g = 50\nplug = \"xt60\"\n"
	const plugs = "[packs]\nplug = \"xt60\"\n"
	bare := strings.Replace(exampleBuild, "pack = \"k\"\n", "", 1)
	limit := func(build, to string) string { return strings.Replace(build, "mass_g = 250", to, 1) }
	for _, c := range []struct {
		what, build string
		changes     []string
		under, yes  bool
		newly       int
	}{
		{"lighter", exampleBuild, []string{"pack=light"}, true, true, 0},
		{"over before and after", limit(exampleBuild, "mass_g = 230"), []string{"with=clip:1g"}, false, false, 0},
		{"under the limit now", limit(exampleBuild, "mass_g = 230"), []string{"pack=light"}, true, true, 0},
		{"over now", exampleBuild, []string{"with=stone:20g"}, false, false, 1},
		{"parts do not go together", exampleBuild, []string{"frame=small"}, true, false, 1},
		{"the pack is still the wrong one", exampleBuild + plugs, []string{"with=clip:1g"}, true, false, 0},
		{"the right pack now", exampleBuild + plugs, []string{"pack=right"}, true, true, 0},
		{"without a pack", bare, []string{"with=clip:1g"}, true, true, 0},
		{"a pack now", bare, []string{"pack=light"}, true, true, 0},
		{"a wrong pack now", bare + plugs, []string{"pack=light"}, true, false, 1},
		{"without a pack, over now", bare, []string{"with=stone:99g"}, false, false, 1},
	} {
		s := compare(t, parts(t, example+more), c.build, c.changes...)
		if s.Under() != c.under || s.Yes() != c.yes || len(s.Newly) != c.newly {
			t.Errorf("%s: under the limit %v, can be made %v, newly broken %v; want %v, %v and %d", c.what, s.Under(), s.Yes(), s.Newly, c.under, c.yes, c.newly)
		}
	}
}

// TestSwapWithoutPackBreaks: without a pack a build breaks its limit, its spare or how sure it asks to be, one of them.
func TestSwapWithoutPackBreaks(t *testing.T) {
	bare := strings.Replace(exampleBuild, "pack = \"k\"\n", "", 1) // 164.4 g
	for _, c := range []struct {
		limit string
		code  planner.Code
		says  string
	}{
		{"mass_g = 170", "", ""},
		{"mass_g = 165", planner.OverLimit, "makes 165.4 g without a pack, 0.40 g over the limit"},
		{"mass_g = 167\nspare_g = 2", planner.UnderSpare, "leaves less than the 2.0 g kept back"},
		{"mass_g = 166\nsure = 0.99", planner.UnsureLimit, "has a chance of "},
	} {
		s := compare(t, parts(t, example), strings.Replace(bare, "mass_g = 250", c.limit, 1), "with=clip:1g")
		var got []planner.Code
		for _, r := range s.After.Broken {
			got = append(got, r.Code)
			if !strings.HasPrefix(r.Text, c.says) || r.Subject != "" {
				t.Errorf("%q: of %q it says %q, want %q", c.limit, r.Subject, r.Text, c.says)
			}
		}
		if want := []planner.Code{c.code}; c.code != "" && !slices.Equal(got, want) || c.code == "" && len(got) > 0 {
			t.Errorf("%q: breaks %v, want %q", c.limit, got, c.code)
		}
	}
}
