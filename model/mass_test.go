package model_test

import (
	"math"
	"testing"

	"allup/model"
)

// By hand after JCGM 100:2008, 4.3.7, 5.1.2 and 5.2.2: half-width a, rectangular, u = a/sqrt 3; n identical parts
// fully correlated, n a/sqrt 3; different parts independent.
func TestMassBudget(t *testing.T) {
	stated := 0.6 * model.Gram
	b := model.MassBudget{
		{Each: 9 * model.Gram, Count: 4},                      // 3 % of 9 g: a = 0.27 g, 4 of them
		{Each: 31.9 * model.Gram, Count: 1, Weighed: true},    // a = 0.1 g
		{Each: 20 * model.Gram, Count: 2, Tolerance: &stated}, // a = 0.6 g, 2 of them
		{Each: 5 * model.Gram, Count: 0},                      // none on board
	}
	near(t, "total, g", b.Total().Grams(), 36+31.9+40, 1e-12)
	want := math.Sqrt((1.08*1.08 + 0.1*0.1 + 1.2*1.2) / 3)
	near(t, "standard uncertainty, g", b.Uncertainty().Grams(), want, 1e-12)
}

// A part lighter than what a scale shows is not less than nothing.
func TestHalfWidthOfALightPart(t *testing.T) {
	for _, c := range []struct{ grams, want float64 }{{5, 0.1}, {0.1, 0.1}, {0.04, 0.04}} {
		i := model.MassItem{Each: model.Mass(c.grams) * model.Gram, Count: 1, Weighed: true}
		near(t, "half-width, g", i.HalfWidth().Grams(), c.want, 1e-12)
	}
}

// Four parts that are 39.3 g together are known to 0.1 g in all, not each.
func TestWeighedTogether(t *testing.T) {
	four := model.MassItem{Each: 39.3 * model.Gram / 4, Count: 4, Weighed: true, Together: 4}
	near(t, "uncertainty of the four, g", four.Uncertainty().Grams(), 0.1/math.Sqrt(3), 1e-12)
	one := model.MassItem{Each: 9.8 * model.Gram, Count: 4, Weighed: true}
	near(t, "uncertainty of four by one, g", one.Uncertainty().Grams(), 0.4/math.Sqrt(3), 1e-12)
}
