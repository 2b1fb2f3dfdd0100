package planner

import (
	"fmt"
	"math"

	"allup/model"
	"allup/model/words"
)

// Conflicts between the parts of a build, whatever its pack.
const (
	PropTooLarge Code = "prop-size"     // propeller larger than the frame takes
	MotorMount   Code = "motor-mount"   // motor's bolt circle is not the frame's
	PropShaft    Code = "prop-shaft"    // propeller's bore is not the motor's shaft
	BoardCurrent Code = "board-current" // full throttle draws more than a board's output carries
	MotorCurrent Code = "motor-current" // full throttle draws more than the motor's limit
)

// partConflicts is what keeps parts of a build from going together, whatever the pack.
var partConflicts = []Rule{
	{Code: PropTooLarge, Static: true, Breaks: propTooLarge, Says: saysPropTooLarge, Subject: func(c *Candidate) string { return c.Plan.Prop.ID }},
	{Code: MotorMount, Static: true, Breaks: otherMount, Says: saysOtherMount, Subject: func(c *Candidate) string { return c.Plan.Motor.ID }},
	{Code: PropShaft, Static: true, Breaks: otherShaft, Says: saysOtherShaft, Subject: func(c *Candidate) string { return c.Plan.Prop.ID }},
}

func propTooLarge(c *Candidate) bool {
	most := c.Plan.Frame.MaxProp
	return most > 0 && c.Plan.Prop.Diameter > most+model.Millimetre/10
}

func saysPropTooLarge(c *Candidate) string {
	p := c.Plan
	return fmt.Sprintf("is %s in across; frame %s takes at most %s in", words.Trimmed(p.Prop.Diameter.Inches(), 2), p.Frame.ID, words.Trimmed(p.Frame.MaxProp.Inches(), 2))
}

func otherMount(c *Candidate) bool { return differ(c.Plan.Motor.Mount, c.Plan.Frame.MotorMount) }

func saysOtherMount(c *Candidate) string {
	p := c.Plan
	return fmt.Sprintf("has a %s mm bolt circle; frame %s has %s mm", words.Trimmed(p.Motor.Mount.Millimetres(), 2), p.Frame.ID, words.Trimmed(p.Frame.MotorMount.Millimetres(), 2))
}

func otherShaft(c *Candidate) bool { return differ(c.Plan.Prop.Shaft, c.Plan.Motor.Shaft) }

func saysOtherShaft(c *Candidate) string {
	p := c.Plan
	return fmt.Sprintf("is bored for a %s mm shaft; motor %s has %s mm", words.Trimmed(p.Prop.Shaft.Millimetres(), 2), p.Motor.ID, words.Trimmed(p.Motor.Shaft.Millimetres(), 2))
}

// differ reports whether two stated lengths are not the same; one that nobody states differs from none.
func differ(a, b *model.Length) bool {
	return a != nil && b != nil && math.Abs(float64(*a-*b)) > float64(model.Millimetre)/10
}
