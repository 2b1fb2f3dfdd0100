package planner_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// TestReference: hover is told of the best pack, of today's where none suits, of none where there is neither.
func TestReference(t *testing.T) {
	two := []planner.Assessment{{Candidate: planner.Candidate{Pack: &planner.Pack{Pack: &catalog.Pack{Common: catalog.Common{ID: "a"}}}}}, {Candidate: planner.Candidate{Pack: &planner.Pack{Pack: &catalog.Pack{Common: catalog.Common{ID: "b"}}}}}}
	today := &planner.Plan{Selection: planner.Selection{Pack: two[1].Pack.Pack}}
	for _, c := range []struct {
		r    planner.Ranking
		want *planner.Assessment
	}{
		{planner.Ranking{Plan: today, Ranked: two}, &two[0]},
		{planner.Ranking{Plan: today, Ranked: two[:1]}, &two[0]},
		{planner.Ranking{Plan: today, Excluded: two}, &two[1]},
		{planner.Ranking{Plan: &planner.Plan{}, Excluded: two}, nil},
		{planner.Ranking{Plan: today}, nil},
	} {
		if got := c.r.Reference(); got != c.want {
			t.Errorf("Reference of %d ranked, %d excluded is %v", len(c.r.Ranked), len(c.r.Excluded), got)
		}
	}
}

// TestSwapCompares: what is known on one side only has no difference.
func TestSwapCompares(t *testing.T) {
	masses := func(grams float64) planner.Outcome {
		return planner.Outcome{Weighing: planner.Weighing{Mass: model.Mass(grams) * model.Gram, Margin: 3 * model.Gram, Spare: 2 * model.Gram, OverChance: 0.25}}
	}
	s := planner.Swap{Before: masses(200), After: masses(212.5)}
	mass := s.Compare(func(a *planner.Assessment) (float64, bool) { return a.Mass.Grams(), true })
	if mass.Before == nil || mass.After == nil || mass.Difference == nil || math.Abs(*mass.Difference-12.5) > 1e-9 || math.Abs(*mass.Before-200) > 1e-9 {
		t.Errorf("masses compare as %v", mass)
	}
	if got := s.MassChange().Grams(); math.Abs(got-12.5) > 1e-9 {
		t.Errorf("MassChange = %v g, want 12.5", got)
	}
	one := s.Compare(func(a *planner.Assessment) (float64, bool) { return 1, a.Mass > 205*model.Gram })
	if one.Before != nil || one.After == nil || one.Difference != nil {
		t.Errorf("a figure known after only compares as %v", one)
	}
	if a := s.After.Assessed(); a.Margin != 3*model.Gram || a.Spare != 2*model.Gram || a.OverChance != 0.25 || a.Flies() || a.Pack != nil {
		t.Errorf("a build without a pack is assessed as %+v", a)
	}
	var none *planner.Assessment
	if none.Flies() {
		t.Error("nothing flies")
	}
}

// TestStatedResistance: a data sheet that the fit contradicts by more than 1.6, either way, is told.
func TestStatedResistance(t *testing.T) {
	stated := 100 * model.MilliOhm
	cat := catalog.New()
	cat.Motors["m"] = &catalog.Motor{R: &stated}
	cat.Motors["silent"] = &catalog.Motor{}
	cat.ThrustTests["t"] = &catalog.ThrustTest{Motor: "m"}
	cat.ThrustTests["s"] = &catalog.ThrustTest{Motor: "silent"}
	for fitted, want := range map[float64]bool{100: false, 150: false, 165: true, 70: false, 60: true} {
		fit := &model.ThrustFit{Motor: model.Motor{R: model.Resistance(fitted) * model.MilliOhm}}
		if r, far := planner.StatedResistance(cat, "t", fit); far != want || r != stated {
			t.Errorf("%v mohm fitted, 100 stated: %v, %v, want %v", fitted, r, far, want)
		}
		if _, far := planner.StatedResistance(cat, "s", fit); far {
			t.Error("a motor that states none is contradicted")
		}
	}
}

// TestWeighingDerives: shares and errors of identical parts, by hand.
func TestWeighingDerives(t *testing.T) {
	motors := planner.Item{MassItem: model.MassItem{Each: 10 * model.Gram, Count: 4}} // a catalogue mass is good to 3 %
	w := planner.Weighing{Mass: 160 * model.Gram}
	if got := w.Share(motors); !scalar.EqualWithinRel(got, 0.25, 1e-12) {
		t.Errorf("Share = %v, want 0.25", got)
	}
	if got := motors.TotalHalfWidth().Grams(); !scalar.EqualWithinRel(got, 1.2, 1e-12) {
		t.Errorf("TotalHalfWidth = %v g, want 4 x 0.3", got)
	}
	var lifts planner.Assessment
	if got := lifts.MassPerPower(); got != 0 {
		t.Errorf("what does not hover lifts %v kg/W", got)
	}
	lifts.Mass, lifts.Flight.Hover.Power = 240*model.Gram, 50
	if got := lifts.MassPerPower(); !scalar.EqualWithinRel(got, 0.0048, 1e-12) {
		t.Errorf("240 g for 50 W are %v kg/W, want 0.0048", got)
	}
	lifts.Mass, lifts.Flight.Hover.Power = 6*model.Gram, 0.5
	if got := lifts.MassPerPower(); !scalar.EqualWithinRel(got, 0.012, 1e-12) {
		t.Errorf("6 g for half a watt are %v kg/W, want 0.012", got)
	}
	phase := model.PhaseUse{MinVoltage: 14}
	a := planner.Assessment{Candidate: planner.Candidate{Pack: &planner.Pack{Pack: &catalog.Pack{Cells: 4}}}}
	if got := a.LeastPerCell(phase); got != 3.5 {
		t.Errorf("LeastPerCell = %v, want 3.5", got)
	}
}
