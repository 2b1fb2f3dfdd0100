package main

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/planner"
)

// swapOf is a swap of a build as the command makes it, to be changed by a test.
func swapOf(t *testing.T, text string, changes ...string) (*planner.Swap, []catalog.AppliedChange) {
	t.Helper()
	before := buildOf(t, text)
	var list []catalog.Change
	for _, c := range changes {
		parsed, err := catalog.ParseChange(c)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, parsed)
	}
	after, applied, err := before.Apply(list)
	if err != nil {
		t.Fatal(err)
	}
	s, err := planner.CompareSwap(before, after, packSetOf(t, before.Parts))
	if err != nil {
		t.Fatal(err)
	}
	return s, applied
}

// column is the text of one column of a table, row by row.
func column(t *testing.T, table *sheet.Table, key string) []string {
	t.Helper()
	at := slices.IndexFunc(table.Columns, func(c sheet.Column) bool { return c.Key == key })
	if at < 0 {
		t.Fatalf("no column %q", key)
	}
	var out []string
	for _, row := range table.Rows {
		out = append(out, row[at].Text)
	}
	return out
}

// rowOf is the texts of the row of a table that begins with a word.
func rowOf(t *testing.T, table *sheet.Table, first string) []string {
	t.Helper()
	for _, row := range table.Rows {
		if row[0].Text == first {
			var out []string
			for _, c := range row {
				out = append(out, c.Text)
			}
			return out
		}
	}
	t.Fatalf("no row %q", first)
	return nil
}

// The first line of a swap says yes or no, to which limit and by how much, and which of the reasons counts where
// there are several: the limit, what is kept back, how sure, the rules.
func TestSwapVerdicts(t *testing.T) {
	const gram = model.Gram
	over := func(code planner.Code, subject string) planner.Remark {
		return planner.Remark{Code: code, Subject: subject, Text: "says so"}
	}
	made, applied := swapOf(t, builds(t)["stint"], "pack=sedge-550")
	made.Before.Weighing.Mass = 239 * gram
	made.After.Weighing.Mass, made.After.Weighing.Margin = 230*gram, 20*gram
	for _, c := range []struct {
		name   string
		change func(s *planner.Swap)
		want   string
	}{
		{"stays", func(*planner.Swap) {}, "Stays under 250 g (eu-a1-built) by 20.0 g: 230.0 g all-up (-9.0 g)"},
		{"comes", func(s *planner.Swap) { s.Before.Weighing.Verdict = planner.Over }, "Comes under 250 g (eu-a1-built) by 20.0 g: "},
		{"not over before", func(s *planner.Swap) { s.Before.Weighing.Verdict = planner.SpareShort }, "Stays under "},
		{"at the limit", func(s *planner.Swap) {
			w := &s.After.Weighing
			w.Verdict, w.Mass, w.Margin = planner.Over, 250*gram, 0
		}, "NO: at the limit, which is not under 250 g (eu-a1-built): 250.0 g all-up (+11.0 g)"},
		{"over", func(s *planner.Swap) {
			w := &s.After.Weighing
			w.Verdict, w.Mass, w.Margin = planner.Over, 251.2*gram, -1.2*gram
		}, "NO: OVER 250 g (eu-a1-built) by 1.2 g: 251.2 g all-up (+12.2 g)"},
		{"at a limit that includes it", func(s *planner.Swap) {
			w := &s.After.Weighing
			s.After.Plan.Build.Limit.Inclusive = true
			w.Mass, w.Margin = 250*gram, 0
		}, "Stays at 250 g (eu-a1-built) exactly, which its comparison still includes: 250.0 g all-up (+11.0 g)"},
		{"spare", func(s *planner.Swap) {
			w := &s.After.Weighing
			w.Verdict, w.Mass, w.Margin = planner.SpareShort, 249.4*gram, 0.6*gram
		}, "NO: under 250 g (eu-a1-built) by 0.60 g, LESS than the 1.0 g kept back: 249.4 g"},
		{"not sure", func(s *planner.Swap) {
			w := &s.After.Weighing
			s.After.Plan.Build.Limit.Sure = 0.975
			w.Verdict, w.OverChance = planner.NotSure, 0.12
		}, "NO: under 250 g (eu-a1-built) by 20.0 g, but NOT SURELY, the chance of breaking it is 12 % and the build asks to be 97.5 % sure: "},
		{"the limit before a rule", func(s *planner.Swap) {
			w := &s.After.Weighing
			w.Verdict, w.Mass, w.Margin = planner.Over, 251*gram, -1*gram
			s.Newly = []planner.Remark{over(planner.OverLimit, "sedge-550")}
		}, "NO: OVER 250 g"},
		{"one rule", func(s *planner.Swap) {
			s.Newly = []planner.Remark{over(planner.TooMuch, "loam-20")}
		}, "NO: stays under 250 g (eu-a1-built) by 20.0 g, but now fails 1 other rule: 230.0 g"},
		{"two rules, from over", func(s *planner.Swap) {
			s.Before.Weighing.Verdict = planner.Over
			s.Newly = []planner.Remark{over(planner.TooMuch, "loam-20"), over(planner.TooMuch, "wick-1404-3800")}
		}, "NO: comes under 250 g (eu-a1-built) by 20.0 g, but now fails 2 other rules: 230.0 g"},
		{"one as before", func(s *planner.Swap) {
			s.Still = []planner.Remark{over(planner.TooMuch, "loam-20")}
		}, "Stays under 250 g (eu-a1-built) by 20.0 g, with 1 rule failed as before: 230.0 g"},
		{"two as before", func(s *planner.Swap) {
			s.Still = []planner.Remark{over(planner.TooMuch, "loam-20"), over(planner.TooMuch, "wick-1404-3800")}
		}, "Stays under 250 g (eu-a1-built) by 20.0 g, with 2 rules failed as before: 230.0 g"},
		{"no weight", func(s *planner.Swap) { s.Before.Weighing.Mass = s.After.Weighing.Mass }, "Stays under 250 g (eu-a1-built) by 20.0 g: 230.0 g all-up (as before)"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, plan, build := *made, *made.After.Plan, *made.After.Plan.Build
			s.After.Plan, plan.Build = &plan, &build
			c.change(&s)
			if got := swapVerdict(&s, applied); !strings.HasPrefix(got, c.want) {
				t.Errorf("%s\nwant it to begin %s", got, c.want)
			}
		})
	}
}

// What a swap changes is said in the trade's units, as none where it rounds to none, with its band where it has one,
// and with what the band leaves open.
func TestSwapDifferencesInWords(t *testing.T) {
	s, applied := swapOf(t, builds(t)["stint"], "pack=sedge-550")
	before, after := s.Before.Flown, s.After.Flown
	thrust := func(a *planner.Assessment, ratio float64) model.Force {
		return model.Force(ratio * float64(a.Mass) * 9.80665)
	}
	is := func(low, high float64) planner.Interval { return planner.Interval{Low: low, High: high} }
	for _, c := range []struct {
		seconds, ratio float64 // after; before it is 600 s and a ratio of 5
		time, punch    planner.Interval
		want           string
	}{
		{690, 5.5, is(60, 120), is(0.1, 0.9), "; hover time +1.5 min (+1.0 to +2.0); punch +0.5 (+0.1 to +0.9)."},
		{510, 4.5, is(-120, -60), is(-0.9, -0.1), "; hover time -1.5 min (-2.0 to -1.0); punch -0.5 (-0.9 to -0.1)."},
		{690, 5.5, is(-60, 240), is(-0.2, 1.2), "; hover time +1.5 min (-1.0 to +4.0), the data cannot tell; punch +0.5 (-0.2 to +1.2), the data cannot tell."},
		{690, 5.5, is(0, 240), is(-1.2, 0), "; hover time +1.5 min (0.0 to +4.0), the data cannot tell; punch +0.5 (-1.2 to 0.0), the data cannot tell."},
		{690, 5.5, is(90, 90), is(0.5, 0.5), "; hover time +1.5 min; punch +0.5."},
		{602.9, 5.049, is(2.9, 2.9), is(0.049, 0.049), "; hover time unchanged; punch unchanged."},
		{603.1, 5.051, is(3.1, 3.1), is(0.051, 0.051), "; hover time +0.1 min; punch +0.1."},
	} {
		before.Flight.Duration, after.Flight.Duration = 600, model.Time(c.seconds)
		before.Punch.Thrust, after.Punch.Thrust = thrust(before, 5), thrust(after, c.ratio)
		s.Difference = &planner.Band{Time: c.time, Punch: c.punch}
		if got := swapVerdict(s, applied); !strings.Contains(got, c.want) {
			t.Errorf("%s\nwant %s", got, c.want)
		}
		row := rowOf(t, swapTable(s), "hover min")
		if row[1] != "10.0" || row[5] == "-" {
			t.Errorf("the row of time is %q", row)
		}
	}

	// A swap that puts on what was there has no difference to speak of; one that does not fly has none at all.
	same := []catalog.AppliedChange{{Change: applied[0].Change, Was: "sedge-550", Now: "sedge-550"}}
	if got := swapVerdict(s, same); strings.Contains(got, "hover time") || !strings.HasPrefix(got, "Nothing changes: under 250 g") {
		t.Errorf("nothing changes: %s", got)
	}
	if got := swapVerdict(s, append(same, applied...)); !strings.Contains(got, "hover time") {
		t.Errorf("one of two changes: %s", got)
	}
	s.Difference = nil
	if got := swapVerdict(s, applied); strings.Contains(got, "time") {
		t.Errorf("without a flight: %s", got)
	}
	if row := rowOf(t, swapTable(s), "hover min"); row[4] != "-" {
		t.Errorf("without a difference the row of time is %q", row)
	}
}

// What would settle a difference is said as far as it would: what tells the two apart, what narrows the band by less
// or more than three tenths of its width, and what neither bench nor scale tells.
func TestRemediesInWords(t *testing.T) {
	s, _ := swapOf(t, builds(t)["stint"], "pack=sedge-550")
	is := func(low, high float64) planner.Interval { return planner.Interval{Low: low, High: high} }
	s.Difference = &planner.Band{Time: is(-60, 240), Punch: is(-0.5, 0.5)}
	const time, punch = planner.SwapTime, planner.SwapPunch
	for _, c := range []struct {
		remedies []planner.Remedy
		want     []string
	}{
		{[]planner.Remedy{{Figure: time, Text: "a test", Leaves: is(30, 180)}, {Figure: punch, Text: "a scale", Leaves: is(-0.4, -0.1)}}, []string{
			"What would settle the hover time: a test; that would leave about +0.5 to +3.0 min.",
			"What would settle the punch: a scale; that would leave about -0.4 to -0.1.",
		}},
		// 300 s wide before: 209 is less than seven tenths of it, 211 is not. For punch 0.69 and 0.71 of 1.
		{[]planner.Remedy{{Figure: time, Text: "a test", Leaves: is(-29, 180)}, {Figure: punch, Text: "a test", Leaves: is(-0.29, 0.4)}}, []string{
			"Even a test would leave about -0.5 to +3.0 min of hover time and -0.3 to +0.4 of punch: the two are close.",
		}},
		{[]planner.Remedy{{Figure: time, Text: "b test", Leaves: is(-29, 180)}, {Figure: punch, Text: "a test", Leaves: is(-0.29, 0.4)}}, []string{
			"Even a test would leave about -0.3 to +0.4 of punch: the two are close.",
			"Even b test would leave about -0.5 to +3.0 min of hover time: the two are close.",
		}},
		{[]planner.Remedy{{Figure: time, Text: "a test", Leaves: is(-31, 180)}, {Figure: punch, Text: "a test", Leaves: is(-0.31, 0.4)}}, []string{
			"Neither a bench nor a scale would settle the hover time and the punch: fly both and compare.",
		}},
		{nil, nil},
	} {
		s.Remedies = c.remedies
		if diff := cmp.Diff(c.want, remedyTexts(s)); diff != "" {
			t.Error(diff)
		}
	}
}

// The table of what the rotors are known by has one row for both sides where they are known alike, one for each where
// they are not, and one more for each side of which more is known than is compared; notes say what it would do by that.
func TestKnownOfBothSides(t *testing.T) {
	s, _ := swapOf(t, builds(t)["stint"], "prop=reed-35x22-2")
	is := func(from model.Knowledge, reason string) *planner.Plan {
		p := *s.Before.Plan
		p.Propulsion.Source, p.Propulsion.Reason = from, reason
		return &p
	}
	one, other := is(model.FromCoefficients, "coefficients"), is(model.FromGeometry, "a size")
	best, bestAfter := is(model.FromThrustTest, "a stand"), is(planner.FromFlownHover, "a hover")
	for _, c := range []struct {
		name  string
		sides [4]*planner.Plan // before and its best, after and its best
		rows  []string
		by    []string
		notes int
	}{
		{"alike", [4]*planner.Plan{one, one, one, one}, []string{"both sides"}, []string{"coefficients"}, 1},
		{"each its own", [4]*planner.Plan{one, one, other, other}, []string{"before", "after"}, []string{"coefficients", "size"}, 1},
		{"more is known before", [4]*planner.Plan{one, best, one, one}, []string{"both sides", "before, best known"}, []string{"coefficients", "thrust test"}, 2},
		{"more is known after", [4]*planner.Plan{one, one, other, bestAfter}, []string{"before", "after", "after, best known"}, []string{"coefficients", "size", "flown hover"}, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			s.Before.Plan, s.Before.Best, s.After.Plan, s.After.Best = c.sides[0], c.sides[1], c.sides[2], c.sides[3]
			table := knownTable(s)
			if diff := cmp.Diff(c.rows, column(t, table, "side")); diff != "" {
				t.Error(diff)
			}
			if diff := cmp.Diff(c.by, column(t, table, "source")); diff != "" {
				t.Error(diff)
			}
			notes := comparedNotes(s)
			if len(notes) != c.notes {
				t.Errorf("notes: %q", notes)
			}
		})
	}

	// The note of the side after, of a hover and of phases.
	own := *s.After.Own
	s.After.Own = &own
	own.Flight.Duration, own.Punch.Thrust = 400, model.Force(4.25*float64(own.Mass)*9.80665)
	const says = "Both sides are compared by what is known of both. More is known of the build after (flown hover): by that it "
	if got, want := comparedNotes(s)[0], says+`hovers 6.7 min and punches 4.2 times its weight, as "allup rank" says.`; got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
	own.Cycle = &model.PhaseFlight{Duration: 300}
	if got, want := comparedNotes(s)[0], says+`flies 5.0 min and punches 4.2 times its weight, as "allup rank" says.`; got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
	own.Flight.Duration = 0
	if got, want := comparedNotes(s)[0], strings.TrimSuffix(says, ": by that it ")+"."; got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
}

// A knowledge of rotors has a word of its own.
func TestKnowledgeWords(t *testing.T) {
	for from, want := range map[model.Knowledge]string{
		planner.FromFlownHover: "flown hover", model.FromStaticTable: "static table", model.FromThrustTest: "thrust test",
		model.FromCoefficients: "coefficients", model.FromGeometry: "size",
	} {
		if got := knowledgeWord(from); got != want {
			t.Errorf("%s is %q, want %q", from, got, want)
		}
	}
}

// What a mass leaves is under a limit, or at it where it includes that; a billionth of a gram does not count.
func TestLeftUnder(t *testing.T) {
	limit := catalog.BuildLimit{Limit: model.Limit{Mass: 250 * model.Gram}}
	for margin, want := range map[model.Mass]string{
		0:                    "at 250 g exactly, which its comparison still includes",
		0.002 * model.Gram:   "under 250 g by 0.002 g",
		31.25 * model.Gram:   "under 250 g by 31.2 g",
		0.25 * model.Gram:    "under 250 g by 0.25 g",
		250 * model.Gram:     "under 250 g by 250.0 g",
		1e-12 * model.Gram:   "at 250 g exactly, which its comparison still includes",
		249.98 * model.Gram:  "under 250 g by 250.0 g",
		0.94999 * model.Gram: "under 250 g by 0.95 g",
	} {
		if got := leftUnder(margin, limit); got != want {
			t.Errorf("%v: %q, want %q", margin, got, want)
		}
	}
}

// A change of mass has its sign, and none where it rounds to none.
func TestMassChangeInWords(t *testing.T) {
	for m, want := range map[model.Mass]string{
		0: "as before", 2.5 * model.Gram: "+2.5 g", -2.5 * model.Gram: "-2.5 g", 0.04 * model.Gram: "+0.04 g", -0.04 * model.Gram: "-0.04 g", 1e-14: "as before", -1e-14: "as before",
	} {
		if got := massChange(m); got != want {
			t.Errorf("%v: %q, want %q", m, got, want)
		}
	}
}
