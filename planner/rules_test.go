package planner_test

import (
	"slices"
	"strings"
	"testing"

	"allup/model"
	"allup/planner"
)

// hostile is packs that break the example build's rules in every way, and parts that do not go together.
const hostile = `
[pack.wrong]
chemistry = "lihv"
cells = 2
rated_mah = 650
mass_g = 95
size_mm = [75, 40, 40]
plug = "ph2.0"
max_current_a = 3
[pack.weak]
chemistry = "lipo"
cells = 4
rated_mah = 30
mass_g = 10
circuit = {capacity_mah = 30, r0_mohm = 3000, r1_mohm = 900, tau_s = 20, shift_mv = 0}
[pack.steady]
chemistry = "lipo"
cells = 4
rated_mah = 650
mass_g = 74
max_current_a = 3
circuit = {capacity_mah = 640, r0_mohm = 39, r1_mohm = 21, tau_s = 20, shift_mv = 0}
[prop.other]
mass_g = 1.4
diameter_in = 4
pitch_in = 2.5
blades = 3
ct = 0.150
cp = 0.080
shaft_mm = 5
[motor.slow]
mass_g = 9.2
kv = 600
r_mohm = 120
no_load_a = 0.60
max_current_a = 2
cells = [3, 4]
mount_mm = 12
shaft_mm = 1.5
`

const fussyBuild = `
[flight]
phases = [{ seconds = 20, thrust = 1.25 }, { seconds = 2, full = true }]
[packs]
cells = [4]
chemistry = ["lipo"]
plug = "xt30"
max_mass_g = 80
`

// hostilePlans are the example build as it is, and with parts that do not go together.
func hostilePlans(t testing.TB) []*planner.Plan {
	cat := parts(t, example, hostile)
	other := strings.NewReplacer(`prop = "p"`, `prop = "other"`, `motor = "m"`, `motor = "slow"`).Replace(exampleBuild)
	return []*planner.Plan{plan(t, cat, exampleBuild+fussyBuild), plan(t, cat, other)}
}

// TestBreaksMakesNoText: asking whether rules are broken allocates nothing, whatever the answer.
func TestBreaksMakesNoText(t *testing.T) {
	broken := map[planner.Code]bool{}
	for _, p := range hostilePlans(t) {
		for _, pack := range packSet(t, p.Build.Parts).All(nil) {
			a := p.Assess(pack)
			for _, rules := range planner.RulesOf() {
				for _, r := range rules {
					if n := testing.AllocsPerRun(5, func() { r.Breaks(&a.Candidate) }); n > 0 {
						t.Errorf("%s on %s allocates %g times", r.Code, pack.ID, n)
					}
					broken[r.Code] = broken[r.Code] || r.Breaks(&a.Candidate)
				}
			}
		}
	}
	if len(broken) < 20 {
		t.Errorf("%d rules, want 20 at the least", len(broken))
	}
	for _, code := range []planner.Code{
		planner.OverPackMass, planner.WrongCells, planner.MotorCells, planner.BoardCells, planner.WrongChem, planner.WrongPlug, planner.TooBigForBay,
		planner.MotorVoltage, planner.CannotHold, planner.SteadyCurrent, planner.PropTooLarge, planner.MotorMount, planner.PropShaft,
	} {
		if !broken[code] {
			t.Errorf("nothing breaks %s", code)
		}
	}
}

// TestStaticRulesNeedNoFlight: they say the same of a candidate that never flew.
func TestStaticRulesNeedNoFlight(t *testing.T) {
	for _, p := range hostilePlans(t) {
		for _, pack := range packSet(t, p.Build.Parts).All(nil) {
			a := p.Assess(pack)
			bare := planner.CandidateOf(p, pack)
			for _, rules := range planner.RulesOf() {
				for _, r := range rules {
					if r.Static && r.Breaks(&a.Candidate) != r.Breaks(bare) {
						t.Errorf("%s on %s: %v in flight, and not so before it", r.Code, pack.ID, r.Breaks(&a.Candidate))
					}
				}
			}
		}
	}
}

// TestWordsGoWithCodes: every code has its sentence, in the same order, and eligible is who has none.
func TestWordsGoWithCodes(t *testing.T) {
	codes := func(remarks []planner.Remark) (out []planner.Code) {
		for _, r := range remarks {
			if strings.TrimSpace(r.Text) == "" || strings.Contains(r.Text, "%!") {
				t.Errorf("%s of %s says %q", r.Code, r.Subject, r.Text)
			}
			out = append(out, r.Code)
		}
		return out
	}
	for _, p := range hostilePlans(t) {
		for _, pack := range packSet(t, p.Build.Parts).All(nil) {
			a := p.Assess(pack)
			if !slices.Equal(codes(a.Against()), a.AgainstCodes()) || !slices.Equal(codes(a.Warnings()), a.WarningCodes()) {
				t.Errorf("%s: words %v %v, codes %v %v", pack.ID, a.Against(), a.Warnings(), a.AgainstCodes(), a.WarningCodes())
			}
			if a.Eligible() != (len(a.Against()) == 0) {
				t.Errorf("%s: eligible %v with %v", pack.ID, a.Eligible(), a.Against())
			}
			for _, code := range []planner.Code{planner.LabelOnly, planner.BoardCurrent, planner.MotorCurrent, planner.HoverThrottle} {
				if a.Warns(code) != slices.Contains(a.WarningCodes(), code) {
					t.Errorf("%s: warns of %s: %v, among %v", pack.ID, code, a.Warns(code), a.WarningCodes())
				}
			}
		}
	}
}

// BenchmarkAssessNo is the answer for a pack with eight reasons against it; BenchmarkAssess is the same with none.
func BenchmarkAssessNo(b *testing.B) {
	cat := parts(b, example, hostile)
	p := plan(b, cat, strings.Replace(exampleBuild+fussyBuild[strings.Index(fussyBuild, "[packs]"):], "mass_g = 250", "mass_g = 238", 1))
	pack := packSet(b, cat).Pack("wrong")
	pack.Circuit = packSet(b, cat).Pack("k").Circuit // the same flight
	if a := p.Assess(pack); len(a.AgainstCodes()) < 8 {
		b.Fatalf("only %v speak against it", a.AgainstCodes())
	}
	b.ReportAllocs()
	for b.Loop() {
		p.Assess(pack)
	}
}

// BenchmarkStaticRules is whether a pack can be left out before it flies.
func BenchmarkStaticRules(b *testing.B) {
	cat := parts(b, example, hostile)
	p := plan(b, cat, exampleBuild+fussyBuild)
	for _, id := range []string{"k", "wrong"} {
		b.Run(id, func(b *testing.B) {
			c := planner.CandidateOf(p, packSet(b, cat).Pack(id))
			rules := planner.RulesOf()[0]
			b.ReportAllocs()
			for b.Loop() {
				for i := range rules {
					if rules[i].Static && rules[i].Breaks(c) {
						break
					}
				}
			}
		})
	}
}

// TestSteadyCurrentIsIncluded: a pack that states just the current that a hover draws may be flown at it.
func TestSteadyCurrentIsIncluded(t *testing.T) {
	cat := parts(t, example)
	p := plan(t, cat, exampleBuild)
	a := p.Assess(packSet(t, cat).Pack("k"))
	for share, broken := range map[model.Current]bool{1: false, 1 - 1e-9: true} {
		record, pack, most := *a.Pack.Pack, *a.Pack, share*a.Flight.EndCurrent
		record.MaxCurrent = &most
		pack.Pack = &record
		c := a.Candidate
		c.Pack = &pack
		for _, r := range planner.RulesOf()[0] {
			if r.Code == planner.SteadyCurrent && r.Breaks(&c) != broken {
				t.Errorf("at %v times the current of the hover: %v", share, !broken)
			}
		}
	}
}

// TestShortOf: every reason against a pack has a few words of its own kind, and what is none keeps its code.
func TestShortOf(t *testing.T) {
	for _, r := range planner.RulesOf()[0] {
		if got := planner.ShortOf(r.Code); got == "" || got != r.Short || strings.ContainsAny(got, "0123456789.") {
			t.Errorf("%s amounts to %q", r.Code, got)
		}
	}
	if got := planner.ShortOf(planner.LabelOnly); got != "label-only" {
		t.Errorf("what is no reason amounts to %q", got)
	}
}
