package model

// Mission is what is flown on one charge.
type Mission struct {
	Landing     Landing
	PunchCharge float64 // charge left at which the punch-out is asked for
	Phases      []Phase // a cycle that repeats; empty for a hover
}

// Answer is what a drive does with a mass on a pack.
type Answer struct {
	Flight Flight       // in hover
	Cycle  *PhaseFlight // of the mission's phases; nil where it has none
	Punch  Punch        // at the mission's punch charge
}

// Answer flies a mission with an all-up mass on a pack. It is the one call behind assessments and
// bands. A mission without phases allocates nothing.
func (d Drive) Answer(pack Circuit, m Mass, mission Mission) Answer {
	a := Answer{Flight: d.Fly(pack, m, mission.Landing), Punch: d.PunchOut(pack, mission.PunchCharge)}
	if len(mission.Phases) > 0 {
		c := d.FlyPhases(pack, m, mission.Landing, mission.Phases)
		a.Cycle = &c
	}
	return a
}

// Duration is how long the mission lasts: its phases where it has some, in hover otherwise.
func (a *Answer) Duration() Time {
	if a.Cycle != nil {
		return a.Cycle.Duration
	}
	return a.Flight.Duration
}

// Usable is the energy delivered over Duration.
func (a *Answer) Usable() Energy {
	if a.Cycle != nil {
		return a.Cycle.Usable
	}
	return a.Flight.Usable
}

// ChargeLeft is the charge after Duration.
func (a *Answer) ChargeLeft() float64 {
	if a.Cycle != nil {
		return a.Cycle.ChargeLeft
	}
	return a.Flight.ChargeLeft
}

// EndedBy is what ended Duration.
func (a *Answer) EndedBy() Ending {
	if a.Cycle != nil {
		return a.Cycle.EndedBy
	}
	return a.Flight.EndedBy
}

// EndTemperature is the pack's after Duration.
func (a *Answer) EndTemperature() Temperature {
	if a.Cycle != nil {
		return a.Cycle.EndTemperature
	}
	return a.Flight.EndTemperature
}

// MaxTemperature is the pack's highest in the mission.
func (a *Answer) MaxTemperature() Temperature {
	if a.Cycle != nil {
		return a.Cycle.MaxTemperature
	}
	return a.Flight.MaxTemperature
}
