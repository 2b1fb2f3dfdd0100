package planner_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// TestItems: identical parts are one item, in the order of the build sheet; what was weighed is that and has no
// tolerance of its record.
func TestItems(t *testing.T) {
	const more = "[gear.h]\nmass_g = 10\npower_w = 2\ntolerance_g = 1\n"
	build := strings.NewReplacer(`gear = ["g"]`, `gear = ["h", "g", "h"]`).Replace(exampleBuild) + "[weighed]\nb = 8.5\n"
	p := plan(t, parts(t, example+more), build)
	var got []string
	for _, i := range append(slices.Clone(p.Items), p.PackItem(p.Pack)) {
		got = append(got, fmt.Sprintf("%s %s %d x %.1f g, weighed %v, half %.3f g", i.Slot, i.ID, i.Count, i.Each.Grams(), i.Weighed, i.TotalHalfWidth().Grams()))
	}
	want := []string{
		"frame f 1 x 31.0 g, weighed false, half 0.930 g", "motor m 4 x 9.2 g, weighed false, half 1.104 g", "prop p 4 x 1.4 g, weighed false, half 0.168 g",
		"board b 1 x 8.5 g, weighed true, half 0.100 g", "gear h 2 x 10.0 g, weighed false, half 2.000 g", "gear g 1 x 22.0 g, weighed false, half 0.660 g",
		"extra payload 1 x 60.0 g, weighed false, half 1.800 g", "pack k 1 x 74.0 g, weighed false, half 2.220 g",
	}
	if !slices.Equal(got, want) {
		t.Errorf("items:\n%s, want\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	near(t, "dry, g", p.Dry.Grams(), 183.9, 1e-9)
	if p.Drive.GearPower != 1+6+2+2 {
		t.Errorf("board and gear take %v W, want 11", float64(p.Drive.GearPower))
	}
	// Parts of a kind err together, of different kinds apart: the spread's square is that of all but the pack.
	_, u := p.With(p.Pack)
	sum := 0.0
	for _, half := range []float64{0.93, 1.104, 0.168, 0.1, 2, 0.66, 1.8, 2.22} {
		sum += half * half / 3
	}
	near(t, "uncertainty, g", u.Grams(), math.Sqrt(sum), 1e-9)
}

// TestNominalBus: 3.7 V a cell of today's pack; without one of the most cells that the build takes, or the motor, or
// four.
func TestNominalBus(t *testing.T) {
	const more = "[motor.any]\nmass_g = 9\nkv = 3600\n"
	for _, c := range []struct {
		what, build string
		cells       float64
	}{
		{"today's pack", exampleBuild + "[packs]\ncells = [6]\n", 4},
		{"what the build takes", unpackedBuild + "[packs]\ncells = [2, 6, 3]\n", 6},
		{"the one number that the build takes", unpackedBuild + "[packs]\ncells = [6]\n", 6},
		{"the motor's most", strings.Replace(unpackedBuild, `motor = "m"`, `motor = "two"`, 1), 2},
		{"nothing said", strings.Replace(unpackedBuild, `motor = "m"`, `motor = "any"`, 1), 4},
	} {
		p := plan(t, parts(t, example, more, "[motor.two]\nmass_g = 9\nkv = 3600\ncells = [1, 2]\n"), c.build)
		near(t, c.what+", V", float64(p.Bus), 3.7*c.cells, 1e-12)
	}
}

// TestHoverOf: a build hovers at its all-up mass, or at its limit where it names no pack; one that is heavier without a
// pack at that. The relative doubt of its power is that of hover there, half of what an error more and less does.
func TestHoverOf(t *testing.T) {
	for _, c := range []struct {
		what, build string
		grams       float64
	}{
		{"with its pack", exampleBuild, 238.4},
		{"without one", unpackedBuild, 250},
		{"without one, over its limit", strings.Replace(unpackedBuild, "mass_g = 250", "mass_g = 150", 1), 164.4},
	} {
		p := plan(t, parts(t, example), c.build)
		thrust := p.Drive.Hover(model.Mass(c.grams)*model.Gram, p.Bus).Rotor.Thrust
		r := p.Drive.Rotor
		more, less := r.PowerSpread(thrust, p.Bus, r.Uncertain())
		if got := p.PowerSigma(); !scalar.EqualWithinRel(got, (more+less)/2, 1e-9) || got < 0.02 || got > 0.2 {
			t.Errorf("%s: %v, want that at %v g, %v", c.what, got, c.grams, (more+less)/2)
		}
	}
}

// TestStatedAndEstimated: what records state counts, and what they do not is estimated and said.
func TestStatedAndEstimated(t *testing.T) {
	without := func(lines ...string) string {
		text := example
		for _, l := range lines {
			text = strings.Replace(text, l+"\n", "", 1)
		}
		return text
	}
	const r, i0, efficiency = "r_mohm = 120", "no_load_a = 0.60", "efficiency = 0.95"
	for _, c := range []struct {
		what, parts string
		estR, estI0 bool
		assumed     bool
		says        string // of the motor
	}{
		{"all", example, false, false, false, ""},
		{"no resistance", without(r), true, false, false, "states no resistance: it is made from the propeller"},
		{"no current", without(i0), false, true, false, "states no no-load current: it is made from the propeller"},
		{"neither", without(r, i0), true, true, false, "states no resistance or no-load current: both are made from the propeller"},
		{"no efficiency", without(efficiency), false, false, true, ""},
	} {
		p := plan(t, parts(t, c.parts), exampleBuild)
		m, k := p.Drive.Rotor.Motor, p.Drive.Rotor.Controller
		if m.EstimatedR != c.estR || m.EstimatedI0 != c.estI0 || k.Assumed != c.assumed {
			t.Errorf("%s: resistance estimated %v, current %v, controller assumed %v", c.what, m.EstimatedR, m.EstimatedI0, k.Assumed)
		}
		if !c.estR && m.R != 0.120 || !c.estI0 && m.I0 != 0.6 || !(m.R > 0 && m.I0 > 0) {
			t.Errorf("%s: %v Ohm and %v A", c.what, float64(m.R), float64(m.I0))
		}
		if !c.assumed && (k.Efficiency != 0.95 || !scalar.EqualWithinAbs(k.Drop, 0.05, 1e-12)) {
			t.Errorf("%s: an efficiency of %v, of which %v stays", c.what, k.Efficiency, k.Drop)
		}
		said := map[planner.Code]string{}
		for _, w := range p.Warnings {
			said[w.Code] = w.Text
		}
		if text, ok := said[planner.MotorEstimated]; ok != (c.says != "") || !strings.HasPrefix(text, c.says) {
			t.Errorf("%s: %q, want %q", c.what, text, c.says)
		}
		if _, ok := said[planner.BoardEstimated]; ok != c.assumed {
			t.Errorf("%s: of the board it is said %q", c.what, said[planner.BoardEstimated])
		}
	}
	// A no-load current is taken at the free speed on its own voltage, or on the nominal one.
	for volts, want := range map[string]float64{"": 14.8, "no_load_v = 10\n": 10} {
		p := plan(t, parts(t, strings.Replace(example, i0+"\n", i0+"\n"+volts, 1)), exampleBuild)
		near(t, "speed of the no-load current, rpm", p.Drive.Rotor.Motor.NoLoadSpeed.RPM(), 3600*want, 1e-6)
	}
}

// TestSeveralCandidates: a slot that lists more than one part says how many and which is taken; one that lists one does
// not.
func TestSeveralCandidates(t *testing.T) {
	const more = "[frame.g2]\nmass_g = 25\nrotors = 4\n[gear.h]\nmass_g = 10\n[pack.l]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 550\nmass_g = 63\n"
	build := strings.NewReplacer(`frame = "f"`, `frame = ["g2", "f"]`, `pack = "k"`, `pack = ["k", "l"]`).Replace(exampleBuild)
	p := plan(t, parts(t, example+more), build)
	var got []string
	for _, r := range p.Warnings {
		if r.Code == planner.SeveralCandidate {
			got = append(got, r.Text)
		}
	}
	want := []string{"slot frame lists 2 candidates; g2, the first, is taken", "slot pack lists 2 candidates; k, the first, is taken"}
	if !slices.Equal(got, want) || p.Frame.ID != "g2" || p.Pack.ID != "k" {
		t.Errorf("%s with %s: %q, want %q", p.Frame.ID, p.Pack.ID, got, want)
	}
	b := readBuild(t, parts(t, example), exampleBuild)
	b.Slots.Motor = nil
	if _, err := planner.SelectionOf(b); err == nil || !strings.Contains(err.Error(), "empty slot") {
		t.Errorf("without a motor: %v", err)
	}
}

// TestHoversAgree: flown hovers that a single factor meets within a tenth pass; beyond that the worst is told. Two
// hovers of one mass whose powers differ are missed by one factor between them.
func TestHoversAgree(t *testing.T) {
	power := float64(plan(t, parts(t, example), exampleBuild).Drive.Hover(238.4*model.Gram, 14.8).Power)
	for _, c := range []struct {
		apart float64
		told  bool
	}{{1, false}, {1.15, false}, {1.35, true}} {
		flown := fmt.Sprintf("[hover]\nflown = [{ mass_g = 238.4, power_w = %.2f }, { mass_g = 238.4, power_w = %.2f }]\n", power, c.apart*power)
		p := plan(t, parts(t, example), exampleBuild+flown)
		told := slices.ContainsFunc(p.Warnings, func(r planner.Remark) bool { return r.Code == planner.HoverScatter })
		if told != c.told {
			t.Errorf("powers %v times apart: told %v", c.apart, told)
		}
	}
}

// TestPowerChange: how far hover is from that in the file's own air, and nothing in it. Power goes with one over the
// square root of the density where all of it is the rotors', by momentum theory.
func TestPowerChange(t *testing.T) {
	p := plan(t, parts(t, example), exampleBuild)
	if change, ok := p.Weigh().PowerChange(); ok || change != 0 {
		t.Errorf("in its own air it changes by %v W", float64(change))
	}
	height := model.Length(3000)
	high, err := p.In(planner.Conditions{Altitude: &height})
	if err != nil {
		t.Fatal(err)
	}
	w := high.Weigh()
	change, ok := w.PowerChange()
	here, home := w.HoverPower(), p.Weigh().HoverPower()
	if !ok || change != here-home {
		t.Errorf("at 3000 m it changes by %v W, %v, want %v W", float64(change), ok, float64(here-home))
	}
	if ratio := float64(change) / float64(home); ratio < 0.05 || ratio > 0.25 {
		t.Errorf("at 3000 m hover takes %v more", ratio)
	}
}

// TestAgainstAllNamed: beside each threshold a mass says whether the build names it, the chance of breaking it, and at
// which speed it transfers what the threshold's clause on speed names: half of m v^2.
func TestAgainstAllNamed(t *testing.T) {
	w := limited(t, `rule = ["eu-a1-built", "hk-a1"]`, 249.6).Weigh()
	named, clauses := 0, 0
	for _, a := range w.AgainstAll() {
		if is := a.ID == "eu-a1-built" || a.ID == "hk-a1"; a.Named != is {
			t.Errorf("%s is named: %v", a.ID, a.Named)
		} else if is {
			named++
		}
		if a.Mass != w.Mass {
			t.Errorf("%s: %v g", a.ID, a.Mass.Grams())
		}
		if a.Limit != nil && (a.OverChance > 0.5) == a.Passes {
			t.Errorf("%s: passes %v with a chance of %v of breaking it", a.ID, a.Passes, a.OverChance)
		}
		if a.Speed == nil {
			if a.Transferring != 0 {
				t.Errorf("%s asks nothing of speed: %v", a.ID, float64(a.Transferring))
			}
			continue
		}
		clauses++
		if got, want := 0.5*0.2496*math.Pow(float64(a.Transferring), 2), float64(a.Speed.Transfer); !scalar.EqualWithinRel(got, want, 1e-9) {
			t.Errorf("%s: at %v m/s it transfers %v J, want %v", a.ID, float64(a.Transferring), got, want)
		}
	}
	if named != 2 || clauses == 0 {
		t.Errorf("%d named, %d with a clause on speed", named, clauses)
	}
	// A ranking says the same of the thresholds that the build names, and of no others.
	p := plan(t, parts(t, example), strings.Replace(exampleBuild, "mass_g = 250", `rule = ["eu-c0", "eu-a1-built"]`, 1))
	asked := p.SpeedsAsked(&planner.Assessment{Candidate: planner.Candidate{Mass: 0.2496}})
	for _, a := range w.AgainstAll() {
		is := slices.ContainsFunc(asked, func(s planner.SpeedAsked) bool { return s.Rule == a.ID && s.Transferring == a.Transferring })
		if want := a.Speed != nil && (a.ID == "eu-c0" || a.ID == "eu-a1-built"); is != want {
			t.Errorf("%s asks of the build's speed: %v, want %v", a.ID, is, want)
		}
	}
}

// TestRatiosOf: what a pack gives for its label and mass, by hand, and nothing where it was not measured.
func TestRatiosOf(t *testing.T) {
	p := &catalog.Pack{Common: catalog.Common{Mass: 70 * model.Gram}, Cells: 4, Rated: 500 * model.MilliAmpH}
	m := model.TestedMetrics{Capacity: 480 * model.MilliAmpH, Energy: 7 * model.WattHour, BurstPower: 420}
	r := planner.RatiosOf(p, m)
	for what, v := range map[string][2]float64{"delivered": {r.DeliveredOverRated, 0.96}, "Wh/g": {r.WhPerGram, 0.1}, "W/g": {r.WPerGram, 6}, "C": {r.TestedC, 0}} {
		near(t, what, v[0], v[1], 1e-12)
	}
}

// TestLossAssumed: a frame that states no thrust loss is said to lose none, and one that states none of it, 0, is not.
func TestLossAssumed(t *testing.T) {
	for loss, want := range map[string]bool{"": true, "thrust_loss = 0\n": false, "thrust_loss = 0.02\n": false} {
		p := plan(t, parts(t, strings.Replace(example, "thrust_loss = 0.0196078431372549\n", loss, 1)), exampleBuild)
		if told := slices.ContainsFunc(p.Warnings, func(r planner.Remark) bool { return r.Code == planner.LossAssumed && r.Subject == "f" }); told != want {
			t.Errorf("%q: told %v", loss, told)
		}
	}
}
