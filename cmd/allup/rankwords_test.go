package main

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// rankedOf ranks a build as the command does, first-order, to be changed by a test.
func rankedOf(t *testing.T, text string) *planner.Ranking {
	t.Helper()
	p := planOf(t, text)
	return p.Rank(packSetOf(t, p.Build.Parts), planner.RankOptions{Quick: true})
}

// ownPack makes the pack of an assessment a copy that only the test has.
func ownPack(a *planner.Assessment) *planner.Pack {
	pack, record := *a.Pack, *a.Pack.Pack
	pack.Pack = &record
	a.Pack = &pack
	return a.Pack
}

// The landing voltage is the build's own, or that of a pack's chemistry, which is named where it is not the usual.
func TestLandingInWords(t *testing.T) {
	set := planOf(t, builds(t)["stint"])
	open := planOf(t, strings.Replace(builds(t)["stint"], "land_v_per_cell = 3.5", "", 1))
	for _, c := range []struct {
		p    *planner.Plan
		of   model.Chemistry
		want string
	}{
		{set, model.LiPo, "3.50 V per cell"},
		{set, model.LiIon, "3.50 V per cell"},
		{open, model.LiPo, "3.50 V per cell"},
		{open, model.LiIon, "3.20 V per cell (that of liion, as the build sets no land_v_per_cell)"},
	} {
		if got := landing(c.p, c.of); got != c.want {
			t.Errorf("%s: %q, want %q", c.of, got, c.want)
		}
	}

	r := rankedOf(t, builds(t)["stint"])
	r.Excluded[0].LandPerCell = 2.9 // of no pack that is ranked
	if got, want := landings(r), "3.50 V per cell"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	last := &r.Ranked[len(r.Ranked)-1]
	last.LandPerCell = 3.2
	ownPack(last).Chemistry = model.LiIon
	if got, want := landings(r), "3.50 V per cell (3.20 for liion, as the build sets no land_v_per_cell)"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// Figures of a pack that was not measured as cold, or may be colder, are said to be of a warmer one: below 5 C, and not
// at it.
func TestColdWarning(t *testing.T) {
	const says = " NOT measured as cold as that: time and punch are as at 5 C, and really LESS."
	stint := builds(t)["stint"]
	at := func(celsius string) *planner.Plan {
		return planOf(t, strings.Replace(stint, "pack_temperature_c = 20", celsius, 1))
	}
	air := func(celsius, pack string) *planner.Plan {
		return planOf(t, strings.NewReplacer("temperature_c = 12", "temperature_c = "+celsius, "pack_temperature_c = 20", pack).Replace(stint))
	}
	cold := at("pack_temperature_c = 4.9")
	pack := packSetOf(t, cold.Build.Parts).Pack("sedge-650")
	tested := *pack // as cold as that
	tested.Circuit.Temperature = model.Celsius(-20)
	for _, c := range []struct {
		name string
		p    *planner.Plan
		pack *planner.Pack
		want string
	}{
		{"cold", cold, pack, says},
		{"cold, no pack in particular", cold, nil, says},
		{"cold, and tested so", cold, &tested, ""},
		{"at what was measured", at("pack_temperature_c = 5"), pack, ""},
		{"no temperature", at(""), pack, ""},
		{"no temperature, no pack", at(""), nil, ""},
		{"no temperature in cold air", air("4.9", ""), pack, " Packs are counted as WARM as in their tests: packs as cold as the air (4.9 C) give LESS."},
		{"no temperature in cold air, no pack", air("-10", ""), nil, " Packs are counted as WARM as in their tests: packs as cold as the air (-10 C) give LESS."},
		{"no temperature in cold air, tested so", air("-10", ""), &tested, ""},
		{"no temperature in air as cold as was measured", air("5", ""), pack, ""},
		{"warm packs in cold air", air("-10", "pack_temperature_c = 20"), pack, ""},
	} {
		if got := coldWarning(c.p, c.pack); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// The first lines of a ranking name the best, with what is to be doubted in it, and count.
func TestRankVerdicts(t *testing.T) {
	first := func(r *planner.Ranking) *planner.Assessment { return &r.Ranked[0] }
	made := rankedOf(t, builds(t)["stint"])
	at := slices.IndexFunc(made.Ranked, func(a planner.Assessment) bool { return a.Pack.ID == "sedge-650" })
	made.Ranked[0], made.Ranked[at] = made.Ranked[at], made.Ranked[0]
	for _, c := range []struct {
		name   string
		change func(r *planner.Ranking)
		want   []string // in these lines
		not    string
	}{
		{"as it is", func(*planner.Ranking) {}, []string{" all-up, 11.0 g under 250 g (eu-a1-built); hovers ", " do not. Dry mass 164.8 g. The packs are invented demo records."}, "LABEL"},
		{"a label", func(r *planner.Ranking) { ownPack(first(r)).Basis = planner.BasisLabel }, []string{" That rests on the pack's LABEL ONLY. Best of the soundly tested: "}, "DOUBTFUL"},
		{"a doubt", func(r *planner.Ranking) {
			ownPack(first(r)).Remarks = []planner.Remark{{Code: planner.Doubtful, Subject: "sedge-650", Text: "says two things"}}
		}, []string{" The pack's tested metrics are DOUBTFUL. Best of the soundly tested: "}, "LABEL"},
		{"nothing tested", func(r *planner.Ranking) {
			for i := range r.Ranked {
				ownPack(&r.Ranked[i]).Basis = planner.BasisLabel
			}
		}, []string{"LABEL ONLY."}, "soundly"},
		{"a conflict", func(r *planner.Ranking) {
			r.Plan.Conflicts = []planner.Remark{{Code: planner.MotorMount, Subject: "wick-1404-3800", Text: "is too wide"}, {Subject: "x", Text: "y"}}
		}, []string{" But the build's own parts do NOT go together: wick-1404-3800 is too wide.\n"}, "x y"},
		{"phases", func(r *planner.Ranking) {
			first(r).Cycle = &model.PhaseFlight{Duration: 294}
		}, []string{"; flies its phases for 4.9 min ("}, "hovers"},
		{"no band", func(r *planner.Ranking) { first(r).Band = nil }, []string{" min, punches "}, ""},
		{"one and one", func(r *planner.Ranking) { r.Ranked, r.Excluded = r.Ranked[:1], r.Excluded[:1] }, []string{"\n1 of 2 packs suits; 1 does not. Dry mass 164.8 g."}, ""},
		{"one alone", func(r *planner.Ranking) { r.Ranked, r.Excluded = r.Ranked[:1], nil }, []string{"\n1 of 1 pack suits; 0 do not. Dry mass 164.8 g."}, ""},
		{"two and two", func(r *planner.Ranking) { r.Ranked, r.Excluded = r.Ranked[:2], r.Excluded[:2] }, []string{"\n2 of 4 packs suit; 2 do not. Dry mass 164.8 g."}, ""},
		{"one of one's own suits", func(r *planner.Ranking) { ownPack(&r.Ranked[1]).Source.Layer = "mine" }, []string{" It is an INVENTED demo record; best of your own: "}, "The packs are invented"},
		{"one of one's own does not suit", func(r *planner.Ranking) { ownPack(&r.Excluded[0]).Source.Layer = "mine" }, []string{" It is an INVENTED demo record; none of your own suits."}, "The packs are invented"},
		{"one's own is the best", func(r *planner.Ranking) { ownPack(first(r)).Source.Layer = "mine" }, nil, "INVENTED"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, plan := *made, *made.Plan
			r.Plan, r.Ranked, r.Excluded = &plan, slices.Clone(made.Ranked), slices.Clone(made.Excluded)
			c.change(&r)
			got := strings.Join(rankVerdict(&r), "\n")
			for _, want := range c.want {
				if !strings.Contains(got, want) {
					t.Errorf("%s\ndoes not say %q", got, want)
				}
			}
			if c.not != "" && strings.Contains(got, c.not) {
				t.Errorf("%s\nsays %q", got, c.not)
			}
		})
	}

	// Of none that suits, by what most of them fail.
	r := made
	r.Ranked = nil
	got := rankVerdict(r)
	if want := fmt.Sprintf("NO pack of %d suits Stint 3.5: ", len(r.Excluded)); !strings.HasPrefix(got[0], want) || len(got) != 2 {
		t.Errorf("%q does not begin with %q", got, want)
	}
	if want := "The build weighs 164.8 g without a pack; the limit is 250 g (eu-a1-built)."; got[1] != want {
		t.Errorf("%q, want %q", got[1], want)
	}
	r.Excluded = nil
	if got, want := rankVerdict(r), []string{"No pack suits Stint 3.5: the catalogue has none."}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// Today's pack has its place, its reason, or is not among those that were looked at.
func TestTodaysPlaceInWords(t *testing.T) {
	r := rankedOf(t, builds(t)["stint"])
	says := func(want string) {
		t.Helper()
		if got := today(r); !strings.HasPrefix(got, want) {
			t.Errorf("%q, want %q", got, want)
		}
	}
	at := slices.IndexFunc(r.Ranked, func(a planner.Assessment) bool { return a.Pack.ID == "sedge-650" })
	r.Ranked[at].Rank = 7
	says("Today's pack, sedge-650, is number 7.")
	r.Plan.Pack = r.Excluded[0].Pack.Pack
	says("Today's pack, " + r.Plan.Pack.ID + ", does not suit: it ")
	other := *r.Plan.Pack
	other.ID = "elsewhere"
	r.Plan.Pack = &other
	says("Today's pack, elsewhere, is not among those that the build asks for.")
	r.LeftOut.Demo = []string{"elsewhere"}
	says("Today's pack, elsewhere, is an invented demo record, and is not ranked beside packs of your own.")
}

// The reasons that most packs fail by come first, three at the most, and one pack counts once for two rules that say
// the same.
func TestCommonestReasons(t *testing.T) {
	r := rankedOf(t, builds(t)["stint"])
	counts := map[string]int{}
	for _, a := range r.Excluded {
		said := map[string]bool{}
		for _, reason := range a.Against() {
			said[planner.ShortOf(reason.Code)] = true
		}
		for text := range said {
			counts[text]++
		}
	}
	got := strings.Split(commonest(r.Excluded), ", ")
	if len(counts) < 4 || len(got) != 3 {
		t.Fatalf("%q of %v", got, counts)
	}
	left := 0
	for text, n := range counts {
		if !slices.Contains(got, fmt.Sprintf("%s (%d)", text, n)) {
			left = max(left, n)
		}
	}
	before := len(r.Excluded) + 1
	for _, text := range got {
		name, _, _ := strings.Cut(text, " (")
		n := counts[name]
		if n == 0 || n > before || n < left || text != fmt.Sprintf("%s (%d)", name, n) {
			t.Errorf("%q of %v", got, counts)
		}
		before = n
	}
}

// What other conditions cost is said against the build's own, where both fly.
func TestChangeLine(t *testing.T) {
	height := model.Length(2000)
	p, err := planOf(t, builds(t)["stint"]).In(planner.Conditions{Altitude: &height})
	if err != nil {
		t.Fatal(err)
	}
	a := p.Assess(packSetOf(t, p.Build.Parts).Pack("sedge-650"))
	if got := changeLine(p, &a); got != nil {
		t.Errorf("without other conditions: %q", got)
	}
	home := a
	a.Home = &home
	home.Flight.Duration, a.Flight.Duration = 480, 420
	home.Punch.Thrust, a.Punch.Thrust = model.Force(5*float64(home.Mass)*9.80665), model.Force(4.5*float64(a.Mass)*9.80665)
	want := []string{"Against the build's own conditions (150 m, 12 C; packs at 20 C), on sedge-650: hover time -1.0 min, punch -0.5."}
	if diff := cmp.Diff(want, changeLine(p, &a)); diff != "" {
		t.Error(diff)
	}
	home.Flight.Duration = 0
	want = []string{"Under the build's own conditions (150 m, 12 C; packs at 20 C) it would not fly on sedge-650."}
	if diff := cmp.Diff(want, changeLine(p, &a)); diff != "" {
		t.Error(diff)
	}
}

// Marks are those of the front, of a label, of a doubt, of an invented record and of any other warning, in this order.
func TestMarksOfAPack(t *testing.T) {
	p := planOf(t, builds(t)["stint"])
	set := packSetOf(t, p.Build.Parts)
	label, doubt, other := planner.Remark{Code: planner.LabelOnly}, planner.Remark{Code: planner.Doubtful}, planner.Remark{Code: planner.Unusual}
	for _, c := range []struct {
		front, demo bool
		remarks     []planner.Remark
		want        string
	}{
		{false, false, nil, ""},
		{true, false, nil, "F"},
		{false, true, nil, "I"},
		{false, false, []planner.Remark{label}, "L"},
		{false, false, []planner.Remark{doubt}, "D"},
		{false, false, []planner.Remark{other, other}, "W"},
		{true, true, []planner.Remark{label, doubt, other}, "FLDIW"},
		{true, true, []planner.Remark{label, doubt}, "FLDI"},
	} {
		a := p.Assess(set.Pack("sedge-650"))
		if len(a.WarningCodes()) > 0 {
			t.Fatalf("sedge-650 warns of %v", a.WarningCodes())
		}
		pack := ownPack(&a)
		pack.Remarks, a.Front = c.remarks, c.front
		if !c.demo {
			pack.Source.Layer = "mine"
		}
		if got := marks(&a); got != c.want {
			t.Errorf("%+v: %q, want %q", c, got, c.want)
		}
	}
}

// A warning is said of each of three packs, once for more, and of more than eight with their number.
func TestPackNotesTellOnce(t *testing.T) {
	r := rankedOf(t, builds(t)["stint"])
	for _, c := range []struct {
		packs int
		want  []string
	}{
		{0, nil},
		{1, []string{"p00 is odd"}},
		{3, []string{"p00 is odd", "p01 is odd", "p02 is odd"}},
		{4, []string{"p00, p01, p02, p03: for instance, p00 is odd"}},
		{8, []string{"p00, p01, p02, p03, p04, p05, p06, p07: for instance, p00 is odd"}},
		{9, []string{"p00, p01, p02, p03, p04, p05, p06, p07 and 1 more: for instance, p00 is odd"}},
		{11, []string{"p00, p01, p02, p03, p04, p05, p06, p07 and 3 more: for instance, p00 is odd"}},
	} {
		var ranked []planner.Assessment
		for i := range max(c.packs, 5) {
			a := r.Ranked[0]
			pack := ownPack(&a)
			pack.ID, pack.Remarks = fmt.Sprintf("p%02d", i), nil
			if i < c.packs {
				pack.Remarks = []planner.Remark{{Code: planner.Doubtful, Subject: pack.ID, Text: "is odd"}}
			}
			ranked = append(ranked, a)
		}
		if diff := cmp.Diff(c.want, packNotes(ranked)); diff != "" {
			t.Errorf("%d packs: %s", c.packs, diff)
		}
	}
	// A pack with a rare warning behind many with a common one.
	var ranked []planner.Assessment
	for i := range 6 {
		a := r.Ranked[0]
		pack := ownPack(&a)
		pack.ID = fmt.Sprintf("p%02d", i)
		pack.Remarks = []planner.Remark{{Code: planner.Doubtful, Subject: pack.ID, Text: "is odd"}}
		if i == 5 {
			pack.Remarks = append(pack.Remarks, planner.Remark{Code: planner.LabelOnly, Subject: pack.ID, Text: "has a label"})
		}
		ranked = append(ranked, a)
	}
	if diff := cmp.Diff([]string{"p00, p01, p02, p03, p04, p05: for instance, p00 is odd", "p05 has a label"}, packNotes(ranked)); diff != "" {
		t.Error(diff)
	}
}

// The best is named alone, with its chance where there are others, or among all that the data cannot tell from it.
func TestWhichSuits(t *testing.T) {
	r := rankedOf(t, builds(t)["stint"])
	all := slices.Clone(r.Ranked)
	for i := range all {
		ownPack(&all[i]).ID = fmt.Sprintf("p%d", i)
	}
	chance := func(v float64) *float64 { return &v }
	for _, c := range []struct {
		ranked int
		same   int // that the first does not really beat
		best   []*float64
		want   string
	}{
		{3, 0, []*float64{nil, nil, nil}, "p0 suits Stint 3.5 best:"},
		{3, 0, []*float64{chance(0.83), nil, nil}, "p0 suits Stint 3.5 best, with a chance of 83 %:"},
		{1, 0, []*float64{chance(1)}, "p0 suits Stint 3.5 best:"},
		{2, 1, []*float64{chance(0.6), nil}, "p0 (60 %) or p1 suits Stint 3.5 best: the data CANNOT TELL which. p0:"},
		{5, 3, []*float64{nil, nil, nil, nil, nil}, "p0, p1, p2 or p3 suits Stint 3.5 best: the data CANNOT TELL which. p0:"},
		{6, 4, []*float64{nil, nil, nil, nil, nil, nil}, "p0, p1, p2, p3 or one of 1 more suits Stint 3.5 best: the data CANNOT TELL which. p0:"},
	} {
		r.Ranked = slices.Clone(all[:c.ranked])
		for i := range r.Ranked {
			a := &r.Ranked[i]
			a.Best, a.First = c.best[i], chance(0.70)
			if i > 0 && i <= c.same {
				a.First = chance(0.699)
			}
		}
		if got := whichSuits(r); got != c.want {
			t.Errorf("%d of %d: %q, want %q", c.same, c.ranked, got, c.want)
		}
	}
}

// Bands are told to be drawn or first-order, how many packs were not drawn, and whether the quick ones are off by more
// than 3 % of a band's width.
func TestSureNote(t *testing.T) {
	r := rankedOf(t, builds(t)["stint"])
	r.Ranked = r.Ranked[:3]
	if got, want := sureNote(r), "5-95 %: first-order bands from masses, propulsion and pack. Packs of one build share "; !strings.HasPrefix(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if got, want := sureNote(r), "really beats another of them is under 70 %."; !strings.HasSuffix(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	draw := func(off float64, drawn int) {
		for i := range r.Ranked {
			a := &r.Ranked[i]
			wide := planner.Interval{Low: 10, High: 20}
			a.Drawn, a.Band = i < drawn, &planner.Band{Time: wide, Current: wide, Punch: wide}
			quick := *a.Band
			if i == 0 {
				quick.Punch.High += off * 10
			}
			a.Quick = &quick
		}
	}
	for _, c := range []struct {
		off   float64
		drawn int
		want  []string
	}{
		{0, 3, []string{" draws of masses, propulsion and pack together. First-order bands agree within 3 % of their width. Packs of one build"}},
		{0.029, 3, []string{" First-order bands agree within 3 % of their width."}},
		{0.04, 3, []string{" Bands of first order (--quick) would be off by up to 4 % of a band's width (punch of " + r.Ranked[0].Pack.ID + ")."}},
		{0, 2, []string{" together. 1 pack further down has a first-order band, and flew only in the draws that it may win. First-order"}},
		{0, 1, []string{" together. 2 packs further down have first-order bands, and flew only in the draws that they may win. First-order"}},
	} {
		draw(c.off, c.drawn)
		for _, want := range c.want {
			if got := sureNote(r); !strings.Contains(got, want) {
				t.Errorf("%q does not say %q", got, want)
			}
		}
	}
}

// The notes of a ranking explain the packs that were left out, and nothing where none was.
func TestLeftOutNotes(t *testing.T) {
	if got := leftOutNotes(planner.LeftOut{}); got != nil {
		t.Errorf("%q", got)
	}
	want := []string{
		"1 invented demo pack is left out beside packs of your own; --demo brings them back.",
		"2 packs are not looked at, since the build names those that it asks for: a, b.",
	}
	if diff := cmp.Diff(want, leftOutNotes(planner.LeftOut{Demo: []string{"d"}, Other: []string{"a", "b"}})); diff != "" {
		t.Error(diff)
	}
	if got := leftOutNotes(planner.LeftOut{Other: []string{"a"}}); len(got) != 1 || !strings.HasPrefix(got[0], "1 pack is not looked at") {
		t.Errorf("%q", got)
	}
	if got := leftOutNotes(planner.LeftOut{Demo: []string{"a", "b", "c"}}); len(got) != 1 || !strings.HasPrefix(got[0], "3 invented demo packs are left out") {
		t.Errorf("%q", got)
	}
}

// A speed that a full pack gives stands beside the clause of a threshold that asks for one.
func TestSpeedNote(t *testing.T) {
	p := planOf(t, builds(t)["stint"])
	a := p.Assess(packSetOf(t, p.Build.Parts).Pack("sedge-650"))
	a.Full.PitchSpeed = 40
	got := speedNote(p, &a)
	for _, want := range []string{"With sedge-650 ", " of 40 m/s (144 km/h)", " eu-a1-built also asks for a greatest speed under 19 m/s", "more than 80 J (239.0 g at 25.9 m/s)"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q does not say %q", got, want)
		}
	}
}

// A limit is named with its rule, in the digits that it has.
func TestLimitName(t *testing.T) {
	for _, c := range []struct {
		grams float64
		rule  string
		want  string
	}{{250, "", "250 g"}, {249.475, "us-recreational", "249.47 g (us-recreational)"}, {99.5, "x", "99.5 g (x)"}} {
		l := catalog.BuildLimit{Limit: model.Limit{Mass: model.Mass(c.grams / 1000)}, Rule: c.rule}
		if got := limitName(l); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
