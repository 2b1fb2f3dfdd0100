package model

import (
	"math"
	"testing"
)

// Where packs of a family deliver the same energy but for a rounding, their masses tell nothing of one without.
func TestBareMass(t *testing.T) {
	members := func(energies ...Energy) (list []FamilyMember) {
		for i, e := range energies {
			list = append(list, FamilyMember{Energy: e, Mass: Mass(0.06 + 0.001*float64(i))})
		}
		return list
	}
	const e Energy = 30_000
	if got := bareMass(members(e, e*(1+1e-6), e*(1-1e-6))); got != 0 {
		t.Errorf("of equal energies: %v g", got.Grams())
	}
	// A line by hand: 60, 61 and 62 g for 30, 31 and 32 kJ is 30 g for none.
	if got := bareMass(members(30_000, 31_000, 32_000)); math.Abs(got.Grams()-30) > 1e-6 {
		t.Errorf("of a line: %v g, want 30", got.Grams())
	}
}
