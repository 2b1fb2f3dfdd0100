package planner

import (
	"fmt"

	"allup/model"
	"allup/model/words"
)

// Bounds of what flies well (common practice).
const (
	minHoverThrottle = 0.15
	maxHoverThrottle = 0.60
	maxTipMach       = 0.70
	minPerCell       = 3.0 // V, under load
)

// HottestPack is what a pack may warm to (common practice).
func HottestPack() model.Temperature { return model.Celsius(60) }

// rareOver is the chance of breaking the limit from which it deserves a word (own judgement): where it is
// smaller the paper figure speaks for itself.
const rareOver = 0.05

// packCautions is what a practitioner would see in a build on a pack, and every doubt about a figure, in the order in
// which they are told.
var packCautions = []Rule{
	{Code: PunchCurrent, Breaks: punchOverSteadyCurrent, Says: saysPunchOverSteadyCurrent},
	{Code: BoardCurrent, Breaks: overBoardCurrent, Says: saysOverBoardCurrent, Subject: func(c *Candidate) string { return c.Plan.Board.ID }},
	{Code: MotorCurrent, Breaks: overMotorCurrent, Says: saysOverMotorCurrent, Subject: func(c *Candidate) string { return c.Plan.Motor.ID }},
	{Code: TipMach, Breaks: fastTips, Says: saysFastTips, Subject: func(c *Candidate) string { return c.Plan.Prop.ID }},
	{Code: HoverThrottle, Breaks: oddThrottle, Says: saysOddThrottle},
	{Code: HotPack, Breaks: func(c *Candidate) bool { return c.hovers() && c.MaxTemperature() > HottestPack() }, Says: saysHotPack},
	{Code: LowLanding, Breaks: func(c *Candidate) bool { return low(c.LandPerCell) }, Says: func(c *Candidate) string { return saysLowLanding(c.LandPerCell) }},
	{Code: PunchDip, Breaks: func(c *Candidate) bool { return c.punchDip() > 0 }, Says: saysPunchDip},
	{Code: ThrottleBound, Breaks: func(c *Candidate) bool { return c.Flight.ThrottleBound }, Says: func(*Candidate) string {
		return "has too little voltage for the motors before the landing rule is met; the flight ends there"
	}},
	{Code: MaybeOver, Breaks: func(c *Candidate) bool { return c.against == 0 && c.OverChance > rareOver }, Says: saysMaybeOver},
	// Only a ranking knows it, and marks it.
	{Code: NoPrice, Breaks: func(*Candidate) bool { return false }, Says: saysNoPrice},
}

func saysNoPrice(c *Candidate) string {
	return fmt.Sprintf("has no price in %s: it does not compare with those that have one, and stands after them by time and punch alone", c.Plan.Currency())
}

func punchOverSteadyCurrent(c *Candidate) bool {
	return c.Pack.MaxCurrent != nil && !overSteadyCurrent(c) && c.Punch.Current > *c.Pack.MaxCurrent
}

func saysPunchOverSteadyCurrent(c *Candidate) string {
	return fmt.Sprintf("gives %.0f A in a punch-out; it states %s A as its steady limit", float64(c.Punch.Current), words.Trimmed(float64(*c.Pack.MaxCurrent), 1))
}

func overBoardCurrent(c *Candidate) bool {
	limit := c.Plan.Board.MaxCurrent
	return c.hovers() && limit != nil && c.Full.Current > *limit
}

func saysOverBoardCurrent(c *Candidate) string {
	return fmt.Sprintf("carries %.1f A an output, and full throttle on a full pack would draw %.1f A: limit the throttle",
		float64(*c.Plan.Board.MaxCurrent), float64(c.Full.Current))
}

func overMotorCurrent(c *Candidate) bool {
	limit := c.Plan.Motor.MaxCurrent
	return c.hovers() && limit != nil && c.Full.Current > *limit
}

func saysOverMotorCurrent(c *Candidate) string {
	return fmt.Sprintf("states %.1f A at the most, and full throttle on a full pack would draw %.1f A: limit the throttle",
		float64(*c.Plan.Motor.MaxCurrent), float64(c.Full.Current))
}

func fastTips(c *Candidate) bool { return c.hovers() && c.Full.TipMach > maxTipMach }

func saysFastTips(c *Candidate) string {
	return fmt.Sprintf("turns its tips at Mach %.2f at full throttle on a full pack: above %.1f the coefficients no longer hold, and power and noise are higher",
		c.Full.TipMach, maxTipMach)
}

func oddThrottle(c *Candidate) bool {
	return c.hovers() && (c.Flight.Throttle < minHoverThrottle || c.Flight.Throttle > maxHoverThrottle)
}

func saysOddThrottle(c *Candidate) string {
	t := 100 * c.Flight.Throttle
	if t < 100*minHoverThrottle {
		return fmt.Sprintf("makes the build hover at %.1f %% throttle: under %.0f %% it is hard to fly gently; fewer cells, a lower kv or less pitch help", t, 100*minHoverThrottle)
	}
	return fmt.Sprintf("makes the build hover at %.1f %% throttle: above %.0f %% little is left to correct with", t, 100*maxHoverThrottle)
}

// low reports whether a voltage per cell under load is below what cells bear; 0 is none.
func low(perCell model.Voltage) bool { return perCell > 0 && perCell < minPerCell }

func saysLowLanding(perCell model.Voltage) string {
	return fmt.Sprintf("may be flown down to %.2f V per cell: cells are harmed below %.1f V", float64(perCell), minPerCell)
}

// LowLanding is the caution about the landing voltage of a chemistry; ok is false where it harms no cells. An
// [Assessment] has it among its own.
func (p *Plan) LowLanding(c model.Chemistry) (said Remark, ok bool) {
	v := p.MissionOn(c).Landing.PerCell
	if !low(v) {
		return said, false
	}
	return remark(LowLanding, "", "The pack %s.", saysLowLanding(v)), true
}

// TestedLow is the caution about where the bench tests of a pack ended; ok is false where that harms no cells.
func TestedLow(id string, p model.Protocol) (said Remark, ok bool) {
	end := p.DischargeEndPerCell
	if !low(end) || low(p.BurstEndPerCell) && p.BurstEndPerCell < end {
		end = p.BurstEndPerCell
	}
	if !low(end) {
		return said, false
	}
	return remark(LowTestEnd, id, "was tested down to %.2f V per cell: cells are harmed below %.1f V", float64(end), minPerCell), true
}

// punchDip is the voltage per cell to which the first harmful punch of the flight pulls the pack; 0 for none.
func (c *Candidate) punchDip() float64 {
	if !c.hovers() || c.Cycle == nil {
		return 0
	}
	for i := range c.Cycle.Phases {
		u := &c.Cycle.Phases[i]
		if v := float64(u.MinVoltage) / float64(c.Circuit.Cells); u.Full && u.Runs > 0 && v < minPerCell {
			return v
		}
	}
	return 0
}

func saysPunchDip(c *Candidate) string {
	return fmt.Sprintf("falls to %.2f V per cell in the flight's punches: below %.1f V cells are harmed", c.punchDip(), minPerCell)
}

func saysHotPack(c *Candidate) string {
	return fmt.Sprintf("warms to %.0f C in flight: above %.0f C packs age fast and may fail", c.MaxTemperature().Celsius(), HottestPack().Celsius())
}

func saysMaybeOver(c *Candidate) string {
	return fmt.Sprintf("is under the limit on paper, but the masses are not known better than to leave a chance of %.0f %% of breaking it: weigh the build", 100*c.OverChance)
}
