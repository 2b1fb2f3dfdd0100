package planner_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/floats/scalar"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// parts loads records, one text a file, later texts over earlier ones.
func parts(t testing.TB, texts ...string) *catalog.Catalogue {
	t.Helper()
	var layers []catalog.Layer
	for i, text := range texts {
		fsys := fstest.MapFS{"p.toml": {Data: []byte(text)}}
		layers = append(layers, catalog.Layer{Name: fmt.Sprint("layer", i), Files: []catalog.File{{Name: "p.toml", FS: fsys, Path: "p.toml"}}})
	}
	cat, _, err := catalog.Load(layers...)
	if err != nil {
		t.Fatal(err)
	}
	return cat
}

func plan(t testing.TB, cat *catalog.Catalogue, build string) *planner.Plan {
	t.Helper()
	b, _, err := catalog.ReadBuild("build.toml", strings.NewReader(build), cat)
	if err != nil {
		t.Fatal(err)
	}
	p, err := planner.Resolve(b)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func rank(t testing.TB, p *planner.Plan) *planner.Ranking {
	t.Helper()
	return p.Rank(packSet(t, p.Build.Parts), planner.RankOptions{})
}

func packSet(t testing.TB, cat *catalog.Catalogue) *planner.PackSet {
	t.Helper()
	packs, err := planner.NewPackSet(cat)
	if err != nil {
		t.Fatal(err)
	}
	return packs
}

// example is the build that an independent implementation of the method worked through,
// with invented parts.
const example = `
[frame.f]
mass_g = 31.0
rotors = 4
thrust_loss = 0.0196078431372549
max_prop_in = 3.5
bay_mm = [70, 35, 30]
mount_mm = 9
[motor.m]
mass_g = 9.2
kv = 3600
r_mohm = 120
no_load_a = 0.60
cells = [3, 4]
mount_mm = 9
shaft_mm = 1.5
[prop.p]
mass_g = 1.4
diameter_in = 3.5
pitch_in = 2.5
blades = 3
ct = 0.150
cp = 0.080
shaft_mm = 1.5
[board.b]
mass_g = 9.0
efficiency = 0.95
power_w = 1.0
cells = [3, 6]
[gear.g]
mass_g = 22.0
power_w = 6.0
[pack.k]
chemistry = "lipo"
cells = 4
rated_mah = 650
mass_g = 74.0
size_mm = [65, 30, 20]
plug = "xt30"
[pack.k.tested]
capacity_mah = 640
energy_wh = 9.29
mid_voltage_v = 14.60
burst_power_w = 560
`

const exampleBuild = `
name = "Example"
rotors = 4
[limit]
mass_g = 250
[slots]
frame = "f"
motor = "m"
prop = "p"
board = "b"
gear = ["g"]
pack = "k"
[extra.payload]
name = "payload"
mass_g = 60
[air]
altitude_m = 500
temperature_c = 20
`

// TestWorkedExample takes the worked build from files to figures. Mass and hover power are those of an
// independent implementation of the method (small steps, no shortcuts), to 0.1 %. What the pack does is that of
// the circuit in model.TestWorkedExampleWarm, which is held against small steps there.
func TestWorkedExample(t *testing.T) {
	p := plan(t, parts(t, example), exampleBuild)
	// The example knows no loss at part duty, a no-load current that does not grow, and motors that see the
	// whole bus voltage.
	p.Drive.Rotor.Controller.PartDutyDrop, p.Drive.Rotor.Controller.Drop, p.Drive.Rotor.Motor.NoLoadSpeed = 0, 0, 0
	r := rank(t, p)
	if len(r.Ranked) != 1 {
		t.Fatalf("%d packs ranked, want 1: %v", len(r.Ranked), r.Excluded)
	}
	a := r.Ranked[0]
	for _, c := range []struct {
		what      string
		got, want float64
		tolerance float64
	}{
		{"all-up mass, g", a.Mass.Grams(), 238.4, 1e-3},
		{"hover power, W", float64(a.Flight.Hover.Power), 47.82271, 1e-3},
		{"time to the reserve, s", float64(a.Flight.Duration), 600.8, 1e-3},
		{"usable energy, Wh", a.Flight.Usable.WattHours(), 7.982, 1e-3},
		{"current at half, A", float64(a.Flight.Current), 3.161, 1e-3},
		{"current at first, A", float64(a.Flight.StartCurrent), 2.865, 1e-3},
		{"current on landing, A", float64(a.Flight.EndCurrent), 3.297, 1e-3},
		{"punch ratio", a.PunchRatio(), 6.567, 1e-3},
		{"headroom", a.Punch.Headroom, 0.6948, 1e-3},
		{"burst power, W", float64(a.Punch.BurstPower), 576.5, 1e-3},
		{"punch ratio on landing", a.LandingRatio(), 3.715, 1e-3},
		{"power density, W/g", *a.PowerDensity / 1000, 560 / 74.0, 1e-9},
		{"energy density, Wh/g", *a.EnergyDensity / 3600 / 1000, 9.29 / 74.0, 1e-9},
	} {
		if !scalar.EqualWithinRel(c.got, c.want, c.tolerance) {
			t.Errorf("%s: got %.6g, want %.6g", c.what, c.got, c.want)
		}
	}
	if a.Flight.EndedBy != model.EndedByReserve || a.Punch.LimitedBy != model.LimitedByPack {
		t.Errorf("ended by %s, limited by %s; want reserve and pack", a.Flight.EndedBy, a.Punch.LimitedBy)
	}
}

// TestReasons makes one pack after another unsuitable, each for its own reason, and one for all.
func TestReasons(t *testing.T) {
	const filters = `
[packs]
cells = [4]
chemistry = ["lipo"]
plug = "xt30"
max_mass_g = 80
`
	pack := func(change string) string {
		fields := map[string]string{
			"chemistry": `"lipo"`, "cells": "4", "rated_mah": "650", "mass_g": "74.0", "size_mm": "[65, 30, 20]", "plug": `"xt30"`,
		}
		for c := range strings.SplitSeq(change, ";") {
			if k, v, ok := strings.Cut(c, "="); ok {
				fields[strings.TrimSpace(k)] = v
			}
		}
		text := "[pack.k]\n"
		for k, v := range fields {
			text += k + " = " + v + "\n"
		}
		return text
	}
	for _, c := range []struct {
		change string
		limit  string
		want   []planner.Code
	}{
		{"", "mass_g = 250", nil},
		{"", "mass_g = 238", []planner.Code{planner.OverLimit}},
		{"", "mass_g = 238.4", []planner.Code{planner.OverLimit}}, // exactly at an exclusive limit
		{"", "mass_g = 238.4\ninclusive = true", nil},
		{"", "mass_g = 240\nspare_g = 2", []planner.Code{planner.UnderSpare}},
		{"", "mass_g = 240.4\nspare_g = 2", nil},
		{"cells = 3", "mass_g = 250", []planner.Code{planner.WrongCells}},
		{"cells = 2", "mass_g = 250", []planner.Code{planner.WrongCells, planner.MotorCells, planner.BoardCells}},
		{`chemistry = "lihv"`, "mass_g = 250", []planner.Code{planner.WrongChem}},
		{`plug = "ph2.0"`, "mass_g = 250", []planner.Code{planner.WrongPlug}},
		{"size_mm = [75, 30, 20]", "mass_g = 250", []planner.Code{planner.TooBigForBay}},
		{"size_mm = [30, 20, 65]", "mass_g = 250", nil}, // fits turned round
		{"mass_g = 81", "mass_g = 250", []planner.Code{planner.OverPackMass}},
		{"max_current_a = 3", "mass_g = 250", []planner.Code{planner.SteadyCurrent}},
		{"rated_mah = 30", "mass_g = 250", []planner.Code{planner.CannotHold}},
		{
			`cells = 2; chemistry = "lihv"; plug = "ph2.0"; size_mm = [75, 40, 40]; mass_g = 95`, "mass_g = 250",
			[]planner.Code{planner.OverLimit, planner.OverPackMass, planner.WrongCells, planner.MotorCells, planner.BoardCells, planner.WrongChem, planner.WrongPlug, planner.TooBigForBay},
		},
	} {
		t.Run(c.change+c.limit, func(t *testing.T) {
			build := strings.Replace(exampleBuild, "mass_g = 250", c.limit, 1) + filters
			if c.change == "rated_mah = 30" {
				c.change += ";circuit = {capacity_mah = 30, r0_mohm = 3000, r1_mohm = 900, tau_s = 20, shift_mv = 0}"
			}
			r := rank(t, plan(t, parts(t, example, pack(c.change)), build))
			var got []planner.Code
			for _, a := range r.Excluded {
				for _, x := range a.Against() {
					got = append(got, x.Code)
				}
			}
			if diff := cmp.Diff(c.want, got); diff != "" {
				t.Errorf("reasons (-want +got):\n%s", diff)
			}
		})
	}
}

// field is a catalogue of packs around the example's, some of them equal in a figure.
func field(n int, seed uint64) []string {
	rng := rand.New(rand.NewPCG(seed, 1))
	var packs []string
	for i := range n {
		rated := 400 + 50*float64(rng.IntN(8))
		mass := rated * (0.105 + 0.02*rng.Float64())
		price := ""
		if rng.IntN(3) > 0 {
			price = fmt.Sprintf("price = %.2f\ncurrency = \"EUR\"\n", 8+15*rng.Float64())
		}
		tested := fmt.Sprintf("[pack.t%05d.tested]\ncapacity_mah = %.0f\nmid_voltage_v = %.2f\nburst_power_w = %.0f\n",
			i, rated*(0.9+0.1*rng.Float64()), 14.2+0.5*rng.Float64(), mass*(4.5+4*rng.Float64()))
		if i%7 == 3 {
			tested = "" // label only
		}
		packs = append(packs, fmt.Sprintf("[pack.t%05d]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = %.0f\nmass_g = %.1f\nplug = \"xt30\"\n%s%s", i, rated, mass, price, tested))
	}
	return packs
}

// TestOrderOfCatalogue: the order of files and records changes nothing.
func TestOrderOfCatalogue(t *testing.T) {
	build := exampleBuild + "[goal]\ntime = 2\npunch = 1\nprice = 1\n"
	texts := field(60, 7)
	want := rank(t, plan(t, parts(t, append([]string{example}, texts...)...), build))
	rng := rand.New(rand.NewPCG(3, 4))
	for range 5 {
		rng.Shuffle(len(texts), func(i, j int) { texts[i], texts[j] = texts[j], texts[i] })
		got := rank(t, plan(t, parts(t, strings.Join(texts, "\n"), example), build))
		if diff := cmp.Diff(figures(want), figures(got)); diff != "" {
			t.Fatalf("order matters (-want +got):\n%s", diff)
		}
	}
}

func figures(r *planner.Ranking) []string {
	var out []string
	for _, a := range r.Ranked {
		out = append(out, fmt.Sprint(a.Rank, a.Pack.ID, a.Score, a.Flight.Duration, a.PunchRatio(), a.Front, *a.Band))
	}
	for _, a := range r.Excluded {
		out = append(out, fmt.Sprint(a.Pack.ID, a.Against()))
	}
	return out
}

// TestScore compares the scores with the definition written out for each pair: the ratio of two
// scores is the weighted geometric mean of the ratios of their figures, whatever the field.
func TestScore(t *testing.T) {
	texts := field(20, 9)
	for i := range texts {
		// A price for everybody: what has none does not compare.
		if !strings.Contains(texts[i], "price") {
			texts[i] = strings.Replace(texts[i], "plug =", "price = 12\ncurrency = \"EUR\"\nplug =", 1)
		}
	}
	base := strings.Replace(example, "plug = \"xt30\"\n", "plug = \"xt30\"\nprice = 20\ncurrency = \"EUR\"\n", 1)
	r := rank(t, plan(t, parts(t, append([]string{base}, texts...)...), exampleBuild+"[goal]\ntime = 2\npunch = 1\nprice = 0.5\n"))
	if len(r.Ranked) < 10 {
		t.Fatalf("%d packs ranked: the field is too small to say anything", len(r.Ranked))
	}
	product := 1.0
	for i, a := range r.Ranked {
		b := r.Ranked[0]
		time := float64(a.Flight.Duration / b.Flight.Duration)
		want := math.Pow(math.Pow(time, 2)*(a.PunchRatio()/b.PunchRatio())*math.Pow(time*(*b.Pack.Price / *a.Pack.Price), 0.5), 1/3.5)
		if got := a.Score / b.Score; !scalar.EqualWithinRel(got, want, 1e-12) {
			t.Errorf("%s against %s: score ratio %.15g, want %.15g", a.Pack.ID, b.Pack.ID, got, want)
		}
		if i > 0 && a.Score > r.Ranked[i-1].Score {
			t.Errorf("number %d scores above number %d", i+1, i)
		}
		product *= a.Score
	}
	// 1.00 is the middle of the field: the scores' geometric mean is 1.
	if !scalar.EqualWithinRel(product, 1, 1e-9) {
		t.Errorf("the product of the scores is %g, want 1", product)
	}
}

// TestFront compares the front with its definition, pair by pair.
func TestFront(t *testing.T) {
	for seed := range uint64(5) {
		r := rank(t, plan(t, parts(t, append([]string{example}, field(50, seed)...)...), exampleBuild))
		for _, a := range r.Ranked {
			beaten := slices.ContainsFunc(r.Ranked, func(b planner.Assessment) bool {
				return b.Flight.Duration > a.Flight.Duration && b.PunchRatio() > a.PunchRatio()
			})
			if a.Front == beaten {
				t.Errorf("seed %d: %s has front = %v, beaten = %v", seed, a.Pack.ID, a.Front, beaten)
			}
		}
	}
}

// TestHeavier: a gram more on board never flies longer nor punches harder, on any pack.
func TestHeavier(t *testing.T) {
	cat := parts(t, append([]string{example}, field(30, 2)...)...)
	build := strings.Replace(exampleBuild, "mass_g = 250", "mass_g = 400", 1)
	lighter := rank(t, plan(t, cat, build))
	heavier := rank(t, plan(t, cat, strings.Replace(build, "mass_g = 60", "mass_g = 61", 1)))
	time := map[string]planner.Assessment{}
	for _, a := range lighter.Ranked {
		time[a.Pack.ID] = a
	}
	if len(heavier.Ranked) < 20 {
		t.Fatalf("%d packs ranked", len(heavier.Ranked))
	}
	for _, a := range heavier.Ranked {
		b := time[a.Pack.ID]
		if a.Flight.Duration >= b.Flight.Duration || a.PunchRatio() >= b.PunchRatio() {
			t.Errorf("%s: with a gram more %v s and %v times the weight, before %v s and %v", a.Pack.ID, a.Flight.Duration, a.PunchRatio(), b.Flight.Duration, b.PunchRatio())
		}
	}
}

// TestBands: a band holds its figure, and knowing less makes it wider.
func TestBands(t *testing.T) {
	label := strings.Replace(example, "[pack.k.tested]", "[pack.other]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 650\nmass_g = 74\n[pack.other.tested]", 1)
	tested := rank(t, plan(t, parts(t, example), exampleBuild)).Ranked[0]
	byLabel := rank(t, plan(t, parts(t, label), strings.Replace(exampleBuild, `pack = "k"`, `pack = "other"`, 1)))
	bySize := rank(t, plan(t, parts(t, strings.Replace(example, "ct = 0.150\ncp = 0.080\n", "", 1)), exampleBuild)).Ranked[0]
	var k planner.Assessment
	for _, a := range byLabel.Ranked {
		if a.Pack.ID == "k" {
			k = a
		}
	}
	if k.Pack.Basis != planner.BasisLabel || k.Warnings()[0].Code != planner.LabelOnly {
		t.Fatalf("k is not label only: %v", k.Warnings())
	}
	for _, a := range []planner.Assessment{tested, k, bySize} {
		for what, c := range map[string]struct {
			band  planner.Interval
			value float64
		}{
			"mass":    {a.Band.Mass, float64(a.Mass)},
			"time":    {a.Band.Time, float64(a.Flight.Duration)},
			"current": {a.Band.Current, float64(a.Flight.Current)},
			"punch":   {a.Band.Punch, a.PunchRatio()},
		} {
			if !(c.band.Low < c.value && c.value < c.band.High) {
				t.Errorf("%s: %s %g is not inside %v", a.Pack.ID, what, c.value, c.band)
			}
		}
	}
	width := func(i planner.Interval) float64 { return i.High - i.Low }
	if width(k.Band.Time)/float64(k.Flight.Duration) <= width(tested.Band.Time)/float64(tested.Flight.Duration) {
		t.Errorf("a label knows flight time better than a test does: %v of %v, %v of %v", k.Band.Time, k.Flight.Duration, tested.Band.Time, tested.Flight.Duration)
	}
	if width(bySize.Band.Time)/float64(bySize.Flight.Duration) <= width(tested.Band.Time)/float64(tested.Flight.Duration) {
		t.Error("a propeller's size knows flight time better than its coefficients do")
	}
}

// TestWeigh follows the mass budget by hand: u of the motors is 4 x 3 % x 9.2 g / sqrt 3 and so
// on (JCGM 100:2008, rectangular, identical parts fully correlated), U twice the root sum of squares.
func TestWeigh(t *testing.T) {
	w := plan(t, parts(t, example), exampleBuild+"[weighed]\nk = 75.5\n").Weigh()
	if !scalar.EqualWithinRel(w.Mass.Grams(), 239.9, 1e-12) || !scalar.EqualWithinRel(w.Dry.Grams(), 164.4, 1e-12) {
		t.Errorf("all-up %g g, dry %g g; want 239.9 and 164.4", w.Mass.Grams(), w.Dry.Grams())
	}
	var sum float64
	for _, halfWidth := range []float64{0.03 * 31, 4 * 0.03 * 9.2, 4 * 0.03 * 1.4, 0.03 * 9, 0.03 * 22, 0.03 * 60, 0.1} {
		sum += halfWidth * halfWidth / 3
	}
	if want := 2 * math.Sqrt(sum); !scalar.EqualWithinRel(w.Expanded.Grams(), want, 1e-12) {
		t.Errorf("expanded uncertainty %g g, want %g", w.Expanded.Grams(), want)
	}
	// 10.1 g at u = U/2: the normal tail by its table value, Phi(-z).
	if z := 10.1 / (w.Expanded.Grams() / 2); w.OverChance > 1e-9 && z > 6 || w.Verdict != planner.Under {
		t.Errorf("chance %g at %g sigma, verdict %s", w.OverChance, z, w.Verdict)
	}
}

// TestSwapNamesWhatItBreaks swaps in one part after another that does not go with the rest.
func TestSwapNamesWhatItBreaks(t *testing.T) {
	const others = `
[frame.small]
mass_g = 25
rotors = 4
max_prop_in = 3.0
bay_mm = [50, 30, 20]
mount_mm = 12
[motor.big]
mass_g = 9.0
kv = 2400
r_mohm = 100
no_load_a = 0.5
cells = [5, 6]
mount_mm = 12
shaft_mm = 5
[prop.long]
mass_g = 1.6
diameter_in = 4
pitch_in = 2.5
blades = 2
shaft_mm = 5
[board.weak]
mass_g = 5
max_current_a = 8
cells = [2, 3]
[pack.odd]
chemistry = "lihv"
cells = 3
rated_mah = 850
mass_g = 90
size_mm = [80, 30, 20]
plug = "ph2.0"
`
	cat := parts(t, example+others)
	build := exampleBuild + "[packs]\ncells = [4]\nchemistry = \"lipo\"\nplug = \"xt30\"\n"
	build = strings.Replace(build, `chemistry = "lipo"`, `chemistry = ["lipo"]`, 1)
	for change, want := range map[string][]planner.Code{
		"frame=small":     {planner.PropTooLarge, planner.MotorMount, planner.TooBigForBay},
		"motor=big":       {planner.MotorMount, planner.PropShaft, planner.MotorCells},
		"prop=long":       {planner.PropTooLarge, planner.PropShaft},
		"board=weak":      {planner.BoardCells, planner.BoardCurrent},
		"pack=odd":        {planner.OverLimit, planner.WrongCells, planner.WrongChem, planner.WrongPlug, planner.TooBigForBay},
		"with=stone:20g":  {planner.OverLimit},
		"without=payload": nil,
	} {
		t.Run(change, func(t *testing.T) {
			before, _, err := catalog.ReadBuild("build.toml", strings.NewReader(build), cat)
			if err != nil {
				t.Fatal(err)
			}
			c, err := catalog.ParseChange(change)
			if err != nil {
				t.Fatal(err)
			}
			after, _, err := before.Apply([]catalog.Change{c})
			if err != nil {
				t.Fatal(err)
			}
			s, err := planner.CompareSwap(before, after, packSet(t, cat))
			if err != nil {
				t.Fatal(err)
			}
			var got []planner.Code
			for _, r := range s.Newly {
				got = append(got, r.Code)
			}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("newly broken (-want +got):\n%s", diff)
			}
			// And back again mends the same.
			back, err := planner.CompareSwap(after, before, packSet(t, cat))
			if err != nil {
				t.Fatal(err)
			}
			if len(back.Mended) != len(want) || len(back.Newly) != 0 {
				t.Errorf("the way back mends %v and breaks %v", back.Mended, back.Newly)
			}
		})
	}
}

// TestPackTemperature: a cold pack has more resistance, by the published factor 1.55 at 5 C
// against 25 C (Oxford Brookes BTC data 2021), and punches less.
func TestPackTemperature(t *testing.T) {
	cat := parts(t, example)
	warm := rank(t, plan(t, cat, exampleBuild)).Ranked[0]
	cold := rank(t, plan(t, cat, exampleBuild+"pack_temperature_c = 5\n")).Ranked[0]
	if !scalar.EqualWithinRel(float64(warm.Punch.BurstPower/cold.Punch.BurstPower), 1.55, 1e-9) {
		t.Errorf("burst power %v W warm, %v W cold: want a factor of 1.55", warm.Punch.BurstPower, cold.Punch.BurstPower)
	}
	if !scalar.EqualWithinRel(float64(cold.Circuit.R0/warm.Circuit.R0), 1.55, 1e-9) {
		t.Errorf("R0 is %v Ohm warm, %v Ohm cold: want the circuit that flew, a factor of 1.55", warm.Circuit.R0, cold.Circuit.R0)
	}
	if cold.PunchRatio() >= warm.PunchRatio() {
		t.Errorf("a cold pack punches %v, a warm one %v", cold.PunchRatio(), warm.PunchRatio())
	}
}

func BenchmarkRank10k(b *testing.B) {
	cat := parts(b, append([]string{example}, strings.Join(field(10000, 1), "\n"))...)
	p := plan(b, cat, exampleBuild)
	b.ReportAllocs()
	for b.Loop() {
		p.Rank(packSet(b, cat), planner.RankOptions{})
	}
}

// BenchmarkAssess is the answer for one build and one pack, prepared, without bands.
func BenchmarkAssess(b *testing.B) {
	cat := parts(b, example)
	p := plan(b, cat, exampleBuild)
	pack := packSet(b, cat).Pack("k")
	b.ReportAllocs()
	for b.Loop() {
		p.Assess(pack)
	}
}

// TestFlightRemarks: what a flight cannot do excludes a pack, and what it hardly does is told.
func TestFlightRemarks(t *testing.T) {
	codesOf := func(parts_, build string) (against, warnings []planner.Code) {
		r := rank(t, plan(t, parts(t, parts_), build))
		for _, a := range append(r.Ranked, r.Excluded...) {
			for _, x := range a.Against() {
				against = append(against, x.Code)
			}
			for _, x := range a.Warnings() {
				warnings = append(warnings, x.Code)
			}
		}
		return against, warnings
	}
	heavy := strings.NewReplacer("mass_g = 250", "mass_g = 3000", "mass_g = 60", "mass_g = 600").Replace(exampleBuild)
	boardOf := func(amps string) string {
		return strings.Replace(example, "efficiency = 0.95", "efficiency = 0.95\nmax_current_a = "+amps, 1)
	}
	for _, c := range []struct {
		name, parts, build string
		against, warning   planner.Code
	}{
		// A board that lets 5 A through gives less thrust than 780 g weigh; hover itself is not limited.
		{"no lift", boardOf("5"), heavy, planner.NoLift, ""},
		// At 1015 rpm/V hover needs more than 14 V, which the pack has when full and not when emptier.
		{"throttle bound", strings.Replace(example, "kv = 3600", "kv = 1015", 1), exampleBuild + "[flight]\nland_v_per_cell = 3.0\n", "", planner.ThrottleBound},
		{"maybe over", example, strings.Replace(exampleBuild, "mass_g = 250", "mass_g = 239", 1), "", planner.MaybeOver},
		{"no price", example, exampleBuild + "[goal]\nprice = 1\ncurrency = \"EUR\"\n", "", planner.NoPrice},
		{"phases that cannot begin", example, strings.Replace(exampleBuild, "mass_g = 60", "mass_g = 70", 1) + "[flight]\nland_v_per_cell = 4.0\nphases = [{ seconds = 5, thrust = 9 }]\n", planner.CannotHold, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			against, warnings := codesOf(c.parts, c.build)
			if c.against != "" && !slices.Contains(against, c.against) {
				t.Errorf("reasons %v, want %s", against, c.against)
			}
			if c.against == "" && len(against) > 0 {
				t.Errorf("reasons %v, want none", against)
			}
			if c.warning != "" && !slices.Contains(warnings, c.warning) {
				t.Errorf("warnings %v, want %s", warnings, c.warning)
			}
		})
	}
}

// A punch-out of 7.305 times 238.4 g carries 1178 g, and with half of the thrust lost it does not: no pack suits then.
func TestRotorsMustCarryTheThrustLoss(t *testing.T) {
	heavy := strings.NewReplacer("mass_g = 250", "mass_g = 3000", "mass_g = 60", "mass_g = 1000").Replace(exampleBuild)
	for loss, suits := range map[string]bool{"0": true, "0.5": false} {
		frame := strings.Replace(example, "thrust_loss = 0.0196078431372549", "thrust_loss = "+loss, 1)
		r := rank(t, plan(t, parts(t, frame), heavy))
		if (len(r.Ranked) > 0) != suits {
			t.Errorf("with a thrust loss of %s %d packs suit, excluded %d", loss, len(r.Ranked), len(r.Excluded))
		}
		for _, a := range r.Excluded {
			for _, x := range a.Against() {
				if !slices.Contains([]planner.Code{planner.NoLift, planner.CannotHold, planner.MotorVoltage}, x.Code) {
					t.Errorf("excluded for %s, want for want of lift", x.Code)
				}
			}
		}
	}
}

// TestBurstCurrentOnly: a pack whose test states the burst current and not the power has one W/g
// wherever it is asked for: 60 A x 3.2 V x 4 cells / 70 g, by hand.
func TestBurstCurrentOnly(t *testing.T) {
	const want = 60 * 3.2 * 4 / 70.0
	cat := parts(t, example, `[pack.amps]
chemistry = "lipo"
cells = 4
rated_mah = 600
mass_g = 70
plug = "xt30"
[pack.amps.tested]
capacity_mah = 588
burst_current_a = 60
burst_end_v_per_cell = 3.2
`)
	p := cat.Packs["amps"]
	pack := packSet(t, cat).Pack("amps")
	a := plan(t, cat, exampleBuild).Assess(pack)
	if a.PowerDensity == nil {
		t.Fatalf("no power density; basis %s, %v", pack.Basis, pack.Remarks)
	}
	if got := *a.PowerDensity / 1000; !scalar.EqualWithinRel(got, want, 1e-9) {
		t.Errorf("a ranking says %v W/g, want %v", got, want)
	}
	if got := planner.RatiosOf(p, *p.Tested).WPerGram; !scalar.EqualWithinRel(got, want, 1e-9) {
		t.Errorf("a field says %v W/g, want %v", got, want)
	}
}

// TestLandingIsOfTheChemistry: where the build sets no landing voltage, liion cells are flown to 3.2 V and the
// others to 3.5 V.
func TestLandingIsOfTheChemistry(t *testing.T) {
	const reserve = "[flight]\nreserve = 0\n"
	for _, c := range []struct {
		chemistry, flight string
		want              float64
	}{
		{"lipo", reserve, 3.5}, {"lihv", reserve, 3.5}, {"liion", reserve, 3.2}, {"liion", reserve + "land_v_per_cell = 3.5\n", 3.5}, {"lipo", reserve + "land_v_per_cell = 3.2\n", 3.2},
	} {
		text := strings.Replace(example, `chemistry = "lipo"`, fmt.Sprintf("chemistry = %q", c.chemistry), 1)
		p := plan(t, parts(t, text), exampleBuild+c.flight)
		a := rank(t, p).Ranked[0]
		if float64(a.LandPerCell) != c.want || a.Flight.EndedBy != model.EndedByVoltage {
			t.Errorf("%s, %q: lands at %v V per cell, ended by %s; want %v V and the voltage", c.chemistry, c.flight, float64(a.LandPerCell), a.Flight.EndedBy, c.want)
		}
		end := float64(p.Drive.Hover(a.Mass, model.Voltage(4*c.want)).Power) / float64(a.Flight.EndCurrent) / 4
		if math.Abs(end/c.want-1) > 4e-3 {
			t.Errorf("%s, %q: ends at about %.3f V per cell, want %v", c.chemistry, c.flight, end, c.want)
		}
	}
}
