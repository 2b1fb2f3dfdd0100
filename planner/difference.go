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
// Source: own analysis. About the estimate the runs of 2.5 to 5.5 in of the UIUC Propeller Database scatter by
// 0.18 in the logarithm of the figure of merit and of CT; two propellers of one make differ by 0.13 and 0.14
// each, which is half of that variance. Eight propellers of 5 in on one stand (2018) differ by 0.03 only: half
// is on the careful side.
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
// Source: JCGM 100:2008, 5.1.2 and 5.2.2, with shared causes as inputs of their own.
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
		up := sides[1].figures(c.pushes[1], z95).less(sides[0].figures(c.pushes[0], z95))
		down := sides[1].figures(c.pushes[1], -z95).less(sides[0].figures(c.pushes[0], -z95))
		for n := range base {
			e.slope[n], e.curve[n] = (up[n]-down[n])/(2*z95), (up[n]+down[n]-2*base[n])/(z95*z95)
		}
		all = append(all, e)
	}
	band := bandOf(base, all, nil)
	_, u, covariance := massesOf(sides)
	change, sigma := float64(s.MassChange()), math.Sqrt(whatIsLeft(u[0]*u[0]+u[1]*u[1], 2*covariance))
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

// effect is how a cause bends the differences: slope and curvature, for one standard deviation of it.
type effect struct {
	cause
	slope, curve figures
}

// bandOf is the band of differences that causes bend. Each is taken as a parabola through its effect at both
// ends of the band, or a propeller that takes 1/FM of the power would count as too sure on one side; the sum of
// them has the quantiles of its first three moments. left is what is left of a cause's standard deviation, nil
// for all of it.
//
// Source: moments of a sum of independent parabolas of normal causes (derived); quantiles by the first term of
// Cornish and Fisher, Moments and Cumulants in the Specification of Distributions, 1938. For one cause they are
// exact.
func bandOf(base figures, all []effect, left func(*cause) float64) *Band {
	var mean, variance, third figures
	for i := range all {
		e := &all[i]
		share := 1.0
		if left != nil {
			share = left(&e.cause)
		}
		for n := range base {
			d, c := share*e.slope[n], share*share*e.curve[n]
			mean[n] += c / 2
			variance[n] += d*d + c*c/2
			third[n] += 3*d*d*c + c*c*c
		}
	}
	interval := func(n int) Interval {
		s := math.Sqrt(variance[n])
		middle := base[n] + mean[n]
		if s > 0 {
			middle += (z95*z95 - 1) / 6 * third[n] / variance[n]
		}
		return Interval{middle - z95*s, middle + z95*s}
	}
	return &Band{Time: interval(0), Current: interval(1), Punch: interval(2)}
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
	own := s.plan.ownUncertain(s.pack)
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
	causes[1] = cause{InputMass, [2]push{{}, {math.Sqrt(whatIsLeft(u[1]*u[1], follows*follows)), moveMass}}}
	return causes, u, covariance
}

// whatIsLeft is a variance less what both sides share of it. What the rounding of equal numbers leaves is nothing.
func whatIsLeft(variance, shared float64) float64 {
	if left := variance - shared; left > 1e-12*variance {
		return left
	}
	return 0
}

// massCovariance is that of the masses of two builds, kg2: of the parts that both have and, where one of them
// was on the scale, of what that found.
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
