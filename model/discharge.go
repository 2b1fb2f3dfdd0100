package model

import "math"

// Load is what a pack is asked for: a constant power, a constant current, or both at once.
type Load struct{ power, current float64 }

// ConstantPower is a load that draws p whatever the voltage.
func ConstantPower(p Power) Load { return Load{power: float64(p)} }

// ConstantCurrent is a load that draws i whatever the voltage.
func ConstantCurrent(i Current) Load { return Load{current: float64(i)} }

// Current is what the load draws of a voltage e behind a resistance r: for a constant power the smaller root of
// P = (e - r I) I or, where there is none, the current of the greatest power. A current beside it lowers e.
func (l Load) Current(e Voltage, r Resistance) Current {
	if l.power == 0 {
		return Current(l.current)
	}
	left := float64(e) - float64(r)*l.current
	return Current(l.current + 2*l.power/(left+math.Sqrt(max(0, left*left-4*float64(r)*l.power))))
}

// Stop says where a discharge ends: at the first of its limits. The zero value
// ends when the pack is empty or can no longer hold the load.
type Stop struct {
	PerCell Voltage // loaded voltage per cell; 0 for no voltage limit
	Reserve float64 // charge left, 0 to 1
}

// Ending names what ended a discharge.
type Ending string

// The endings of a discharge.
const (
	EndedByVoltage Ending = "voltage" // the loaded voltage fell to the limit, or collapsed under the load
	EndedByReserve Ending = "reserve" // the charge left fell to the reserve
)

// Discharge is the outcome of a discharge from full. Voltages are loaded, of the pack; currents are of the pack.
type Discharge struct {
	Duration   Time
	Delivered  Charge
	Energy     Energy
	ChargeLeft float64
	EndedBy    Ending
	Collapsed  bool // the load asked for more than the pack could give at any voltage

	StartVoltage, MidVoltage, EndVoltage Voltage // Mid: when half of Delivered is out
	StartCurrent, MidCurrent, EndCurrent Current

	EndTemperature, MaxTemperature Temperature // of the pack
}

// longestStep of the simulator, as a part of the charge. Steps also end at the knots
// of the open-circuit curve, where its curvature jumps.
const longestStep = 1.0 / 16

// Discharge runs the circuit from full, at rest, under a load until stop.
//
// The step is exact in the circuit's RC element for a voltage over R1 that changes linearly, and Simpson's rule
// in the time that a charge takes; heat is that of the step's middle. The crossing of a limit is located inside
// the step by stepping again with a part of it, so results are smooth in every parameter. It does not allocate.
//
// Time, charge and energy are exact at a constant current where resistance does not change. At a constant power
// they are within 1e-4 for circuits with the usual tau and share of R0 and loads up to 15 C, and within 4e-4
// down to tau = 10 s and R0 = R1; with charge dependence and heat within 1e-3; where a load collapses the pack
// within seconds they are good to a few percent. Tests hold these bounds against an integration in small steps.
//
// A load that is not positive never ends: the duration is +Inf and nothing is delivered.
func (c Circuit) Discharge(load Load, stop Stop) Discharge { return c.discharge(load, stop, nil) }

// discharge is Discharge, watched by each at its start and after every step; nil watches nothing.
func (c Circuit) discharge(load Load, stop Stop, each func(Moment)) Discharge {
	k := newKernel(c, load, float64(stop.PerCell))
	st := k.at(k.full())
	if !(load.power > 0 || load.current > 0) {
		v, t := Voltage(st.emf), Temperature(st.temp)
		return Discharge{Duration: Time(math.Inf(1)), ChargeLeft: 1, StartVoltage: v, MidVoltage: v, EndVoltage: v, EndTemperature: t, MaxTemperature: t}
	}
	out := Discharge{EndedBy: EndedByReserve}
	out.StartVoltage, out.StartCurrent = k.loaded(st)
	if k.spare(&st) <= 0 {
		out.EndedBy = EndedByVoltage
	}
	var passed trail
	var t, energy float64
	hottest := st.temp
	see := func(st state) {
		v, i := k.loaded(st)
		each(Moment{Time: Time(t), ChargeLeft: st.s, Voltage: v, Current: i, Temperature: Temperature(st.temp)})
	}
	if each != nil {
		see(st)
	}
	for out.EndedBy != EndedByVoltage && st.s > stop.Reserve {
		passed.add(st.point)
		moved := k.step(&st, k.next(st.s, stop.Reserve))
		if k.spare(&moved.state) <= 0 {
			out.EndedBy = EndedByVoltage
			moved = k.locate(&st, moved)
		}
		st = moved.state
		hottest = max(hottest, st.temp)
		t += moved.dt
		energy += moved.energy
		if each != nil {
			see(st)
		}
	}
	out.Duration = Time(t)
	out.Energy = Energy(energy)
	out.ChargeLeft = st.s
	out.Delivered = Charge((1 - st.s) * k.capacity)
	out.Collapsed = out.EndedBy == EndedByVoltage && k.end.collapses(k.r0*st.factor)
	out.EndTemperature, out.MaxTemperature = Temperature(st.temp), Temperature(hottest)
	out.EndVoltage, out.EndCurrent = k.loaded(st)
	half := (1 + st.s) / 2
	out.MidVoltage, out.MidCurrent = k.loaded(k.resume(passed.above(half, k.full()), half))
	return out
}

// trail is where a discharge has been, from full down: as many steps as fit, which are
// all of them with the built-in curves.
type trail struct {
	points [48]point
	count  int
}

// point is charge left, voltage of the RC element and temperature in K.
type point struct{ s, v1, temp float64 }

func (p *trail) add(at point) {
	if p.count < len(p.points) {
		p.points[p.count] = at
		p.count++
	}
}

// above is the last point with a charge above s; full where there is none.
func (p *trail) above(s float64, full point) point {
	for i := p.count - 1; i >= 0; i-- {
		if p.points[i].s > s {
			return p.points[i]
		}
	}
	return full
}

// bound is where a discharge ends: a bus voltage, what the load draws at it, and the load.
type bound struct {
	volts, amps float64
	load        Load
}

// boundAt is the bound of a load at a bus voltage; none for 0 V and a constant current.
func boundAt(volts float64, load Load) bound {
	switch {
	case volts > 0:
		return bound{volts, load.power/volts + load.current, load}
	case load.power > 0:
		return bound{load: load}
	}
	return bound{volts: math.Inf(-1)}
}

// emf is the emf at which the loaded voltage is the bound's, or, where the pack cannot give the power down to there,
// the emf at which the power is its greatest. Both are limits on the emf, which unlike the loaded voltage has no
// square root in it.
func (b *bound) emf(r0 float64) float64 {
	if b.collapses(r0) {
		return 2*math.Sqrt(r0*b.load.power) + r0*b.load.current
	}
	return b.volts + r0*b.amps
}

// collapses reports whether the discharge ends because the power is then the greatest that the pack has.
func (b *bound) collapses(r0 float64) bool {
	return b.load.power > 0 && b.volts*b.volts < r0*b.load.power
}

// kernel is a circuit and a load unpacked to plain SI numbers, and the piece of the
// open-circuit curve that the simulation is on.
type kernel struct {
	body
	cells, capacity, shift float64
	power, current         float64       // one of them may be zero
	rotors                 *fullThrottle // what draws instead of both, in a punch; nil for none
	curve                  Curve

	end bound

	perTwoTau, perTwoPower, fourPower, perCurrent float64

	piece  int
	bottom float64 // charge at which the piece ends, going down
	origin float64 // charge from which the cubic counts
	volts  cubic   // open-circuit voltage of the pack, shift included
}

func newKernel(c Circuit, load Load, vStop float64) kernel {
	k := kernel{
		body: newBody(c), cells: float64(c.Cells), capacity: float64(c.Capacity), shift: float64(c.Shift), curve: c.Curve,
	}
	k.perTwoTau = 1 / (2 * k.tau)
	k.setLoad(load, nil, boundAt(vStop*k.cells, load))
	return k
}

// setLoad changes the load, to rotors at full throttle where there are some, and where it ends.
func (k *kernel) setLoad(load Load, rotors *fullThrottle, end bound) {
	k.power, k.current, k.rotors, k.end = load.power, load.current, rotors, end
	k.perTwoPower, k.fourPower, k.perCurrent = 1/(2*load.power), 4*load.power, 1/load.current
}

// full is a full pack at rest.
func (k *kernel) full() point { return point{s: 1, temp: k.start} }

// spare is by how much the emf of a state is above that at which the discharge ends.
func (k *kernel) spare(st *state) float64 { return k.above(st, &k.end) }

// above is by how much the emf of a state is above that of a bound.
func (k *kernel) above(st *state, b *bound) float64 { return st.emf - b.emf(k.r0*st.factor) }

// enter moves the kernel to a piece of the open-circuit curve.
func (k *kernel) enter(piece int) {
	p := k.curve.pieces[piece]
	k.piece, k.origin = piece, k.curve.charge[piece]
	k.volts = cubic{k.cells * (p.c0 + k.shift), k.cells * p.c1, k.cells * p.c2, k.cells * p.c3}
	k.bottom = k.origin
	if piece == 0 {
		k.bottom = math.Inf(-1) // only the caller's floor ends the lowest piece
	}
}

// next is the charge at which a step from s ends, and enters the piece that it is on.
func (k *kernel) next(s, floor float64) float64 {
	if s <= k.bottom {
		k.enter(k.piece - 1)
	}
	return max(s-longestStep, k.bottom, floor)
}

// emf is the voltage behind R0.
func (k *kernel) emf(s, v1 float64) float64 { return k.volts.at(s-k.origin) - v1 }

// perAmpere is 1/I at an emf behind a resistance. For a constant power I is the smaller root of P = (E - r0 I)
// I, and a current beside it lowers E and adds to it. Below the limit, where only trial steps get to, it goes
// on smoothly and stays positive.
func (k *kernel) perAmpere(e, r0 float64) float64 {
	if k.power == 0 {
		if k.rotors != nil {
			return 1 / k.rotors.current(e, r0)
		}
		return k.perCurrent
	}
	e = max(e-r0*k.current, leastEMF)
	alone := (e + math.Sqrt(max(0, e*e-r0*k.fourPower))) * k.perTwoPower
	if k.current == 0 {
		return alone
	}
	return alone / (1 + k.current*alone)
}

// leastEMF keeps trial steps finite where no resistance limits the current, V.
const leastEMF = 1e-3

// state of a discharge. factor is that of the resistances, perAmpere is 1/I.
type state struct {
	point
	factor, emf, perAmpere float64
}

// at is the state at a point; it enters the piece of the curve below its charge.
func (k *kernel) at(p point) state {
	k.enter(k.curve.segment(p.s))
	f := k.factor(p.s, p.temp)
	e := k.emf(p.s, p.v1)
	return state{p, f, e, k.perAmpere(e, k.r0*f)}
}

// loaded is the voltage and the current in a state. Where the pack cannot give the
// power it is that of the greatest power.
func (k *kernel) loaded(st state) (Voltage, Current) {
	i, r0 := 1/st.perAmpere, k.r0*st.factor
	if e := st.emf - r0*k.current; k.power > 0 && e*e < r0*k.fourPower {
		i = e/(2*r0) + k.current
	}
	return Voltage(st.emf - r0*i), Current(i)
}

// stepped is the outcome of one step.
type stepped struct {
	state
	dt, energy float64
}

// step takes a state down to a charge on the same piece of the curve.
func (k *kernel) step(from *state, to float64) stepped {
	ds := from.s - to
	if !(ds > 0) { // a part of a step too small for floats
		return stepped{state: *from}
	}
	q := k.capacity * ds
	mid := from.s - ds/2
	pa, v1, fa := from.perAmpere, from.v1, from.factor
	ia := 1 / pa
	dt := q * pa
	half := math.Exp(-dt * k.perTwoTau)
	// Predict the middle with the current held, and the end on the line through both.
	fm, fb, tb := fa, fa, from.temp
	if k.varies {
		fm = k.factor(mid, k.warm(from.temp, k.heat(ia, v1, fa), dt/2))
	}
	held := k.r1 * ia * (fa + fm) / 2
	vm := held + (v1-held)*half
	em := k.emf(mid, vm)
	pm := k.perAmpere(em, k.r0*fm)
	im := 1 / pm
	rise := 2 * (im - ia)
	ib := ia + rise
	// Simpson's rule for the time: dt = -Capacity ds/I. The last term is 1/ib, without
	// waiting for a division by pm.
	whole := q * (pa + 4*pm + pa*pm/(2*pa-pm)) * (1. / 6)
	phi := k.decay(half*half, dt, whole)
	if k.varies {
		tb = k.warm(from.temp, k.heat(im, vm, fm), whole)
		fb = k.factor(to, tb)
	}
	// What v1 settles at goes from xa to xb.
	xa, xb := k.r1*fa*ia, k.r1*fb*ib
	v := v1*phi + xb - xa*phi - (xb-xa)*(1-phi)*k.tau/whole
	e := k.emf(to, v)
	pb := k.perAmpere(e, k.r0*fb)
	out := stepped{state: state{point{to, v, tb}, fb, e, pb}, dt: q * (pa + 4*pm + pb) * (1. / 6)}
	if k.power > 0 && k.current == 0 {
		out.energy = k.power * out.dt
		return out
	}
	if k.rotors != nil || k.power > 0 {
		// Simpson's rule for the loaded voltage over the charge.
		out.energy = q * (from.emf + 4*em + e - k.r0*(fa*ia+4*fm*im+fb/pb)) * (1. / 6)
		return out
	}
	// Simpson's rule for the cubic and the factor, which are exact without a charge dependence; of v1 = x - tau dv1/dt
	// the integral is that of x less tau times what v1 rises.
	mean := (fa + 4*fm + fb) * (1. / 6)
	lost := k.r1*mean*k.current*dt - k.tau*(v-v1)
	open := (k.emf(from.s, 0) + 4*k.emf(mid, 0) + k.emf(to, 0)) / 6
	out.energy = k.current * ((open-k.r0*mean*k.current)*dt - lost)
	return out
}

// decay is exp(-t/tau), where known is exp(-near/tau): by the series of what is between
// them where that is good to 1e-9.
func (k *kernel) decay(known, near, t float64) float64 {
	x := 2 * (near - t) * k.perTwoTau
	if x > 0.02 || x < -0.02 {
		return math.Exp(-2 * t * k.perTwoTau)
	}
	return known * (1 + x*(1+x*(1./2+x*(1./6+x/24))))
}

// locate is the step to where the emf is the limit. The emf is above the limit at from
// and at or below it after the step past.
func (k *kernel) locate(from *state, past stepped) stepped {
	here := past
	ds := bracketRoot(0, k.spare(from), from.s-past.s, k.spare(&past.state), 1e-11*from.emf, func(x float64) float64 {
		here = k.step(from, from.s-x)
		return k.spare(&here.state)
	})
	if here.s != from.s-ds {
		here = k.step(from, from.s-ds)
	}
	return here
}

// resume runs on from a point to a charge, whatever the limit.
func (k *kernel) resume(p point, to float64) state {
	st := k.at(p)
	for st.s > to {
		st = k.step(&st, k.next(st.s, to)).state
	}
	return st
}
