package catalog

import "allup/model"

// Build is a build file, checked: every id names a record of Parts, and every
// number lies in its range. What the file leaves out holds its default.
type Build struct {
	Name    string
	File    string
	Rotors  int
	Limit   BuildLimit
	Slots   Slots
	Extras  []Extra // sorted by ID
	Weighed map[string]Weight
	Scale   *Scale // nil where the build was not weighed whole
	Air     AirConditions
	Flight  Flight
	Flown   []FlownHover
	Packs   PackFilter
	Goal    Goal

	doc *document // the file as it was read, for Line

	// Parts is the catalogue that the build was read against, with the build's
	// own inline records over it.
	Parts *Catalogue
}

// BuildLimit is the mass that the build must keep under.
type BuildLimit struct {
	model.Limit
	Rules []string // ids of thresholds, as the file gives them; empty for a plain mass
	Rule  string   // the id of the strictest of them; "" for a plain mass
	Named []NamedLimit
	Spare model.Mass // kept back below the limit
	Sure  float64    // the least chance of keeping the limit that is acceptable, 0 for any
}

// NamedLimit is the limit of one of the rules that a build names.
type NamedLimit struct {
	model.Limit
	Rule string
}

// TooUnsure reports whether a chance of breaking the limit is more than the build accepts.
func (l BuildLimit) TooUnsure(overChance float64) bool {
	return l.Sure > 0 && overChance > (1-l.Sure)+1e-12 // what 1 - 0.95 leaves in floats
}

// Slots holds ids of records. Frame, Motor, Prop, Board and Pack list candidates;
// the first is what the build carries. Gear is all carried at once, and may hold
// an id more than once; GearElse is what a search may put in the place of a piece of it.
type Slots struct {
	Frame, Motor, Prop, Board, Pack []string
	Gear                            []string
	GearElse                        map[int][]string // by places of Gear, without what is carried there
	Unnamed                         []Kind           // slots that ask for any record and name none that flies today
}

// GearChoice lists the candidates of a place of Gear, what is carried first.
func (s *Slots) GearChoice(place int) []string {
	return append([]string{s.Gear[place]}, s.GearElse[place]...)
}

// Extra is anything else on board.
type Extra struct {
	ID        string
	Name      string
	Mass      model.Mass
	Weighed   bool
	Tolerance *model.Mass
	WithPack  bool // travels with any pack
}

// Weight is what the pilot's own scale said of a part.
type Weight struct {
	Each     model.Mass
	Together int // how many were on the scale at once, 1 for one alone
}

// Scale is what the pilot's own scale said of the whole build.
type Scale struct {
	Mass      model.Mass
	Tolerance model.Mass // half-width
	Pack      string     // the id of the pack that was on it, "" where it was weighed without one
	Of        *Build     // as it was weighed; nil for the build that has it
}

// AirConditions are the air that the build flies in and the temperature of its pack.
type AirConditions struct {
	Altitude        model.Length
	Temperature     *model.Temperature // nil: standard at that altitude
	PackTemperature *model.Temperature // nil: as tested
}

// Flight says when to land, and what is flown until then.
type Flight struct {
	LandPerCell model.Voltage // 0 where the build leaves it to the pack's chemistry
	Reserve     float64       // fraction of the capacity left on landing
	PunchCharge float64       // charge left at which a punch-out is judged
	Phases      []Phase
}

// Phase is one part of a repeating flight cycle: a multiple of weight, or full throttle.
type Phase struct {
	Duration model.Time
	Thrust   float64 // times weight; 0 where Full
	Full     bool
}

// FlownHover is a hover that was flown and measured.
type FlownHover struct {
	Mass  model.Mass
	Power model.Power
	Bus   model.Voltage // 0 where the power alone is stated
}

// PackFilter is what rank may choose from. Empty fields do not restrict.
type PackFilter struct {
	Cells       []int
	Chemistries []model.Chemistry
	Plugs       []string
	MaxMass     *model.Mass
	Only        []string // ids of the packs that alone are ranked
}

// Goal holds the weights of the ranking, each zero or more, not all zero, and the currency in which prices
// count, "" where the file does not say.
type Goal struct {
	Time, Punch, Price float64
	Currency           string
}

// Line is the line of a field of the build's file, 0 where it is not known.
func (b *Build) Line(path ...string) int {
	if b.doc == nil {
		return 0
	}
	return b.doc.line(path)
}
