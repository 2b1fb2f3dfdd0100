package model

import (
	"cmp"
	"errors"
	"math"
	"slices"
)

// FamilyMember is a pack of a family: its mass with leads and plug, the energy that it delivers in its bench test,
// and its circuit.
type FamilyMember struct {
	Mass    Mass
	Energy  Energy
	Circuit Circuit
}

// PackFamily is packs of one make-up, of any size: mass = Bare + energy/EnergyPerMass, at one number of cells, one
// open-circuit curve, and one resistance for the size.
type PackFamily struct {
	Cells         int
	Curve         Curve
	Bare          Mass    // leads, plug and wrap: what a pack without cells would weigh
	EnergyPerMass float64 // J/kg of what a pack weighs beyond Bare
	ChargePerWork float64 // C/J: the capacity of the circuit over the energy that a test delivers
	SteadyR       float64 // Ohm Ah of a cell: see [Circuit.SteadyRTimesCapacity]
	Shift         Voltage // of the open-circuit curve, per cell

	K                float64 // charge dependence, see [Circuit]
	HeatPerMass      float64 // J/(kg K), of the whole pack
	CoolingTime      Time
	Temperature, Air Temperature // those of the first member

	// How far packs are off the family at their own mass: relative standard deviations of capacity and of resistance.
	ScatterQ, ScatterR float64
}

// FitPackFamily is the family through packs of one number of cells and one curve: Bare from the least squares of mass
// over energy, never below 0 nor above half of the lightest pack; EnergyPerMass, resistance and shift are medians of
// the best share of the packs by energy for their mass, 1 for all of them. Without two packs of different energy Bare
// is 0. No pack, or one without mass or energy, is an error.
func FitPackFamily(members []FamilyMember, share float64) (PackFamily, error) {
	if len(members) == 0 {
		return PackFamily{}, errors.New("a pack family needs one tested pack at least")
	}
	lightest := Mass(math.Inf(1))
	for _, m := range members {
		if !(m.Mass > 0) || !(m.Energy > 0) || !(m.Circuit.Capacity > 0) {
			return PackFamily{}, errors.New("a pack without mass, energy or capacity belongs to no family")
		}
		lightest = min(lightest, m.Mass)
	}
	first := members[0].Circuit
	f := PackFamily{Cells: first.Cells, Curve: first.Curve, Bare: min(max(bareMass(members), 0), lightest/2)}
	best := slices.Clone(members)
	density := func(m FamilyMember) float64 { return float64(m.Energy) / float64(m.Mass-f.Bare) }
	slices.SortStableFunc(best, func(a, b FamilyMember) int { return cmp.Compare(density(b), density(a)) })
	best = best[:max(1, int(math.Round(share*float64(len(best)))))]
	median := func(of func(FamilyMember) float64) float64 {
		values := make([]float64, len(best))
		for i, m := range best {
			values[i] = of(m)
		}
		return medianOf(values)
	}
	f.EnergyPerMass = median(density)
	f.ChargePerWork = median(func(m FamilyMember) float64 { return float64(m.Circuit.Capacity) / float64(m.Energy) })
	f.Temperature, f.Air = first.StartTemperature(), first.Air
	f.SteadyR = median(func(m FamilyMember) float64 { return m.Circuit.At(f.Temperature, f.Air).SteadyRTimesCapacity() })
	f.K = median(func(m FamilyMember) float64 { return m.Circuit.K })
	f.HeatPerMass = median(func(m FamilyMember) float64 { return m.Circuit.HeatCapacity / float64(m.Mass) })
	f.CoolingTime = Time(median(func(m FamilyMember) float64 { return float64(m.Circuit.CoolingTime) }))
	f.Shift = Voltage(median(func(m FamilyMember) float64 { return float64(m.Circuit.Shift) }))
	f.ScatterQ, f.ScatterR = f.scatter(best)
	return f, nil
}

// bareMass is where the least-squares line of mass over energy meets no energy.
func bareMass(members []FamilyMember) Mass {
	var n, sx, sy, sxx, sxy float64
	for _, m := range members {
		x, y := float64(m.Energy), float64(m.Mass)
		n, sx, sy, sxx, sxy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y
	}
	spread := n*sxx - sx*sx
	if !(spread > 1e-9*sx*sx) {
		return 0
	}
	slope := (n*sxy - sx*sy) / spread
	return Mass((sy - slope*sx) / n)
}

// Energy is what a pack of a mass delivers in a test; 0 for one that is not heavier than Bare.
func (f PackFamily) Energy(m Mass) Energy {
	return Energy(max(0, float64(m-f.Bare)) * f.EnergyPerMass)
}

// Circuit is the circuit of a member of a mass, which must be above Bare.
func (f PackFamily) Circuit(m Mass) Circuit {
	c := Circuit{
		Cells: f.Cells, Curve: f.Curve, Capacity: Charge(float64(f.Energy(m)) * f.ChargePerWork), Shift: f.Shift,
		K: f.K, HeatCapacity: f.HeatPerMass * float64(m), CoolingTime: f.CoolingTime, Temperature: f.Temperature, Air: f.Air,
	}
	c.setSteadyR(f.SteadyR)
	return c
}

// scatter is how far packs are off the family at their own mass, as relative standard deviations of capacity and of
// resistance about it; 0 for less than two packs.
func (f PackFamily) scatter(members []FamilyMember) (capacity, resistance float64) {
	if len(members) < 2 {
		return 0, 0
	}
	for _, m := range members {
		of := f.Circuit(m.Mass)
		q := math.Log(float64(m.Circuit.Capacity / of.Capacity))
		r := math.Log(float64((m.Circuit.R0 + m.Circuit.R1) / (of.R0 + of.R1)))
		capacity, resistance = capacity+q*q, resistance+r*r
	}
	n := float64(len(members) - 1)
	return math.Sqrt(capacity / n), math.Sqrt(resistance / n)
}
