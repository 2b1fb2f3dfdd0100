package main

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// secondsOf is a found build that flies for a time and punches at a ratio, at a mass of 200 g.
func secondsOf(like planner.Assessment, seconds, ratio, score float64) planner.FoundBuild {
	x := planner.FoundBuild{Assessment: like}
	x.Mass, x.Band, x.Cycle, x.Score = 0.2, nil, nil, score
	x.Flight.Duration, x.Punch.Thrust = model.Time(seconds), model.Force(ratio*0.2*9.80665)
	return x
}

// The words of a suggestion: the change that helps most or brings a build under its limit, that none does, or only two,
// that nothing is better, and whether two changes do better than one.
func TestSuggestionsInWords(t *testing.T) {
	p := planOf(t, builds(t)["stint"])
	like := p.Assess(packSetOf(t, p.Build.Parts).Pack("sedge-650"))
	today := secondsOf(like, 420, 4, 1).Assessment
	grounded := today
	grounded.Flight.Duration = 0
	suggestion := func(seconds, ratio, score float64, times *float64, changes ...planner.SlotChange) planner.Suggestion {
		return planner.Suggestion{Changes: changes, Build: secondsOf(like, seconds, ratio, score), Times: times}
	}
	prop := planner.SlotChange{Slot: catalog.KindProp, Was: "fen", Now: "reed"}
	gear := planner.SlotChange{Slot: catalog.KindGear, Was: "old", Now: "new"}
	times := func(v float64) *float64 { return &v }
	better, worse, even := suggestion(450, 4.5, 1.2, times(1.2), prop), suggestion(390, 4, 0.9, times(0.9), prop), suggestion(420, 4, 1, times(1), prop)
	pair := func(score float64) *planner.Suggestion {
		s := suggestion(480, 5, score, times(score), gear, prop)
		return &s
	}
	broken := []planner.Remark{{Subject: "sedge-650", Text: "is too heavy"}, {Text: "has no prop"}}
	const says = "prop=reed, 7.5 min, +0.5 min, punch 4.5 (+0.5), 200.0 g all-up, 1.200 times the score."
	const two = "without=old with=new prop=reed, 8.0 min, +1.0 min, punch 5.0 (+1.0), 200.0 g all-up, "
	for _, c := range []struct {
		name string
		s    planner.Suggestions
		want []string
	}{
		{"helps", planner.Suggestions{Suits: true, Today: &today, Singles: []planner.Suggestion{better}}, []string{
			"The one change that helps Stint 3.5 most under 250 g (eu-a1-built): " + says, "No pair of changes suits.", "Look closer: allup swap 'my build.toml' prop=reed",
		}},
		{"helps, and two more", planner.Suggestions{Suits: true, Today: &today, Singles: []planner.Suggestion{better}, Pair: pair(1.3)}, []string{
			"The one change that helps Stint 3.5 most under 250 g (eu-a1-built): " + says, "The best pair: " + two + "1.300 times the score.",
			"Look closer: allup swap 'my build.toml' without=old with=new prop=reed",
		}},
		{"helps, and two no more", planner.Suggestions{Suits: true, Today: &today, Singles: []planner.Suggestion{better}, Pair: pair(1.2)}, []string{
			"The one change that helps Stint 3.5 most under 250 g (eu-a1-built): " + says,
			"No pair of changes does better than that. The best pair: " + two + "1.200 times the score.", "Look closer: allup swap 'my build.toml' prop=reed",
		}},
		{"nothing is better", planner.Suggestions{Suits: true, Today: &today, Singles: []planner.Suggestion{worse, even}}, []string{
			"No change of one part makes Stint 3.5 better by its goal. The nearest: prop=reed, 6.5 min, -0.5 min, punch 4.0 (unchanged), 200.0 g all-up, 0.900 times the score.",
			"No pair of changes suits.", "Look closer: allup swap 'my build.toml' prop=reed",
		}},
		{"as good is not better", planner.Suggestions{Suits: true, Today: &today, Singles: []planner.Suggestion{even}}, []string{
			"No change of one part makes Stint 3.5 better by its goal. The nearest: prop=reed, 7.0 min, unchanged, punch 4.0 (unchanged), 200.0 g all-up, 1.000 times the score.",
			"No pair of changes suits.", "Look closer: allup swap 'my build.toml' prop=reed",
		}},
		{"brings it under", planner.Suggestions{Broken: broken, Today: &today, Singles: []planner.Suggestion{worse}}, []string{
			"As it is, Stint 3.5 does not suit: sedge-650 is too heavy; has no prop.",
			"The one change that makes it suit under 250 g (eu-a1-built) at the least loss: prop=reed, 6.5 min, -0.5 min, punch 4.0 (unchanged), 200.0 g all-up, 0.900 times the score.",
			"No pair of changes suits.", "Look closer: allup swap 'my build.toml' prop=reed",
		}},
		{"only two do", planner.Suggestions{Broken: broken, Today: &today, Pair: pair(0.8)}, []string{
			"As it is, Stint 3.5 does not suit: sedge-650 is too heavy; has no prop.",
			"NO change of one part makes Stint 3.5 suit under 250 g (eu-a1-built); two do: " + two + "0.800 times the score.",
			"Look closer: allup swap 'my build.toml' without=old with=new prop=reed",
		}},
		{"none does", planner.Suggestions{Broken: broken, Today: &today}, []string{
			"As it is, Stint 3.5 does not suit: sedge-650 is too heavy; has no prop.",
			"NO change of one part, nor of two, makes Stint 3.5 suit under 250 g (eu-a1-built).",
		}},
		{"today does not fly", planner.Suggestions{Broken: broken[:1], Today: &grounded, Singles: []planner.Suggestion{suggestion(450, 4.5, 1, nil, prop)}}, []string{
			"As it is, Stint 3.5 does not suit: sedge-650 is too heavy.",
			"The one change that makes it suit under 250 g (eu-a1-built) at the least loss: prop=reed, 7.5 min, punch 4.5, 200.0 g all-up.",
			"No pair of changes suits.", "Look closer: allup swap 'my build.toml' prop=reed",
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.s.Plan, c.s.Looked, c.s.Tried = p, 1200, 1
			s := suggested{&c.s, []string{"allup swap", "'my build.toml'"}}
			got := s.verdict()
			if closer := s.closer(); closer != nil {
				got = append(got, "Look closer: "+strings.Join(closer, " "))
			}
			if diff := cmp.Diff(c.want, got); diff != "" {
				t.Error(diff)
			}
			// Today's row has no change against itself; what does not fly is compared with nothing.
			table := s.screen().Tables[0]
			change := column(t, table, "flight_min_change")
			if len(change) != 1+len(c.s.Singles)+map[bool]int{true: 1}[c.s.Pair != nil] || change[0] != "-" || c.s.Today == &grounded && change[1] != "-" {
				t.Errorf("changes of time: %q", change)
			}
			if c.s.Today != &grounded && len(change) > 1 && change[1] == "-" {
				t.Errorf("changes of time: %q", change)
			}
			if notes := strings.Join(s.screen().Notes, "\n"); !strings.Contains(notes, "out of 1,200 combinations, of which 1 was tried") {
				t.Errorf("%s", notes)
			}
		})
	}
	// In JSON a piece of gear comes on for another.
	s := suggested{&planner.Suggestions{Plan: p, Today: &today, Pair: pair(1.3)}, nil}
	s.Pair.Build.Parts = planner.Selection{Frame: p.Frame, Motor: p.Motor, Prop: p.Prop, Board: p.Board, Pack: p.Pack}
	want := []jsonChange{{"without=old with=new", "old", "new"}, {"prop=reed", "fen", "reed"}}
	if diff := cmp.Diff(want, s.json().(jsonSuggestions).Pair.Changes); diff != "" {
		t.Error(diff)
	}
}

// The words of a search that was stopped say what is left and how good that may be, before anything else.
func TestPartialSearchInWords(t *testing.T) {
	b := buildOf(t, builds(t)["stint"]).Open(catalog.KindProp)
	space := planner.SpaceOf(b, packSetOf(t, b.Parts), nil)
	f, err := planner.Search(context.Background(), b, space, planner.Conditions{}, planner.SearchOptions{Top: 2})
	if err != nil {
		t.Fatal(err)
	}
	whole := searched{f, space, b}
	is := whole.verdict()
	atMost := 1.0625
	for _, c := range []struct {
		name    string
		untried int64
		atMost  *float64
		best    int
		want    []string
	}{
		{"a bound", 1234, &atMost, 2, []string{"PARTIAL: stopped with 1,234 of 5,678,901 combinations not looked at; none of them scores more than 1.062 times the best here.", is[0]}},
		{"no bound", 1, nil, 2, []string{"PARTIAL: stopped with 1 of 5,678,901 combinations not looked at; how good the best of them is, is not known yet.", is[0]}},
		{"none left", 0, nil, 2, []string{"PARTIAL: stopped with 0 of 5,678,901 combinations not looked at.", is[0]}},
		{"nothing found", 99, nil, 0, []string{
			"PARTIAL: stopped with 99 of 5,678,901 combinations not looked at; how good the best of them is, is not known yet.", "Nothing that suits was found by then.",
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			found := *f
			found.Partial, found.Untried, found.Combinations, found.AtMost, found.Best = true, c.untried, 5678901, c.atMost, f.Best[:c.best]
			s := searched{&found, space, b}
			got := s.verdict()
			if c.best > 0 {
				got[1] = strings.Replace(got[1], "5,678,901 combinations", grouped(f.Combinations)+" combinations", 1)
			}
			if diff := cmp.Diff(c.want, got[:2]); diff != "" {
				t.Error(diff)
			}
		})
	}

	// Today's build is told beside the best where it flies, and why it does not suit.
	found := *f
	s := searched{&found, space, b}
	found.Today = nil
	if got := s.verdict(); len(got) != 2 {
		t.Errorf("without today's: %q", got)
	}
	grounded := *f.Today
	grounded.Flight.Duration = 0
	if found.Today = &grounded; len(s.verdict()) != 2 {
		t.Errorf("today's does not fly: %q", s.verdict())
	}
	found.Today = f.Today
	if got := s.verdict(); len(got) != 3 || !strings.HasPrefix(got[2], "Today's parts with sedge-650: ") || strings.Contains(got[2], "do not suit") {
		t.Errorf("with today's: %q", got)
	}
	price := 123.456
	found.Best = append([]planner.FoundBuild{}, f.Best...)
	found.Best[0].Price, found.Best[0].Currency = &price, "EUR"
	if got := s.verdict()[0]; !strings.Contains(got, " g all-up, for 123.46 EUR.") {
		t.Errorf("with a price: %q", got)
	}
	ownPack(&found.Best[0].Assessment).Source.Layer = "mine"
	if got := s.verdict()[1]; strings.Contains(got, "invented") {
		t.Errorf("one's own pack: %q", got)
	}
	if got := is[1]; !strings.HasSuffix(got, " Its pack is an invented demo record.") {
		t.Errorf("a demo pack: %q", got)
	}
}

// Builds found stand with their price, their marks and how many more have the same figures.
func TestFoundBuildsInTables(t *testing.T) {
	p := planOf(t, builds(t)["stint"])
	like := p.Assess(packSetOf(t, p.Build.Parts).Pack("sedge-650"))
	price := 99.5
	build := func(alike int64, price *float64, unpriced ...string) planner.FoundBuild {
		x := secondsOf(like, 400, 4, 1)
		x.Parts = planner.Selection{Frame: p.Frame, Motor: p.Motor, Prop: p.Prop, Board: p.Board, Gear: p.Gear, Pack: p.Pack}
		x.Alike, x.Price, x.Unpriced, x.Currency = alike, price, unpriced, "EUR"
		return x
	}
	s := searched{&planner.Found{Plan: p, Priced: true, Best: []planner.FoundBuild{build(0, nil), build(1234, &price, "fen")}}, planner.SpaceOf(p.Build, packSetOf(t, p.Build.Parts), nil), p.Build}
	table := s.table(s.Best, "rank")
	for key, want := range map[string][]string{
		"build_price": {"-", "99.50"}, "marks": {"I", "IP"}, "parts": {"sedge-650", "sedge-650 (and 1,234 more with the same figures)"},
	} {
		if diff := cmp.Diff(want, column(t, table, key)); diff != "" {
			t.Errorf("%s: %s", key, diff)
		}
	}
	// The mark of an invented record is that of any part.
	own := build(0, nil)
	ownPack(&own.Assessment).Source.Layer = "mine"
	if got := foundMarks(&own); got != "I" {
		t.Errorf("demo parts with one's own pack: %q", got)
	}
	s.Best = s.Best[1:]
	if got := strings.Join(s.remarkNotes(), "\n"); !strings.Contains(got, "No price in EUR is known of fen: each counts as the middle") || strings.Contains(got, "hovers that were flown") {
		t.Errorf("%s", got)
	}
	// Hovers that were flown are of other rotors where the best is predicted without them.
	s.build = buildOf(t, builds(t)["flown"])
	if got := strings.Join(s.remarkNotes(), "\n"); !strings.Contains(got, "The hovers that were flown are of other rotors than most of these") {
		t.Errorf("%s", got)
	}
	flown := planOf(t, builds(t)["flown"])
	s.Plan = flown
	if got := strings.Join(s.remarkNotes(), "\n"); flown.Propulsion.Calibration == nil || strings.Contains(got, "hovers that were flown") {
		t.Errorf("%s", got)
	}
}

// A front of many builds is shown by twelve of them, from one end to the other, evenly.
func TestFewOfAFront(t *testing.T) {
	s := searched{&planner.Found{}, planner.SearchSpace{}, nil}
	front := func(n int) []planner.FoundBuild {
		list := make([]planner.FoundBuild, n)
		for i := range list {
			list[i].Alike = int64(i)
		}
		return list
	}
	places := func(list []planner.FoundBuild) (at []int64) {
		for i := range list {
			at = append(at, list[i].Alike)
		}
		return at
	}
	for n, want := range map[int][]int64{
		0: nil, 1: {0}, 12: {0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11}, 13: {0, 1, 2, 3, 4, 5, 7, 8, 9, 10, 11, 12}, 34: {0, 3, 6, 9, 12, 15, 18, 21, 24, 27, 30, 33},
	} {
		if diff := cmp.Diff(want, places(s.fewOf(front(n)))); diff != "" {
			t.Errorf("%d: %s", n, diff)
		}
	}
	for n, want := range map[int]string{
		1: "Front: 1 build that no other beats in flight time and punch", 12: "Front: 12 builds that no other beats in flight time and punch",
		13: "Front: 13 builds that no other beats in flight time and punch, 12 of them here",
	} {
		s.Front = front(n)
		if got := s.frontTitle(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	s.Priced, s.Front = true, front(13)
	if got := s.frontTitle(); !strings.HasSuffix(got, "that no other beats in flight time, punch and price, 12 of them here") {
		t.Errorf("%q", got)
	}
}

// What became of all combinations is told in the order of the proofs, each in words of its own.
func TestCountsOfASearch(t *testing.T) {
	s := searched{&planner.Found{Combinations: 12345, Tried: 1}, planner.SearchSpace{}, nil}
	if got, want := s.countNotes()[0], "Of 12,345 combinations 1 was tried."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	s.Tried, s.Excluded = 1000, map[planner.Code]int64{}
	words := map[string]bool{}
	for i, code := range planner.ProofsOrder() {
		s.Excluded[code] = int64(i)
		text := proofText(code)
		if text == string(code) || words[text] {
			t.Errorf("%s is %q", code, text)
		}
		words[text] = true
	}
	got := s.countNotes()[0]
	if want := "Of 12,345 combinations 1,000 were tried; left out without a trial: 1 with cells that the build does not take, 2 with a wrong chemistry, 3 with a wrong plug, "; !strings.HasPrefix(got, want) {
		t.Errorf("%q does not begin with %q", got, want)
	}
	if want := fmt.Sprintf(", %d of parts with the same figures as one that was tried.", len(planner.ProofsOrder())-1); !strings.HasSuffix(got, want) || strings.Contains(got, " 0 ") {
		t.Errorf("%q does not end with %q", got, want)
	}
}

// Whole numbers have a comma every three digits.
func TestGrouped(t *testing.T) {
	for n, want := range map[int64]string{0: "0", 999: "999", 1000: "1,000", 123456: "123,456", 1234567: "1,234,567", 1000000000000: "1,000,000,000,000"} {
		if got := grouped(n); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// The parts that are named are those that there was a choice of, each with its slot where asked.
func TestChosenPartsInWords(t *testing.T) {
	p := planOf(t, builds(t)["stint"])
	x := planner.FoundBuild{Parts: planner.Selection{Frame: p.Frame, Motor: p.Motor, Prop: p.Prop, Board: p.Board, Gear: p.Gear, Pack: p.Pack}}
	two := searched{space: planner.SearchSpace{
		Frames: []*catalog.Frame{p.Frame, p.Frame}, Motors: []*catalog.Motor{p.Motor, p.Motor}, Props: []*catalog.Prop{p.Prop, p.Prop}, Boards: []*catalog.Board{p.Board, p.Board},
		Gear: [][]*catalog.Gear{{p.Gear[0], p.Gear[1]}, {p.Gear[1]}, {p.Gear[2], p.Gear[1]}},
	}}
	one := searched{space: planner.SearchSpace{
		Frames: two.space.Frames[:1], Motors: two.space.Motors[:1], Props: two.space.Props[:1], Boards: two.space.Boards[:1],
		Gear: [][]*catalog.Gear{{p.Gear[0]}, {p.Gear[1]}, {p.Gear[2]}},
	}}
	for _, c := range []struct {
		s       searched
		slotted bool
		want    string
	}{
		{one, false, "sedge-650"},
		{one, true, "pack sedge-650"},
		{two, false, "lark-35, wick-1404-3800, fen-35x25-3, loam-20, eyrie-cam + mote-rx, sedge-650"},
		{two, true, "frame lark-35, motor wick-1404-3800, prop fen-35x25-3, board loam-20, gear eyrie-cam + mote-rx, pack sedge-650"},
	} {
		if got := c.s.parts(&x, c.slotted); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// The words of a size say what it is without a limit and under it, what binds it, and how far it is beyond what was
// tested.
func TestSizesInWords(t *testing.T) {
	p := planOf(t, builds(t)["stint"])
	sizing := func() *planner.Sizing {
		return &planner.Sizing{Plan: p, Cells: 4, Chemistry: model.LiPo, Lightest: 0.04, Heaviest: 0.1, LeastPunch: 3.5, Most: 0.085, Families: []planner.SizedFamily{{
			Name: "median", Free: planner.Sized{Pack: 0.15, Mass: 0.32, Time: 660, Punch: 3}, Limited: &planner.Sized{Pack: 0.08, Mass: 0.249, Time: 492, Punch: 4.44}, Binds: planner.BindsLimit,
			Worth: planner.GramWorth{
				Dead: -2.26, Pack: 1.31, DeadBand: planner.Interval{Low: -3, High: -1.54}, PackBand: planner.Interval{Low: -0.5, High: 2.04}, TimeBand: planner.Interval{Low: 420, High: 540},
			},
		}, {Name: "best fifth"}}}
	}
	const under = "Stint 3.5 flies longest under 250 g (eu-a1-built) with a pack of about 80 g: 8.2 min (7.0 to 9.0), punch 4.4 times its weight; "
	const free = "Without a limit a pack of about 150 g would fly longest: 11.0 min"
	for _, c := range []struct {
		name   string
		change func(s *planner.Sizing, f *planner.SizedFamily)
		want   []string
	}{
		{"the limit", func(*planner.Sizing, *planner.SizedFamily) {}, []string{
			under + "the limit keeps it from a larger one.", free + ".", "One gram more of dead mass: -2.3 s (-3.0 to -1.5). One gram more of pack: +1.3 s (-0.5 to +2.0).",
		}},
		{"greatest pack", func(_ *planner.Sizing, f *planner.SizedFamily) { f.Binds = planner.BindsPackMass }, []string{under + "the build's greatest pack mass keeps it from a larger one."}},
		{"bay", func(_ *planner.Sizing, f *planner.SizedFamily) { f.Binds = planner.BindsBay }, []string{under + "the bay keeps it from a larger one."}},
		{"punch", func(_ *planner.Sizing, f *planner.SizedFamily) { f.Binds = planner.BindsPunch }, []string{under + "the smallest punch asked for (3.5) decides its size."}},
		{"nothing", func(_ *planner.Sizing, f *planner.SizedFamily) { f.Binds = planner.BindsNothing }, []string{under + "a larger one would fly shorter."}},
		{"as far as was tested", func(s *planner.Sizing, _ *planner.SizedFamily) { s.Heaviest = 0.1 }, []string{under + "the limit keeps it from a larger one.", free + "."}},
		{"far beyond", func(s *planner.Sizing, _ *planner.SizedFamily) { s.Heaviest = 0.0999 }, []string{
			under + "the limit keeps it from a larger one.", free + ", far beyond the tested packs (40 to 100 g): that says in which direction it goes, not which pack to buy.",
		}},
		{"phases", func(_ *planner.Sizing, f *planner.SizedFamily) {
			f.Hover = &planner.GramWorth{Dead: -3, Pack: 2, DeadBand: planner.Interval{Low: -4, High: -2}, PackBand: planner.Interval{Low: 1, High: 3}}
		}, []string{
			under + "the limit keeps it from a larger one.", free + ".",
			"One gram more of dead mass: -2.3 s (-3.0 to -1.5), in hover -3.0 s (-4.0 to -2.0). One gram more of pack: +1.3 s (-0.5 to +2.0), in hover +2.0 s (+1.0 to +3.0).",
		}},
		{"none flies", func(_ *planner.Sizing, f *planner.SizedFamily) { f.Limited = nil }, []string{"NO size of pack suits Stint 3.5 under 250 g (eu-a1-built): none flies.", free + "."}},
		{"none suits", func(s *planner.Sizing, f *planner.SizedFamily) {
			f.Limited = nil
			s.Remarks = []planner.Remark{{Code: planner.FewMembers, Text: "few"}, {Code: planner.NoSize, Text: "all are too heavy"}, {Code: planner.NoSize, Text: "or too large"}}
		}, []string{"NO size of pack suits Stint 3.5 under 250 g (eu-a1-built): all are too heavy.", free + "."}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := sizing()
			c.change(s, &s.Families[0])
			got := sizeVerdict(s)
			if diff := cmp.Diff(c.want, got[:min(len(got), len(c.want))]); diff != "" {
				t.Error(diff)
			}
		})
	}

	// Notes say where the size is no more than a bound, and where it rests on a volume.
	for _, c := range []struct {
		name   string
		change func(s *planner.Sizing, f *planner.SizedFamily)
		says   map[string]bool
	}{
		{"as it is", func(*planner.Sizing, *planner.SizedFamily) {}, map[string]bool{"it may be larger still": false, "worked out from its volume": false, "Hover from full": true, "Mark I": false}},
		{"at the bound", func(_ *planner.Sizing, f *planner.SizedFamily) { f.AtBound = true }, map[string]bool{"it may be larger still": true}},
		{"the bay would bind", func(s *planner.Sizing, _ *planner.SizedFamily) { s.MostBinds = planner.BindsBay }, map[string]bool{"worked out from its volume": true}},
		{"the bay binds", func(_ *planner.Sizing, f *planner.SizedFamily) { f.Binds = planner.BindsBay }, map[string]bool{"worked out from its volume": true}},
		{"an invented pack", func(s *planner.Sizing, _ *planner.SizedFamily) {
			s.Nearest = []planner.Assessment{p.Assess(packSetOf(t, p.Build.Parts).Pack("sedge-650"))}
		}, map[string]bool{"Mark I": true}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := sizing()
			c.change(s, &s.Families[0])
			notes := strings.Join(sizeScreen(s).Notes, "\n")
			for text, want := range c.says {
				if strings.Contains(notes, text) != want {
					t.Errorf("says %q: %v\n%s", text, !want, notes)
				}
			}
		})
	}
}

// A curve has fourteen points at the most on a screen and bars as long as its times, of another character beyond what
// the rules leave.
func TestSizeCurve(t *testing.T) {
	for _, c := range []struct{ points, rows int }{{0, 0}, {1, 1}, {14, 14}, {15, 8}, {28, 14}, {29, 10}} {
		f := planner.SizedFamily{Name: "median", Free: planner.Sized{Time: 640}}
		for i := range c.points {
			f.Curve = append(f.Curve, planner.Sized{Pack: model.Mass(i+1) / 1000, Time: model.Time(20 * (i + 1)), Punch: 4})
		}
		if got := len(sizeCurve(&planner.Sizing{Most: 0.0145}, &f).Rows); got != c.rows {
			t.Errorf("%d rows of %d points, want %d", got, c.points, c.rows)
		}
	}
	f := planner.SizedFamily{Name: "median", Free: planner.Sized{Time: 640}, Curve: []planner.Sized{
		{Pack: 0.01, Time: 4}, {Pack: 0.02, Time: 20}, {Pack: 0.03, Time: 320}, {Pack: 0.031, Time: 640}, {Pack: 0.04, Time: 29}, {Pack: 0.05, Time: 31},
	}}
	want := []string{"=", "=", strings.Repeat("=", 16), strings.Repeat("-", 32), "-", "--"}
	if diff := cmp.Diff(want, column(t, sizeCurve(&planner.Sizing{Most: 0.03}, &f), "bar")); diff != "" {
		t.Error(diff)
	}
}
