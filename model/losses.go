package model

// Place is where a part of a craft's power goes.
type Place string

// Where power goes in hover, from the air to the bus.
const (
	PlaceLift       Place = "lift"         // ideal, of the weight: no rotor of this size can do with less
	PlaceFrame      Place = "frame"        // ideal, of the thrust that is lost to arms, guards and ducts
	PlaceInduced    Place = "induced"      // the wake that is not even
	PlaceProfile    Place = "profile"      // drag of the blades
	PlaceCopper     Place = "copper"       // windings
	PlaceNoLoad     Place = "no-load"      // bearings, iron and air of the motor
	PlacePartDuty   Place = "part-duty"    // see [Controller]
	PlaceController Place = "controller"   // its efficiency
	PlaceFlown      Place = "flown-hovers" // what flown hovers found beside all of these; may be below zero
	PlaceGear       Place = "gear"
)

// inducedFactor is the induced power of a rotor over the ideal one, for the wake is not even.
//
// Source: Leishman, Principles of Helicopter Aerodynamics, chapter 2: about 1.15.
const inducedFactor = 1.15

// Loss is the power that goes to a place.
type Loss struct {
	Place Place
	Power Power
	Share float64 // of the whole
}

// Losses are where the power of a hover goes; they add up to it. The blades' share beyond the ideal is split by
// inducedFactor, the motor's by its constants.
func (d Drive) Losses(h Hover) []Loss {
	n := Power(d.Rotors)
	p := h.Rotor
	area := d.Rotor.Propeller.DiskArea()
	ideal := n * IdealPower(p.Thrust, d.Rotor.Air, area)
	lift := n * IdealPower(p.Thrust*Force(1-d.ThrustLoss), d.Rotor.Air, area)
	blades := n*p.ShaftPower - ideal
	induced := min((inducedFactor-1)*ideal, blades)

	m := d.Rotor.Motor.Drive(p.Torque, p.Speed) // as its constants have it, before flown hovers
	copper := n * Power(float64(m.Current)*float64(m.Current)*float64(d.Rotor.Motor.R))
	idle := n * Power(float64(d.Rotor.Motor.NoLoadCurrent(p.Speed))*float64(p.Speed)/float64(d.Rotor.Motor.Kv))
	losses := []Loss{
		{Place: PlaceLift, Power: lift},
		{Place: PlaceFrame, Power: ideal - lift},
		{Place: PlaceInduced, Power: induced},
		{Place: PlaceProfile, Power: blades - induced},
		{Place: PlaceCopper, Power: copper},
		{Place: PlaceNoLoad, Power: idle},
		{Place: PlacePartDuty, Power: n * p.PartDuty},
		{Place: PlaceController, Power: n * (p.BusPower - p.Motor.Power - p.PartDuty)},
		{Place: PlaceFlown, Power: n * (p.Motor.Power - m.Power)},
		{Place: PlaceGear, Power: d.GearPower},
	}
	for i := range losses {
		losses[i].Share = float64(losses[i].Power / h.Power)
	}
	return losses
}
