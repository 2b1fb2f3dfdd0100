package model_test

import (
	"testing"

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
