package planner

import "allup/model"

// Flies reports whether there is a flight to speak of.
func (a *Assessment) Flies() bool { return a != nil && a.Flight.Duration > 0 && a.Duration() > 0 }

// Assessed is what there is to say of a build at one side of a swap: of its flight on its pack or, where it
// carries none, of its masses alone, without a pack and a flight.
func (o *Outcome) Assessed() *Assessment {
	if o.Flown != nil {
		return o.Flown
	}
	w := o.Weighing
	return &Assessment{Candidate: Candidate{Plan: o.Plan, Mass: w.Mass, OverChance: w.OverChance}, Margin: w.Margin, Spare: w.Spare}
}

// Sides are a figure on both sides of a swap; nil where it is not known.
type Sides struct{ Before, After, Difference *float64 }

// Compare is a figure on both sides of the swap. of gives its value, and false where it is not known.
func (s *Swap) Compare(of func(*Assessment) (v float64, ok bool)) Sides {
	var out Sides
	before, hasBefore := of(s.Before.Assessed())
	after, hasAfter := of(s.After.Assessed())
	if hasBefore {
		out.Before = &before
	}
	if hasAfter {
		out.After = &after
	}
	if hasBefore && hasAfter {
		d := after - before
		out.Difference = &d
	}
	return out
}

// MassChange is what the swap adds to the all-up mass.
func (s *Swap) MassChange() model.Mass { return s.After.Weighing.Mass - s.Before.Weighing.Mass }
