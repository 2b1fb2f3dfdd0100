package planner_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"

	"allup/model"
	"allup/planner"
)

// knownPair is a motor and a propeller with what is known of them.
type knownPair struct{ motor, prop, known string }

// drawWorld writes records of two pairs of motor and propeller, each known in a way of its own, of two boards, and of
// packs by test and by label.
func drawWorld(t *testing.T, r *rand.Rand) (records string, pairs [2]knownPair) {
	t.Helper()
	var b strings.Builder
	pick := func(from ...string) string { return from[r.IntN(len(from))] }
	b.WriteString("[frame.f]\nmass_g = 31\nrotors = 4\n[gear.g]\nmass_g = 22\npower_w = 5\n[board.b]\nmass_g = 9\nefficiency = 0.94\n[board.other]\nmass_g = 8\n")
	for i, id := range []string{"k", "l"} {
		fmt.Fprintf(&b, "[pack.%s]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = %d\nmass_g = %d\nweighed = %v\n", id, 600+80*i, 68+8*i, r.IntN(2) == 0)
		if r.IntN(2) == 0 {
			fmt.Fprintf(&b, "[pack.%s.tested]\ncapacity_mah = %d\nenergy_wh = %.3f\nmid_voltage_v = 14.6\nburst_power_w = %d\n", id, 590+80*i, 0.01454*float64(590+80*i), 490+70*i)
		}
	}
	motors := []string{"m", "n"}
	for i, id := range motors {
		fmt.Fprintf(&b, "[motor.%s]\nmass_g = %g\nkv = %d\n", id, 9.2+float64(i), 3500-500*i)
		if r.IntN(3) > 0 {
			fmt.Fprintf(&b, "r_mohm = %d\nno_load_a = 0.6\nno_load_v = 10\n", 120+40*i)
		}
	}
	for i, id := range []string{"p", "q"} {
		motor := motors[0]
		if r.IntN(4) == 0 {
			motor = motors[i]
		}
		pairs[i] = knownPair{motor, id, pick("table", "test", "coefficients", "size")}
		d, p := 3+0.25*float64(r.IntN(5)), 2+0.25*float64(r.IntN(4))
		blades := 2 + r.IntN(2)
		ct := math.Exp(-3.171+1.414*p/d) * math.Pow(float64(blades)/2, 0.66) * (1 + 0.1*r.NormFloat64())
		fm := 0.58 * (1 + 0.06*r.NormFloat64())
		cp := model.PowerCoefficient(ct, fm)
		fmt.Fprintf(&b, "[prop.%s]\nmass_g = %.2f\ndiameter_in = %g\npitch_in = %g\nblades = %d\n", id, 1.2+0.3*r.Float64(), d, p, blades)
		switch pairs[i].known {
		case "table":
			fmt.Fprintf(&b, "static = [{ rpm = 8000, ct = %.5f, cp = %.5f }, { rpm = 35000, ct = %.5f, cp = %.5f }]\n", ct, cp, 1.05*ct, 1.04*cp)
		case "coefficients":
			fmt.Fprintf(&b, "ct = %.5f\ncp = %.5f\n", ct, cp)
		case "test":
			writeTest(t, &b, r, pairs[i], d, p, blades, ct, cp)
		}
	}
	return b.String(), pairs
}

// writeTest writes what a stand would show of a motor with a propeller of coefficients.
func writeTest(t *testing.T, b *strings.Builder, r *rand.Rand, pair knownPair, d, p float64, blades int, ct, cp float64) {
	t.Helper()
	prop, err := model.NewPropeller(model.Length(d)*model.Inch, model.Length(p)*model.Inch, blades, model.FromCoefficients, []model.StaticPoint{{CT: ct, CP: cp}})
	if err != nil {
		t.Fatal(err)
	}
	motor := model.Motor{Kv: 3500 * model.RPMPerVolt, R: 0.12, I0: 0.6}
	if pair.motor == "n" {
		motor = model.Motor{Kv: 3000 * model.RPMPerVolt, R: 0.16, I0: 0.6}
	}
	rotor := model.Rotor{Propeller: prop, Motor: motor, Controller: model.AssumedController(), Air: 1.225}
	fmt.Fprintf(b, "[thrust_test.%s]\nmotor = %q\nprop = %q\nrows = [\n", "t"+pair.prop, pair.motor, pair.prop)
	const bus = 15.5
	full := rotor.FullSpeed(bus)
	for _, share := range []float64{0.3, 0.45, 0.6, 0.75, 0.9, 1} {
		w := full * model.AngularSpeed(share)
		at := rotor.AtSpeed(w, bus)
		fmt.Fprintf(b, "{ throttle = %.3f, voltage_v = %g, current_a = %.4f, thrust_g = %.2f, rpm = %.0f },\n",
			math.Min(1, at.Duty), bus, float64(at.BusPower)/bus*(1+0.01*r.NormFloat64()), float64(at.Thrust)/9.80665*1000, w.RPM())
	}
	b.WriteString("]\n")
}

// drawnSwap is a swap of motor and propeller, or of a pack or gear with the same rotors, whose hover may have
// been flown.
func drawnSwap(t *testing.T, r *rand.Rand) *planner.Swap {
	t.Helper()
	records, pairs := drawWorld(t, r)
	cat := parts(t, records)
	build := fmt.Sprintf("rotors = 4\n[limit]\nmass_g = 350\n[slots]\nframe = \"f\"\nmotor = %q\nprop = %q\nboard = \"b\"\ngear = [\"g\"]\npack = \"k\"\n[extra.payload]\nmass_g = 50\n", pairs[0].motor, pairs[0].prop)
	changes := []string{"prop=" + pairs[1].prop, "motor=" + pairs[1].motor}
	switch r.IntN(6) {
	case 0:
		changes = append(changes, "pack=l")
	case 1:
		changes = append(changes, "board=other")
	case 2:
		changes = []string{"pack=l"}
	case 3:
		changes = []string{"with=camera:12g"}
	}
	if r.IntN(3) == 0 {
		p := plan(t, cat, build)
		m := p.Weigh().Mass
		build += fmt.Sprintf("[hover]\nflown = [{ mass_g = %.1f, power_w = %.2f }]\n", m.Grams(), float64(p.Drive.Hover(m, p.Bus).Power)*(1+0.08*r.NormFloat64()))
	}
	return compare(t, cat, build, changes...)
}

// drawnErrors are what is not known, drawn once for both sides of a swap: the same part has the same error on
// both, and so have two propellers known by their size in half of its variance, for one formula made both.
type drawnErrors struct {
	r     *rand.Rand
	drawn map[string]float64
}

func (e drawnErrors) of(names ...string) float64 {
	name := strings.Join(names, " ")
	if _, ok := e.drawn[name]; !ok {
		e.drawn[name] = e.r.NormFloat64()
	}
	return e.drawn[name]
}

// figures are time, current and punch of one side with the drawn errors in it.
func (e drawnErrors) figures(p *planner.Plan, pack *planner.Pack) [3]float64 {
	is := p.Propulsion
	stand := ""
	if is.Test != nil {
		stand = is.Test.ID
	}
	in := p.At(pack, p.Bare())
	for _, u := range p.Uncertain(pack) {
		kind := string(u.Input)
		z := 0.0
		switch u.Input {
		case planner.InputThrust, planner.InputFigureOfMerit, planner.InputGrowth:
			switch {
			case u.Input == planner.InputFigureOfMerit && is.Calibration != nil:
				z = e.of("flown")
			case is.Base == model.FromGeometry:
				z = (e.of(kind, "formula") + e.of(kind, u.Subject)) / math.Sqrt2
			default:
				z = e.of(kind, u.Subject, string(is.Base))
			}
		case planner.InputEfficiency:
			board := 0.01
			if p.Board.Efficiency == nil {
				board = 0.03 / 0.95
			}
			motor := math.Sqrt(math.Max(0, u.Sigma*u.Sigma-board*board))
			z = (board*e.of("board", p.Board.ID) + motor*e.of("motor", p.Motor.ID)) / u.Sigma
		case planner.InputPartDuty:
			z = e.of(kind, u.Subject, stand)
		default:
			z = e.of(kind, u.Subject)
		}
		u.Move(&in, z*u.Sigma)
	}
	answer := in.Drive.Answer(in.Circuit, in.Mass, p.MissionOn(pack.Chemistry))
	return [3]float64{float64(answer.Duration()), float64(answer.Flight.Current), answer.Punch.Ratio(in.Mass)}
}

// TestDifferenceBandCovers: on random pairs of knowledge of motor and propeller the band of a swap's difference holds
// the true difference nine times of ten. The truth is drawn, and flown in full: not to first order, not one at a time.
func TestDifferenceBandCovers(t *testing.T) {
	if testing.Short() {
		t.Skip("800 swaps take a while")
	}
	n := 800
	if os.Getenv("ALLUP_LONG") != "" {
		n = 4000
	}
	r := rand.New(rand.NewPCG(1, 2026))
	var held [3]int
	kinds := map[string]int{}
	for range n {
		s := drawnSwap(t, r)
		if s.Difference == nil {
			t.Fatal("a swap that does not fly")
		}
		kinds[string(s.Before.Plan.Propulsion.Source)+", "+string(s.After.Plan.Propulsion.Source)]++
		e := drawnErrors{r, map[string]float64{}}
		was := e.figures(s.Before.Plan, s.Before.Flown.Pack)
		is := e.figures(s.After.Plan, s.After.Flown.Pack)
		for i, band := range []planner.Interval{s.Difference.Time, s.Difference.Current, s.Difference.Punch} {
			if d := is[i] - was[i]; d >= band.Low && d <= band.High {
				held[i]++
			}
		}
	}
	t.Logf("of %d swaps, by kinds of knowledge compared %v, the band holds time in %d, current in %d, punch in %d", n, kinds, held[0], held[1], held[2])
	for i, what := range []string{"time", "current", "punch"} {
		if share := float64(held[i]) / float64(n); share < 0.86 || share > 0.94 {
			t.Errorf("the band of the difference in %s holds %.1f %% of the true ones, want 86 to 94 %%", what, 100*share)
		}
	}
}

// TestDifferenceLeavesOutWhatIsShared works the band of a mass that changes out by hand: 3 % of a catalogue mass,
// rectangular (JCGM 100:2008, 4.3.7), of what is not on both sides alone.
func TestDifferenceLeavesOutWhatIsShared(t *testing.T) {
	s := compare(t, parts(t, example), exampleBuild, "without=g", "with=camera:12g")
	sigma := 0.03 * math.Hypot(22, 12) / 1000 / math.Sqrt(3)
	low, high := -0.010-1.6448536269514722*sigma, -0.010+1.6448536269514722*sigma
	if got := s.Difference.Mass; !scalar.EqualWithinRel(got.Low, low, 1e-9) || !scalar.EqualWithinRel(got.High, high, 1e-9) {
		t.Errorf("a band of mass %v, want %g to %g kg", got, low, high)
	}
	// Nothing changes: nothing is unsure.
	s = compare(t, parts(t, example), exampleBuild)
	for what, i := range map[string]planner.Interval{"mass": s.Difference.Mass, "time": s.Difference.Time, "current": s.Difference.Current, "punch": s.Difference.Punch} {
		if math.Abs(i.Low) > 1e-9 || math.Abs(i.High) > 1e-9 {
			t.Errorf("without a change %s differs by %v", what, i)
		}
	}
	if len(s.Remedies) > 0 {
		t.Errorf("nothing is to be settled, but %v would", s.Remedies)
	}
	// On the scale the build before is known to 0.1 g; a camera of 12 g added by its catalogue mass is not.
	s = compare(t, parts(t, example), exampleBuild+"[scale]\nall_up_g = 238.9\n", "with=camera:12g")
	sigma = 0.03 * 12 / 1000 / math.Sqrt(3)
	if got := s.Difference.Mass; !scalar.EqualWithinRel(got.High-got.Low, 2*1.6448536269514722*sigma, 1e-6) {
		t.Errorf("on a scale a camera is known to %v, want +- %g", got, 1.6448536269514722*sigma)
	}
}

// TestSwapKnowledge: which kinds of knowledge two sides are compared by, by hand.
func TestSwapKnowledge(t *testing.T) {
	const more = `
[prop.table]
mass_g = 1.4
diameter_in = 3.5
pitch_in = 2.5
blades = 3
static = [{ rpm = 8000, ct = 0.150, cp = 0.080 }, { rpm = 30000, ct = 0.152, cp = 0.081 }]
[prop.table2]
mass_g = 1.4
diameter_in = 3.5
pitch_in = 2.6
blades = 3
static = [{ rpm = 8000, ct = 0.150, cp = 0.080 }, { rpm = 30000, ct = 0.152, cp = 0.081 }]
[prop.size]
mass_g = 1.4
diameter_in = 3.5
pitch_in = 2.5
blades = 3
[prop.size2]
mass_g = 1.4
diameter_in = 3.5
pitch_in = 2.2
blades = 2
`
	cat := parts(t, example+more)
	for _, c := range []struct{ from, to, before, after string }{
		{"table", "table2", "static-table", "static-table"},
		{"table", "p", "static-table", "coefficients"}, // each was measured
		{"table", "size", "geometry", "geometry"},
		{"size", "p", "geometry", "geometry"},
		{"size", "size2", "geometry", "geometry"},
	} {
		build := strings.Replace(exampleBuild, `prop = "p"`, `prop = "`+c.from+`"`, 1)
		s := compare(t, cat, build, "prop="+c.to)
		if b, a := string(s.Before.Plan.Propulsion.Source), string(s.After.Plan.Propulsion.Source); b != c.before || a != c.after {
			t.Errorf("%s against %s: compared by %s and %s, want %s and %s", c.from, c.to, b, a, c.before, c.after)
		}
		// What is said of a side alone is what a ranking of it says.
		for _, o := range []*planner.Outcome{&s.Before, &s.After} {
			if best := o.Plan.Propulsion.Source == o.Best.Propulsion.Source; o.Alike() != best {
				t.Errorf("%s against %s: by the best knowledge %v, want %v", c.from, c.to, o.Alike(), best)
			}
			r := rank(t, o.Best)
			if own := r.Ranked[0]; own.Duration() != o.Own.Duration() || own.PunchRatio() != o.Own.PunchRatio() {
				t.Errorf("%s against %s: alone %v s and %v, ranked %v s and %v", c.from, c.to, o.Own.Duration(), o.Own.PunchRatio(), own.Duration(), own.PunchRatio())
			}
		}
		// Both by size: the same propeller with another table in its record makes no difference.
		if c.to == "size" && (s.Before.Flown.Duration() != s.After.Flown.Duration() || s.Difference.Time.Low >= 0) {
			t.Errorf("propellers of one size differ by %v s (%v)", s.After.Flown.Duration()-s.Before.Flown.Duration(), s.Difference.Time)
		}
	}
}

// TestRemedies: what would settle a difference is what is not known, and what it leaves is less.
func TestRemedies(t *testing.T) {
	const more = "[prop.q]\nmass_g = 1.4\ndiameter_in = 3.5\npitch_in = 2.6\nblades = 3\n[pack.l]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 655\nmass_g = 74.0\nsize_mm = [65, 30, 20]\n"
	cat := parts(t, example+more)
	for change, want := range map[string]planner.Code{"prop=q": planner.TestRotors, "pack=l": planner.TestPacks} {
		s := compare(t, cat, exampleBuild, change)
		if len(s.Remedies) == 0 {
			t.Errorf("%s: nothing would settle %v", change, s.Difference)
			continue
		}
		for _, r := range s.Remedies {
			now := r.Figure.Of(s.Difference)
			if r.Codes[0] != want || r.Leaves.High-r.Leaves.Low >= now.High-now.Low {
				t.Errorf("%s: %v would leave %v of %v in %s, want %s", change, r.Codes, r.Leaves, now, r.Figure, want)
			}
			if now.Tells() {
				t.Errorf("%s: %s is to be settled, and %v leaves no doubt", change, r.Figure, now)
			}
		}
	}
}

// TestBenchNarrowsNoMass: a bench test of a pack known by its label narrows its time and its punch, not its mass.
func TestBenchNarrowsNoMass(t *testing.T) {
	const more = "[pack.l]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 655\nmass_g = 74.0\n"
	cat := parts(t, example+more)
	p := plan(t, cat, exampleBuild)
	for _, m := range p.Why(packSet(t, cat).Pack("l")).Next {
		if m.Code == planner.TestPacks {
			if m.Mass != 0 || !(m.Time > 0 && m.Time < 1) || !(m.Punch > 0 && m.Punch < 1) {
				t.Errorf("%+v", m)
			}
			return
		}
	}
	t.Error("no bench test is advised")
}

// TestTestsErrApart: thrust tests of two motors with one propeller do not err together. A swap of a motor for one just
// like it, each with a test that shows the same, is as unsure as twice the rotors' power, but for what board, motor and
// propeller have in common on both sides.
func TestTestsErrApart(t *testing.T) {
	_, rows := standRows(t)
	_, motor, _ := strings.Cut(example, "[motor.m]")
	motor, _, _ = strings.Cut(motor, "[prop.p]")
	of := thrustTest(rows)
	other := strings.NewReplacer("[thrust_test.stand]", "[thrust_test.other]", `"m"`, `"n"`).Replace(of)
	width := func(records ...string) float64 {
		cat := parts(t, append(records, example, "[motor.n]"+motor)...)
		d := compare(t, cat, exampleBuild, "motor=n").Difference.Current
		return d.High - d.Low
	}
	p := plan(t, parts(t, of, example), exampleBuild)
	a := p.Assess(packSet(t, p.Build.Parts).Pack("k"))
	alone := p.PowerSigma() * float64(a.Flight.Current)
	got, want := width(of, other), 2*1.6448536*math.Sqrt2*alone
	if got < 0.7*want || got > want {
		t.Errorf("the difference of hover current has a band of %.3f A, want nearly %.3f A", got, want)
	}
}
