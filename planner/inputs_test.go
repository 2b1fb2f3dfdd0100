package planner_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"

	"allup/model"
	"allup/planner"
)

func packOf(t testing.TB, p *planner.Plan, id string) *planner.Pack {
	t.Helper()
	return packSet(t, p.Build.Parts).Pack(id)
}

// TestUncertain lists the example's inputs with their standard deviations by hand: 3 % of a catalogue mass,
// rectangular, identical parts as one (JCGM 100:2008, 4.3.7 and 5.2.2); 3 % of CT and 4 % of the figure of
// merit for stated coefficients; 3 % and 1 % for a known motor and a stated controller; 0.3 of the no-load
// current's fixed part, and a factor of 1.8 of the loss at part duty.
func TestUncertain(t *testing.T) {
	p := plan(t, parts(t, example), exampleBuild)
	pack := packOf(t, p, "k")
	catalogueMass := func(grams float64) float64 { return 0.03 * grams / 1000 / math.Sqrt(3) }
	want := []planner.Uncertain{
		{Input: planner.InputMass, Subject: "f", Sigma: catalogueMass(31), Shared: true},
		{Input: planner.InputMass, Subject: "m", Sigma: 4 * catalogueMass(9.2), Shared: true},
		{Input: planner.InputMass, Subject: "p", Sigma: 4 * catalogueMass(1.4), Shared: true},
		{Input: planner.InputMass, Subject: "b", Sigma: catalogueMass(9), Shared: true},
		{Input: planner.InputMass, Subject: "g", Sigma: catalogueMass(22), Shared: true},
		{Input: planner.InputMass, Subject: "payload", Sigma: catalogueMass(60), Shared: true},
		{Input: planner.InputThrust, Subject: "p", Sigma: 0.03, Shared: true},
		{Input: planner.InputFigureOfMerit, Subject: "p", Sigma: 0.04, Shared: true},
		{Input: planner.InputEfficiency, Subject: "m", Sigma: math.Hypot(0.03, 0.01), Shared: true},
		{Input: planner.InputNoLoadGrowth, Subject: "m", Sigma: 0.3, Shared: true},
		{Input: planner.InputPartDuty, Subject: "b", Sigma: math.Log(1.8), Shared: true},
		{Input: planner.InputMass, Subject: "k", Sigma: catalogueMass(74)},
		{Input: planner.InputCapacity, Subject: "k", Sigma: pack.SigmaQ},
		{Input: planner.InputResistance, Subject: "k", Sigma: pack.SigmaR},
		{Input: planner.InputChargeDep, Subject: "k", Sigma: 0.4},
	}
	got := p.Uncertain(pack)
	same := slices.EqualFunc(got, want, func(a, b planner.Uncertain) bool {
		return a.Input == b.Input && a.Subject == b.Subject && a.Shared == b.Shared && scalar.EqualWithinRel(a.Sigma, b.Sigma, 1e-12)
	})
	if !same {
		t.Errorf("uncertain inputs:\n%v, want\n%v", got, want)
	}
	if shared := p.Uncertain(nil); len(shared) != 11 {
		t.Errorf("without a pack there are %d uncertain inputs, want the 11 shared ones", len(shared))
	}
}

// TestInputsMove: what each move does, against what the input is by definition.
func TestInputsMove(t *testing.T) {
	label := "[motor.unknown]\nmass_g = 9.2\nkv = 3600\ncells = [3, 4]\nmount_mm = 9\nshaft_mm = 1.5\n"
	p := plan(t, parts(t, example+label), strings.Replace(exampleBuild, `motor = "m"`, `motor = "unknown"`, 1))
	pack := packOf(t, p, "k")
	at := func(in planner.Inputs) (ct, fm float64) {
		ct, cp := in.Drive.Rotor.Propeller.Coefficients(0, model.SeaLevelDensity)
		return ct, model.FigureOfMerit(ct, cp)
	}
	base := p.At(pack, p.Bare())
	ct0, fm0 := at(base)
	const by = 0.05
	seen := map[planner.Input]bool{}
	for _, u := range p.Uncertain(pack) {
		in := base
		u.Move(&in, by)
		ct, fm := at(in)
		ratios := map[planner.Input]float64{
			planner.InputMass:          1 + float64(in.Mass-base.Mass),
			planner.InputThrust:        ct / ct0,
			planner.InputFigureOfMerit: fm / fm0,
			planner.InputEfficiency:    in.Drive.Rotor.Controller.Efficiency / base.Drive.Rotor.Controller.Efficiency,
			planner.InputLoadedSpeed:   in.Drive.Rotor.Motor.Estimate.LoadedSpeed / base.Drive.Rotor.Motor.Estimate.LoadedSpeed,
			planner.InputNoLoadShare:   1 + math.Log(in.Drive.Rotor.Motor.Estimate.NoLoadShare/base.Drive.Rotor.Motor.Estimate.NoLoadShare),
			planner.InputPartDuty:      1 + math.Log(float64(in.Drive.Rotor.Controller.PartDutyDrop/base.Drive.Rotor.Controller.PartDutyDrop)),
			planner.InputCapacity:      float64(in.Circuit.Capacity / base.Circuit.Capacity),
			planner.InputResistance:    float64((in.Circuit.R0 + in.Circuit.R1) / (base.Circuit.R0 + base.Circuit.R1)),
			planner.InputChargeDep:     1 + in.Circuit.K - base.Circuit.K,
		}
		for input, ratio := range ratios {
			want := 1.0
			if input == u.Input {
				want = 1 + by
			}
			if u.Input == planner.InputChargeDep { // what the metrics then make of the rest
				switch input {
				case planner.InputCapacity:
					want = math.Exp(pack.Steeper.LogQ * by / model.UsualKSigma)
				case planner.InputResistance:
					want = math.Exp(pack.Steeper.LogR * by / model.UsualKSigma)
				}
			}
			if !scalar.EqualWithinRel(ratio, want, 1e-12) {
				t.Errorf("an error of %g in %s of %s moves %s by a factor of %.15g", by, u.Input, u.Subject, input, ratio)
			}
		}
		seen[u.Input] = true
	}
	if len(seen) != 10 {
		t.Errorf("%d kinds of inputs moved, want 10", len(seen))
	}
	if ct, fm := at(p.At(pack, p.Bare())); ct != ct0 || fm != fm0 {
		t.Error("a move changed the plan")
	}
	// Whatever the order, the same comes out.
	unmoved := p.Assess(pack)
	list := p.Uncertain(pack)
	forth, back := base, base
	for i := range list {
		list[i].Move(&forth, 0.3*list[i].Sigma)
		list[len(list)-1-i].Move(&back, 0.3*list[len(list)-1-i].Sigma)
	}
	a := forth.Drive.Answer(forth.Circuit, forth.Mass, p.Mission)
	b := back.Drive.Answer(back.Circuit, back.Mass, p.Mission)
	if !scalar.EqualWithinRel(float64(a.Duration()), float64(b.Duration()), 1e-9) || a.Duration() == unmoved.Duration() {
		t.Errorf("moved one way %v s, the other way round %v s, not moved %v s", a.Duration(), b.Duration(), unmoved.Duration())
	}
}

// TestBandIsOfItsInputs works a band out by its definition from the list of uncertain inputs: masses by their sum, all
// others one at a time.
func TestBandIsOfItsInputs(t *testing.T) {
	for name, build := range map[string]string{
		"hover":  exampleBuild,
		"phases": exampleBuild + "[flight]\nphases = [{ seconds = 20, thrust = 1.4 }, { seconds = 2, full = true }]\n",
		"flown":  exampleBuild + "[hover]\nflown = [{ mass_g = 238.4, power_w = 57 }]\n",
		"cold":   exampleBuild + "pack_temperature_c = 5\n",
	} {
		p := plan(t, parts(t, example), build)
		pack := packOf(t, p, "k")
		a := p.Assess(pack)
		p.AddBand(&a)
		base := p.At(pack, p.Bare())
		if base.Mass != a.Mass || base.Circuit.R0 != a.Circuit.R0 {
			t.Errorf("%s: inputs of %v kg and %v Ohm, assessed with %v kg and %v Ohm", name, base.Mass, base.Circuit.R0, a.Mass, a.Circuit.R0)
		}
		timeOf := func(u planner.Uncertain, by float64) float64 {
			in := base
			u.Move(&in, by)
			answer := in.Drive.Answer(in.Circuit, in.Mass, p.Mission)
			return float64(answer.Duration())
		}
		t0 := float64(a.Duration())
		var masses, above, below float64
		mass := planner.Uncertain{}
		add := func(u planner.Uncertain) {
			up, down := timeOf(u, u.Sigma), timeOf(u, -u.Sigma)
			above += math.Pow(max(up, down, t0)-t0, 2)
			below += math.Pow(t0-min(up, down, t0), 2)
		}
		for _, u := range p.Uncertain(pack) {
			if u.Input == planner.InputMass {
				masses += u.Sigma * u.Sigma
				mass = u
				continue
			}
			add(u)
		}
		mass.Sigma = math.Sqrt(masses)
		add(mass)
		low, high := t0-1.6448536269514722*math.Sqrt(below), t0+1.6448536269514722*math.Sqrt(above)
		// A curve stands for most of the flights of a hover: within 0.5 % of half the band.
		within := 0.005 * (high - low) / 2
		if name == "phases" {
			within = 1e-9 * high
		}
		if math.Abs(a.Band.Time.Low-low) > within || math.Abs(a.Band.Time.High-high) > within {
			t.Errorf("%s: a band of time %v, want %v to %v", name, a.Band.Time, low, high)
		}
		// Of rectangular parts, none of which rules: that of a normal within 1 %.
		if half := (a.Band.Mass.High - a.Band.Mass.Low) / 2; !scalar.EqualWithinRel(half, 1.6448536269514722*mass.Sigma, 1e-2) {
			t.Errorf("%s: a band of mass of +- %v kg, want %v", name, half, 1.6448536269514722*mass.Sigma)
		}
	}
}

// BenchmarkBand is the band of one pair.
func BenchmarkBand(b *testing.B) {
	p := plan(b, parts(b, example), exampleBuild)
	a := p.Assess(packOf(b, p, "k"))
	b.ReportAllocs()
	for b.Loop() {
		p.AddBand(&a)
	}
}

// TestSigmasCountOnce: what of a tested pack's capacity and resistance goes with its charge dependence is not in
// their own sigmas, which are the rest, what a circuit gets wrong, and the scatter from unit to unit.
func TestSigmasCountOnce(t *testing.T) {
	cat := parts(t, example)
	pack := packSet(t, cat).Pack("k")
	curve, err := model.CurveOf(pack.Chemistry)
	if err != nil {
		t.Fatal(err)
	}
	id, err := model.Identify(model.NewCircuit(pack.Cells, curve, pack.Mass), *pack.Tested)
	if err != nil {
		t.Fatal(err)
	}
	if pack.Steeper != id.Steeper || id.Steeper.LogR == 0 {
		t.Fatalf("with the charge dependence goes %+v, want %+v", pack.Steeper, id.Steeper)
	}
	for _, c := range []struct {
		what                            string
		got, sigma, steeper, kind, unit float64
	}{
		{"capacity", pack.SigmaQ, id.SigmaQ, id.Steeper.LogQ, model.ModelSigmaQ, 0.02},
		{"resistance", pack.SigmaR, id.SigmaR, id.Steeper.LogR, model.ModelSigmaR, 0.08},
	} {
		want := math.Sqrt(c.sigma*c.sigma - c.steeper*c.steeper + c.kind*c.kind + c.unit*c.unit)
		if !scalar.EqualWithinRel(c.got, want, 1e-9) {
			t.Errorf("%s is known to %.6f, want %.6f", c.what, c.got, want)
		}
	}
}
