package planner_test

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/floats/scalar"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// standRows is what the example's rotor would show on a stand, at sea level, with another CT and CP than the
// catalogue's and the motor's R twice as high, so that it shows whether they count.
func standRows(t testing.TB) (model.Rotor, string) {
	t.Helper()
	p, err := model.NewPropeller(3.5*model.Inch, 2.5*model.Inch, 3, model.FromCoefficients, []model.StaticPoint{{CT: 0.165, CP: 0.095}})
	if err != nil {
		t.Fatal(err)
	}
	r := model.Rotor{
		Propeller: p, Motor: model.Motor{Kv: 3600 * model.RPMPerVolt, R: 0.240, I0: 0.60},
		Controller: model.Controller{Efficiency: 0.95, Drop: 0.05, PartDutyDrop: 2.5}, Air: model.SeaLevelDensity,
	}
	// Whoever states a no-load current without its voltage is taken to mean the stand's.
	r.Motor.NoLoadSpeed, r.Motor.NoLoadFixed = model.AngularSpeed(15*float64(r.Motor.Kv)), model.AssumedNoLoadFixed
	var rows strings.Builder
	for _, duty := range []float64{0.3, 0.45, 0.6, 0.8, 1} {
		const bus = 15
		x := r.AtSpeed(r.FullSpeed(model.Voltage(bus*duty)), bus)
		fmt.Fprintf(&rows, "{ throttle = %g, voltage_v = %d, current_a = %.5f, thrust_g = %.4f, rpm = %.2f },\n",
			duty, bus, float64(x.BusPower)/bus, float64(x.Thrust)/model.StandardGravity*1000, x.Speed.RPM())
	}
	return r, rows.String()
}

func thrustTest(rows string) string {
	return "[thrust_test.stand]\nmotor = \"m\"\nprop = \"p\"\nrows = [\n" + rows + "]\n"
}

const staticTable = `static = [{ rpm = 5000, ct = 0.15, cp = 0.085 }, { rpm = 20000, ct = 0.15, cp = 0.080 }]` + "\n"

// TestBestKnowledgeWins goes through every kind of knowledge of a motor with a propeller.
func TestBestKnowledgeWins(t *testing.T) {
	_, rows := standRows(t)
	without := func(s string, lines ...string) string {
		for _, l := range lines {
			s = strings.Replace(s, l+"\n", "", 1)
		}
		return s
	}
	sizeOnly := without(example, "ct = 0.150", "cp = 0.080")
	table := strings.Replace(sizeOnly, "shaft_mm = 1.5\n[board.b]", staticTable+"shaft_mm = 1.5\n[board.b]", 1)
	// A stand that shows the same thrust at every current: no constants meet that.
	nonsense := strings.NewReplacer("throttle = 0.45", "throttle = 0.44", "current_a = ", "current_a = 1").Replace(rows)
	for _, c := range []struct {
		name, parts  string
		source       model.Knowledge
		estimated    bool
		warned, kept []planner.Code
	}{
		{"table", table, model.FromStaticTable, false, nil, nil},
		{"table and test", table + thrustTest(rows), model.FromStaticTable, false, []planner.Code{planner.TestUnused}, nil},
		{"table, no motor constants", without(table, "r_mohm = 120"), model.FromStaticTable, true, []planner.Code{planner.MotorEstimated}, nil},
		{"table, no motor constants, test", without(table, "r_mohm = 120") + thrustTest(rows), model.FromThrustTest, false, nil, []planner.Code{planner.MotorEstimated}},
		{"coefficients", example, model.FromCoefficients, false, nil, []planner.Code{planner.PropEstimated}},
		{"coefficients and test", example + thrustTest(rows), model.FromThrustTest, false, nil, nil},
		{"size", sizeOnly, model.FromGeometry, false, []planner.Code{planner.PropEstimated}, nil},
		{"size and test", sizeOnly + thrustTest(rows), model.FromThrustTest, false, nil, []planner.Code{planner.PropEstimated}},
		{"size and a refused test", sizeOnly + thrustTest(nonsense), model.FromGeometry, false, []planner.Code{planner.Code(model.RefusedMisfit), planner.PropEstimated}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := plan(t, parts(t, c.parts), exampleBuild)
			if p.Propulsion.Source != c.source || p.Drive.Rotor.Propeller.Known != c.source || p.Drive.Rotor.Motor.Estimated() != c.estimated {
				t.Errorf("rests on %s (%s), motor estimated %v; want %s, %v", p.Propulsion.Source, p.Propulsion.Reason, p.Drive.Rotor.Motor.Estimated(), c.source, c.estimated)
			}
			has := map[planner.Code]bool{}
			for _, w := range p.Warnings {
				has[w.Code] = true
			}
			for _, code := range c.warned {
				if !has[code] {
					t.Errorf("no warning %q in %v", code, p.Warnings)
				}
			}
			for _, code := range c.kept {
				if has[code] {
					t.Errorf("warned of %q: %v", code, p.Warnings)
				}
			}
			if p.Propulsion.Reason == "" || !(p.PowerSigma() > 0 && p.PowerSigma() < 0.5) {
				t.Errorf("reason %q, sigma %g", p.Propulsion.Reason, p.PowerSigma())
			}
		})
	}
}

// TestThrustTestIsOfItsPairOnly: the fit gives the constants that the rows were made with, at another altitude,
// and another propeller on the same motor still has the catalogue's.
func TestThrustTestIsOfItsPairOnly(t *testing.T) {
	truth, rows := standRows(t)
	const other = "[prop.q]\nmass_g = 1.4\ndiameter_in = 3.5\npitch_in = 2.5\nblades = 3\nct = 0.150\ncp = 0.080\n"
	cat := parts(t, example+other+thrustTest(rows))
	p := plan(t, cat, exampleBuild)
	truth.Air = p.Drive.Rotor.Air
	thrust := p.Drive.Hover(0.2384, p.Bus).Rotor.Thrust
	want := 4*float64(truth.AtThrust(thrust, p.Bus).BusPower) + 7
	if got := float64(p.Drive.Hover(0.2384, p.Bus).Power); !scalar.EqualWithinRel(got, want, 2e-3) {
		t.Errorf("hover on %g W, want %g W", got, want)
	}
	q := plan(t, cat, strings.Replace(exampleBuild, `prop = "p"`, `prop = "q"`, 1))
	if q.Drive.Rotor.Motor.R != 0.120 || q.Propulsion.Source != model.FromCoefficients {
		t.Errorf("with another propeller the motor has %g ohm, from %s", float64(q.Drive.Rotor.Motor.R), q.Propulsion.Source)
	}
}

// TestFlownHover: a build that was flown predicts that hover to the digit, in its own air; in other air the same
// propellers follow rho^-1/2; and it is surer than an unflown one.
func TestFlownHover(t *testing.T) {
	estimated := strings.Replace(example, "r_mohm = 120\n", "", 1)
	flown := exampleBuild + "[hover]\nflown = [{ mass_g = 243, current_a = 4.1, voltage_v = 15.2 }]\n"
	before := plan(t, parts(t, estimated), exampleBuild)
	p := plan(t, parts(t, estimated), flown)
	if got := float64(p.Drive.Hover(243*model.Gram, 15.2).Power); !scalar.EqualWithinRel(got, 4.1*15.2, 1e-14) {
		t.Errorf("hover on %.15g W, want %.15g W", got, 4.1*15.2)
	}
	if p.Propulsion.Source != planner.FromFlownHover || p.Propulsion.Base != model.FromCoefficients || !scalar.EqualWithinRel(p.PowerSigma(), model.SigmaFlownHover, 0.02) {
		t.Errorf("rests on %+v", p.Propulsion)
	}
	altitude := model.Length(3000)
	high, err := p.In(planner.Conditions{Altitude: &altitude})
	if err != nil {
		t.Fatal(err)
	}
	shaft := func(p *planner.Plan) float64 { return float64(p.Drive.Hover(0.22, p.Bus).Rotor.ShaftPower) }
	// p/(R T) at 20 C with the pressures of 500 and 3000 m, ICAO Doc 7488.
	if got, want := shaft(high)/shaft(p), math.Sqrt(95460.8/70108.5); !scalar.EqualWithinRel(got, want, 1e-6) {
		t.Errorf("at 3000 m the shafts take %g times as much, want %g", got, want)
	}
	if p.Build.Air.Altitude != 500 {
		t.Error("other air changed the build")
	}
	width := func(p *planner.Plan) float64 {
		a := rank(t, p).Ranked[0]
		return (a.Band.Time.High - a.Band.Time.Low) / float64(a.Duration())
	}
	if width(p) > 0.7*width(before) {
		t.Errorf("the band of time is %.3f of it with a flown hover and %.3f without", width(p), width(before))
	}
}

func TestImplausibleHoverIsAnInputError(t *testing.T) {
	text := exampleBuild + "[hover]\nflown = [{ mass_g = 240, power_w = 50 }, { mass_g = 243, power_w = 150 }]\n"
	b, _, err := catalog.ReadBuild("build.toml", strings.NewReader(text), parts(t, example))
	if err != nil {
		t.Fatal(err)
	}
	_, err = planner.Resolve(b)
	faults, ok := errors.AsType[catalog.InputErrors](err)
	if !ok || len(faults) != 1 {
		t.Fatalf("Resolve = %v, want one input error", err)
	}
	if faults[0].Line != strings.Count(text[:strings.Index(text, "flown =")], "\n")+1 {
		t.Errorf("the fault is on line %d", faults[0].Line)
	}
	if faults[0].Field != "hover.flown[2]" || faults[0].File != "build.toml" || !strings.Contains(faults[0].Msg, "figure of merit") {
		t.Errorf("fault %+v", faults[0])
	}
}

// TestPhases: the flight time that ranks is that of the phases, and lies below hover's by what they ask.
func TestPhases(t *testing.T) {
	cat := parts(t, example)
	hover := rank(t, plan(t, cat, exampleBuild)).Ranked[0]
	fly := func(phases string) planner.Assessment {
		return rank(t, plan(t, cat, exampleBuild+"[flight]\nphases = ["+phases+"]\n")).Ranked[0]
	}
	same := fly("{ seconds = 10, thrust = 1 }")
	if !scalar.EqualWithinRel(float64(same.Duration()), float64(hover.Flight.Duration), 1e-4) || same.Flight.Duration != hover.Flight.Duration {
		t.Errorf("phases of hover fly %g s, hover %g s", float64(same.Duration()), float64(hover.Flight.Duration))
	}
	hard := fly("{ seconds = 20, thrust = 1.25 }, { seconds = 2, full = true }")
	if !(hard.Duration() < hover.Duration()/2) || hard.Cycle == nil || len(hard.Cycle.Phases) != 2 {
		t.Errorf("hard phases fly %g s, hover %g s", float64(hard.Duration()), float64(hover.Duration()))
	}
	if b := hard.Band.Time; !(b.Low < float64(hard.Duration()) && float64(hard.Duration()) < b.High) {
		t.Errorf("%g s is not in its band %v", float64(hard.Duration()), b)
	}
	if !hard.Cycle.Dipped || hard.Cycle.Strict() >= hard.Duration() {
		t.Errorf("full throttle takes the pack to %.2f V, and dipped is %v", float64(hard.Cycle.Phases[1].MinVoltage), hard.Cycle.Dipped)
	}
	harmed := func(a planner.Assessment) bool {
		return slices.ContainsFunc(a.Warnings(), func(r planner.Remark) bool { return r.Code == planner.PunchDip })
	}
	long := fly("{ seconds = 20, thrust = 1 }, { seconds = 12, full = true }")
	for _, a := range []planner.Assessment{hard, long} {
		if v := float64(a.Cycle.Phases[1].MinVoltage); harmed(a) != (v < 12) {
			t.Errorf("punches take 4 cells to %.2f V, and the warning of harm is %v", v, harmed(a))
		}
	}
}

// TestConditions: what a winter and a mountain cost, without the file.
func TestConditions(t *testing.T) {
	p := plan(t, parts(t, example), exampleBuild)
	cold := model.Celsius(5)
	winter, err := p.In(planner.Conditions{Pack: &cold})
	if err != nil {
		t.Fatal(err)
	}
	file := rank(t, plan(t, parts(t, example), exampleBuild+"pack_temperature_c = 5\n")).Ranked[0]
	asked := rank(t, winter).Ranked[0]
	if diff := cmp.Diff([]float64{float64(file.Duration()), file.PunchRatio()}, []float64{float64(asked.Duration()), asked.PunchRatio()}); diff != "" {
		t.Errorf("the flag and the file differ (-file +flag):\n%s", diff)
	}
	colder := model.Celsius(-10)
	frost, err := winter.In(planner.Conditions{Pack: &colder})
	if err != nil {
		t.Fatal(err)
	}
	count := 0
	for _, w := range frost.Warnings {
		if w.Code == planner.PackTemperature {
			count++
		}
	}
	if count != 1 {
		t.Errorf("%d warnings of the temperature in %v", count, frost.Warnings)
	}
	out := model.Length(9000)
	if _, err := p.In(planner.Conditions{Altitude: &out}); err == nil {
		t.Error("9000 m are taken")
	}
}

// TestPractice: what a practitioner sees is a warning with a code, once.
func TestPractice(t *testing.T) {
	for _, c := range []struct {
		name, from, to string
		want           planner.Code
	}{
		{"board current", "efficiency = 0.95", "efficiency = 0.95\nmax_current_a = 10", planner.BoardCurrent},
		{"motor current", "no_load_a = 0.60", "no_load_a = 0.60\nmax_current_a = 10", planner.MotorCurrent},
		{"tip Mach", "kv = 3600\nr_mohm = 120", "kv = 7000\nr_mohm = 20", planner.TipMach},
		{"hover throttle low", "kv = 3600\nr_mohm = 120", "kv = 11000\nr_mohm = 120", planner.HoverThrottle},
		{"hover throttle high", "kv = 3600\nr_mohm = 120", "kv = 1400\nr_mohm = 120", planner.HoverThrottle},
	} {
		t.Run(c.name, func(t *testing.T) {
			changed := strings.Replace(example, c.from, c.to, 1)
			if changed == example {
				t.Fatal("nothing was changed")
			}
			count := func(text string) int {
				p := plan(t, parts(t, text), exampleBuild)
				n := 0
				for _, a := range rank(t, p).Ranked {
					for _, w := range a.Warnings() {
						if w.Code == c.want {
							n++
						}
					}
				}
				return n
			}
			if n := count(example); n != 0 {
				t.Errorf("the example has %d of %q", n, c.want)
			}
			if n := count(changed); n != 1 {
				t.Errorf("%d warnings of %q, want 1", n, c.want)
			}
		})
	}
}

func BenchmarkRankPhases1k(b *testing.B) {
	cat := parts(b, append([]string{example}, strings.Join(field(1000, 1), "\n"))...)
	p := plan(b, cat, exampleBuild+"[flight]\nphases = [{ seconds = 20, thrust = 1.25 }, { seconds = 2, full = true }]\n")
	for b.Loop() {
		p.Rank(packSet(b, cat), planner.RankOptions{})
	}
}

// compare is the swap of changes to the example build with more in it.
func compare(t testing.TB, cat *catalog.Catalogue, build string, changes ...string) *planner.Swap {
	t.Helper()
	before, _, err := catalog.ReadBuild("build.toml", strings.NewReader(build), cat)
	if err != nil {
		t.Fatal(err)
	}
	var list []catalog.Change
	for _, text := range changes {
		c, err := catalog.ParseChange(text)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, c)
	}
	after, _, err := before.Apply(list)
	if err != nil {
		t.Fatal(err)
	}
	s, err := planner.CompareSwap(before, after, packSet(t, cat))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestSwapKeepsTheHoverOfThePartsThatFlewIt: gear taken off saves its power and its weight; and with
// another propeller both sides are predicted, so that the hover does not pass for its difference.
func TestSwapKeepsTheHoverOfThePartsThatFlewIt(t *testing.T) {
	const more = "[prop.worse]\nmass_g = 1.4\ndiameter_in = 3.5\npitch_in = 2.5\nblades = 3\nct = 0.150\ncp = 0.110\n"
	cat := parts(t, example+more)
	build := exampleBuild + "[hover]\nflown = [{ mass_g = 238.4, power_w = 57 }]\n"
	s := compare(t, cat, build, "without=g")
	before := float64(s.Before.Plan.Drive.Hover(238.4*model.Gram, s.Before.Plan.Bus).Power)
	after := float64(s.After.Plan.Drive.Hover((238.4-22)*model.Gram, s.After.Plan.Bus).Power)
	unflown := plan(t, cat, exampleBuild)
	rotors := func(m model.Mass) float64 { return float64(unflown.Drive.Hover(m, unflown.Bus).Power) - 7 }
	if want := (57-7)*rotors((238.4-22)*model.Gram)/rotors(238.4*model.Gram) + 1; !scalar.EqualWithinRel(before, 57, 1e-9) || !scalar.EqualWithinRel(after, want, 1e-9) {
		t.Errorf("hover on %g W, without the gear on %g W; want 57 and %g", before, after, want)
	}
	s = compare(t, cat, build, "prop=worse")
	bare := compare(t, cat, exampleBuild, "prop=worse")
	for side, got := range map[string][2]planner.Outcome{"before": {s.Before, bare.Before}, "after": {s.After, bare.After}} {
		if got[0].Flown.Flight.Hover.Power != got[1].Flown.Flight.Hover.Power {
			t.Errorf("%s: hover on %v W with a hover of other rotors, %v W without", side, got[0].Flown.Flight.Hover.Power, got[1].Flown.Flight.Hover.Power)
		}
	}
	told := false
	for _, w := range s.After.Plan.Warnings {
		told = told || w.Code == planner.HoverOther
	}
	if !told {
		t.Errorf("no word of the hover that does not count: %v", s.After.Plan.Warnings)
	}
}

// TestHeldPhasesKeepTheStatedCurrent: what a pack gives in held phases counts against its steady limit as hover does.
func TestHeldPhasesKeepTheStatedCurrent(t *testing.T) {
	stated := strings.Replace(example, "plug = \"xt30\"\n", "plug = \"xt30\"\nmax_current_a = 4\n", 1)
	if r := rank(t, plan(t, parts(t, stated), exampleBuild)); len(r.Ranked) != 1 {
		t.Fatalf("hover alone excludes the pack: %v", r.Excluded[0].Against())
	}
	r := rank(t, plan(t, parts(t, stated), exampleBuild+"[flight]\nphases = [{ seconds = 20, thrust = 1.8 }]\n"))
	if len(r.Excluded) != 1 || r.Excluded[0].Against()[0].Code != planner.SteadyCurrent {
		t.Errorf("held at 1.8 times weight the pack is still ranked: %d", len(r.Ranked))
	}
}

// TestAFreshPackIsHardestOnMotors: in the first moment of full throttle the RC element is empty, and the
// current is that of R0 alone, as it is on a full pack: more than the settled one that a held punch has.
func TestAFreshPackIsHardestOnMotors(t *testing.T) {
	a := rank(t, plan(t, parts(t, example), exampleBuild)).Ranked[0]
	pack := a.Pack.Circuit
	r0, _ := pack.Resistances(1, pack.StartTemperature())
	v := 0.0
	// The bus by bisection: E - R0 I(V) = V, four motors through 95 % and 7 W of gear.
	low, high := 8.0, float64(pack.OpenVoltage(1))
	p := plan(t, parts(t, example), exampleBuild)
	for range 60 {
		v = (low + high) / 2
		rotor := p.Drive.Rotor.AtFull(p.Drive.Rotor.FullSpeed(model.Voltage(v)))
		if i := (4*float64(rotor.BusPower) + 7) / v; float64(pack.OpenVoltage(1))-float64(r0)*i > v {
			low = v
		} else {
			high = v
		}
	}
	want := p.Drive.Rotor.AtFull(p.Drive.Rotor.FullSpeed(model.Voltage(v))).Motor.Current
	if !scalar.EqualWithinRel(float64(a.Full.Current), float64(want), 1e-6) {
		t.Errorf("full throttle on a full pack draws %v A a motor, want %v A", a.Full.Current, want)
	}
}
