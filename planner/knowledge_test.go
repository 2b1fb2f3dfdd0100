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

// TestKnowledgeInWords: what rotors rest on, of all that there is, in words and in its order; and what is said of what
// is passed over or guessed.
func TestKnowledgeInWords(t *testing.T) {
	_, rows := standRows(t)
	const coefficients, motor = "ct = 0.150\ncp = 0.080\n", "r_mohm = 120\nno_load_a = 0.60\n"
	table := strings.Replace(example, coefficients, staticTable, 1)
	without := func(text string, lines ...string) string {
		for _, l := range lines {
			text = strings.Replace(text, l, "", 1)
		}
		return text
	}
	const ofTable, ofTest, ofOne, ofSize = model.FromStaticTable, model.FromThrustTest, model.FromCoefficients, model.FromGeometry
	for _, c := range []struct {
		what, parts string
		kinds       []model.Knowledge
		reason      string
		unused      bool // a thrust test is
	}{
		{"table", table, []model.Knowledge{ofTable, ofSize}, "the static table of p, 2 speeds", false},
		{"table of one speed", strings.Replace(example, coefficients, "static = [{ rpm = 8000, ct = 0.15, cp = 0.08 }]\n", 1), []model.Knowledge{ofTable, ofSize}, "the static table of p, 1 speed", false},
		{"table, motor not stated", without(table, motor), []model.Knowledge{ofTable, ofSize}, "the static table of p, 2 speeds and an estimated motor", false},
		{"table before test", table + thrustTest(rows), []model.Knowledge{ofTable, ofTest, ofSize}, "the static table of p, 2 speeds", true},
		{"test before table", without(table, "no_load_a = 0.60\n") + thrustTest(rows), []model.Knowledge{ofTest, ofTable, ofSize}, "thrust test stand of this motor with this propeller, met within ", false},
		{"test before table, no resistance", without(table, "r_mohm = 120\n") + thrustTest(rows), []model.Knowledge{ofTest, ofTable, ofSize}, "thrust test stand of this motor with this propeller, met within ", false},
		{"test", example + thrustTest(rows), []model.Knowledge{ofTest, ofOne, ofSize}, "thrust test stand of this motor with this propeller, met within ", false},
		{"coefficients", example, []model.Knowledge{ofOne, ofSize}, "the stated coefficients of p", false},
		{"size", without(example, coefficients), []model.Knowledge{ofSize}, "the size of p alone", false},
		{"size, motor not stated", without(example, coefficients, motor), []model.Knowledge{ofSize}, "the size of p alone and an estimated motor", false},
	} {
		p := plan(t, parts(t, c.parts), exampleBuild)
		is := p.Propulsion
		if !slices.Equal(is.Kinds, c.kinds) || is.Base != c.kinds[0] || is.Source != c.kinds[0] || (is.Fit != nil) != (c.kinds[0] == ofTest) || (is.Test != nil) != (is.Fit != nil) {
			t.Errorf("%s: rests on %s of %v, want %v", c.what, is.Base, is.Kinds, c.kinds)
		}
		want := c.reason
		if is.Fit != nil {
			want += fmt.Sprintf("%.1f %% RMS over 5 rows", 100*is.Fit.RMS)
			if c.what == "test before table" {
				want += ", its no-load current assumed"
			}
		}
		if is.Reason != want {
			t.Errorf("%s: %q, want %q", c.what, is.Reason, want)
		}
		said := map[planner.Code]string{}
		for _, w := range p.Warnings {
			said[w.Code] = w.Text
		}
		if _, ok := said[planner.PropEstimated]; ok != (c.kinds[0] == ofSize) {
			t.Errorf("%s: of the propeller it is said %q", c.what, said[planner.PropEstimated])
		}
		if text, ok := said[planner.TestUnused]; ok != c.unused {
			t.Errorf("%s: of the test it is said %q", c.what, text)
		} else if ok {
			// How far the table's power is from the stand's, in its air, with the assumed controller.
			r := p.Drive.Rotor
			r.Air, r.Controller = model.SeaLevelDensity, model.AssumedController()
			test, sum := p.Build.Parts.ThrustTests["stand"], 0.0
			for _, row := range test.Rows {
				sum += math.Pow(float64(r.AtThrust(row.Thrust, row.Voltage).BusPower)/(float64(row.Voltage)*float64(row.Current))-1, 2)
			}
			if want := fmt.Sprintf("%s goes before it, and meets its rows within %.0f %% RMS of power", c.reason, 100*math.Sqrt(sum/float64(len(test.Rows)))); !strings.Contains(text, want) {
				t.Errorf("%s: %q, want %q", c.what, text, want)
			}
		}
	}
	// Compared by another kind than the best a propeller is not said to be estimated, nor the test unused.
	s := compare(t, parts(t, table+thrustTest(rows), "[prop.size]\nmass_g = 1.4\ndiameter_in = 3.5\npitch_in = 2.5\nblades = 3\n"), exampleBuild, "prop=size")
	if s.Before.Plan.Propulsion.Base != ofSize || slices.ContainsFunc(s.Before.Plan.Warnings, func(r planner.Remark) bool { return r.Code == planner.PropEstimated || r.Code == planner.TestUnused }) {
		t.Errorf("compared by %s: %v", s.Before.Plan.Propulsion.Base, s.Before.Plan.Warnings)
	}
}

// TestColdMoves: cold is the pack's own, raises its resistance below what was measured, and moves nothing at its best
// estimate.
func TestColdMoves(t *testing.T) {
	p := plan(t, parts(t, example), exampleBuild+"pack_temperature_c = -5\n")
	pack := packOf(t, p, "k")
	base := p.At(pack, p.Bare())
	for _, u := range p.Uncertain(pack) {
		if u.Input != planner.InputCold {
			continue
		}
		more, less := base, base
		u.Move(&more, 0.5)
		u.Move(&less, -0.5)
		u.Move(&less, 0.5)
		if u.Shared || u.Subject != "k" || u.Sigma != model.ColdRiseSigma || more.Circuit.Cold.Rise != 0.5 || less.Circuit.Cold.Rise != 0 || more.Circuit.Cold.From != model.ColdestMeasured {
			t.Errorf("%+v moves cold to %+v, and there and back to %+v", u, more.Circuit.Cold, less.Circuit.Cold)
		}
		return
	}
	t.Error("nothing is uncertain of the cold")
}
