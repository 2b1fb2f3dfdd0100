package model

import "math"

// Load is what a pack is asked for: a constant power, a constant current, or both at once.
type Load struct{ power, current float64 }

// ConstantPower is a load that draws p whatever the voltage.
func ConstantPower(p Power) Load { return Load{power: float64(p)} }

// ConstantCurrent is a load that draws i whatever the voltage.
func ConstantCurrent(i Current) Load { return Load{current: float64(i)} }

// Current is what the load draws of a voltage e behind a resistance r: for a constant power the
// smaller root of P = (e - r I) I or, where there is none, the current of the greatest power.
func (l Load) Current(e Voltage, r Resistance) Current {
	if l.power == 0 {
		return Current(l.current)
	}
	return Current(2 * l.power / (float64(e) + math.Sqrt(max(0, float64(e*e)-4*float64(r)*l.power))))
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
}

// longestStep of the simulator, as a part of the charge. Steps also end at the knots
// of the open-circuit curve, where its curvature jumps.
const longestStep = 1.0 / 16

// Discharge runs the circuit from full, at rest, under a load until stop.
//
// The step is exact in the circuit's RC element for a current that changes linearly,
// and Simpson's rule in the time that a charge takes; the crossing of a limit is located
// inside the step by stepping again with a part of it, so results are smooth in every
// parameter. It does not allocate.
//
// Time, charge and energy are exact at a constant current. At a constant power they are
// within 1e-4 for circuits as Identify makes them and loads up to 15 C, and within 4e-4
// down to tau = 10 s and R0 = R1; where a load collapses the pack within seconds they are
// good to a few percent. Tests hold these bounds against an integration in small steps.
//
// A load that is not positive never ends: the duration is +Inf and nothing is delivered.
func (c Circuit) Discharge(load Load, stop Stop) Discharge { return c.discharge(load, stop, nil) }

// discharge is Discharge, watched by each at its start and after every step; nil watches nothing.
func (c Circuit) discharge(load Load, stop Stop, each func(Moment)) Discharge {
	k := newKernel(c, load, float64(stop.PerCell))
	st := k.at(point{s: 1})
	if !(load.power > 0 || load.current > 0) {
		v := Voltage(st.emf)
		return Discharge{Duration: Time(math.Inf(1)), ChargeLeft: 1, StartVoltage: v, MidVoltage: v, EndVoltage: v}
	}
	out := Discharge{EndedBy: EndedByReserve}
	out.StartVoltage, out.StartCurrent = k.loaded(st)
	if st.emf <= k.limit {
		out.EndedBy = EndedByVoltage
	}
	var passed trail
	var t, energy float64
	see := func(st state) {
		v, i := k.loaded(st)
		each(Moment{Time: Time(t), ChargeLeft: st.s, Voltage: v, Current: i})
	}
	if each != nil {
		see(st)
	}
	for out.EndedBy != EndedByVoltage && st.s > stop.Reserve {
		passed.add(st.s, st.v1)
		moved := k.step(st, k.next(st.s, stop.Reserve))
		if moved.emf <= k.limit {
			out.EndedBy = EndedByVoltage
			moved = k.locate(st, moved)
		}
		st = moved.state
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
	out.Collapsed = out.EndedBy == EndedByVoltage && k.collapses
	out.EndVoltage, out.EndCurrent = k.loaded(st)
	half := (1 + st.s) / 2
	out.MidVoltage, out.MidCurrent = k.loaded(k.resume(passed.above(half), half))
	return out
}

// trail is where a discharge has been, from full down: as many steps as fit, which are
// all of them with the built-in curves.
type trail struct {
	points [48]point
	count  int
}

type point struct{ s, v1 float64 }

func (p *trail) add(s, v1 float64) {
	if p.count < len(p.points) {
		p.points[p.count] = point{s, v1}
		p.count++
	}
}

// above is the last point with a charge above s; full and at rest where there is none.
func (p *trail) above(s float64) point {
	for i := p.count - 1; i >= 0; i-- {
		if p.points[i].s > s {
			return p.points[i]
		}
	}
	return point{s: 1}
}

// kernel is a circuit and a load unpacked to plain SI numbers, and the piece of the
// open-circuit curve that the simulation is on.
type kernel struct {
	cells, capacity, r0, r1, tau, shift float64
	power, current                      float64       // one of them may be zero
	rotors                              *fullThrottle // what draws instead of both, in a punch; nil for none
	curve                               Curve

	limit     float64 // emf at which the discharge ends
	collapses bool    // it ends because the power is then the greatest that the pack has

	perTwoTau, fourR0Power, perCurrent float64

	piece  int
	bottom float64 // charge at which the piece ends, going down
	origin float64 // charge from which the cubic counts
	volts  cubic   // open-circuit voltage of the pack, shift included
}

func newKernel(c Circuit, load Load, vStop float64) kernel {
	k := kernel{
		cells: float64(c.Cells), capacity: float64(c.Capacity), shift: float64(c.Shift),
		power: load.power, current: load.current, curve: c.Curve,
	}
	k.r0, k.r1, k.tau = c.unpack()
	k.limit, k.collapses = k.emfAtStop(vStop * k.cells)
	k.perTwoTau = 1 / (2 * k.tau)
	k.carry(load, nil, k.limit)
	return k
}

// carry changes the load, to rotors at full throttle where there are some, and the emf at which it ends.
func (k *kernel) carry(load Load, rotors *fullThrottle, limit float64) {
	k.power, k.current, k.rotors, k.limit = load.power, load.current, rotors, limit
	k.fourR0Power, k.perCurrent = 4*k.r0*load.power, 1/load.current
}

// take moves the kernel to a piece of the open-circuit curve.
func (k *kernel) take(piece int) {
	p := k.curve.pieces[piece]
	k.piece, k.origin = piece, k.curve.charge[piece]
	k.volts = cubic{k.cells * (p.c0 + k.shift), k.cells * p.c1, k.cells * p.c2, k.cells * p.c3}
	k.bottom = k.origin
	if piece == 0 {
		k.bottom = math.Inf(-1) // only the caller's floor ends the lowest piece
	}
}

// next is the charge at which a step from s ends, and takes the piece that it is on.
func (k *kernel) next(s, floor float64) float64 {
	if s <= k.bottom {
		k.take(k.piece - 1)
	}
	return max(s-longestStep, k.bottom, floor)
}

// emf is the voltage behind R0.
func (k *kernel) emf(s, v1 float64) float64 { return k.volts.at(s-k.origin) - v1 }

// perAmpere is 1/I at an emf. For a constant power I is the smaller root of
// P = (E - R0 I) I, and a current beside it lowers E and adds to it. Below the limit, where only trial steps get to, it goes on smoothly
// and stays positive.
func (k *kernel) perAmpere(e float64) float64 {
	if k.power == 0 {
		if k.rotors != nil {
			return 1 / k.rotors.current(e, k.r0)
		}
		return k.perCurrent
	}
	e = max(e-k.r0*k.current, leastEMF)
	v := (e + math.Sqrt(max(0, e*e-k.fourR0Power))) / 2
	return v / (k.power + k.current*v)
}

// leastEMF keeps trial steps finite where no resistance limits the current, V.
const leastEMF = 1e-3

// emfAtStop is the emf at which the loaded voltage is vStop, or, where the pack
// cannot give the power down to vStop, the emf at which the power is its greatest.
// Both are limits on the emf, which unlike the loaded voltage has no square root in it.
func (k *kernel) emfAtStop(vStop float64) (limit float64, collapses bool) {
	if k.power == 0 {
		if vStop <= 0 {
			return math.Inf(-1), false
		}
		return vStop + k.r0*k.current, false
	}
	if knee := math.Sqrt(k.r0 * k.power); vStop < knee {
		return 2*knee + k.r0*k.current, true
	}
	if vStop <= 0 {
		return 0, false
	}
	return vStop + k.r0*(k.power/vStop+k.current), false
}

// state of a discharge. perAmpere is 1/I.
type state struct{ s, v1, emf, perAmpere float64 }

// at is the state at a charge left and a voltage of the RC element; it takes the piece
// of the curve below that charge.
func (k *kernel) at(p point) state {
	k.take(k.curve.segment(p.s))
	e := k.emf(p.s, p.v1)
	return state{p.s, p.v1, e, k.perAmpere(e)}
}

// loaded is the voltage and the current in a state. Where the pack cannot give the
// power it is that of the greatest power.
func (k *kernel) loaded(st state) (Voltage, Current) {
	i := 1 / st.perAmpere
	if e := st.emf - k.r0*k.current; k.power > 0 && e*e < k.fourR0Power {
		i = e/(2*k.r0) + k.current
	}
	return Voltage(st.emf - k.r0*i), Current(i)
}

// stepped is the outcome of one step.
type stepped struct {
	state
	dt, energy float64
}

// step takes a state down to a charge on the same piece of the curve.
func (k *kernel) step(from state, to float64) stepped {
	ds := from.s - to
	if !(ds > 0) { // a part of a step too small for floats
		return stepped{state: from}
	}
	q := k.capacity * ds
	pa, v1 := from.perAmpere, from.v1
	ia := 1 / pa
	dt := q * pa
	half := math.Exp(-dt * k.perTwoTau)
	// Predict the middle with the current held, and the end on the line through both.
	held := k.r1 * ia
	em := k.emf(from.s-ds/2, held+(v1-held)*half)
	pm := k.perAmpere(em)
	rise := 2 * (1/pm - ia)
	ib := ia + rise
	// Simpson's rule for the time: dt = -Capacity ds/I. The last term is 1/ib, without
	// waiting for a division by pm.
	whole := q * (pa + 4*pm + pa*pm/(2*pa-pm)) * (1. / 6)
	phi := k.decay(half*half, dt, whole)
	v := v1*phi + k.r1*(ib-ia*phi-rise*(1-phi)*k.tau/whole)
	e := k.emf(to, v)
	pb := k.perAmpere(e)
	out := stepped{state: state{to, v, e, pb}, dt: q * (pa + 4*pm + pb) * (1. / 6)}
	if k.power > 0 && k.current == 0 {
		out.energy = k.power * out.dt
		return out
	}
	if k.rotors != nil || k.power > 0 {
		// Simpson's rule for the loaded voltage over the charge.
		out.energy = q * (from.emf + 4*em + e - k.r0*(ia+4/pm+1/pb)) * (1. / 6)
		return out
	}
	// Exact at a constant current: Simpson's rule for the cubic, and v1 an exponential.
	lost := held*dt + (v1-held)*k.tau*(1-phi)
	open := (k.emf(from.s, 0) + 4*k.emf(from.s-ds/2, 0) + k.emf(to, 0)) / 6
	out.energy = k.current * ((open-k.r0*k.current)*dt - lost)
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
func (k *kernel) locate(from state, past stepped) stepped {
	here := past
	ds := bracketRoot(0, from.emf-k.limit, from.s-past.s, past.emf-k.limit, 1e-11*from.emf, func(x float64) float64 {
		here = k.step(from, from.s-x)
		return here.emf - k.limit
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
		st = k.step(st, k.next(st.s, to)).state
	}
	return st
}
