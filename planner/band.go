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

// movedRotor is a rotor with one of its uncertain inputs moved by one standard deviation up or down.
type movedRotor struct{ up, down model.Rotor }

func movedRotors(r *model.Rotor) (moved []movedRotor) {
	for _, u := range r.Uncertain() {
		m := movedRotor{*r, *r}
		u.Move(&m.up, u.Sigma)
		u.Move(&m.down, -u.Sigma)
		moved = append(moved, m)
	}
	return moved
}

// around is inputs with either rotor.
func (m *movedRotor) around(in Inputs) (up, down Inputs) {
	var about bothWays
	about.turn(&in, m)
	return about.up, about.down
}

// around moves inputs by one standard deviation each way.
func (u Uncertain) around(in Inputs) (up, down Inputs) {
	var about bothWays
	about.move(&in, &u)
	return about.up, about.down
}

// bothWays are inputs moved up and down, used again and again for one cause after another: they are large.
type bothWays struct{ up, down Inputs }

// turn is inputs with either rotor.
func (b *bothWays) turn(in *Inputs, m *movedRotor) {
	b.up, b.down = *in, *in
	b.up.Drive.Rotor, b.down.Drive.Rotor = m.up, m.down
}

// move moves inputs by one standard deviation each way.
func (b *bothWays) move(in *Inputs, u *Uncertain) {
	b.up, b.down = *in, *in
	u.Move(&b.up, u.Sigma)
	u.Move(&b.down, -u.Sigma)
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
	base := figures{float64(a.Duration()), float64(a.Flight.Current), a.PunchRatio()}
	var s spread
	mission := p.MissionOn(a.Pack.Chemistry)
	price, priced := p.priceOf(a.Pack.Pack)
	merit := p.logMerit(base[0], base[2], price, priced)
	// add is also by how much one standard deviation moves the logarithm of the merit.
	add := func(up, down figures) float64 {
		s.add(base, up, down)
		return (p.logMerit(up[0], up[2], price, priced) - p.logMerit(down[0], down[2], price, priced)) / 2
	}

	allUp, u := p.With(a.Pack.Pack)
	added := allUp - p.Dry
	in := p.Bare().with(a.Circuit, added)
	hovers := hoversAbout(&in, a, mission)
	var about bothWays
	about.move(&in, &Uncertain{Input: InputMass, Sigma: float64(u), Move: moveMass})
	slopes := slopes{mass: add(hovers.lifting(&about.up), hovers.lifting(&about.down)) / max(float64(u), 1e-12)}
	for i := range p.moved {
		about.turn(&in, &p.moved[i])
		slope := add(hovers.driven(&about.up), hovers.driven(&about.down))
		if i < len(slopes.shared) {
			slopes.shared[i] = slope
		}
	}
	own := p.ownUncertain(a.Pack)
	for i := range own {
		u := &own[i]
		if u.Sigma == 0 {
			continue
		}
		about.move(&in, u)
		up, down := figuresOf(&about.up, mission), figuresOf(&about.down, mission)
		slope := add(up, down)
		slopes.own += slope * slope
		slopes.circuit[i] = bend{u.Input, p.logMerit(up[0], up[2], price, priced) - merit, p.logMerit(down[0], down[2], price, priced) - merit}
	}
	slopes.addMass(p, a.Pack)
	a.slopes = slopes

	spread := p.SpreadWith(a.Pack.Pack)
	m, um := float64(a.Mass), float64(spread.Quantile(0.95)) // as much below as above
	a.Band = &Band{
		Mass:    Interval{m - um, m + um},
		Time:    s.interval(base, 0),
		Current: s.interval(base, 1),
		Punch:   s.interval(base, 2),
	}
}

// figures are time, current and punch ratio.
type figures [3]float64

func figuresOf(in *Inputs, mission model.Mission) figures {
	answer := in.Drive.Answer(in.Circuit, in.Mass, mission)
	return figures{float64(answer.Duration()), float64(answer.Flight.Current), answer.Punch.Ratio(in.Mass)}
}

// hoverCurve is the answers for one pack circuit with other masses and other rotors, by the curve of its
// endurance where that holds.
type hoverCurve struct {
	assessed *Assessment
	mission  model.Mission
	curve    model.Endurance
	holds    bool
}

// curveReach is how much more or less power, as a part, a curve of endurance is for: about one standard
// deviation of most inputs. What goes beyond is flown.
const curveReach = 0.1

func hoversAbout(in *Inputs, a *Assessment, mission model.Mission) hoverCurve {
	h := hoverCurve{assessed: a, mission: mission}
	h.curve, h.holds = in.Drive.Endurance(in.Circuit, in.Mass, mission.Landing, &a.Flight, curveReach)
	return h
}

// lifting is the figures with another mass alone: its thrust in a punch-out stays.
func (h *hoverCurve) lifting(in *Inputs) figures { return h.figuresOf(in, true) }

// driven is the figures with other rotors.
func (h *hoverCurve) driven(in *Inputs) figures { return h.figuresOf(in, false) }

func (h *hoverCurve) figuresOf(in *Inputs, sameThrust bool) figures {
	if !h.holds {
		return figuresOf(in, h.mission)
	}
	t, i, ok := h.curve.Of(in.Drive, in.Mass)
	if !ok {
		return figuresOf(in, h.mission)
	}
	if len(h.mission.Phases) > 0 { // these are flown: their full throttle does not hang on the hover
		t = in.Drive.FlyPhases(in.Circuit, in.Mass, h.mission.Landing, h.mission.Phases).Duration
	}
	punch := &h.assessed.Punch
	if !sameThrust {
		other := in.Drive.PunchOut(in.Circuit, h.mission.PunchCharge)
		punch = &other
	}
	return figures{float64(t), float64(i), punch.Ratio(in.Mass)}
}

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

// interval is that of a figure that is never below zero.
func (s *spread) interval(base figures, i int) Interval {
	v := s.either(base, i)
	v.Low = max(0, v.Low)
	return v
}

// either is the interval of a figure that may have either sign.
func (s *spread) either(base figures, i int) Interval {
	return Interval{base[i] - z95*math.Sqrt(s.below[i]), base[i] + z95*math.Sqrt(s.above[i])}
}
