package planner

import (
	"math"

	"allup/model"
)

// Interval runs from the 5th to the 95th percentile.
type Interval struct{ Low, High float64 }

// Band is how far the figures of an assessment may be off: 5 to 95 % intervals.
type Band struct {
	Mass    Interval // kg
	Time    Interval // s
	Current Interval // A
	Punch   Interval // thrust over weight
}

// z95 is the standard normal quantile of 0.95.
const z95 = 1.6448536269514722

// Standard deviation of the electrical efficiency of a motor whose constants are known,
// relative, and of a controller whose efficiency its board states (assumptions from memory).
const (
	knownMotorSigma       = 0.03
	statedControllerSigma = 0.01
)

// variant is the craft with one of its uncertain inputs moved by one standard
// deviation, up or down.
type variant struct{ up, down model.Drive }

// makeVariants prepares one variant for each uncertain input of the propulsion: thrust
// coefficient, figure of merit, electrical efficiency, and the loaded speed of
// an estimated motor. They are the same for every pack.
func (p *Plan) makeVariants() []variant {
	c := p.Drive
	prop := c.Rotor.Propeller
	withProp := func(ct, fm float64) model.Drive {
		v := c
		// The figure of merit is held while CT moves, and the other way round.
		v.Rotor.Propeller = prop.Scaled(ct, math.Pow(ct, 1.5)/fm)
		return v
	}
	ct, cp := prop.Coefficients(0)
	fmSigma := prop.SigmaFM / model.FigureOfMerit(ct, cp)
	withEfficiency := func(factor float64) model.Drive {
		v := c
		v.Rotor.Controller.Efficiency *= factor // power for power, the same as the motor's
		return v
	}
	electric := electricSigma(c.Rotor)
	variants := []variant{
		{withProp(1+prop.SigmaCT, 1), withProp(1-prop.SigmaCT, 1)},
		{withProp(1, 1+fmSigma), withProp(1, 1-fmSigma)},
		{withEfficiency(1 + electric), withEfficiency(1 - electric)},
	}
	if c.Rotor.Motor.Estimated {
		const loaded = model.EstimatedLoadedSpeedSigma / model.EstimatedLoadedSpeed
		faster, slower := c, c
		faster.Rotor.Motor.Kv *= 1 + loaded
		slower.Rotor.Motor.Kv *= 1 - loaded
		variants = append(variants, variant{faster, slower})
	}
	return variants
}

// AddBand fills the band of an assessment that flies: every uncertain input is moved by
// one standard deviation each way, and what it moves adds up as a root sum of squares,
// separately for better and worse. Inputs are taken as independent and normal.
//
// Source: JCGM 100:2008, 5.1.2 (first order), with both sides kept apart because they differ.
func (p *Plan) AddBand(a *Assessment) {
	if a.Flight.Duration <= 0 {
		return
	}
	pack := a.Circuit
	u := p.uncertainty(p.PackItem(a.Pack.Pack))
	at := func(c model.Drive, pack model.Circuit, m model.Mass) figures {
		answer := c.Answer(pack, m, p.Mission)
		return figures{float64(answer.Duration()), float64(answer.Flight.Current), answer.Punch.Ratio(m)}
	}
	base := figures{float64(a.Duration()), float64(a.Flight.Current), a.PunchRatio()}
	var s spread
	s.add(base, at(p.Drive, pack, a.Mass+u), at(p.Drive, pack, a.Mass-u))
	for _, v := range p.variants {
		s.add(base, at(v.up, pack, a.Mass), at(v.down, pack, a.Mass))
	}
	more, less := pack, pack
	more.Capacity *= model.Charge(1 + a.Pack.SigmaQ)
	less.Capacity *= model.Charge(1 - a.Pack.SigmaQ)
	s.add(base, at(p.Drive, more, a.Mass), at(p.Drive, less, a.Mass))
	more, less = pack, pack
	more.R0, more.R1 = pack.R0*model.Resistance(1+a.Pack.SigmaR), pack.R1*model.Resistance(1+a.Pack.SigmaR)
	less.R0, less.R1 = pack.R0*model.Resistance(1-a.Pack.SigmaR), pack.R1*model.Resistance(1-a.Pack.SigmaR)
	s.add(base, at(p.Drive, more, a.Mass), at(p.Drive, less, a.Mass))

	m, um := float64(a.Mass), float64(u)
	a.Band = &Band{
		Mass:    Interval{m - z95*um, m + z95*um},
		Time:    s.interval(base, 0),
		Current: s.interval(base, 1),
		Punch:   s.interval(base, 2),
	}
}

// figures are time, current and punch ratio.
type figures [3]float64

// spread collects squared changes to either side.
type spread struct{ above, below figures }

func (s *spread) add(base, up, down figures) {
	for i := range base {
		hi := max(up[i], down[i]) - base[i]
		lo := base[i] - min(up[i], down[i])
		if hi > 0 {
			s.above[i] += hi * hi
		}
		if lo > 0 {
			s.below[i] += lo * lo
		}
	}
}

func (s *spread) interval(base figures, i int) Interval {
	return Interval{max(0, base[i]-z95*math.Sqrt(s.below[i])), base[i] + z95*math.Sqrt(s.above[i])}
}
