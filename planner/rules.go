package planner

import (
	"fmt"
	"slices"

	"allup/catalog"
	"allup/model"
	"allup/model/words"
)

// Candidate is a build on one pack, as rules see it. A rule reads it and does not change it.
type Candidate struct {
	Plan       *Plan
	Pack       *Pack      // nil for the build's own parts alone
	PackMass   model.Mass // as the build weighs it
	Mass       model.Mass // all-up
	OverChance float64    // chance that the all-up mass breaks the limit

	// Of the flight; zero before it flew.
	Circuit      model.Circuit // the pack's, at the build's pack temperature: the one that flew
	LandPerCell  model.Voltage // the landing voltage of the build, or of the pack's chemistry
	model.Answer               // flight, phases and punch of the build's mission
	Full         Full          // on a full pack

	against, cautions ruleSet // broken among packReasons and packCautions
}

// Rule is a reason against a pack or a build, or a caution about it, apart from its words.
type Rule struct {
	Code    Code
	Short   string                  // what it amounts to where many packs are counted, "over the limit"; "" for the code
	Static  bool                    // needs no flight
	Breaks  func(*Candidate) bool   // makes no text and does not allocate
	Says    func(*Candidate) string // for people, without the subject's name; only of a candidate that breaks it
	Subject func(*Candidate) string // the id that it is about; nil for the pack
}

// ruleSet is rules of a list by their places in it.
type ruleSet uint32

// brokenBy is the rules of a list that a candidate breaks.
func brokenBy(c *Candidate, rules []Rule) (set ruleSet) {
	for i := range rules {
		if rules[i].Breaks(c) {
			set |= 1 << i
		}
	}
	return set
}

// remarks says the rules of a set in words.
func (s ruleSet) remarks(c *Candidate, rules []Rule) []Remark {
	var out []Remark
	for i, r := range rules {
		if s&(1<<i) == 0 {
			continue
		}
		subject := ""
		switch {
		case r.Subject != nil:
			subject = r.Subject(c)
		case c.Pack != nil:
			subject = c.Pack.ID
		}
		out = append(out, Remark{Code: r.Code, Subject: subject, Text: r.Says(c)})
	}
	return out
}

func (s ruleSet) codes(rules []Rule) []Code {
	var out []Code
	for i := range rules {
		if s&(1<<i) != 0 {
			out = append(out, rules[i].Code)
		}
	}
	return out
}

// only is the rules of a list that have a code.
func only(rules []Rule, code Code) (set ruleSet) {
	for i := range rules {
		if rules[i].Code == code {
			set |= 1 << i
		}
	}
	return set
}

// Reasons that exclude a pack from a build.
const (
	OverLimit     Code = "over-limit"     // all-up mass breaks the limit
	UnderSpare    Code = "under-spare"    // under the limit, but by less than the spare kept back
	UnsureLimit   Code = "unsure-limit"   // under the limit on paper, less surely than the build asks
	WrongCells    Code = "cells"          // cell count that the build does not choose from
	WrongChem     Code = "chemistry"      // chemistry that the build does not choose from
	WrongPlug     Code = "plug"           // plug that the build does not take
	OverPackMass  Code = "pack-mass"      // heavier than the build's greatest pack mass
	MotorCells    Code = "motor-cells"    // outside the motor's cell range
	BoardCells    Code = "board-cells"    // outside the board's cell range
	TooBigForBay  Code = "bay"            // does not fit the frame's bay
	SteadyCurrent Code = "steady-current" // hover draws more than the pack's stated limit
	CannotHold    Code = "cannot-hold"    // cannot give the hover power at all
	MotorVoltage  Code = "motor-voltage"  // the motors need more voltage than the full pack has
	NoLift        Code = "no-lift"        // greatest thrust does not lift the build
)

// packReasons is every reason against a pack, in the order in which they are told.
var packReasons = []Rule{
	{Code: OverLimit, Short: "over the limit", Static: true, Breaks: overLimit, Says: saysOverLimit},
	{Code: UnderSpare, Short: "less than the spare kept back", Static: true, Breaks: underSpare, Says: saysUnderSpare},
	{Code: UnsureLimit, Short: "not sure enough to be under the limit", Static: true, Breaks: tooUnsure, Says: saysTooUnsure},
	{Code: OverPackMass, Short: "too heavy by the build's own filter", Static: true, Breaks: overPackMass, Says: saysOverPackMass},
	{Code: WrongCells, Short: "wrong number of cells", Static: true, Breaks: wrongCells, Says: saysWrongCells},
	{Code: MotorCells, Short: "wrong number of cells", Static: true, Breaks: motorCells, Says: saysMotorCells},
	{Code: BoardCells, Short: "wrong number of cells", Static: true, Breaks: boardCells, Says: saysBoardCells},
	{Code: WrongChem, Short: "wrong chemistry", Static: true, Breaks: wrongChemistry, Says: saysWrongChemistry},
	{Code: WrongPlug, Short: "wrong plug", Static: true, Breaks: wrongPlug, Says: saysWrongPlug},
	{Code: TooBigForBay, Short: "does not fit the bay", Static: true, Breaks: tooBigForBay, Says: saysTooBigForBay},
	{Code: MotorVoltage, Short: "too little voltage for the motors", Breaks: tooFewVolts, Says: saysTooFewVolts},
	{Code: CannotHold, Short: "cannot hold the hover power", Breaks: cannotHold, Says: saysCannotHold},
	{Code: NoLift, Short: "does not lift the build", Breaks: noLift, Says: saysNoLift},
	{Code: SteadyCurrent, Short: "states too low a current", Breaks: overSteadyCurrent, Says: saysOverSteadyCurrent},
}

// ShortOf is what a reason against a pack amounts to, in a few words; the code itself where there are none.
func ShortOf(code Code) string {
	for i := range packReasons {
		if r := &packReasons[i]; r.Code == code && r.Short != "" {
			return r.Short
		}
	}
	return string(code)
}

func overLimit(c *Candidate) bool { return !c.Plan.Build.Limit.Allows(c.Mass) }

func saysOverLimit(c *Candidate) string {
	return fmt.Sprintf("makes %s all-up, %s", words.Grams(c.Mass), overText(c.Plan.Build.Limit, c.Mass))
}

// overText says by how much a mass breaks a limit; at the limit itself, why that is too much. Where the build names
// several rules it says which are broken.
func overText(l catalog.BuildLimit, m model.Mass) string {
	text := fmt.Sprintf("%s over the limit", words.Grams(m-l.Mass))
	if l.At(m) {
		text = "at the limit, which is " + LimitText(l.Limit)
	}
	if named := rulesText(l, m); named != "" {
		text += " (" + named + ")"
	}
	return text
}

// rulesText says which of several rules a mass that is over their limit breaks and which it keeps; "" for one rule, or
// none.
func rulesText(l catalog.BuildLimit, m model.Mass) string {
	if len(l.Named) < 2 {
		return ""
	}
	var broken, kept []string
	for _, n := range l.Named {
		if n.Allows(m) {
			kept = append(kept, n.Rule)
		} else {
			broken = append(broken, n.Rule)
		}
	}
	text := "breaks " + words.List(broken, "and")
	if len(kept) > 0 {
		text += ", keeps " + words.List(kept, "and")
	}
	return text
}

func underSpare(c *Candidate) bool {
	limit := c.Plan.Build.Limit
	return limit.Allows(c.Mass) && !atMost(limit.Mass-limit.Spare, c.Mass)
}

func saysUnderSpare(c *Candidate) string {
	limit := c.Plan.Build.Limit
	return fmt.Sprintf("makes %s all-up, %s under the limit: less than the %s kept back", words.Grams(c.Mass), words.Grams(limit.Mass-c.Mass), words.Grams(limit.Spare))
}

// tooUnsure leaves a mass that breaks the limit, or leaves too little, to the rules above.
func tooUnsure(c *Candidate) bool {
	limit := c.Plan.Build.Limit
	return limit.TooUnsure(c.OverChance) && !overLimit(c) && !underSpare(c)
}

func saysTooUnsure(c *Candidate) string {
	limit := c.Plan.Build.Limit
	return fmt.Sprintf("makes %s all-up, %s under the limit, with a chance of %s of breaking it: the build asks to be %s sure",
		words.Grams(c.Mass), words.Grams(limit.Mass-c.Mass), words.Chance(c.OverChance), words.Trimmed(100*limit.Sure, 2)+" %")
}

// atMost reports whether a mass is not above a greatest one.
func atMost(greatest, m model.Mass) bool {
	return model.Limit{Mass: greatest, Inclusive: true}.Allows(m)
}

func overPackMass(c *Candidate) bool {
	most := c.Plan.Build.Packs.MaxMass
	return most != nil && !atMost(*most, c.PackMass)
}

func saysOverPackMass(c *Candidate) string {
	return fmt.Sprintf("weighs %s (the build takes packs of at most %s)", words.Grams(c.PackMass), words.Grams(*c.Plan.Build.Packs.MaxMass))
}

func wrongCells(c *Candidate) bool {
	cells := c.Plan.Build.Packs.Cells
	return len(cells) > 0 && !slices.Contains(cells, c.Pack.Cells)
}

func saysWrongCells(c *Candidate) string {
	return fmt.Sprintf("has %d cells (the build takes %s)", c.Pack.Cells, either(c.Plan.Build.Packs.Cells))
}

// either lists values as a choice.
func either[T any](values []T) string {
	list := make([]string, len(values))
	for i, v := range values {
		list[i] = fmt.Sprint(v)
	}
	return words.List(list, "or")
}

func outside(r *catalog.CellRange, cells int) bool {
	return r != nil && (cells < r.Min || cells > r.Max)
}

func motorCells(c *Candidate) bool { return outside(c.Plan.Motor.Cells, c.Pack.Cells) }

func saysMotorCells(c *Candidate) string {
	m := c.Plan.Motor
	return fmt.Sprintf("has %d cells (motor %s takes %s)", c.Pack.Cells, m.ID, cellsText(*m.Cells))
}

func boardCells(c *Candidate) bool { return outside(c.Plan.Board.Cells, c.Pack.Cells) }

func saysBoardCells(c *Candidate) string {
	b := c.Plan.Board
	return fmt.Sprintf("has %d cells (board %s takes %s)", c.Pack.Cells, b.ID, cellsText(*b.Cells))
}

func wrongChemistry(c *Candidate) bool {
	takes := c.Plan.Build.Packs.Chemistries
	return len(takes) > 0 && !slices.Contains(takes, c.Pack.Chemistry)
}

func saysWrongChemistry(c *Candidate) string {
	return fmt.Sprintf("is %s (the build takes %s)", c.Pack.Chemistry, either(c.Plan.Build.Packs.Chemistries))
}

// wrongPlug passes a pack whose plug nobody states.
func wrongPlug(c *Candidate) bool {
	takes := c.Plan.Build.Packs.Plugs
	return len(takes) > 0 && c.Pack.Plug != "" && !slices.Contains(takes, c.Pack.Plug)
}

func saysWrongPlug(c *Candidate) string {
	return fmt.Sprintf("has plug %s (the build takes %s)", c.Pack.Plug, either(c.Plan.Build.Packs.Plugs))
}

func tooBigForBay(c *Candidate) bool {
	bay := c.Plan.Frame.Bay
	return bay != nil && c.Pack.Size != nil && !fits(*bay, *c.Pack.Size)
}

func saysTooBigForBay(c *Candidate) string {
	f := c.Plan.Frame
	return fmt.Sprintf("measures %s (the bay of %s is %s)", boxText(*c.Pack.Size), f.ID, boxText(*f.Bay))
}

// fits reports whether a box fits in another in some orientation with parallel sides.
func fits(outer, inner catalog.Box) bool {
	a := [...]model.Length{outer.L, outer.W, outer.H}
	b := [...]model.Length{inner.L, inner.W, inner.H}
	slices.Sort(a[:])
	slices.Sort(b[:])
	const grain = model.Millimetre / 1000
	return b[0] <= a[0]+grain && b[1] <= a[1]+grain && b[2] <= a[2]+grain
}

// hovers reports whether the pack holds a hover at all, for however long.
func (c *Candidate) hovers() bool { return c.Flight.Duration > 0 }

func tooFewVolts(c *Candidate) bool {
	return !c.hovers() && c.Flight.Hover.Rotor.Motor.Voltage >= c.Circuit.OpenVoltage(1)
}

func saysTooFewVolts(c *Candidate) string {
	r := c.Flight.Hover.Rotor
	return fmt.Sprintf("is %.1f V when full and at rest; hover turns the motors at %.0f rpm, for which they need %.1f V",
		float64(c.Circuit.OpenVoltage(1)), r.Speed.RPM(), float64(r.Motor.Voltage))
}

func cannotHold(c *Candidate) bool {
	if !c.hovers() {
		return !tooFewVolts(c)
	}
	return c.Cycle != nil && !(c.Cycle.Duration > 0)
}

func saysCannotHold(c *Candidate) string {
	if c.hovers() {
		return "cannot hold the flight's phases: the landing rule is met as soon as they begin"
	}
	return fmt.Sprintf("cannot hold the hover power of %.0f W: its voltage falls at once to the landing limit, or below what the motors need", float64(c.Flight.Hover.Power))
}

func noLift(c *Candidate) bool { return c.hovers() && c.PunchRatio() < 1 }

func saysNoLift(c *Candidate) string {
	return fmt.Sprintf("gives %.2f times the weight at the most at %.0f %% charge, limited by the %s", c.PunchRatio(), 100*c.Punch.Charge, limiterText(c.Punch.LimitedBy))
}

func limiterText(l model.Limiter) string {
	switch l {
	case model.LimitedByThrottle:
		return "motors at full throttle"
	case model.LimitedByBoard:
		return "board's current"
	case model.LimitedByMotor:
		return "motor's current limit"
	}
	return string(l)
}

// hoversOverSteadyCurrent: the current is greatest when the voltage is lowest, on landing.
func hoversOverSteadyCurrent(c *Candidate) bool {
	return c.hovers() && c.Flight.EndCurrent > *c.Pack.MaxCurrent
}

func overSteadyCurrent(c *Candidate) bool {
	return c.Pack.MaxCurrent != nil && (hoversOverSteadyCurrent(c) || c.heldCurrent() > *c.Pack.MaxCurrent)
}

func saysOverSteadyCurrent(c *Candidate) string {
	current, when := c.heldCurrent(), "in the flight's held phases"
	if hoversOverSteadyCurrent(c) {
		current, when = c.Flight.EndCurrent, "in hover"
	}
	return fmt.Sprintf("gives up to %.1f A %s (it states %.1f A as its steady limit)", float64(current), when, float64(*c.Pack.MaxCurrent))
}

// heldCurrent is the greatest current of the pack in the flight's phases that are not full
// throttle; 0 without phases.
func (c *Candidate) heldCurrent() (greatest model.Current) {
	if c.Cycle == nil {
		return 0
	}
	for i := range c.Cycle.Phases {
		if u := &c.Cycle.Phases[i]; !u.Full {
			greatest = max(greatest, u.MaxCurrent)
		}
	}
	return greatest
}
