package model_test

import (
	"testing"

	"pgregory.net/rapid"

	"allup/model"
)

func TestLimitAtItsMass(t *testing.T) {
	below := model.Limit{Mass: 250 * model.Gram}
	upTo := model.Limit{Mass: 250 * model.Gram, Inclusive: true}
	// On paper 2500 parts of 0.1 g are 250 g; in floats they are not.
	var sum model.Mass
	for range 2500 {
		sum += 0.1 * model.Gram
	}
	if sum == 250*model.Gram {
		t.Fatal("the sum came out exact: the test says nothing")
	}
	for _, m := range []model.Mass{250 * model.Gram, sum} {
		if below.Allows(m) || !upTo.Allows(m) {
			t.Errorf("%.15g g: below allows %v, up to allows %v; want false and true", m.Grams(), below.Allows(m), upTo.Allows(m))
		}
	}
	if !below.Allows(249.99*model.Gram) || upTo.Allows(250.01*model.Gram) {
		t.Error("ten milligrams to either side are not told apart")
	}
	if !below.Stricter(upTo) || upTo.Stricter(below) || below.Stricter(below) {
		t.Error("below 250 g is not the stricter of the two")
	}
}

// 0.55 lb inclusive is not 250 g exclusive. A mass of 249.4758 g passes every 250 g class;
// only the 100 g ones are stricter. Source: the thresholds as published.
func TestThresholds(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range model.Thresholds() {
		if seen[r.ID] || r.ID == "" || r.Where == "" || r.Instrument == "" || r.Published == "" || r.Relieves == "" || r.Source == "" {
			t.Errorf("threshold %q is not whole, or there twice", r.ID)
		}
		seen[r.ID] = true
		if r.Limit == nil {
			continue
		}
		if got, want := r.Limit.Allows(249.4758*model.Gram), r.Limit.Mass > 100*model.Gram; got != want {
			t.Errorf("%s allows 249.4758 g: %v, want %v", r.ID, got, want)
		}
	}
	limit := func(id string) model.Limit {
		for _, r := range model.Thresholds() {
			if r.ID == id {
				return *r.Limit
			}
		}
		t.Fatalf("no threshold %s", id)
		return model.Limit{}
	}
	us, eu, au := limit("us-recreational"), limit("eu-a1-built"), limit("au-micro")
	if us.Allows(249.6*model.Gram) || !eu.Allows(249.6*model.Gram) || eu.Allows(250*model.Gram) || !au.Allows(250*model.Gram) || !us.Allows(0.55*model.Pound) {
		t.Error("0.55 lb, below 250 g and up to 250 g are not told apart")
	}
}

func TestStrictestOf(t *testing.T) {
	all := model.Thresholds()
	s, ok := model.StrictestOf(all)
	if !ok || s.Limit.Mass != 100*model.Gram || s.Limit.Inclusive {
		t.Errorf("the strictest of all is %+v", s)
	}
	for _, r := range all {
		if r.Limit != nil && r.Limit.Stricter(*s.Limit) {
			t.Errorf("%s is stricter", r.ID)
		}
	}
	if _, ok := model.StrictestOf(nil); ok {
		t.Error("there is a strictest of none")
	}
}

func TestChanceOver(t *testing.T) {
	l := model.Limit{Mass: 250 * model.Gram}
	// The normal tail at 0, 1, 1.96 and -1.6449 standard deviations, from its tables.
	for _, c := range []struct{ z, chance float64 }{{0, 0.5}, {1, 0.158655}, {1.96, 0.0249979}, {-1.644854, 0.95}} {
		within(t, "chance", l.ChanceOver(model.Mass(250-2*c.z)*model.Gram, 2*model.Gram), c.chance, 1e-6)
	}
	if l.ChanceOver(250*model.Gram, 0) != 1 || l.ChanceOver(249*model.Gram, 0) != 0 {
		t.Error("without uncertainty the chance is not 0 or 1")
	}
	rapid.Check(t, func(t *rapid.T) {
		m := model.Mass(rapid.Float64Range(200, 300).Draw(t, "g")) * model.Gram
		u := model.Mass(rapid.Float64Range(0.1, 5).Draw(t, "u")) * model.Gram
		if more := l.ChanceOver(m+model.Gram, u); more < l.ChanceOver(m, u) {
			t.Errorf("a gram more makes the chance %v less", more)
		}
	})
}
