package model

// Moment is a pack at a time after its load came on, or after take-off. The voltage is the loaded one, of the pack.
type Moment struct {
	Time       Time
	ChargeLeft float64
	Voltage    Voltage
	Current    Current

	Temperature Temperature
}

// Trace is Discharge, watched: each is called at the start, after every step of the simulator and at the end, in
// order of time. Between two calls the curves are all but straight; a drawing may join them by lines.
func (c Circuit) Trace(load Load, stop Stop, each func(Moment)) Discharge {
	return c.discharge(load, stop, each)
}

// Trace is Answer, with the flight watched: a hover from take-off to landing; phases from take-off to
// [PhaseFlight.FirstMet], with two calls at one time where the load changes.
func (d Drive) Trace(pack Circuit, m Mass, mission Mission, each func(Moment)) Answer {
	a := Answer{Punch: d.PunchOut(pack, mission.PunchCharge)}
	if len(mission.Phases) == 0 {
		a.Flight = d.fly(pack, m, mission.Landing, each)
		return a
	}
	a.Flight = d.Fly(pack, m, mission.Landing)
	c := d.flyPhases(pack, m, mission.Landing, mission.Phases, each)
	a.Cycle = &c
	return a
}
