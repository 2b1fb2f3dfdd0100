package model

import "math"

// Default half-widths of a mass: what a pocket scale shows, and how far a data sheet
// tends to be from the part.
const (
	WeighedTolerance   Mass = 0.1 * Gram
	CatalogueTolerance      = 0.03 // of the mass
)

// MassItem is one line of a mass budget: Count identical parts.
type MassItem struct {
	Each      Mass
	Count     int
	Weighed   bool
	Together  int   // how many were on the scale at once, where Weighed; 0 or 1 for one alone
	Tolerance *Mass // half-width of one; nil for the default
}

// Total is the mass of all of the item's parts.
func (i MassItem) Total() Mass { return Mass(i.Count) * i.Each }

// HalfWidth is the greatest error of one part that is still expected.
func (i MassItem) HalfWidth() Mass {
	switch {
	case i.Tolerance != nil:
		return *i.Tolerance
	case i.Weighed:
		// What is there at all weighs more than nothing.
		return min(WeighedTolerance/Mass(max(1, i.Together)), i.Each)
	}
	return CatalogueTolerance * i.Each
}

// Uncertainty is the standard uncertainty of the item: a rectangular distribution of
// its half-width, identical parts fully correlated.
//
// Source: JCGM 100:2008, 4.3.7 and 5.2.2.
func (i MassItem) Uncertainty() Mass { return Mass(i.Count) * i.PieceUncertainty() }

// PieceUncertainty is the standard uncertainty of one of the item's parts.
func (i MassItem) PieceUncertainty() Mass { return i.HalfWidth() / Mass(math.Sqrt(3)) }

// MassBudget is what a craft is made of.
type MassBudget []MassItem

// Total is the sum of the items.
func (b MassBudget) Total() Mass {
	var m Mass
	for _, i := range b {
		m += i.Total()
	}
	return m
}

// Uncertainty is the combined standard uncertainty, different parts independent. Twice
// it is the expanded uncertainty.
//
// Source: JCGM 100:2008, 5.1.2.
func (b MassBudget) Uncertainty() Mass {
	var sum float64
	for _, i := range b {
		u := float64(i.Uncertainty())
		sum += u * u
	}
	return Mass(math.Sqrt(sum))
}
