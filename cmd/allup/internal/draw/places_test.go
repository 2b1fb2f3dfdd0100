package draw

import (
	"image/color"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"allup/catalog"
	"allup/model"
	"allup/model/bench"
	"allup/planner"
	"allup/planner/tested"
)

// The title of a mass budget says how the mass stands to the limit.
func TestMassTitles(t *testing.T) {
	const gram = model.Gram
	build := &catalog.Build{Name: "Stint"}
	build.Limit.Mass, build.Limit.Spare = 250*gram, gram
	pack := &catalog.Pack{Common: catalog.Common{ID: "sedge-650"}}
	for _, c := range []struct {
		verdict planner.Verdict
		pack    *catalog.Pack
		mass    model.Mass
		want    string
	}{
		{planner.Under, pack, 239 * gram, "Stint with sedge-650 weighs 239.0 g: 11.0 g under 250 g"},
		{planner.Under, nil, 239 * gram, "Stint weighs 239.0 g: 11.0 g under 250 g"},
		{planner.Over, pack, 251.2 * gram, "Stint with sedge-650 weighs 251.2 g: 1.2 g OVER 250 g"},
		{planner.Over, pack, 250 * gram, "Stint with sedge-650 weighs 250.0 g: NOT under 250 g, but at it"},
		{planner.NotSure, pack, 249 * gram, "Stint with sedge-650 weighs 249.0 g: 1.0 g under 250 g, but not surely"},
		{planner.SpareShort, pack, 249.4 * gram, "Stint with sedge-650 weighs 249.4 g: 0.60 g under 250 g, LESS than the 1.0 g kept back"},
	} {
		w := planner.Weighing{Plan: &planner.Plan{Build: build}, Verdict: c.verdict, Mass: c.mass, Margin: 250*gram - c.mass}
		w.Plan.Pack = c.pack
		if got := massTitle(w); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// flying is a build on a pack for a time and at a punch, in a swap.
func flying(build *catalog.Build, id string, grams, seconds, ratio float64) planner.Outcome {
	a := &planner.Assessment{Candidate: planner.Candidate{Mass: model.Mass(grams / 1000), Pack: &planner.Pack{Pack: &catalog.Pack{Common: catalog.Common{ID: id}}}}}
	a.Flight.Duration, a.Punch.Thrust = model.Time(seconds), model.Force(ratio*grams/1000*9.80665)
	a.Flight.Hover.Power, a.Flight.Current, a.Punch.Headroom = 60, 4, 1.25
	a.Margin = build.Limit.Mass - a.Mass
	verdict := planner.Under
	if a.Margin <= 0 {
		verdict = planner.Over
	}
	return planner.Outcome{Plan: &planner.Plan{Build: build}, Flown: a, Own: a, Weighing: planner.Weighing{Verdict: verdict}}
}

// The title of a swap says what is instead of what, and how the build stands to the limit then; nothing is drawn where
// one side does not fly.
func TestSwapTitles(t *testing.T) {
	build := &catalog.Build{Name: "Stint"}
	build.Limit.Mass = 250 * model.Gram
	before := flying(build, "old", 239, 480, 5)
	build.Limit.Spare = model.Gram
	judged := func(o planner.Outcome, verdict planner.Verdict) planner.Outcome {
		o.Weighing.Verdict = verdict
		return o
	}
	for _, c := range []struct {
		after planner.Outcome
		want  string
	}{
		{flying(build, "new", 241.5, 540, 5.5), "new instead of old: +2.5 g, +1.0 min, punch +0.5; 8.5 g under 250 g"},
		{flying(build, "old", 230, 420, 4.5), "Stint, changed: -9.0 g, -1.0 min, punch -0.5; 20.0 g under 250 g"},
		{flying(build, "new", 251, 480, 5), "new instead of old: +12.0 g, 0.0 min, punch 0.0; 1.0 g OVER 250 g"},
		{flying(build, "new", 250, 480, 5), "new instead of old: +11.0 g, 0.0 min, punch 0.0; at, and NOT under, 250 g"},
		{judged(flying(build, "new", 249, 480, 5), planner.NotSure), "new instead of old: +10.0 g, 0.0 min, punch 0.0; 1.0 g under 250 g, but not surely"},
		{judged(flying(build, "new", 249.4, 480, 5), planner.SpareShort), "new instead of old: +10.4 g, 0.0 min, punch 0.0; 0.60 g under 250 g, LESS than the 1.0 g kept back"},
	} {
		d := Swap(&planner.Swap{Before: before, After: c.after})
		if d == nil || d.Title != c.want {
			t.Errorf("%+v, want %q", d, c.want)
		}
	}
	grounded := flying(build, "new", 241, 0, 5)
	none := planner.Outcome{Plan: before.Plan}
	for _, s := range []*planner.Swap{{Before: before, After: grounded}, {Before: grounded, After: before}, {Before: none, After: before}, {Before: before, After: none}} {
		if d := Swap(s); d != nil {
			t.Errorf("%q is drawn", d.Title)
		}
	}
}

// What a swap makes better is drawn in one ink and what it makes worse in the other, and what reads alike in neither; a
// figure that one side does not have has no row.
func TestSwapInks(t *testing.T) {
	build := &catalog.Build{Name: "Stint"}
	build.Limit.Mass = 250 * model.Gram
	before, after := flying(build, "old", 239, 480, 5), flying(build, "new", 241.5, 540, 5)
	after.Flown.Flight.Current, after.Flown.Flight.Hover.Power, after.Flown.Punch.Headroom = 3.9, 66, 1.2
	after.Flown.Band = &planner.Band{
		Mass: planner.Interval{Low: 0.239, High: 0.2629}, Time: planner.Interval{Low: 432, High: 624}, Punch: planner.Interval{Low: 4, High: 6}, Current: planner.Interval{Low: 3.6, High: 4.4},
	}
	s := Swap(&planner.Swap{Before: before, After: after}).panels[0].on(false).(scene)
	if diff := cmp.Diff([]string{"headroom", "hover A", "hover W", "punch", "time min", "all-up g"}, s.y.names); diff != "" {
		t.Fatal(diff)
	}
	var inks []ink
	var labels []string
	for i, k := range s.curves {
		inks = append(inks, k.ink)
		labels = append(labels, s.points[2*i+1].label)
		if k.line[0] != (xy{1, float64(i)}) || s.points[2*i].at != k.line[0] || s.points[2*i+1].at != k.line[1] || s.points[2*i+1].ink != k.ink {
			t.Errorf("row %d: %+v", i, k)
		}
	}
	if diff := cmp.Diff([]ink{inkTwo, inkOne, inkTwo, inkText, inkOne, inkTwo}, inks); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]string{"1.25 to 1.20", "4.00 to 3.90", "60.0 to 66.0", "5.0 to 5.0", "8.0 to 9.0", "239.0 to 241.5"}, labels); diff != "" {
		t.Error(diff)
	}
	// Bands are in times what was before: of current, punch, time and mass.
	var bands [][2]float64
	for _, b := range s.spans {
		bands = append(bands, [2]float64{math.Round(1e6*b.from.x) / 1e6, math.Round(1e6*b.to.x) / 1e6})
	}
	if diff := cmp.Diff([][2]float64{{0.9, 1.1}, {0.8, 1.2}, {0.9, 1.3}, {1, 1.1}}, bands); diff != "" {
		t.Error(diff)
	}
	if got := [2]float64{s.x.min, s.x.max}; math.Abs(got[0]-0.8/1.02) > 1e-9 || math.Abs(got[1]-1.3*1.02) > 1e-9 {
		t.Errorf("from %v to %v", got[0], got[1])
	}
	after.Flown.Punch.Headroom = 0
	if s := Swap(&planner.Swap{Before: before, After: after}).panels[0].on(false).(scene); len(s.y.names) != 5 || s.y.max != 4.6 {
		t.Errorf("%q up to %v", s.y.names, s.y.max)
	}
}

// The title of the packs names the front while it is short.
func TestPacksTitles(t *testing.T) {
	for _, c := range []struct {
		front []string
		total int
		want  string
	}{
		{[]string{"a"}, 1, "a is the one pack that suits"},
		{[]string{"a"}, 2, "a beats all 1 others in time and punch"},
		{[]string{"a"}, 8, "a beats all 7 others in time and punch"},
		{[]string{"a", "b"}, 2, "No pack of 2 beats a or b in both time and punch"},
		{[]string{"a", "b", "c"}, 8, "No pack of 8 beats a, b or c in both time and punch"},
		{[]string{"a", "b", "c", "d"}, 8, "4 of 8 packs are beaten by no other in both time and punch"},
	} {
		if got := packsTitle(c.front, c.total); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// The title of a field compares the best and the worst power for its mass, where they differ by a twentieth.
func TestFieldTitles(t *testing.T) {
	of := func(powers ...float64) *tested.FieldGroup {
		g := &tested.FieldGroup{Cells: 4, Chemistry: model.LiPo}
		for i, w := range powers {
			p := tested.FieldPack{Pack: &planner.Pack{Pack: &catalog.Pack{Common: catalog.Common{ID: string(rune('a' + i))}}}, Standings: map[tested.Measure]tested.Standing{}}
			if w > 0 {
				p.Standings[tested.WPerGram] = tested.Standing{Value: w, Ratio: 1}
			}
			g.Packs = append(g.Packs, p)
		}
		return g
	}
	for _, c := range []struct {
		g    *tested.FieldGroup
		want string
	}{
		{of(), "4 cells, lipo: the field against its medians"},
		{of(0, 0), "4 cells, lipo: the field against its medians"},
		{of(0, 5), "4 cells, lipo: the field against its medians"},
		{of(5, 5.24), "4 cells, lipo: all give about the same power for their mass"},
		{of(5, 5.25), "4 cells, lipo: b gives 1.1 times the power of a for its mass"},
		{of(8, 0, 5, 6, 8), "4 cells, lipo: a gives 1.6 times the power of c for its mass"},
	} {
		if got := fieldTitle(c.g); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	if d := Field(of(8, 5)); d == nil {
		t.Error("two packs are not drawn")
	}
	for _, g := range []*tested.FieldGroup{of(8), of(8, 0), of(0, 0)} {
		if d := Field(g); d != nil {
			t.Errorf("%q is drawn", d.Title)
		}
	}
}

// What falls short of its label is counted and named, the worst of all in the title; at 88 % nothing does.
func TestLabelTitles(t *testing.T) {
	pack := func(id string, rated, delivered float64) LabelledPack { return LabelledPack{id, rated, delivered} }
	for _, c := range []struct {
		packs []LabelledPack
		want  string
	}{
		{[]LabelledPack{pack("a", 500, 500), pack("b", 1000, 880)}, "All packs deliver 88 % of their label or more"},
		{[]LabelledPack{pack("a", 500, 500), pack("b", 1000, 879)}, "1 pack of 2 deliver less than 88 % of their label; b the least, 88 %"},
		{[]LabelledPack{pack("a", 500, 400), pack("b", 1000, 780), pack("c", 600, 600)}, "2 packs of 3 deliver less than 88 % of their label; b the least, 78 %"},
	} {
		if got := Labels("x", c.packs); got.Title != c.want {
			t.Errorf("%q, want %q", got.Title, c.want)
		}
	}
	if d := Labels("x", nil); d != nil {
		t.Errorf("%q is drawn", d.Title)
	}
	// Six that fall short are named at any rate.
	var many []LabelledPack
	for range 8 {
		many = append(many, pack("a", 500, 400))
	}
	var least []bool
	for _, p := range Labels("x", many).panels[0].on(false).(scene).points {
		least = append(least, p.least)
		if p.label != "a 80 %" || !p.bold || p.ink != inkTwo {
			t.Errorf("%+v", p)
		}
	}
	if diff := cmp.Diff([]bool{false, false, false, false, false, false, true, true}, least); diff != "" {
		t.Error(diff)
	}
}

// benched is a pack with a discharge of two points, and what it delivered of its label.
func benched(id string, mid model.Voltage, share float64) tested.ReducedPack {
	p := tested.ReducedPack{Bench: &catalog.BenchPack{}, Record: &catalog.Pack{}, Discharge: &bench.DischargeReduction{Capacity: model.Charge(2340 * share)}}
	p.Bench.ID, p.Bench.Cells, p.Bench.Rated = id, 4, 2340
	p.Metrics.MidVoltage, p.Metrics.Capacity = mid, model.Charge(2340*share)
	p.Discharge.Trace = model.Trace{
		Points: []model.TracePoint{{Voltage: 16.4}, {Time: 60, Voltage: mid, Delivered: p.Metrics.Capacity / 2}},
		End:    model.TracePoint{Time: 120, Voltage: 12.4, Delivered: p.Metrics.Capacity},
	}
	return p
}

// Discharges are told by what packs deliver of their labels and hold half-way, the highest first; what has no curve is
// not drawn, and of many curves the first, the middle and the last have names.
func TestDischargeTitles(t *testing.T) {
	a, b, c := benched("a", 14.4, 0.95), benched("b", 14.8, 0.9), benched("c", 14, 0.99)
	short := benched("short", 15, 1)
	short.Discharge.Trace.Points = short.Discharge.Trace.Points[:1]
	none := tested.ReducedPack{Bench: &catalog.BenchPack{}}
	for _, x := range []struct {
		packs         []tested.ReducedPack
		title, shares string
	}{
		{[]tested.ReducedPack{a}, "a delivers 95 % of its label", "Half-way down, a holds 3.60 V per cell"},
		{[]tested.ReducedPack{a, none, short, b, c}, "Of their labels c delivers the most, 99 %, and b the least, 90 %", "Half-way down, packs hold 3.50 to 3.70 V per cell"},
	} {
		if d := Discharges("bench", x.packs); d.Title != x.title {
			t.Errorf("%q, want %q", d.Title, x.title)
		}
		if d := DischargeShares("bench", x.packs); d.Title != x.shares {
			t.Errorf("%q, want %q", d.Title, x.shares)
		}
	}
	for _, packs := range [][]tested.ReducedPack{nil, {none}, {short}} {
		if Discharges("bench", packs) != nil || DischargeShares("bench", packs) != nil {
			t.Error("nothing is drawn")
		}
	}
	for n, want := range map[int][]int{1: {0}, 6: {0, 1, 2, 3, 4, 5}, 7: {0, 3, 6}, 10: {0, 5, 9}} {
		var got []int
		for i := range n {
			if named(i, n) {
				got = append(got, i)
			}
		}
		if !slices.Equal(got, want) {
			t.Errorf("of %d are named %v, want %v", n, got, want)
		}
	}
	// Curves are in charge or in its share, per cell, and the best is drawn last.
	s := DischargeShares("bench", []tested.ReducedPack{a, b, c}).panels[0].on(false).(scene)
	if k := s.curves[2]; k.id != "b" || k.line[1] != (xy{0.5, 3.7}) || k.line[2] != (xy{1, 3.1}) || s.x.max != 1 {
		t.Errorf("%+v up to %v", k, s.x.max)
	}
	s = Discharges("bench", []tested.ReducedPack{a, b, c}).panels[0].on(false).(scene)
	if k := s.curves[2]; k.line[2].x < 584.9 || k.line[2].x > 585.1 || k.label != "b 585 mAh" || math.Abs(s.x.max-1.22*643.5) > 1e-6 {
		t.Errorf("%+v up to %v", k, s.x.max)
	}
	phone := Discharges("bench", []tested.ReducedPack{a, b, c}).panels[0].on(true).(scene)
	if phone.curves[2].label != "b" || s.curves[2].label != "b 585 mAh" {
		t.Errorf("%q on a phone", phone.curves[2].label)
	}
	// Neither a burst nor a fit without its log.
	for _, p := range []tested.ReducedPack{none, a} {
		if Burst(&p) != nil || Fit(&p) != nil {
			t.Error("a drawing of nothing")
		}
	}
	if fittedLine(&a, a.Discharge.Trace) != nil {
		t.Error("a line of no circuit")
	}
}

// A fit is told by how far it is off its logs, or that it comes from the metrics; its own axis leaves out where the
// curve falls off.
func TestFitTitles(t *testing.T) {
	p := benched("a", 14.4, 1)
	p.Fit = &model.LogFit{RMS: 0.0042}
	curve, err := model.CurveOf(model.LiPo)
	if err != nil {
		t.Fatal(err)
	}
	p.Fit.Circuit = model.Circuit{Cells: 4, Curve: curve, Capacity: 2340, R0: 0.03, R1: 0.01, Tau: 20}
	d := Fit(&p)
	if d.Title != "a: its circuit is 4 mV per cell off its logs (RMS)" {
		t.Errorf("%q", d.Title)
	}
	misses := d.panels[1].on(false).(scene)
	if misses.y.min > -10 || misses.y.max < 10 || misses.rules[0].at != 0 {
		t.Errorf("from %v to %v", misses.y.min, misses.y.max)
	}
	p.Fit.Fallback = "too short"
	if d := Fit(&p); d.Title != "a: its circuit comes from the tested metrics, not from the logs" {
		t.Errorf("%q", d.Title)
	}
}

// A size is told by the mass of the pack and what a gram of it is worth, and what binds it by the rule's own words.
func TestSizeTitles(t *testing.T) {
	z := &planner.Sizing{
		Plan: &planner.Plan{Build: &catalog.Build{Name: "Stint"}}, Cells: 4, Chemistry: model.LiPo, Lightest: 0.04, Heaviest: 0.1, Most: 0.085,
		Families: []planner.SizedFamily{{Name: "median", Limited: &planner.Sized{Pack: 0.08, Time: 480}, Worth: planner.GramWorth{Pack: -1.25}, Curve: []planner.Sized{
			{Pack: 0.0199, Time: 60}, {Pack: 0.02, Time: 120}, {Pack: 0.135, Time: 660}, {Pack: 0.1351, Time: 662},
		}}},
	}
	d := PackSize(z, nil)
	if want := "Stint flies longest with a pack of about 80 g; a gram more of it is worth -1.2 s"; d.Title != want {
		t.Errorf("%q, want %q", d.Title, want)
	}
	// From half of the lightest pack to a third beyond the heaviest.
	s := d.panels[0].on(false).(scene)
	if k := s.curves[0]; len(k.line) != 2 || k.line[0] != (xy{20, 2}) || k.line[1] != (xy{135, 11}) || k.label != "median of the packs" {
		t.Errorf("%+v", k)
	}
	if s.x.min != 20 || s.x.max != 135 || len(s.points) != 1 || s.points[0].at != (xy{80, 8}) || !s.points[0].diamond {
		t.Errorf("%v to %v: %+v", s.x.min, s.x.max, s.points)
	}
	for b, want := range map[planner.Bind]string{
		planner.BindsLimit: "what the limit leaves: 85 g", planner.BindsPackMass: "the build's heaviest pack: 85 g", planner.BindsBay: "what the bay takes: 85 g",
	} {
		z.MostBinds = b
		if got := PackSize(z, nil).panels[0].on(false).(scene).rules[0]; got.label != want || got.at != 85 {
			t.Errorf("%s: %+v", b, got)
		}
	}
	z.Families[0].Limited = nil
	if got, want := PackSize(z, nil).Title, "Stint finds no size of pack that keeps every rule"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// Even ticks are at 1, 2 or 5 times a power of ten, inside the axis and at its ends, in the digits that they need.
func TestEvenTicks(t *testing.T) {
	for _, c := range []struct {
		from, to float64
		count    int
		percent  bool
		want     string
	}{
		{0, 10, 5, false, "0 2 4 6 8 10"},
		{0, 10, 10, false, "0 1 2 3 4 5 6 7 8 9 10"},
		{0, 10, 2, false, "0 5 10"},
		{0, 10, 1, false, "0 10"},
		{-1, 1, 4, false, "-1.0 -0.5 0.0 0.5 1.0"},
		{0, 1, 5, true, "0 20 40 60 80 100"},
		{0.3, 0.7, 4, false, "0.3 0.4 0.5 0.6 0.7"},
		{0, 0.02, 4, false, "0.000 0.005 0.010 0.015 0.020"},
		{0, 0.02, 4, true, "0.0 0.5 1.0 1.5 2.0"},
		{101, 899, 4, false, "200 400 600 800"},
		// A step is the nearest as a ratio: sqrt 2 lies between 1 and 2, sqrt 10 between 2 and 5, sqrt 50 between 5 and 10.
		{0, 1.41 * 4, 4, false, "0 1 2 3 4 5"},
		{0, 1.42 * 4, 4, false, "0 2 4"},
		{0, 3.16 * 4, 4, false, "0 2 4 6 8 10 12"},
		{0, 3.17 * 4, 4, false, "0 5 10"},
		{0, 7.07 * 4, 4, false, "0 5 10 15 20 25"},
		{0, 7.08 * 4, 4, false, "0 10 20"},
		{1, 1, 4, false, ""},
		{2, 1, 4, false, ""},
		{math.NaN(), 1, 4, false, ""},
	} {
		var labels []string
		for _, tick := range evenTicks(c.from, c.to, c.count, c.percent) {
			labels = append(labels, tick.Label)
			if tick.Value < c.from-1e-9 || tick.Value > c.to+1e-9 || tick.Value == 0 && math.Signbit(tick.Value) {
				t.Errorf("%v to %v: a tick at %v", c.from, c.to, tick.Value)
			}
		}
		if got := strings.Join(labels, " "); got != c.want {
			t.Errorf("%v to %v by %d: %q, want %q", c.from, c.to, c.count, got, c.want)
		}
	}
}

// An extent grows by the numbers that are included; it is padded by 6 % of its width, never below nothing where all is
// above, and never of no width.
func TestExtents(t *testing.T) {
	for _, c := range []struct {
		values    []float64
		low, high float64
	}{
		{nil, 0, 1e-6},
		{[]float64{10, 20}, 9.4, 20.6},
		{[]float64{20, math.NaN(), 10, math.Inf(1), math.Inf(-1)}, 9.4, 20.6},
		{[]float64{0, 100}, 0, 106},
		{[]float64{1, 101}, 0, 107},
		{[]float64{-50, 50}, -56, 56},
		{[]float64{-100, -50}, -103, -47},
		{[]float64{5}, 4.75, 5.25},
		{[]float64{-5}, -5.25, -4.75},
	} {
		var e extent
		e.include(c.values...)
		if low, high := e.padded(); math.Abs(low-c.low) > 1e-12 || math.Abs(high-c.high) > 1e-12 {
			t.Errorf("%v: %v to %v, want %v to %v", c.values, low, high, c.low, c.high)
		}
	}
	of := func(values ...float64) (e extent) { e.include(values...); return e }
	for _, c := range []struct {
		is, other extent
		low, high float64
	}{
		{of(10, 20), of(9, 21), 9, 21},
		{of(10, 20), of(0, 100), 4, 26},  // 0.6 of its width
		{of(10, 20), of(12, 15), 10, 20}, // no narrower
		{of(20, 20), of(0, 100), 18, 22}, // a tenth of where it is, which has no width
		{of(10, 20), extent{}, 10, 20},   // nothing to hold
		{of(-21, -20), of(-99, 0), -23, -18},
	} {
		if got := c.is.with(c.other); math.Abs(got.low-c.low) > 1e-12 || math.Abs(got.high-c.high) > 1e-12 {
			t.Errorf("%v with %v: %v to %v, want %v to %v", c.is, c.other, got.low, got.high, c.low, c.high)
		}
	}
	if got := (extent{}).with(of(1, 2)); got.any {
		t.Errorf("%+v", got)
	}
}

// The front is drawn as steps: up to a point's punch at the time of the one before, then out to its time.
func TestSteps(t *testing.T) {
	got := steps([]xy{{1, 9}, {3, 7}, {4, 2}})
	if want := []xy{{1, 9}, {1, 7}, {3, 7}, {3, 2}, {4, 2}}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	if got := steps(nil); got != nil {
		t.Errorf("%v", got)
	}
	for v, want := range map[float64]int{-0.1: -1, 0: 0, 0.1: 1} {
		if got := sign(v); got != want {
			t.Errorf("sign(%v) = %d", v, got)
		}
	}
}

// Things that are spread lie in their order between the ends, none over another, each where it wants to be if there is
// room, and those in each other's way about their middle.
func TestSpread(t *testing.T) {
	for _, c := range []struct {
		name           string
		at, size, want []float64
		low, high      float64
	}{
		{"room", []float64{10, 30, 50}, []float64{10, 10, 10}, []float64{10, 30, 50}, 0, 60},
		{"touching", []float64{10, 20}, []float64{10, 10}, []float64{10, 20}, 0, 60},
		{"two on one place", []float64{20, 20}, []float64{10, 10}, []float64{15, 25}, 0, 60},
		{"two of two sizes", []float64{20, 20}, []float64{20, 10}, []float64{12.5, 27.5}, 0, 60}, // starts of 10 and 15 less 20: 2.5
		{"three, of which two are in the way", []float64{10, 40, 42}, []float64{10, 10, 10}, []float64{10, 36, 46}, 0, 60},
		{"at the low end", []float64{2, 4}, []float64{10, 10}, []float64{5, 15}, 0, 60},
		{"at the high end", []float64{58, 59}, []float64{10, 10}, []float64{45, 55}, 0, 60},
		{"one pushes the other", []float64{30, 36, 41}, []float64{10, 10, 10}, []float64{25 + 2.0/3, 35 + 2.0/3, 45 + 2.0/3}, 0, 60},
		{"too many", []float64{10, 20, 30}, []float64{30, 30, 30}, []float64{15, 45, 75}, 0, 60},
		{"from a low that is not nothing", []float64{90}, []float64{30}, []float64{115}, 100, 160},
		{"none", nil, nil, []float64{}, 0, 60},
	} {
		got := spread(c.at, c.size, c.low, c.high)
		if len(got) != len(c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
			continue
		}
		for i := range got {
			if math.Abs(got[i]-c.want[i]) > 1e-9 {
				t.Errorf("%s: %v, want %v", c.name, got, c.want)
				break
			}
		}
	}
}

// A point is as far from a stretch as from its nearest place, its ends among them.
func TestDistanceToAStretch(t *testing.T) {
	at := func(x, y float64) vg.Point { return vg.Point{X: vg.Length(x), Y: vg.Length(y)} }
	for _, c := range []struct {
		p, a, b vg.Point
		want    float64
	}{
		{at(5, 3), at(0, 0), at(10, 0), 3},
		{at(-3, 4), at(0, 0), at(10, 0), 5},
		{at(13, -4), at(0, 0), at(10, 0), 5},
		{at(3, 4), at(0, 0), at(0, 0), 5},
		{at(0, 2), at(0, 0), at(2, 2), math.Sqrt2},
		{at(4, 4), at(1, 1), at(7, 7), 0},
	} {
		if got := float64(distance(c.p, c.a, c.b)); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%v from %v to %v: %v, want %v", c.p, c.a, c.b, got, c.want)
		}
	}
	line := []vg.Point{at(0, 0), at(1, 0.5), at(2, 0), at(3, 0.6), at(4, 0)}
	if got, want := thinned(line, 0.5), []vg.Point{at(0, 0), at(3, 0.6), at(4, 0)}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want) // 1 is 0.29 from the stretch to 3, and 2 is 0.39
	}
	if got := thinned(line, 0.6); !slices.Equal(got, []vg.Point{at(0, 0), at(4, 0)}) {
		t.Errorf("%v: no point is farther than 0.6", got)
	}
	for _, short := range [][]vg.Point{nil, line[:1], line[:2]} {
		if got := thinned(short, 0.1); len(got) != len(short) {
			t.Errorf("%v of %v", got, short)
		}
	}
}

// Numbers of a path are short: no zero before or behind the point, and no sign of nothing.
func TestNumbersOfAPath(t *testing.T) {
	for n, want := range map[int]string{0: "0", 5: ".5", -5: "-.5", 10: "1", -10: "-1", 15: "1.5", -123: "-12.3", 100: "10"} {
		if got := tenths(n); got != want {
			t.Errorf("tenths(%d) = %q", n, got)
		}
	}
	for v, want := range map[float64]string{0: "0", -0.001: "0", 1.005: "1", 1.006: "1.01", -2.5: "-2.5", 100: "100"} {
		if got := num(v); got != want {
			t.Errorf("num(%v) = %q, want %q", v, got, want)
		}
	}
	for text, want := range map[string]string{"1": " 1", "-1": "-1", ".5": " .5"} {
		if got := separated(text); got != want {
			t.Errorf("separated(%q) = %q", text, got)
		}
	}
	var p pen
	p.to("m", 1, 2)
	p.to("l", 1.01, 2) // nowhere to be seen
	p.to("l", 2, 1.5)
	p.to("l", 2.5, 2)
	p.to("l", 2.5, 0)
	p.to("m", 0, 0)
	p.to("l", 1, 1)
	if got, want := p.b.String(), "M1 2l1-.5 .5 .5 0-2M0 0l1 1"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	// Rounding errors do not add up: ten steps of 0.04 end at 0.4.
	var q pen
	q.to("m", 0, 0)
	for k := range 10 {
		q.to("l", 0.04*float64(k+1), 0)
	}
	if q.x != 4 {
		t.Errorf("ends at %d tenths", q.x)
	}
}

// Turning, moving and stretching a canvas take effect one upon the other, and the last state comes back.
func TestSVGPlaces(t *testing.T) {
	c := newSVG(100, 50)
	at := func(x, y float64) [2]float64 {
		px, py := c.place(vg.Point{X: vg.Length(x), Y: vg.Length(y)})
		return [2]float64{math.Round(px*1e9) / 1e9, math.Round(py*1e9) / 1e9}
	}
	check := func(what string, got, want [2]float64) {
		t.Helper()
		if got != want {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	check("as it is", at(10, 20), [2]float64{10, 30}) // y is downwards on a page
	c.Push()
	c.Translate(vg.Point{X: 3, Y: 4})
	check("moved", at(10, 20), [2]float64{13, 26})
	c.Rotate(math.Pi / 2)
	check("moved and turned to the left", at(10, 20), [2]float64{-17, 36}) // (-20, 10) and (3, 4)
	c.Scale(2, 3)
	check("moved, turned and stretched", at(10, 20), [2]float64{-57, 26}) // (20, 60) turned is (-60, 20)
	c.Translate(vg.Point{X: 1, Y: 1})
	check("and moved again", at(10, 20), [2]float64{-60, 24}) // (22, 63) turned is (-63, 22)
	c.Pop()
	check("back", at(10, 20), [2]float64{10, 30})
	c.Push()
	c.Rotate(math.Pi / 6)
	c.Rotate(math.Pi / 6)
	turned := at(10, 20) // by 60 degrees in all
	if x, y := 5-20*math.Sqrt(3)/2, 50-(10*math.Sqrt(3)/2+10); math.Abs(turned[0]-x) > 1e-8 || math.Abs(turned[1]-y) > 1e-8 {
		t.Errorf("turned twice: %v, want %v, %v", turned, x, y)
	}
	c.Pop()
	c.SetLineWidth(0)
	c.Stroke(vg.Path{{Type: vg.MoveComp}, {Type: vg.LineComp, Pos: vg.Point{X: 1}}})
	c.SetLineWidth(1)
	c.Stroke(nil)
	if c.body.Len() > 0 {
		t.Errorf("nothing is drawn as %s", c.body.String())
	}
	c.SetLineDash([]vg.Length{7, 2.5}, 0)
	c.SetColor(inkTwo)
	c.Stroke(vg.Path{{Type: vg.MoveComp}, {Type: vg.LineComp, Pos: vg.Point{X: 1}}, {Type: vg.CloseComp}})
	if got, want := c.body.String(), `<path class="k two" stroke-width="1" stroke-dasharray="7 2.5" d="M0 50l1 0z"/>`; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	c.body.Reset()
	c.Fill(circle(vg.Point{X: 10, Y: 20}, 2))
	if got, want := strings.Join(strings.Fields(c.body.String()), " "), `<path class="f two" d="M12 30a2 2 0 0 0 -4 0a2 2 0 0 0 4 0z"/>`; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	c.body.Reset()
	c.Fill(diamond(vg.Point{X: 10, Y: 20}, 2))
	if got, want := c.body.String(), `<path class="f two" d="M12 30l-2-2-2 2 2 2z"/>`; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	var arc vg.Path // one that goes the other way and begins with no move
	arc.Arc(vg.Point{X: 10, Y: 20}, 2, math.Pi/2, -math.Pi)
	c.body.Reset()
	c.Fill(arc)
	if got, want := strings.Join(strings.Fields(c.body.String()), " "), `<path class="f two" d="M10 28a2 2 0 0 1 2 2a2 2 0 0 1 -2 2"/>`; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	c.SetColor(color.Black)
	if c.top().ink != inkText {
		t.Error("another colour than an ink is not that of text")
	}
}

// Boxes meet where they share more than an edge; a text in a box covers what is inside, not what is at its edge.
func TestBoxes(t *testing.T) {
	a := box{0, 0, 10, 5}
	for _, c := range []struct {
		b    box
		want bool
	}{
		{box{2, 1, 3, 2}, true},
		{box{9, 4, 12, 8}, true},
		{box{10, 0, 12, 5}, false},
		{box{0, 5, 10, 6}, false},
		{box{-2, 0, 0, 5}, false},
		{box{0, -2, 10, 0}, false},
		{box{-1, -1, 11, 6}, true},
		{box{2, 6, 3, 7}, false},
		{box{12, 1, 13, 2}, false},
	} {
		if a.meets(c.b) != c.want || c.b.meets(a) != c.want {
			t.Errorf("%v meets %v: %v", a, c.b, !c.want)
		}
	}
	frame := vg.Rectangle{Min: vg.Point{X: 0, Y: 0}, Max: vg.Point{X: 10, Y: 5}}
	for b, want := range map[box]bool{a: true, {1, 1, 9, 4}: true, {-0.1, 0, 10, 5}: false, {0, -0.1, 10, 5}: false, {0, 0, 10.1, 5}: false, {0, 0, 10, 5.1}: false} {
		if b.in(frame) != want {
			t.Errorf("%v is inside: %v", b, !want)
		}
	}
	if got := a.grown(2); got != (box{-2, -2, 12, 7}) {
		t.Errorf("%v", got)
	}
	at := func(x, y vg.Length) vg.Point { return vg.Point{X: x, Y: y} }
	for p, want := range map[vg.Point]bool{at(5, 2): true, at(0, 2): false, at(10, 2): false, at(5, 0): false, at(5, 5): false, at(0.1, 4.9): true} {
		if a.has(p) != want {
			t.Errorf("%v is in the box: %v", p, !want)
		}
	}
	// A text leaves a point free above its letters and below them.
	if got := a.covered([]vg.Point{at(5, 2), at(5, 1), at(5, 4), at(0, 2), at(10, 2), at(9.9, 1.1), at(0.1, 3.9), at(5, 7)}); got != 3 {
		t.Errorf("%d points are covered, want 3", got)
	}
}

// Points along a line are five apart at the most, its ends among them.
func TestPointsAlongALine(t *testing.T) {
	at := func(x, y vg.Length) vg.Point { return vg.Point{X: x, Y: y} }
	got := along(nil, []vg.Point{at(0, 0), at(12, 9), at(12, 9.5)})
	want := []vg.Point{at(0, 0), at(3, 2.25), at(6, 4.5), at(9, 6.75), at(12, 9), at(12, 9.5)} // 15 long: four stretches
	if len(got) != len(want) {
		t.Fatalf("%v, want %v", got, want)
	}
	for i := range got {
		if d := got[i].Sub(want[i]); math.Hypot(float64(d.X), float64(d.Y)) > 1e-9 {
			t.Errorf("%v, want %v", got[i], want[i])
		}
	}
	if got := along(want[:1], want[1:2]); len(got) != 2 {
		t.Errorf("%v", got)
	}
	line := []vg.Point{at(0, 0), at(59, 0)} // thirteen points: 12 stretches of 4.9
	if got := inside(line); len(got) != 11 || !slices.IsSortedFunc(got, func(a, b vg.Point) int { return sign(float64(b.X - a.X)) }) || got[0].X > 55 || got[10].X < 4 {
		t.Errorf("%v", got)
	}
}

// A label stands to the right of a point that has room, elsewhere where it has none, and nowhere when it may be left
// out and all is taken; a line leads to what is far off.
func TestLabelsFindTheirPlace(t *testing.T) {
	frame := vg.Rectangle{Max: vg.Point{X: 300, Y: 200}}
	at := func(x, y vg.Length) vg.Point { return vg.Point{X: x, Y: y} }
	one := func(r request, points ...box) []placed {
		l := layout{frame: frame, points: points}
		l.ask(r)
		return l.place()
	}
	r := request{text: "name", at: at(150, 100), ink: inkText, clear: 5}
	got := one(r)
	if len(got) != 1 || got[0].box.x0 != 155 || got[0].box.y0 > 100 || got[0].box.y1 < 100 || got[0].lead || got[0].over {
		t.Errorf("%+v", got)
	}
	// At the right edge it stands to the left.
	r.at = at(298, 100)
	if got := one(r); len(got) != 1 || got[0].box.x1 > 300 {
		t.Errorf("%+v", got)
	}
	r.at = at(150, 100)
	taken := box{100, 60, 200, 140} // around the point, farther than a near label reaches
	if got := one(r, taken); len(got) != 1 || got[0].box.meets(taken) || !got[0].lead {
		t.Errorf("%+v", got)
	}
	r.least = true
	if got := one(r, taken); len(got) != 0 {
		t.Errorf("%+v", got)
	}
	r.least = false
	if got := one(r, box{0, 0, 300, 200}); len(got) != 0 {
		t.Errorf("%+v", got)
	}
	// What must have a label goes before what may have one, whichever was asked for first.
	l := layout{frame: frame}
	must, may := r, r
	may.text, may.least = "may", true
	l.ask(may)
	l.ask(must)
	if done := l.place(); len(done) != 2 || done[0].text != "name" || done[1].text != "may" || done[0].box.meets(done[1].box) {
		t.Errorf("%+v", done)
	}
	// A line through all of its places is covered, and said to be.
	l = layout{frame: frame}
	for y := vg.Length(0); y <= 200; y += 2 {
		l.avoid(0, []vg.Point{at(0, y), at(300, y)})
	}
	l.ask(r)
	if done := l.place(); len(done) != 1 || !done[0].over {
		t.Errorf("%+v", done)
	}
}

// The line to a label begins at the edge of its point and ends at the nearest place of the label.
func TestLeaders(t *testing.T) {
	at := func(x, y vg.Length) vg.Point { return vg.Point{X: x, Y: y} }
	p := placed{request: request{at: at(0, 0), clear: 5}, box: box{30, 40, 60, 52}}
	if from, to := p.leader(); from != at(3, 4) || to != at(30, 40) {
		t.Errorf("from %v to %v", from, to)
	}
	p.box = box{-10, 20, 10, 32}
	if from, to := p.leader(); from != at(0, 5) || to != at(0, 20) {
		t.Errorf("from %v to %v", from, to)
	}
	p.box = box{-10, 5, 10, 17}
	if from, to := p.leader(); from != to || to != at(0, 5) {
		t.Errorf("from %v to %v", from, to)
	}
}

// A file's name is made of what it shows and of ids, never hidden, never a path, never too long.
func TestFileNames(t *testing.T) {
	for _, c := range []struct {
		of   []string
		want string
	}{
		{[]string{"packs", "Stint 3.5"}, "packs-stint-3.5"},
		{[]string{"packs", "a_b", "C"}, "packs-a_b-c"},
		{[]string{"packs", "../../etc/passwd"}, "packs-etc-passwd"},
		{[]string{".hidden", "x"}, "hidden-x"},
		{[]string{"packs", "a..b"}, "packs-a.b"},
		{[]string{"packs", "a b  c"}, "packs-a-b-c"},
		{[]string{"packs", "電池"}, "packs"},
		{[]string{"packs", "x."}, "packs-x"},
		{[]string{"packs", strings.Repeat("ab", 100)}, "packs-" + strings.Repeat("ab", 57)},
	} {
		if got := FileName(c.of[0], c.of[1:]...); got != c.want {
			t.Errorf("%q: %q, want %q", c.of, got, c.want)
		}
	}
}

// A drawing is as high as its width asks, taller on a phone.
func TestSizesOfADrawing(t *testing.T) {
	d := Drawing{wide: 0.5, tall: 1.1}
	for width, want := range map[float64]float64{100: 110, 480: 528, 481: 240, 760: 380} {
		if got := d.At(width); got != (Size{width, want}) {
			t.Errorf("%v, want a height of %v", got, want)
		}
	}
}

// Six series have six inks and dashes, and a seventh begins again; marks that are pale are named in an ink that reads.
func TestInksOfSeries(t *testing.T) {
	seen := map[ink]bool{}
	for i := range 6 {
		seen[series(i)] = true
		if series(i) != series(i+6) || !slices.Equal(dashes(i), dashes(i+6)) {
			t.Errorf("series %d", i)
		}
	}
	if len(seen) != 6 || series(0) != inkOne || series(5) != inkSix {
		t.Errorf("%v", seen)
	}
	for i, want := range map[ink]ink{inkQuiet: inkMuted, inkBand: inkMuted, inkAxis: inkMuted, inkGrid: inkMuted, inkPart3: inkOne, inkTwo: inkTwo, inkLimit: inkLimit} {
		if got := i.forText(); got != want {
			t.Errorf("%s is named in %s", i.class(), got.class())
		}
	}
	if r, g, b, a := inkOne.RGBA(); r != 0x1a1a || g != 0x5a5a || b != 0x9e9e || a != 0xffff {
		t.Errorf("%x %x %x %x", r, g, b, a)
	}
}

// What a label covers has its price, counted by hand: lines, bands, what is beside it of other curves; other labels and
// points may not be covered, nor the frame left.
func TestCostOfAPlace(t *testing.T) {
	at := func(x, y vg.Length) vg.Point { return vg.Point{X: x, Y: y} }
	b := box{100, 50, 140, 63}
	on := func(owner int, places ...vg.Point) (list []inked) {
		for _, p := range places {
			list = append(list, inked{p, owner})
		}
		return list
	}
	label := func(b box) []placed { return []placed{{box: b}} }
	for _, c := range []struct {
		name  string
		l     layout
		owner int
		want  float64
	}{
		{"nothing", layout{}, 0, 0},
		{"a label to the right, too near", layout{done: label(box{141.4, 50, 150, 63})}, 0, forbidden},
		{"a label to the right", layout{done: label(box{141.6, 50, 150, 63})}, 0, 0},
		{"a label to the left, too near", layout{done: label(box{80, 50, 98.6, 63})}, 0, forbidden},
		{"a label to the left", layout{done: label(box{80, 50, 98.4, 63})}, 0, 0},
		{"a label above, too near", layout{done: label(box{100, 63.4, 140, 70})}, 0, forbidden},
		{"a label above", layout{done: label(box{100, 63.6, 140, 70})}, 0, 0},
		{"a label below, too near", layout{done: label(box{100, 40, 140, 49.6})}, 0, forbidden},
		{"a label below", layout{done: label(box{100, 40, 140, 49.4})}, 0, 0},
		{"a point", layout{points: []box{{139, 62, 145, 66}}}, 0, forbidden},
		{"a point at its edge", layout{points: []box{{140, 50, 145, 63}}}, 0, 0},
		{"a band", layout{faint: []vg.Point{at(110, 55), at(120, 55), at(90, 55)}}, 0, 1.6},
		{"lines", layout{lines: on(0, at(110, 55), at(110, 60), at(110, 70))}, 0, 18},
		{"a line at its foot", layout{lines: on(0, at(110, 50.9), at(110, 62.1))}, 0, 0},
		{"its own curve", layout{lines: on(2, at(110, 55), at(110, 66))}, 2, 9},
		{"another curve beside it", layout{lines: on(1, at(110, 66), at(145, 55), at(94.1, 44.1), at(147, 55), at(110, 70))}, 2, 7.5},
		{"a line beside it", layout{lines: on(0, at(110, 66))}, 2, 0},
		{"a curve beside what is no curve's", layout{lines: on(1, at(110, 66))}, 0, 0},
	} {
		c.l.frame = vg.Rectangle{Max: vg.Point{X: 300, Y: 200}}
		if got := c.l.cost(b, c.owner); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s costs %v, want %v", c.name, got, c.want)
		}
	}
	if got := (&layout{frame: vg.Rectangle{Max: vg.Point{X: 139, Y: 200}}}).cost(b, 0); got != forbidden {
		t.Errorf("outside the frame costs %v", got)
	}

	// The line to a label, from (0, 0) to (60, 0) in steps of five, costs by what it runs through.
	p := placed{request: request{owner: 1}, box: box{60, -5, 90, 5}}
	for _, c := range []struct {
		name string
		l    layout
		want float64
	}{
		{"nothing", layout{}, 0},
		{"a label on three of its points", layout{done: label(box{9, -6, 21, 6})}, 120}, // at 10, 14 and 18: 13 stretches of 4.6
		{"a point", layout{points: []box{{21, -6, 26, 6}}}, 4},
		{"a curve", layout{lines: on(2, at(30, 3.5), at(30, 3.7))}, 8},
		{"its own curve", layout{lines: on(1, at(30, 0))}, 0},
		{"another line", layout{lines: on(0, at(30, 0))}, 8},
	} {
		got := c.l.crossed(p)
		if math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s costs %v, want %v", c.name, got, c.want)
		}
	}
	// To the right is the best, and to the left the worst.
	for turn := range 16 {
		if turn != 0 && turnCost(turn) <= turnCost(0) || turn != 8 && turnCost(turn) >= turnCost(8) {
			t.Errorf("turn %d costs %v", turn, turnCost(turn))
		}
	}
}

// The label of a rule stands at its beginning where it has room, above a lying one and left of an upright one, else
// farther along; a rule outside the panel is not drawn.
func TestLabelsOfRules(t *testing.T) {
	frame := vg.Rectangle{Max: vg.Point{X: 300, Y: 200}}
	same := func(v float64) vg.Length { return vg.Length(v) }
	width := style(labelSize, false, inkLimit).Width("end")
	for _, c := range []struct {
		name  string
		r     rule
		taken []box
		want  []box // nil for no label
		path  string
	}{
		{"lying", rule{at: 100, horizontal: true, label: "end"}, nil, []box{{4, 102, 4 + width, 102 + lineHeight}}, "M0 100l300 0"},
		{"lying, above taken", rule{at: 100, horizontal: true, label: "end"}, []box{{0, 101, 300, 200}}, []box{{4, 98 - lineHeight, 4 + width, 98}}, "M0 100l300 0"},
		{"lying, the first two taken", rule{at: 100, horizontal: true, label: "end"}, []box{{0, 0, 5, 200}}, []box{{4 + (292-width)/7, 102, 4 + (292-width)/7 + width, 102 + lineHeight}}, "M0 100l300 0"},
		{"lying, all taken", rule{at: 100, horizontal: true, label: "end"}, []box{{0, 0, 300, 200}}, nil, "M0 100l300 0"},
		{"lying, no label", rule{at: 100, horizontal: true}, nil, nil, "M0 100l300 0"},
		{"lying, outside", rule{at: 201, horizontal: true, label: "end"}, nil, nil, ""},
		{"lying at the edge", rule{at: 200, horizontal: true, label: "end"}, nil, []box{{4, 198 - lineHeight, 4 + width, 198}}, "M0 0l300 0"},
		{"upright", rule{at: 100, label: "end"}, nil, []box{{95 - width, 198 - lineHeight, 95, 198}}, "M100 200l0-200"},
		{"upright, the left taken", rule{at: 100, label: "end"}, []box{{0, 0, 99, 200}}, []box{{105, 198 - lineHeight, 105 + width, 198}}, "M100 200l0-200"},
		{"upright, outside", rule{at: -1, label: "end"}, nil, nil, ""},
		{"upright at the edge", rule{at: 0, label: "end"}, nil, []box{{5, 198 - lineHeight, 5 + width, 198}}, "M0 200l0-200"},
	} {
		svg := newSVG(300, 200)
		l := layout{frame: frame, points: c.taken}
		l.rule(draw.New(svg), c.r, same, same)
		var got []box
		for _, p := range l.place() {
			got = append(got, p.box)
		}
		if len(got) != len(c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
			continue
		}
		for i := range got {
			for k, side := range []vg.Length{got[i].x0 - c.want[i].x0, got[i].y0 - c.want[i].y0, got[i].x1 - c.want[i].x1, got[i].y1 - c.want[i].y1} {
				if math.Abs(float64(side)) > 1e-6 {
					t.Errorf("%s: side %d of %v, want %v", c.name, k, got[i], c.want[i])
				}
			}
		}
		if text := svg.body.String(); c.path == "" && text != "" || !strings.Contains(text, `d="`+c.path) && c.path != "" {
			t.Errorf("%s is drawn as %s", c.name, text)
		}
	}
}

// Text over lines has a rim, which the next text does not have, and what stands far off a line to its point.
func TestTextOverLines(t *testing.T) {
	svg := newSVG(300, 200)
	c := draw.New(svg)
	over := placed{request: request{text: "over", ink: inkOne, bold: true}, box: box{10, 20, 40, 33}, over: true}
	beside := placed{request: request{text: "beside", ink: inkTwo}, box: box{10, 50, 40, 63}}
	led := placed{request: request{text: "led", ink: inkTwo, at: vg.Point{X: 100, Y: 100}, clear: 5}, box: box{150, 90, 180, 110}, lead: true}
	over.draw(c)
	beside.draw(c)
	led.draw(c)
	got := svg.body.String()
	for _, want := range []string{`<text class="one b r" x="10"`, `<text class="two" x="10"`, `<path class="k axis" stroke-width="0.7" d="M105 100l45 0"/>`} {
		if strings.Count(got, want) != 1 {
			t.Errorf("no %s in %s", want, got)
		}
	}
	if n := strings.Count(got, "<path"); n != 1 {
		t.Errorf("%d lines to labels", n)
	}
}
