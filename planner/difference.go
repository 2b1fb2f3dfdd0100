package planner

import (
	"fmt"
	"math"
	"strings"

	"allup/model"
)

// likeSize is the part of a size estimate's variance that two propellers have in common, so that it drops out of their
// difference.
//
// Source: own analysis. About the estimate the runs of 2.5 to 5.5 in of the UIUC Propeller Database scatter by 0.18 in
// the logarithm of the figure of merit and of CT; two propellers of one make differ by 0.13 and 0.14 each, which is half
// of that variance. Eight propellers of 5 in on one stand (2018) differ by 0.03 only: half is on the careful side.
const likeSize = 0.5

// cause is something that is not known and moves the figures of one side of a swap, or of both together.
type cause struct {
	Input  Input
	pushes [2]push // before and after
}

// push is what one standard deviation of a cause does to a side; no Move for nothing.
type push struct {
	sigma float64
	move  func(*Inputs, float64)
}

// side is one side of a swap, made ready to be moved.
type side struct {
	plan *Plan
	pack *Pack
	base Inputs
}

// findDifference fills in how far the differences may be off, and what would settle those that span zero. What both
// sides share moves both at once, and cancels as far as it moves them alike.
//
// Source: JCGM 100:2008, 5.1.2 and 5.2.2 (first order, with shared causes as inputs of their own), both sides of the
// interval kept apart as in [Plan.AddBand].
func (s *Swap) findDifference(packs *PackSet) {
	if !s.Before.Flown.Flies() || !s.After.Flown.Flies() {
		return
	}
	sides := [2]side{}
	for i, o := range []*Outcome{&s.Before, &s.After} {
		pack := packs.Pack(o.Plan.Pack.ID)
		sides[i] = side{o.Plan, pack, o.Plan.At(pack, o.Plan.Bare())}
	}
	var at [2]figures
	for i := range sides {
		at[i] = sides[i].figures(push{}, 0)
	}
	base := at[1].less(at[0])
	var all []effect
	for _, c := range causesOf(sides) {
		e := effect{cause: c}
		e.up = sides[1].figures(c.pushes[1], 1).less(sides[0].figures(c.pushes[0], 1))
		e.down = sides[1].figures(c.pushes[1], -1).less(sides[0].figures(c.pushes[0], -1))
		all = append(all, e)
	}
	band := spreadOf(base, all, nil).around(base)
	_, u, covariance := massesOf(sides)
	change, sigma := float64(s.MassChange()), math.Sqrt(max(0, u[0]*u[0]+u[1]*u[1]-2*covariance))
	band.Mass = Interval{change - z95*sigma, change + z95*sigma}
	s.Difference = band
	s.findRemedies(sides, base, all)
}

func (s *side) figures(p push, by float64) figures {
	in := s.base
	if p.move != nil {
		p.move(&in, by*p.sigma)
	}
	return figuresOf(&in, s.plan.MissionOn(s.pack.Chemistry))
}

func (f figures) less(g figures) figures {
	for i := range f {
		f[i] -= g[i]
	}
	return f
}

// effect is the differences when a cause is moved by one standard deviation up and down.
type effect struct {
	cause
	up, down figures
}

// spreadOf adds effects up; what is left of a cause's standard deviation is left(it), nil for all of it.
func spreadOf(base figures, all []effect, left func(*cause) float64) *spread {
	var sum spread
	for i := range all {
		share := 1.0
		if left != nil {
			share = left(&all[i].cause)
		}
		up, down := base, base
		for n := range base {
			up[n] += share * (all[i].up[n] - base[n])
			down[n] += share * (all[i].down[n] - base[n])
		}
		sum.add(base, up, down)
	}
	return &sum
}

// around is the band of differences, which may be below zero.
func (s *spread) around(base figures) *Band {
	end := func(i int) Interval {
		return Interval{base[i] - z95*math.Sqrt(s.below[i]), base[i] + z95*math.Sqrt(s.above[i])}
	}
	return &Band{Time: end(0), Current: end(1), Punch: end(2)}
}

// Tells reports whether a band of differences leaves no doubt about their sign.
func (i Interval) Tells() bool { return i.Low > 0 || i.High < 0 }

// causesOf are all causes of two sides, those that both share once.
func causesOf(sides [2]side) []cause {
	masses, _, _ := massesOf(sides)
	list := masses[:]
	place := map[string]int{}
	for i := range sides {
		s := &sides[i]
		for _, p := range append(s.rotorCauses(), s.packCauses()...) {
			n, known := place[p.key]
			if !known {
				n = len(list)
				place[p.key] = n
				list = append(list, cause{Input: p.input})
			}
			list[n].pushes[i] = p.push
		}
	}
	return list
}

// namedPush is a push with what tells its cause from others: the same key on both sides is the same error.
type namedPush struct {
	key   string
	input Input
	push
}

func (s *side) packCauses() (list []namedPush) {
	own := s.pack.uncertain()
	for _, u := range known(own[:]) {
		list = append(list, namedPush{strings.Join([]string{"pack", string(u.Input), u.Subject}, " "), u.Input, push{u.Sigma, u.Move}})
	}
	return list
}

// rotorCauses names what is uncertain of propeller, motor and controller by the part that it is of, and by what it was
// learnt from: a propeller's table and its thrust test do not err together.
func (s *side) rotorCauses() (list []namedPush) {
	p := s.plan
	is := p.Propulsion
	learnt := string(is.Base)
	if is.Test != nil {
		learnt += " " + is.Test.ID
	}
	if is.Calibration != nil {
		learnt = fmt.Sprintf("flown %p", is.Calibration)
	}
	add := func(u Uncertain, sigma float64, key ...string) {
		if sigma > 0 {
			list = append(list, namedPush{strings.Join(append(key, string(u.Input)), " "), u.Input, push{sigma, u.Move}})
		}
	}
	for _, u := range known(p.uncertainRotor()) {
		sized := u.Input == InputThrust || u.Input == InputFigureOfMerit && is.Calibration == nil || u.Input == InputGrowth
		switch sized = sized && is.Base == model.FromGeometry; {
		case sized:
			add(u, u.Sigma*math.Sqrt(likeSize), "size")
			add(u, u.Sigma*math.Sqrt(1-likeSize), "size of", p.Prop.ID)
		case u.Subject == p.Prop.ID:
			add(u, u.Sigma, learnt, p.Prop.ID)
		case u.Input == InputEfficiency:
			controller := min(u.Sigma, p.Drive.Rotor.Controller.EfficiencySigma())
			add(u, controller, "controller", p.Board.ID)
			add(u, math.Sqrt(max(0, u.Sigma*u.Sigma-controller*controller)), "motor", p.Motor.ID)
		case is.Fit != nil && u.Input != InputNoLoadGrowth:
			add(u, u.Sigma, learnt, u.Subject)
		default:
			add(u, u.Sigma, "part", u.Subject)
		}
	}
	return list
}

// massesOf are the causes of what two sides weigh: one that moves both, and one of the second side alone. u is what is
// unknown of either, in kilograms, and covariance goes with it.
func massesOf(sides [2]side) (causes [2]cause, u [2]float64, covariance float64) {
	var items [2][]Item
	for i := range sides {
		p := sides[i].plan
		_, ui := p.With(sides[i].pack.Pack)
		u[i] = float64(ui)
		items[i] = append(append(items[i], p.Items...), p.PackItem(sides[i].pack.Pack))
	}
	covariance = massCovariance(sides[0].plan.Scale, items[0], items[1])
	var follows float64
	if u[0] > 0 {
		follows = covariance / u[0]
	}
	causes[0] = cause{InputMass, [2]push{{u[0], moveMass}, {follows, moveMass}}}
	causes[1] = cause{InputMass, [2]push{{}, {math.Sqrt(max(0, u[1]*u[1]-follows*follows)), moveMass}}}
	return causes, u, covariance
}

// massCovariance is that of the masses of two builds, kg2: of the parts that both have and, where one of them was on the
// scale, of what that found.
func massCovariance(scale *Scale, a, b []Item) (covariance float64) {
	in := map[string]Item{}
	for _, i := range a {
		in[itemKey(i)] = i
	}
	for _, j := range b {
		if i, both := in[itemKey(j)]; both {
			covariance += float64(i.Uncertainty()) * float64(j.Uncertainty())
		}
	}
	if scale != nil {
		covariance = scale.Covariance(scale.sum(a, true), scale.sum(b, true), covariance)
	}
	return covariance
}
