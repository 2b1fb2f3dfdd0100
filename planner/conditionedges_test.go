package planner_test

import (
	"fmt"
	"strings"
	"testing"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// TestTemperatureWarnings: packs and air below 5 C, and packs above 45 C, are outside of what was measured; 5 C and 45
// C are not.
func TestTemperatureWarnings(t *testing.T) {
	cat := parts(t, example)
	for _, c := range []struct {
		air, pack string
		want      string // what it begins with; "" for none
	}{
		{"20", "", ""},
		{"5", "", ""},
		{"4.94", "", "air of 4.9 C cools the packs: what resistance they have below 5 C"},
		{"5", "5", ""},
		{"20", "4.94", "packs at 4.9 C: their resistance is known down to 5 C and taken as there, 1.55 times that at 25 C"},
		{"4", "5", "air of 4 C cools the packs"},
		{"-10", "-10", "packs at -10 C: their resistance is known down to 5 C"},
		{"20", "45", ""},
		{"20", "45.04", "packs at 45 C: their resistance is known up to 45 C"},
		{"20", "46.16", "packs at 46.2 C: their resistance is known up to 45 C"},
	} {
		build := strings.Replace(exampleBuild, "temperature_c = 20", "temperature_c = "+c.air, 1)
		if c.pack != "" {
			build += "pack_temperature_c = " + c.pack + "\n"
		}
		var said []string
		for _, r := range plan(t, cat, build).Warnings {
			if r.Code == planner.PackTemperature {
				said = append(said, r.Text)
			}
		}
		switch {
		case c.want == "" && len(said) > 0, len(said) > 1:
			t.Errorf("air of %s C, packs of %q: %q", c.air, c.pack, said)
		case c.want != "" && (len(said) == 0 || !strings.HasPrefix(said[0], c.want)):
			t.Errorf("air of %s C, packs of %q: %q, want %q", c.air, c.pack, said, c.want)
		}
	}
}

// TestHome: a plan under other conditions knows the one of the file's, however many steps it is away; the file's own
// has none beside it.
func TestHome(t *testing.T) {
	p := plan(t, parts(t, example), exampleBuild)
	in := func(p *planner.Plan, c planner.Conditions) *planner.Plan {
		q, err := p.In(c)
		if err != nil {
			t.Fatal(err)
		}
		return q
	}
	height, cold := model.Length(1500), model.Celsius(5)
	high := in(p, planner.Conditions{Altitude: &height})
	if p.Home() != nil || in(p, planner.Conditions{}).Home() != nil {
		t.Error("under its own conditions a plan has another home")
	}
	if high.Home() != p || in(high, planner.Conditions{Pack: &cold}).Home() != p || in(high, planner.Conditions{}).Home() != p {
		t.Error("under other conditions a plan does not know the file's")
	}
}

// TestChangeOf: a figure here less the same at home, where both are known.
func TestChangeOf(t *testing.T) {
	weighs := func(grams float64) *planner.Assessment {
		a := &planner.Assessment{}
		a.Mass = model.Mass(grams) * model.Gram
		return a
	}
	of := func(a *planner.Assessment) (float64, bool) { return a.Mass.Grams(), a.Mass > 0 }
	here := weighs(240)
	if change, ok := here.ChangeOf(of); ok || change != 0 {
		t.Errorf("without a home it changes by %v, %v", change, ok)
	}
	for _, c := range []struct {
		here, home float64
		change     float64
		ok         bool
	}{{240, 250, -10, true}, {250, 240, 10, true}, {0, 240, 0, false}, {240, 0, 0, false}} {
		here := weighs(c.here)
		here.Home = weighs(c.home)
		change, ok := here.ChangeOf(of)
		if ok != c.ok || ok && fmt.Sprintf("%.9f", change) != fmt.Sprintf("%.9f", c.change) {
			t.Errorf("%v g here, %v g at home: %v, %v", c.here, c.home, change, ok)
		}
	}
}

// TestLimitText: a limit in words, to a hundredth of a gram.
func TestLimitText(t *testing.T) {
	for _, c := range []struct {
		limit model.Limit
		want  string
	}{
		{model.Limit{Mass: 250 * model.Gram}, "below 250 g"},
		{model.Limit{Mass: 249.4758 * model.Gram}, "below 249.48 g"},
		{model.Limit{Mass: 249.4758 * model.Gram, Inclusive: true}, "at most 249.48 g"},
	} {
		if got := planner.LimitText(c.limit); got != c.want {
			t.Errorf("%v g, inclusive %v: %q, want %q", c.limit.Mass.Grams(), c.limit.Inclusive, got, c.want)
		}
	}
}

// TestMeritAtTheEdge: what does not fly, or lifts nothing, has no merit, whatever counts; a price counts above zero.
func TestMeritAtTheEdge(t *testing.T) {
	merit := func(g catalog.Goal, time model.Time, punch, price float64) planner.Merit {
		p := planner.Plan{Build: &catalog.Build{Goal: g}}
		return p.Merit(time, punch, &catalog.Pack{Common: catalog.Common{Price: &price, Currency: "EUR"}})
	}
	both, onlyTime, onlyPunch := catalog.Goal{Time: 1, Punch: 1}, catalog.Goal{Time: 1}, catalog.Goal{Punch: 1}
	dear := catalog.Goal{Time: 1, Price: 1, Currency: "EUR"}
	for _, c := range []struct {
		goal   catalog.Goal
		time   model.Time
		punch  float64
		price  float64
		want   float64
		priced bool
	}{
		{both, 0, 2, 0, 0, false},
		{both, 60, 0, 0, 0, false},
		{onlyTime, 60, 0, 0, 0, false},
		{onlyPunch, 0, 2, 0, 0, false},
		{onlyTime, 0.6, 0.5, 0, 0.01, false},
		{onlyPunch, 0.6, 0.5, 0, 0.5, false},
		{dear, 120, 1, 0.5, 2 * 2 / 2. * 1.4142135623730951, true}, // the root of 2 min times 2 min for 0.5 EUR
		{dear, 120, 1, 0, 2, false},
		{catalog.Goal{Price: 1, Currency: "EUR"}, 120, 1, 0, 2, false}, // price alone, of a pack without one: time
		{catalog.Goal{Price: 1, Currency: "EUR"}, 120, 1, 4, 0.5, true},
	} {
		got := merit(c.goal, c.time, c.punch, c.price)
		near(t, fmt.Sprintf("merit of %+v", c), got.Value, c.want, 1e-12)
		if got.Priced != c.priced {
			t.Errorf("%+v: priced %v", c, got.Priced)
		}
	}
}

// TestCurrencyOfTodaysPack: a pack that has a price says in which currency prices count, where they do.
func TestCurrencyOfTodaysPack(t *testing.T) {
	for _, c := range []struct {
		goal, pack string
		want       string
		told       bool
	}{
		{"price = 1", "price = 0.5\ncurrency = \"EUR\"\n", "EUR", false},
		{"price = 1", "", "", true},
		{"price = 0", "", "", false},
		{"time = 1", "price = 20\ncurrency = \"EUR\"\n", "", false},
	} {
		p := plan(t, parts(t, strings.Replace(example, "plug = \"xt30\"\n", "plug = \"xt30\"\n"+c.pack, 1)), exampleBuild+"[goal]\n"+c.goal+"\n")
		told := false
		for _, r := range p.Warnings {
			told = told || r.Code == planner.NoCurrency
		}
		if p.Currency() != c.want || told != c.told {
			t.Errorf("a goal of %q with today's pack of %q: prices count in %q, told %v", c.goal, c.pack, p.Currency(), told)
		}
	}
}
