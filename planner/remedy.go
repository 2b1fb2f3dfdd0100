package planner

import (
	"math"
	"slices"

	"allup/model"
	"allup/model/words"
)

// What would settle a difference.
const (
	TestRotors Code = "test-rotors" // a thrust test of motors with propellers
	FlyHovers  Code = "fly-hovers"  // a hover flown and measured on both sides
	TestPacks  Code = "test-packs"  // a bench test of packs known by their labels
	WeighBoth  Code = "weigh"       // what differs, on a scale
)

// Remedy is what would best tell a difference from none, where the data cannot.
type Remedy struct {
	Figure SwapFigure
	Codes  []Code
	Text   string   // "a thrust test of a with b"
	Leaves Interval // about the band of the difference afterwards, if what is measured is what is taken now
}

// SwapFigure names a figure whose difference is judged.
type SwapFigure string

// The figures whose differences are judged.
const (
	SwapTime  SwapFigure = "flight_s"
	SwapPunch SwapFigure = "punch_ratio"
)

// Of is the figure's interval in a band.
func (f SwapFigure) Of(b *Band) Interval {
	if f == SwapPunch {
		return b.Punch
	}
	return b.Time
}

// way is something to measure, and what it leaves of the standard deviation of a cause, 0 to 1.
type way struct {
	code Code
	text string
	left func(*cause) float64
}

// findRemedies says what would settle time and punch, as far as their bands span zero: the one measurement that narrows
// the band most or, where it is not enough, all together if they are.
func (s *Swap) findRemedies(sides [2]side, base figures, all []effect) {
	ways := waysToKnow(sides)
	for _, f := range []SwapFigure{SwapTime, SwapPunch} {
		is := f.Of(s.Difference)
		if is.Tells() || is.Low == is.High {
			continue
		}
		best := Remedy{Figure: f, Leaves: is}
		for _, w := range ways {
			leaves := f.Of(bandOf(base, all, w.left))
			if leaves.High-leaves.Low < best.Leaves.High-best.Leaves.Low {
				best.Codes, best.Text, best.Leaves = []Code{w.code}, w.text, leaves
			}
		}
		if !best.Leaves.Tells() {
			together := Remedy{Figure: f, Leaves: f.Of(bandOf(base, all, leftBy(ways)))}
			var texts []string
			for _, w := range ways {
				together.Codes = append(together.Codes, w.code)
				texts = append(texts, w.text)
			}
			if together.Text = words.List(texts, "and"); together.Leaves.Tells() {
				best = together
			}
		}
		if len(best.Codes) > 0 {
			s.Remedies = append(s.Remedies, best)
		}
	}
}

// leftBy is what all of some ways leave of a cause.
func leftBy(ways []way) func(*cause) float64 {
	return func(c *cause) float64 {
		left := 1.0
		for _, w := range ways {
			left = min(left, w.left(c))
		}
		return left
	}
}

// waysToKnow are the measurements that would make a difference surer.
func waysToKnow(sides [2]side) []way {
	var ways []way
	var guessed, labels []string
	flown := true
	for i := range sides {
		s := &sides[i]
		p := s.plan
		flown = flown && p.Propulsion.Calibration != nil
		if p.Propulsion.Kinds[0] == model.FromGeometry {
			guessed = append(guessed, p.Motor.ID+" with "+p.Prop.ID)
		}
		if s.pack.Basis == BasisLabel {
			labels = append(labels, s.pack.ID)
		}
	}
	guessed, labels = slices.Compact(guessed), slices.Compact(labels)
	switch {
	case flown:
	case len(guessed) > 0:
		ways = append(ways, way{TestRotors, "a thrust test of " + words.List(guessed, "and of"), leftByThrustTest})
	default:
		ways = append(ways, way{FlyHovers, "a hover flown and measured on both sides", leftByHovers})
	}
	if len(labels) > 0 {
		ways = append(ways, way{TestPacks, "a bench test of " + words.List(labels, "and"), leftByPackTest})
	}
	return append(ways, way{WeighBoth, "weighing what differs", leftByScale})
}

// afterTest is about how well a thrust test knows a propeller's coefficients, relative, one standard deviation.
const afterTest = 0.03

func leftByThrustTest(c *cause) float64 {
	switch c.Input {
	case InputThrust, InputFigureOfMerit:
		return c.leftAt(afterTest)
	case InputGrowth, InputLoadedSpeed, InputNoLoadShare, InputPartDuty:
		return 0 // as good as settled
	}
	return 1
}

func leftByHovers(c *cause) float64 {
	if c.Input == InputMass || c.ofPack() || c.Input == InputThrust {
		return 1
	}
	return c.leftAt(model.SigmaFlownHover / 2) // it takes the place of some causes on each side
}

func leftByPackTest(c *cause) float64 {
	switch c.Input {
	case InputCapacity:
		return c.leftAt(math.Hypot(unitSigmaQ, model.ModelSigmaQ))
	case InputResistance:
		return c.leftAt(math.Hypot(unitSigmaR, model.ModelSigmaR))
	}
	return 1
}

func leftByScale(c *cause) float64 {
	if c.Input == InputMass {
		return c.leftAt(float64(model.WeighedTolerance))
	}
	return 1
}

// ofPack reports whether a cause is of a pack's circuit.
func (c *cause) ofPack() bool {
	return c.Input == InputCapacity || c.Input == InputResistance || c.Input == InputChargeDep || c.Input == InputCold
}

// leftAt is what is left of a cause that becomes known within sigma.
func (c *cause) leftAt(sigma float64) float64 {
	is := max(c.pushes[0].sigma, c.pushes[1].sigma)
	if is <= sigma {
		return 1
	}
	return sigma / is
}
