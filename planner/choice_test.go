package planner_test

import (
	"math"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"gonum.org/v1/gonum/floats/scalar"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// withOwn is the built-in catalogue under records of the user's own.
func withOwn(t *testing.T, text string) *catalog.Catalogue {
	t.Helper()
	fsys := fstest.MapFS{"p.toml": {Data: []byte(text)}}
	cat, _, err := catalog.Load(catalog.Builtin(), catalog.Layer{Name: "own", Files: []catalog.File{{Name: "p.toml", FS: fsys, Path: "p.toml"}}})
	if err != nil {
		t.Fatal(err)
	}
	return cat
}

// TestChoiceOfPacks: a ranking looks at the packs that the build asks for, at all of the user's where it asks for none,
// and at invented ones where he has none; it says which it leaves out, and why.
func TestChoiceOfPacks(t *testing.T) {
	own := withOwn(t, example+logged("t1", "lipo", 4, 500, "")+logged("t2", "lipo", 4, 600, ""))
	demos := demo(t).IDs(catalog.KindPack)
	left := func(ids ...string) []string { // of the demo packs
		return slices.DeleteFunc(slices.Clone(demos), func(id string) bool { return slices.Contains(ids, id) })
	}
	asks := func(packs string) string { return strings.Replace(exampleBuild, `pack = "k"`, "pack = "+packs, 1) }
	for _, c := range []struct {
		what, build         string
		looked, demo, other []string
	}{
		{"all of the user's", exampleBuild, []string{"k", "t1", "t2"}, demos, nil},
		{"two of them", asks(`["t2", "k"]`), []string{"k", "t2"}, demos, []string{"t1"}},
		{"one and a demo", asks(`["k", "` + demos[0] + `"]`), []string{demos[0], "k"}, left(demos[0]), []string{"t1", "t2"}},
		{"only one", exampleBuild + "[packs]\nonly = [\"t1\"]\n", []string{"t1"}, demos, []string{"k", "t2"}},
	} {
		p := plan(t, own, c.build)
		r := rank(t, p)
		var looked []string
		for _, a := range append(r.Ranked, r.Excluded...) {
			looked = append(looked, a.Pack.ID)
		}
		slices.Sort(looked)
		slices.Sort(c.looked)
		if !slices.Equal(looked, c.looked) || !slices.Equal(r.LeftOut.Demo, c.demo) || !slices.Equal(r.LeftOut.Other, c.other) {
			t.Errorf("%s: looks at %v and leaves out %v, %v; want %v, %v, %v", c.what, looked, r.LeftOut.Demo, r.LeftOut.Other, c.looked, c.demo, c.other)
		}
	}
	if ids := plan(t, own, exampleBuild).DemoParts(); ids != nil {
		t.Errorf("of the user's own parts %v are invented", ids)
	}
	mixed := plan(t, own, strings.Replace(exampleBuild, `pack = "k"`, `pack = "`+demos[0]+`"`, 1))
	if ids := mixed.DemoParts(); !slices.Equal(ids, demos[:1]) {
		t.Errorf("%v are invented, want the pack %s", ids, demos[0])
	}
	if ids := plan(t, own, unpackedBuild).DemoParts(); ids != nil {
		t.Errorf("without a pack %v are invented", ids)
	}
	if all := packSet(t, own).LeftOut(); !slices.Equal(all.Demo, demos) || all.Other != nil {
		t.Errorf("all packs leave out %v", all)
	}
}

// TestFlies: what lasts at all flies, in hover and in phases.
func TestFlies(t *testing.T) {
	for _, c := range []struct {
		hover, phases float64 // phases below 0 for none
		want          bool
	}{{0.5, -1, true}, {0, -1, false}, {0.5, 0.5, true}, {0.5, 0, false}, {0, 300, false}} {
		var a planner.Assessment
		a.Flight.Duration = model.Time(c.hover)
		if c.phases >= 0 {
			a.Cycle = &model.PhaseFlight{Duration: model.Time(c.phases)}
		}
		if a.Flies() != c.want {
			t.Errorf("%v s of hover, %v s of phases: flies %v", c.hover, c.phases, a.Flies())
		}
	}
}

// TestStandLosses: at each row's thrust the power of one rotor, all of it on its places, which are those of a stand
// alone; it is what the row shows, since the fit meets that.
func TestStandLosses(t *testing.T) {
	_, rows := standRows(t)
	cat := parts(t, example, thrustTest(rows))
	fit, err := planner.ReadThrustTest(cat, "stand")
	if err != nil {
		t.Fatal(err)
	}
	losses := planner.StandLosses(cat, "stand", &fit)
	if len(losses) != 5 {
		t.Fatalf("%d rows, want 5", len(losses))
	}
	places := []model.Place{model.PlaceLift, model.PlaceInduced, model.PlaceProfile, model.PlaceCopper, model.PlaceNoLoad, model.PlacePartDuty, model.PlaceController}
	for i, l := range losses {
		row := fit.Rows[i].Row
		var sum, shares float64
		for _, x := range l.Losses {
			if !slices.Contains(places, x.Place) {
				t.Errorf("row %d loses %v W to %s", i+1, float64(x.Power), x.Place)
			}
			sum, shares = sum+float64(x.Power), shares+x.Share
		}
		shown := float64(row.Voltage) * float64(row.Current)
		if !scalar.EqualWithinRel(sum, float64(l.Hover.Power), 1e-9) || !scalar.EqualWithinRel(shares, 1, 1e-9) || !scalar.EqualWithinRel(sum, shown, 0.02) {
			t.Errorf("row %d takes %v W on its places, of %v W by the fit and %v W on the stand", i+1, sum, float64(l.Hover.Power), shown)
		}
		if !scalar.EqualWithinRel(float64(l.Hover.Rotor.Thrust), float64(row.Thrust), 1e-9) {
			t.Errorf("row %d lifts %v N, want %v", i+1, float64(l.Hover.Rotor.Thrust), float64(row.Thrust))
		}
	}
}

// TestEstimateBySize: the figure of merit is that of the coefficients, CT^1.5 / CP x sqrt(2/pi), and known to about the
// 0.18 in its logarithm by which propellers scatter.
func TestEstimateBySize(t *testing.T) {
	e, err := planner.EstimateBySize(&catalog.Prop{Diameter: 3.5 * model.Inch, Pitch: 2.5 * model.Inch, Blades: 3})
	if err != nil {
		t.Fatal(err)
	}
	if want := math.Pow(e.CT, 1.5) / e.CP * math.Sqrt(2/math.Pi); !scalar.EqualWithinRel(e.Merit, want, 1e-9) || e.Merit < 0.4 || e.Merit > 0.75 {
		t.Errorf("a figure of merit of %v, want %v", e.Merit, want)
	}
	if part := e.SigmaMerit / e.Merit; part < 0.05 || part > 0.3 || !(e.SigmaCT > 0.1 && e.SigmaCT < 0.3) || e.Thrust != 0.5 {
		t.Errorf("known to %v of the merit and %v of CT, at %v N", part, e.SigmaCT, float64(e.Thrust))
	}
	if _, err := planner.EstimateBySize(&catalog.Prop{}); err == nil {
		t.Error("a propeller of no size is estimated")
	}
}

// TestDifferenceOfPacks draws two packs with the errors that they share in both. Their masses differ by what is not
// known of the two alone: rectangular where a list gives them, the sum of which has its 95 % at a + b - sqrt(0.4 a b);
// normal on a scale, of which the pack that was on it is known by the rest, too.
func TestDifferenceOfPacks(t *testing.T) {
	other := "\n[pack.heavy]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 700\nmass_g = 80\nplug = \"xt30\"\n"
	uHeavy := 0.03 / math.Sqrt(3) * 80
	s2 := uDry*uDry + uPack*uPack + uShow*uShow
	const half, halfHeavy = 0.03 * 74, 0.03 * 80
	for _, c := range []struct {
		scale          string
		within, middle float64
	}{
		{"", half + halfHeavy - math.Sqrt(0.4*half*halfHeavy), 6},
		{"[scale]\nall_up_g = 245\npack = \"k\"\n", 1.6448536269514722 * math.Hypot(uHeavy, uPack), 6},
		{"[scale]\nall_up_g = 237.5\npack = \"k\"\n", 1.6448536269514722 * math.Hypot(uHeavy, uPack*math.Sqrt(1-uPack*uPack/s2)), 6 + 0.9*uPack*uPack/s2},
	} {
		p := plan(t, parts(t, example+other), exampleBuild+c.scale)
		d := p.Difference(packOf(t, p, "heavy"), packOf(t, p, "k")).Mass
		near(t, c.scale+": 5 %, g", 1000*d.Low, c.middle-c.within, 0.08*c.within)
		near(t, c.scale+": 95 %, g", 1000*d.High, c.middle+c.within, 0.08*c.within)
	}
}

// TestDrawBand: a band by draws is marked, beside the first-order one, which says the same of the mass and nearly so of
// time; what does not fly has none.
func TestDrawBand(t *testing.T) {
	p := plan(t, parts(t, example, hostile), exampleBuild)
	a, weak := p.Assess(packOf(t, p, "k")), p.Assess(packOf(t, p, "weak"))
	p.DrawBand(&a)
	p.DrawBand(&weak)
	if !a.Drawn || a.Quick == nil || a.Band == nil || a.Quick.Mass != a.Band.Mass {
		t.Fatalf("drawn %v, %+v beside %+v", a.Drawn, a.Band, a.Quick)
	}
	quick, drawn := a.Quick.Time.High-a.Quick.Time.Low, a.Band.Time.High-a.Band.Time.Low
	if math.Abs(drawn/quick-1) > 0.1 {
		t.Errorf("a band of time of %v s by draws, %v s to first order", drawn, quick)
	}
	if weak.Drawn || weak.Band != nil || weak.Quick != nil {
		t.Errorf("what does not fly has a band %+v", weak.Band)
	}
}

// TestRankOptions: bands are of what suits the build, and none where they are not asked for; three passes over the
// packs are counted as one.
func TestRankOptions(t *testing.T) {
	cat := parts(t, example, hostile)
	p := plan(t, cat, exampleBuild)
	var mu sync.Mutex
	most := 0
	r := p.Rank(packSet(t, cat), planner.RankOptions{Quick: true, Progress: func(done, total int) {
		mu.Lock()
		defer mu.Unlock()
		if total != 3*len(cat.Packs) || done < 1 || done > total {
			t.Errorf("%d of %d are done, want of %d", done, total, 3*len(cat.Packs))
		}
		most = max(most, done)
	}})
	if want := 2 * len(cat.Packs); most != want { // nothing is drawn
		t.Errorf("%d are done at the end, want %d", most, want)
	}
	none := p.Rank(packSet(t, cat), planner.RankOptions{NoBands: true})
	for i := range r.Ranked {
		if r.Ranked[i].Band == nil || none.Ranked[i].Band != nil || none.Ranked[i].Group != 0 || none.Ranked[i].Pack.ID != r.Ranked[i].Pack.ID {
			t.Errorf("number %d: a band %v, %v where none is asked for", i+1, r.Ranked[i].Band, none.Ranked[i].Band)
		}
	}
	for _, a := range append(r.Excluded, none.Excluded...) {
		if a.Band != nil {
			t.Errorf("%s does not suit the build, and has a band", a.Pack.ID)
		}
	}
}
