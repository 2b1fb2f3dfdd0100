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

// variant is the craft with one of its uncertain inputs moved by one standard
// deviation, up or down.
type variant struct{ up, down model.Drive }

// vary prepares the variants of the propulsion, which are the same for every pack, and how sure hover power is. What moves
// thrust or full throttle has a variant of its own; what moves hover power alone, or nearly, is taken together by its effect on that.
func (p *Plan) vary(alternatives []model.Alternative) {
	p.alternatives, p.variants = alternatives, nil
	with := func(r model.Rotor) model.Drive {
		d := p.Drive
		d.Rotor = r
		return d
	}
	var together []model.Alternative
	for _, a := range alternatives {
		switch a.Input {
		case model.InputThrust, model.InputMerit, model.InputLoaded, model.InputHover:
			p.variants = append(p.variants, variant{with(a.Up), with(a.Down)})
		default:
			together = append(together, a)
		}
	}
	hover := p.Drive.Hover(p.hoverMass(), p.Bus)
	more, less := p.Drive.Rotor.PowerSpread(hover.Rotor.Thrust, p.Bus, together)
	drawing := func(times float64) model.Drive {
		d := p.Drive
		d.Rotor.Controller.Efficiency /= times
		return d
	}
	p.variants = append(p.variants, variant{drawing(1 - less), drawing(1 + more)})
	more, less = p.Drive.Rotor.PowerSpread(hover.Rotor.Thrust, p.Bus, alternatives)
	p.Propulsion.Sigma = (more + less) / 2
}

// hoverMass is the all-up mass with today's pack, or the limit where the build names none.
func (p *Plan) hoverMass() model.Mass {
	if p.Pack == nil {
		return max(p.Build.Limit.Mass, p.Dry)
	}
	return p.Dry + p.PackItem(p.Pack).Each
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
	mission := p.mission(a.Pack.Chemistry)
	at := func(c model.Drive, pack model.Circuit, m model.Mass) figures {
		answer := c.Answer(pack, m, mission)
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
