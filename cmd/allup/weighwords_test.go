package main

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// The first line of a weighing says how the mass stands to the limit, to what is kept back and to how sure it is to be.
func TestWeighVerdicts(t *testing.T) {
	const gram = model.Gram
	p := planOf(t, builds(t)["stint"])
	for _, c := range []struct {
		name   string
		limit  func(l *catalog.BuildLimit)
		change func(w *planner.Weighing)
		want   string
	}{
		{"beyond what is kept back", nil, func(w *planner.Weighing) {}, "under 250 g (eu-a1-built) by 11.0 g, 10.0 g of it beyond the 1.0 g kept back."},
		{"nothing is kept back", func(l *catalog.BuildLimit) { l.Spare = 0 }, func(w *planner.Weighing) {}, "under 250 g (eu-a1-built) by 11.0 g."},
		{
			"less than is kept back", nil, func(w *planner.Weighing) { w.Verdict, w.Margin, w.Spare = planner.SpareShort, 0.6*gram, -0.4*gram },
			"under 250 g (eu-a1-built) by 0.60 g, but that is LESS than the 1.0 g kept back.",
		},
		{"over", nil, func(w *planner.Weighing) { w.Verdict, w.Mass, w.Margin = planner.Over, 251.2*gram, -1.2*gram }, "OVER 250 g (eu-a1-built) by 1.2 g."},
		{"at it", nil, func(w *planner.Weighing) { w.Verdict, w.Mass, w.Margin = planner.Over, 250*gram, 0 }, "NOT under 250 g (eu-a1-built): it is at the limit."},
		{
			"at it, and that counts", func(l *catalog.BuildLimit) { l.Inclusive, l.Spare = true, 0 }, func(w *planner.Weighing) { w.Mass, w.Margin = 250*gram, 0 },
			"at 250 g (eu-a1-built) exactly, which its comparison still includes.",
		},
		{
			"not surely", func(l *catalog.BuildLimit) { l.Sure = 0.999 }, func(w *planner.Weighing) { w.Verdict, w.OverChance = planner.NotSure, 0.034 },
			"under 250 g (eu-a1-built) by 11.0 g, but NOT SURELY: the chance of breaking it is 3 %, and the build asks to be 99.9 % sure.",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			is, build := *p, *p.Build
			is.Build = &build
			if c.limit != nil {
				c.limit(&build.Limit)
			}
			w := planner.Weighing{Plan: &is, Mass: 239 * gram, Margin: 11 * gram, Spare: 10 * gram, Verdict: planner.Under}
			c.change(&w)
			_, after, _ := strings.Cut(weighVerdict(w), " all-up: ")
			if after != c.want {
				t.Errorf("%s\nwant %s", after, c.want)
			}
		})
	}
	bare := planOf(t, builds(t)["no pack"])
	if got, want := weighVerdict(bare.Weigh()), "without a pack weighs "; !strings.Contains(got, want) {
		t.Errorf("%q does not say %q", got, want)
	}
	if got, want := weighVerdict(p.Weigh()), "Stint 3.5 with sedge-650 weighs 239.0 g all-up: "; !strings.HasPrefix(got, want) {
		t.Errorf("%q does not begin with %q", got, want)
	}
}

// A warning about how low the pack may be flown stands once among the notes and once among the warnings: of the pack's
// chemistry, or of LiPo where the build carries none.
func TestWeighWarnsOfLowLanding(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		want int
	}{
		"as it is":              {builds(t)["stint"], 0},
		"below the makers'":     {strings.Replace(builds(t)["stint"], "land_v_per_cell = 3.5", "land_v_per_cell = 2.9", 1), 1},
		"without a pack":        {builds(t)["no pack"] + "\n[flight]\nland_v_per_cell = 2.9\n", 1},
		"without a pack, usual": {builds(t)["no pack"], 0},
	} {
		s := weighScreen(planOf(t, c.text).Weigh())
		low := func(texts []string) (n int) {
			for _, text := range texts {
				if strings.HasPrefix(text, "The pack ") {
					n++
				}
			}
			return n
		}
		if notes, warnings := low(s.Notes), low(s.Warnings); notes != c.want || warnings != c.want {
			t.Errorf("%s: %d notes and %d warnings of it, want %d", name, notes, warnings, c.want)
		}
	}
}

// A mass rests on a scale, on what its record states, or on paper.
func TestMassBasis(t *testing.T) {
	stated := 0.5 * model.Gram
	for want, i := range map[string]model.MassItem{
		"scale": {Weighed: true, Tolerance: &stated}, "stated": {Tolerance: &stated}, "catalogue": {},
	} {
		if got := massBasis(planner.Item{MassItem: i}); got != want {
			t.Errorf("%+v rests on %s, want %s", i, got, want)
		}
	}
}

// What a scale shows is a mass with its unit, and more than nothing.
func TestParseScale(t *testing.T) {
	for text, want := range map[string]model.Mass{"238.1g": 0.2381, "0.001 g": 1e-6, "1kg": 1, "0g": 0, "238.1": 0, "-1g": 0, "some": 0} {
		got, err := parseScale(text)
		if (want == 0) != (err != nil) || err == nil && math.Abs(float64(got-want)) > 1e-15 {
			t.Errorf("%q is %v, %v, want %v", text, got, err, want)
		}
	}
}

// A build that is put on a scale now was weighed with the pack that it carries, or without one, to a tenth of a gram.
func TestWeighedNow(t *testing.T) {
	for name, pack := range map[string]string{"stint": "sedge-650", "no pack": ""} {
		b := buildOf(t, builds(t)[name])
		weighedNow(b, 0.238)
		if b.Scale.Pack != pack || b.Scale.Mass != 0.238 || b.Scale.Tolerance != 1e-4 {
			t.Errorf("%s: %+v", name, *b.Scale)
		}
	}
}

// What the scale said is compared with the list: as much, more or less, from half a hundredth of a gram on, and within
// what the list leaves open or beyond it.
func TestReconciledInWords(t *testing.T) {
	const gram = model.Gram
	p := planOf(t, builds(t)["scaled"])
	weighed := p.Weigh()
	weighing := func(shown, sum model.Mass) planner.Weighing {
		scale, plan, w := *p.Scale, *p, weighed
		scale.Sum, scale.Shown = sum*gram, shown*gram
		plan.Scale, w.Plan = &scale, &plan
		w.DryExpanded, w.Expanded = 0.3*gram, 0.1*gram
		return w
	}
	for _, c := range []struct {
		shown, sum model.Mass
		want       []string
	}{
		{239, 239, []string{"as much as the list, which adds up to 239.0 g. Scale and list agree: up to "}},
		{239.0049, 239, []string{"as much as the list"}},
		{239, 239.0049, []string{"as much as the list"}},
		{239.0051, 239, []string{"0.01 g more than the list", "Scale and list agree"}},
		{239, 239.0051, []string{"0.01 g less than the list", "Scale and list agree"}},
		{239.9, 239, []string{"0.90 g more than the list", "It hides most likely in sedge-650 (62 % of the doubt), the 4 wick-1404-3800 (17 %)"}},
		{249, 239, []string{"10.0 g more than the list", "That is MORE than the ", "Something is on board that the list lacks", "Not on a scale yet: sedge-650 (62 % of the doubt), "}},
		{229, 239, []string{"10.0 g less than the list", "That is MORE than the ", "Something of the list was not on the scale, or"}},
	} {
		w := weighing(c.shown, c.sum)
		notes := reconciledNotes(&w)
		for _, want := range c.want {
			if !strings.Contains(notes[0], want) {
				t.Errorf("%v g on the scale of %v g: %q does not say %q", c.shown, c.sum, notes[0], want)
			}
		}
		// A list that agrees is said of by other screens as well; one that does not is a warning there.
		if said := scaleNote(w.Plan); (len(said) == 1) != strings.Contains(notes[0], "agree") {
			t.Errorf("%v g on the scale of %v g: %q", c.shown, c.sum, said)
		}
	}
	// Of what is known of the rest with another pack is spoken where it is known three times worse.
	for _, c := range []struct {
		dry  model.Mass
		pack string
		want int
	}{{0.375, "sedge-650", 1}, {0.376, "sedge-650", 2}, {0.376, "", 1}} {
		w := weighing(239, 239)
		w.DryExpanded, w.Expanded, w.Plan.Scale.Pack = c.dry, 0.125, c.pack
		if notes := reconciledNotes(&w); len(notes) != c.want {
			t.Errorf("%v with pack %q: %d notes, want %d: %q", c.dry, c.pack, len(notes), c.want, notes)
		}
	}
	bare := planOf(t, builds(t)["stint"]).Weigh()
	if notes := slices.Concat(reconciledNotes(&bare), scaleNote(bare.Plan)); notes != nil {
		t.Errorf("without a scale: %q", notes)
	}
}

// Three places at the most where a difference may hide, none of less than a twentieth of the doubt, none that was
// weighed, the first with what its share is of.
func TestHidingPlaces(t *testing.T) {
	is := func(share float64, count int, weighed bool) planner.Hiding {
		return planner.Hiding{Item: planner.Item{ID: "part", MassItem: model.MassItem{Count: count, Weighed: weighed}}, Share: share}
	}
	for _, c := range []struct {
		hiding []planner.Hiding
		want   string
	}{
		{nil, ""},
		{[]planner.Hiding{is(0.4, 1, false), is(0.3, 2, false), is(0.2, 1, false), is(0.1, 1, false)}, "part (40 % of the doubt), the 2 part (30 %) and part (20 %)"},
		{[]planner.Hiding{is(0.9, 1, false), is(0.05, 1, false), is(0.0499, 1, false)}, "part (90 % of the doubt) and part (5 %)"},
		{[]planner.Hiding{is(0.9, 1, true), is(0.1, 1, false)}, ""},
		{[]planner.Hiding{is(0.6, 1, false), is(0.3, 1, true), is(0.1, 1, false)}, "part (60 % of the doubt)"},
	} {
		if got := hidingPlaces(c.hiding); got != c.want {
			t.Errorf("%+v: %q, want %q", c.hiding, got, c.want)
		}
	}
}

// Four items are said to be weighed first, those of the planner's list that take off most, with what is left.
func TestWeighFirstFour(t *testing.T) {
	w := planOf(t, builds(t)["stint"]).Weigh()
	list := w.WeighFirst()
	if len(list) < 5 {
		t.Fatalf("only %d items", len(list))
	}
	var ids []string
	for _, i := range list[:4] {
		ids = append(ids, i.ID)
	}
	table := weighFirstTable(&w)
	if diff := cmp.Diff(ids, column(t, table, "id")); diff != "" {
		t.Error(diff)
	}
	if got := len(weighFirstJSON(&w)); got != len(list) {
		t.Errorf("JSON has %d of %d", got, len(list))
	}
}

// A chance is one between a half and 0.9999, in per cent or not.
func TestParseSure(t *testing.T) {
	for text, want := range map[string]float64{
		"95%": 0.95, " 95 % ": 0.95, "0.95": 0.95, "50%": 0.5, "99.99%": 0.9999, "0.5": 0.5, "97.5%": 0.975,
	} {
		if got, err := parseSure(text); err != nil || math.Abs(got-want) > 1e-15 {
			t.Errorf("%q is %v, %v, want %v", text, got, err, want)
		}
	}
	for text, want := range map[string]string{
		"49.9%": "allowed: 50% to 99.99%", "99.995%": "allowed: 50% to 99.99%", "95": "allowed: ", "0.95%": "allowed: ", "-95%": "allowed: ",
		"": "it is a chance, such as 95%", "%": "it is a chance", "often": "it is a chance", "nan": "it is a chance", "inf%": "it is a chance", "-inf": "it is a chance", "1e999": "it is a chance",
	} {
		if got, err := parseSure(text); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%q is %v, %v, want %q", text, got, err, want)
		}
	}
}

// Each of several rules is said to be kept, broken, or met exactly by what it does not allow; one rule says nothing.
func TestRulesInWords(t *testing.T) {
	const gram = model.Gram
	named := func(id string, grams model.Mass, inclusive bool) catalog.NamedLimit {
		return catalog.NamedLimit{Limit: model.Limit{Mass: grams * gram, Inclusive: inclusive}, Rule: id}
	}
	below, most := named("below", 250, false), named("most", 249, true)
	for _, c := range []struct {
		rules []catalog.NamedLimit
		mass  model.Mass
		want  []string
	}{
		{[]catalog.NamedLimit{below}, 251, nil},
		{nil, 251, nil},
		{[]catalog.NamedLimit{below, most}, 248.5, []string{
			"248.5 g keeps below by 1.5 g (chance of breaking it under 1 in a million) and keeps most by 0.50 g (chance of breaking it under 1 in a million).",
		}},
		{[]catalog.NamedLimit{below, most}, 249, []string{
			"249.0 g keeps below by 1.0 g (chance of breaking it under 1 in a million) and keeps most by 0.0 g (chance of breaking it under 1 in a million).",
		}},
		{[]catalog.NamedLimit{below, most}, 250, []string{
			"250.0 g is at the limit of below, which asks for less (chance of breaking it > 99 %) and BREAKS most by 1.0 g (chance of breaking it > 99 %).",
		}},
		{[]catalog.NamedLimit{below, most}, 252.5, []string{
			"252.5 g BREAKS below by 2.5 g (chance of breaking it > 99 %) and BREAKS most by 3.5 g (chance of breaking it > 99 %).",
		}},
	} {
		if diff := cmp.Diff(c.want, rulesNote(catalog.BuildLimit{Named: c.rules}, c.mass*gram, model.MassSpread{})); diff != "" {
			t.Errorf("%v g: %s", c.mass, diff)
		}
	}
}

// One mass beside every threshold passes, fails, is at it without passing, or has no limit to keep.
func TestPassWords(t *testing.T) {
	limit := &model.Limit{Mass: 250 * model.Gram}
	for _, c := range []struct {
		limit  *model.Limit
		mass   model.Mass
		passes bool
		want   string
	}{
		{nil, 0.3, false, "no limit"},
		{limit, 0.249, true, "passes"},
		{limit, 0.25, true, "passes"},
		{limit, 0.25, false, "AT IT"},
		{limit, 0.251, false, "FAILS"},
	} {
		a := planner.AgainstThreshold{Threshold: catalog.Threshold{Limit: c.limit}, Mass: c.mass, Passes: c.passes}
		if got := passWord(a); got != c.want {
			t.Errorf("%v g, %v: %q, want %q", c.mass, c.passes, got, c.want)
		}
	}
	// Of a build at the mass of a threshold: the answer of each to a mass of 250 g exactly is by its comparison.
	w := planOf(t, builds(t)["no pack"]).Weigh()
	for _, l := range catalog.Thresholds() {
		if l.Limit == nil {
			continue
		}
		w.Mass = l.Limit.Mass
		want := map[bool]string{true: "passes", false: "AT IT"}[l.Limit.Inclusive]
		if got := rowOf(t, allLimitsTable(&w), l.ID); got[2] != want {
			t.Errorf("%s at its own mass: %q, want %q", l.ID, got[2], want)
		}
	}
}

// A height, an air and a pack's temperature are numbers with a unit that is known, within what the model is made for.
func TestConditionsFromWords(t *testing.T) {
	fromHeight := func(text string) (float64, error) { h, err := parseAltitude(text); return float64(h), err }
	fromAir := func(text string) (float64, error) { k, err := parseAirTemperature(text); return float64(k), err }
	fromPack := func(text string) (float64, error) { k, err := parsePackTemperature(text); return float64(k), err }
	for _, c := range []struct {
		name, text string
		parse      func(string) (float64, error)
		want       float64
		fault      string
	}{
		{"height", "2000m", fromHeight, 2000, ""},
		{"height", " 1.5 km ", fromHeight, 1500, ""},
		{"height", "6500ft", fromHeight, 1981.2, ""},
		{"height", "-500m", fromHeight, -500, ""},
		{"height", "+6000m", fromHeight, 6000, ""},
		{"height", "-501m", fromHeight, 0, "allowed: -500 m to 6000 m"},
		{"height", "6001m", fromHeight, 0, "allowed: -500 m to 6000 m"},
		{"height", "2000", fromHeight, 0, "it has no unit: write it as 2000m or 6500ft"},
		{"height", "2000mi", fromHeight, 0, "its unit is m, km or ft"},
		{"height", "9e9 parsec", fromHeight, 0, "its unit is m, km or ft"},
		{"height", "2,000m", fromHeight, 0, "the comma is the trouble"},
		{"height", "m", fromHeight, 0, "it is a number with its unit, such as 2000m or 6500ft"},
		{"height", "", fromHeight, 0, "it is a number with its unit"},
		{"height", "1.2.3m", fromHeight, 0, "it is a number with its unit"},
		{"height", "nan m", fromHeight, 0, "it is a number with its unit"},
		{"height", "inf m", fromHeight, 0, "it is a number with its unit"},
		{"height", strings.Repeat("9", 400) + "m", fromHeight, 0, "it is a number with its unit"},
		{"air", "30C", fromAir, 303.15, ""},
		{"air", "86F", fromAir, 303.15, ""},
		{"air", "300 K", fromAir, 300, ""},
		{"air", "-30°C", fromAir, 243.15, ""},
		{"air", "50C", fromAir, 323.15, ""},
		{"air", "-30.1C", fromAir, 0, "allowed: -30 C to 50 C"},
		{"air", "50.1C", fromAir, 0, "allowed: -30 C to 50 C"},
		{"air", "30R", fromAir, 0, "its unit is C, F or K"},
		{"air", "30", fromAir, 0, "it has no unit: write it as 30C or 86F"},
		{"pack", "5C", fromPack, 278.15, ""},
		{"pack", "-22F", fromPack, 243.15, ""},
		{"pack", "60C", fromPack, 333.15, ""},
		{"pack", "60.1C", fromPack, 0, "allowed: -30 C to 60 C"},
		{"pack", "-30.1C", fromPack, 0, "allowed: -30 C to 60 C"},
		{"pack", "warm", fromPack, 0, "it is a number with its unit, such as 5C or 41F"},
	} {
		got, err := c.parse(c.text)
		switch {
		case c.fault == "" && (err != nil || math.Abs(got-c.want) > 1e-9):
			t.Errorf("%s %q is %v, %v, want %v", c.name, c.text, got, err, c.want)
		case c.fault != "" && (err == nil || !strings.HasPrefix(err.Error(), c.fault)):
			t.Errorf("%s %.40q is %v, %v, want %q", c.name, c.text, got, err, c.fault)
		}
	}
}
