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
