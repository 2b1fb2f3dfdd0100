package planner

import "allup/model"

// Inputs are what an answer is computed from, at their best estimates or moved off them.
type Inputs struct {
	Drive   model.Drive
	Circuit model.Circuit // of the pack, at the build's pack temperature; zero without a pack
	Mass    model.Mass    // all-up; without a pack the dry mass
}

// Input names a kind of uncertain input. The names are stable.
type Input string

// The kinds of uncertain inputs.
const (
	InputMass       Input = "mass"       // of all identical parts together
	InputCapacity   Input = "capacity"   // of the pack
	InputResistance Input = "resistance" // of the pack, R0 and R1 together
	InputChargeDep  Input = "charge-dependence"
	InputCold       Input = "cold" // how much more resistance the pack has below the temperatures that were measured

	InputThrust        = Input(model.InputThrust)
	InputFigureOfMerit = Input(model.InputFigureOfMerit)
	InputGrowth        = Input(model.InputGrowth)
	InputEfficiency    = Input(model.InputEfficiency)
	InputLoadedSpeed   = Input(model.InputLoadedSpeed)
	InputNoLoadShare   = Input(model.InputNoLoadShare)
	InputNoLoadGrowth  = Input(model.InputNoLoadGrowth)
	InputPartDuty      = Input(model.InputPartDuty)
)

// Uncertain is an input that is not known exactly. Different ones are taken as independent.
type Uncertain struct {
	Input   Input
	Subject string  // the id of the part
	Sigma   float64 // standard deviation, above 0: of masses in kilograms, of rotors as [model.UncertainInput] has it, of a charge dependence its own, else relative

	// Shared means that one error, whatever it is, goes into the answers of all packs: it is a part's that
	// stays on the build. The others are the pack's own.
	Shared bool

	// Move adds an error to inputs, in the unit of Sigma; relative ones are above -1. Moves by several
	// uncertain inputs may follow each other in any order. What they start from is not changed.
	Move func(in *Inputs, by float64)
}

// Bare is the inputs of the build without a pack: all that packs share.
func (p *Plan) Bare() Inputs { return Inputs{Drive: p.Drive, Mass: p.Dry} }

// At puts a pack on inputs that packs share, such as [Plan.Bare] with shared errors in it.
func (p *Plan) At(pack *Pack, shared Inputs) Inputs {
	allUp, _ := p.With(pack.Pack)
	added := allUp - p.Dry
	if p.Scale != nil {
		_, _, follows := p.scaled(pack.Pack)
		added += model.Mass(follows) * (shared.Mass - p.Dry)
	}
	return shared.with(p.circuitOf(pack), added)
}

// with adds a pack's circuit and mass.
func (in Inputs) with(c model.Circuit, m model.Mass) Inputs {
	in.Circuit = c
	in.Mass += m
	return in
}

// Uncertain lists what is uncertain of the build on a pack: what packs share in the order of the build sheet, then
// what is the pack's own. Nil is no pack.
func (p *Plan) Uncertain(pack *Pack) []Uncertain {
	list := p.sharedUncertain()
	if pack != nil {
		mass := uncertainMass(p.PackItem(pack.Pack), false)
		if p.Scale != nil {
			_, mass, _ = p.scaled(pack.Pack)
		}
		list = append(list, mass)
		own := p.ownUncertain(pack)
		list = append(list, own[:]...)
	}
	return known(list)
}

// known leaves out what is known exactly.
func known(list []Uncertain) []Uncertain {
	kept := list[:0]
	for _, u := range list {
		if u.Sigma > 0 {
			kept = append(kept, u)
		}
	}
	return kept
}

func (p *Plan) sharedUncertain() []Uncertain {
	var list []Uncertain
	if p.Scale != nil {
		dry, _, _ := p.scaled(nil)
		return append([]Uncertain{dry}, p.uncertainRotor()...)
	}
	for _, item := range p.Items {
		list = append(list, uncertainMass(item, true))
	}
	return append(list, p.uncertainRotor()...)
}

// uncertainMass is one input for all identical parts: they come out of one mould, and one scale weighed them.
func uncertainMass(i Item, shared bool) Uncertain {
	return Uncertain{InputMass, i.ID, float64(i.Uncertainty()), shared, moveMass}
}

// uncertainRotor is what is uncertain of propeller, motor and controller.
func (p *Plan) uncertainRotor() []Uncertain {
	var list []Uncertain
	for _, u := range p.Drive.Rotor.Uncertain() {
		subject := p.Motor.ID
		switch u.Input {
		case model.InputThrust, model.InputFigureOfMerit, model.InputGrowth:
			subject = p.Prop.ID
		case model.InputPartDuty:
			subject = p.Board.ID
		}
		move := u.Move
		list = append(list, Uncertain{Input(u.Input), subject, u.Sigma, true, func(in *Inputs, by float64) { move(&in.Drive.Rotor, by) }})
	}
	return list
}

// ownInputs is how many inputs ownUncertain has.
const ownInputs = 4

// ownUncertain is what is uncertain of the pack's circuit: fit or identification, unit to unit, and what cold
// does to it.
func (p *Plan) ownUncertain(pack *Pack) [ownInputs]Uncertain {
	own := [ownInputs]Uncertain{
		{InputCapacity, pack.ID, pack.SigmaQ, false, moveCapacity},
		{InputResistance, pack.ID, pack.SigmaR, false, moveResistance},
		{InputChargeDep, pack.ID, pack.SigmaK, false, moveChargeDependence(pack.Steeper)},
		{InputCold, pack.ID, 0, false, nil},
	}
	if p.UnmeasuredCold(pack) {
		own[3].Sigma, own[3].Move = model.ColdRiseSigma, moveCold(pack.coldestKnown())
	}
	return own
}

// moveCold adds a rise of resistance below the coldest temperature that is known.
func moveCold(known model.Temperature) func(*Inputs, float64) {
	return func(in *Inputs, by float64) {
		in.Circuit.Cold.From = known
		in.Circuit.Cold.Rise += by
	}
}

// coldestKnown is the temperature below which nothing is known of a pack's resistance: what its own test
// measured at is known, too.
func (p *Pack) coldestKnown() model.Temperature {
	return min(model.ColdestMeasured, p.Circuit.StartTemperature())
}

// UnmeasuredCold reports whether a pack takes off, or flies in air, at less than it or its like was measured at.
func (p *Plan) UnmeasuredCold(pack *Pack) bool {
	c := p.circuitOf(pack)
	return min(c.StartTemperature(), c.Air) < pack.coldestKnown()
}

func moveMass(in *Inputs, by float64) { in.Mass += model.Mass(by) }

// leastPart is what an error leaves of a capacity or a resistance at the least: contradictory metrics have a
// standard deviation of more than all of it.
const leastPart = 0.05

func moveCapacity(in *Inputs, by float64) {
	in.Circuit.Capacity *= model.Charge(max(1+by, leastPart))
}

// moveChargeDependence moves with it what the pack's metrics then make of the rest of its circuit.
func moveChargeDependence(steeper model.Steeper) func(*Inputs, float64) {
	return func(in *Inputs, by float64) { in.Circuit = steeper.Moved(in.Circuit, by) }
}

func moveResistance(in *Inputs, by float64) {
	f := model.Resistance(max(1+by, leastPart))
	in.Circuit.R0 *= f
	in.Circuit.R1 *= f
}
