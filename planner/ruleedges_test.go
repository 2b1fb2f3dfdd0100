package planner_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"allup/model"
	"allup/planner"
)

// saidOf is what is said against the example's pack by a code, with its subject.
func saidOf(t *testing.T, p *planner.Plan, code planner.Code) planner.Remark {
	t.Helper()
	a := p.Assess(packOf(t, p, "k"))
	for _, r := range a.Against() {
		if r.Code == code {
			return r
		}
	}
	t.Fatalf("nothing of %s is said, only %v", code, a.Against())
	return planner.Remark{}
}

// TestReasonsInWords: what is said against a pack names it and gives its figures, worked out by hand; the example with
// its pack is 238.4 g.
func TestReasonsInWords(t *testing.T) {
	// Hover turns the propellers at sqrt(T / (ct rho D^4)) with T = 238.4 g / 4 and nothing lost, in the air of 500 m at
	// 20 C: 954.61 hPa by ISO 2533, 1.13438 kg/m3.
	const air, diameter = 1.13438, 3.5 * 0.0254
	thrust := 0.2384 * 9.80665 / 4
	speed := math.Sqrt(thrust / (0.150 * air * math.Pow(diameter, 4)))
	torque := 0.080 * air * speed * speed * math.Pow(diameter, 5) / (2 * math.Pi)
	kv := 600 * 2 * math.Pi / 60
	volts := 2*math.Pi*speed/kv + 0.120*kv*torque // and the no-load current's drop, under 0.1 V
	slow := strings.NewReplacer("kv = 3600", "kv = 600", "no_load_a = 0.60", "no_load_a = 0.01", "thrust_loss = 0.0196078431372549", "thrust_loss = 0").Replace(example)
	board := strings.Replace(example, "efficiency = 0.95", "efficiency = 0.95\nmax_current_a = 5", 1)
	heavy := strings.NewReplacer("mass_g = 250", "mass_g = 3000", "mass_g = 60", "mass_g = 600").Replace(exampleBuild)
	rule := func(text string) string { return strings.Replace(exampleBuild, "mass_g = 250", text, 1) }
	at := func(build string, grams float64) string { // all-up
		return strings.Replace(build, "mass_g = 60", fmt.Sprintf("mass_g = %.1f", grams-178.4), 1)
	}
	for _, c := range []struct {
		what, parts, build string
		code               planner.Code
		want               []string // that it holds
	}{
		{"over", example, rule("mass_g = 238"), planner.OverLimit, []string{"makes 238.4 g all-up, 0.40 g over the limit"}},
		{"at", example, rule("mass_g = 238.4"), planner.OverLimit, []string{"at the limit, which is below 238.4 g"}},
		{"of one rule", example, at(rule(`rule = "eu-a1-built"`), 251), planner.OverLimit, []string{"makes 251.0 g all-up, 1.0 g over the limit"}},
		{"of two rules one", example, at(rule(`rule = ["eu-a1-built", "us-recreational"]`), 249.9), planner.OverLimit, []string{"0.42 g over the limit (breaks us-recreational, keeps eu-a1-built)"}},
		{"of two rules both", example, at(rule(`rule = ["eu-a1-built", "us-recreational"]`), 251), planner.OverLimit, []string{"1.5 g over the limit (breaks eu-a1-built and us-recreational)"}},
		{"at one of two", example, at(rule(`rule = ["hk-a1", "eu-a1-built"]`), 250), planner.OverLimit, []string{"at the limit, which is below 250 g (breaks eu-a1-built, keeps hk-a1)"}},
		{"spare", example, rule("mass_g = 240\nspare_g = 2"), planner.UnderSpare, []string{"makes 238.4 g all-up, 1.6 g under the limit: less than the 2.0 g kept back"}},
		{"sure", example, rule("mass_g = 240\nsure = 0.95123"), planner.UnsureLimit, []string{"makes 238.4 g all-up, 1.6 g under the limit, with a chance of 21 %", "the build asks to be 95.12 % sure"}},
		{"volts", slow, exampleBuild, planner.MotorVoltage, []string{"is 16.8 V when full", fmt.Sprintf("at %.0f rpm, for which they need %.1f V", math.Round(60*speed), volts)}},
		{"lift", board, heavy + "[flight]\npunch_charge = 0.6\n", planner.NoLift, []string{"times the weight at the most at 60 % charge, limited by the board's current"}},
	} {
		t.Run(c.what, func(t *testing.T) {
			said := saidOf(t, plan(t, parts(t, c.parts), c.build), c.code)
			if said.Subject != "k" {
				t.Errorf("it is about %q, want the pack", said.Subject)
			}
			for _, want := range c.want {
				if !strings.Contains(said.Text, want) {
					t.Errorf("says %q, want %q in it", said.Text, want)
				}
			}
			if c.what == "of one rule" && strings.Contains(said.Text, "(") {
				t.Errorf("says %q, which names the one rule", said.Text)
			}
		})
	}
}

// TestFlightRulesAtTheEdge: the example's flight changed to just what a rule asks for, and to a little more or less.
func TestFlightRulesAtTheEdge(t *testing.T) {
	cat := parts(t, example)
	p := plan(t, cat, exampleBuild)
	flies := p.Assess(packSet(t, cat).Pack("k"))
	full := flies.Circuit.OpenVoltage(1)
	weight := flies.Mass.Weight()
	phases := func(seconds, amps float64, throttle bool) *model.PhaseFlight {
		return &model.PhaseFlight{Duration: model.Time(seconds), Phases: []model.PhaseUse{{Phase: model.Phase{Full: throttle}, MaxCurrent: model.Current(amps)}}}
	}
	states := func(c *planner.Candidate, amps float64) {
		record, pack, most := *c.Pack.Pack, *c.Pack, model.Current(amps)
		record.MaxCurrent = &most
		pack.Pack = &record
		c.Pack = &pack
	}
	for _, c := range []struct {
		what   string
		change func(*planner.Candidate)
		want   []planner.Code
	}{
		{"as it is", func(*planner.Candidate) {}, nil},
		{"half a second of hover", func(c *planner.Candidate) { c.Flight.Duration = 0.5 }, nil},
		{"no hover, the voltage just that of the full pack", func(c *planner.Candidate) {
			c.Flight.Duration, c.Flight.Hover.Rotor.Motor.Voltage = 0, full
		}, []planner.Code{planner.MotorVoltage}},
		{"no hover, a little less", func(c *planner.Candidate) {
			c.Flight.Duration, c.Flight.Hover.Rotor.Motor.Voltage = 0, full*(1-1e-9)
		}, []planner.Code{planner.CannotHold}},
		{"half a second of phases", func(c *planner.Candidate) { c.Cycle = phases(0.5, 0, false) }, nil},
		{"no phases", func(c *planner.Candidate) { c.Cycle = phases(0, 0, false) }, []planner.Code{planner.CannotHold}},
		{"thrust is the weight", func(c *planner.Candidate) { c.Punch.Thrust = weight }, nil},
		{"thrust is a little less", func(c *planner.Candidate) { c.Punch.Thrust = weight * (1 - 1e-9) }, []planner.Code{planner.NoLift}},
		{"a small current, stated", func(c *planner.Candidate) { c.Flight.EndCurrent = 0.4; states(c, 0.5) }, nil},
		{"a small current, less stated", func(c *planner.Candidate) { c.Flight.EndCurrent = 0.6; states(c, 0.5) }, []planner.Code{planner.SteadyCurrent}},
		{"the current of a phase, stated", func(c *planner.Candidate) { c.Cycle = phases(9, 40, false); states(c, 40) }, nil},
		{"the current of a phase, less stated", func(c *planner.Candidate) { c.Cycle = phases(9, 40, false); states(c, 39.9) }, []planner.Code{planner.SteadyCurrent}},
		{"of full throttle, less stated", func(c *planner.Candidate) { c.Cycle = phases(9, 40, true); states(c, 39.9) }, nil},
	} {
		x := flies.Candidate
		c.change(&x)
		var got []planner.Code
		for _, r := range planner.RulesOf()[0] {
			if r.Breaks(&x) {
				got = append(got, r.Code)
			}
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: breaks %v, want %v", c.what, got, c.want)
		}
	}
}

// TestWhatNeedsAFlight: masses, labels and sizes are judged before a pack flies, and so is whether parts go together;
// only what a flight shows is judged after.
func TestWhatNeedsAFlight(t *testing.T) {
	flown := []planner.Code{planner.MotorVoltage, planner.CannotHold, planner.NoLift, planner.SteadyCurrent}
	for _, r := range planner.RulesOf()[0] {
		if r.Static == slices.Contains(flown, r.Code) {
			t.Errorf("%s is judged before a flight: %v", r.Code, r.Static)
		}
	}
	for _, r := range planner.RulesOf()[2] {
		if !r.Static {
			t.Errorf("%s is judged after a flight", r.Code)
		}
	}
}
