package model

import "math"

// Load is what a pack is asked for: a constant power, a constant current, or what rotors at
// full throttle draw at the voltage that is left.
type Load struct {
	power, current float64
	rotors         *fullThrottle
}

// ConstantPower is a load that draws p whatever the voltage.
func ConstantPower(p Power) Load { return Load{power: float64(p)} }

// ConstantCurrent is a load that draws i whatever the voltage.
func ConstantCurrent(i Current) Load { return Load{current: float64(i)} }

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

// Discharge is the outcome of a discharge from full.
type Discharge struct {
	Duration   Time
	Delivered  Charge
	Energy     Energy
	ChargeLeft float64
	EndedBy    Ending
	Collapsed  bool // the load asked for more than the pack could give at any voltage

	StartVoltage, EndVoltage Voltage // loaded, of the pack
	StartCurrent, EndCurrent Current
}

// longestStep of the simulator, as a part of the charge. Steps also end at the knots
// of the open-circuit curve, where its curvature jumps: on the measured curves those
// are what counts. Steps a tenth as long change durations by less than 1e-4 (a test
// holds that).
const longestStep = 1.0 / 16

// Discharge runs the circuit from full, at rest, under a load until stop.
//
// The step is exact in the circuit's RC element for a current that changes linearly,
// and Simpson's rule in the time that a charge takes; the crossing of a limit is located inside the step by
// stepping again with a part of it, so results are smooth in every parameter.
// It does not allocate.
func (c Circuit) Discharge(load Load, stop Stop) Discharge {
	k := newKernel(c, load)
	k.take(len(c.Curve.pieces) - 1)
	s, v1 := 1.0, 0.0
	e := k.emf(s, v1)
	pa := k.perAmpere(e)
	limit, collapses := k.emfAtStop(float64(stop.PerCell) * k.cells)
	out := Discharge{
		StartCurrent: Current(1 / pa),
		StartVoltage: Voltage(e - k.r0/pa),
		EndedBy:      EndedByReserve,
	}
	var t, energy float64
	if e <= limit {
		out.EndedBy = EndedByVoltage
	}
	for out.EndedBy != EndedByVoltage && s > stop.Reserve {
		next := max(s-longestStep, k.bottom, stop.Reserve)
		st := k.step(s, v1, pa, s-next)
		if st.emf <= limit {
			out.EndedBy = EndedByVoltage
			var ds float64
			ds, st = k.locate(s, v1, pa, e, st.emf, s-next, limit)
			next = s - ds
		}
		s, v1, e, pa = next, st.v1, st.emf, st.perAmpere
		t += st.dt
		energy += st.energy
		if s <= k.bottom {
			k.take(k.piece - 1)
		}
	}
	out.Duration = Time(t)
	out.Energy = Energy(energy)
	out.ChargeLeft = s
	out.Delivered = Charge((1 - s) * k.capacity)
	out.Collapsed = out.EndedBy == EndedByVoltage && collapses
	out.EndCurrent = Current(1 / pa)
	out.EndVoltage = Voltage(e - k.r0/pa)
	return out
}

// kernel is a circuit and a load unpacked to plain SI numbers, and the piece of the
// open-circuit curve that the simulation is on.
type kernel struct {
	cells, capacity, r0, r1, tau, shift float64
	power, current                      float64 // one of them is zero
	rotors                              *fullThrottle
	curve                               Curve

	piece  int
	bottom float64 // charge at which the piece ends, going down
	origin float64 // charge from which the cubic counts
	volts  cubic   // open-circuit voltage of the pack, shift included
}

func newKernel(c Circuit, load Load) kernel {
	k := kernel{
		cells: float64(c.Cells), capacity: float64(c.Capacity),
		r0: float64(c.R0), r1: float64(c.R1), tau: float64(c.Tau), shift: float64(c.Shift),
		power: load.power, current: load.current, rotors: load.rotors, curve: c.Curve,
	}
	return k
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

// takeAt moves the kernel to the piece that covers what comes below a charge.
func (k *kernel) takeAt(s float64) { k.take(k.curve.segment(s)) }

// emf is the voltage behind R0.
func (k *kernel) emf(s, v1 float64) float64 { return k.volts.at(s-k.origin) - v1 }

// perAmpere is 1/I at an emf. For a constant power I is the smaller root of
// P = (E - R0 I) I; where there is none, the current of the greatest power.
func (k *kernel) perAmpere(e float64) float64 {
	if k.power == 0 {
		if k.rotors != nil {
			return 1 / k.rotors.current(e, k.r0)
		}
		return 1 / k.current
	}
	return (e + math.Sqrt(max(0, e*e-4*k.r0*k.power))) / (2 * k.power)
}

// emfAtStop is the emf at which the loaded voltage is vStop, or, where the pack
// cannot give the power down to vStop, the emf at which the power is its greatest.
// Both are limits on the emf, which unlike the loaded voltage has no square root in it.
func (k *kernel) emfAtStop(vStop float64) (limit float64, collapses bool) {
	if k.power == 0 {
		if vStop <= 0 {
			return math.Inf(-1), false
		}
		if k.rotors != nil {
			return vStop + k.r0*k.rotors.currentAt(vStop), false
		}
		return vStop + k.r0*k.current, false
	}
	if knee := math.Sqrt(k.r0 * k.power); vStop < knee {
		return 2 * knee, true
	}
	if vStop <= 0 {
		return 0, false
	}
	return vStop + k.r0*k.power/vStop, false
}

// stepped is the outcome of one step.
type stepped struct{ dt, v1, emf, perAmpere, energy float64 }

// step removes ds of the charge from s, within one piece of the curve. pa is 1/I at the start.
func (k *kernel) step(s, v1, pa, ds float64) stepped {
	q := k.capacity * ds
	ia := 1 / pa
	dt := q * pa
	half := math.Exp(-dt / (2 * k.tau))
	// Predict the middle with the current held, and the end on the line through both.
	em := k.emf(s-ds/2, v1*half+k.r1*ia*(1-half))
	pm := k.perAmpere(em)
	im := 1 / pm
	ib := 2*im - ia
	// Simpson's rule for the time: dt = -Capacity ds/I.
	whole := q * (pa + 4*pm + 1/ib) / 6
	phi := half * half * expSmall((dt-whole)/k.tau)
	v := v1*phi + k.r1*(ib-ia*phi-(ib-ia)*(1-phi)*k.tau/whole)
	e := k.emf(s-ds, v)
	pb := k.perAmpere(e)
	out := stepped{dt: q * (pa + 4*pm + pb) / 6, v1: v, emf: e, perAmpere: pb}
	if k.power > 0 {
		out.energy = k.power * out.dt
		return out
	}
	if k.rotors != nil {
		// Simpson's rule for the loaded voltage over the charge.
		out.energy = q * (k.emf(s, v1) + 4*em + e - k.r0*(ia+4*im+1/pb)) / 6
		return out
	}
	// Exact at a constant current: Simpson's rule for the cubic, and v1 an exponential.
	settled := k.r1 * k.current
	lost := settled*dt + (v1-settled)*k.tau*(1-phi)
	open := (k.emf(s, 0) + 4*k.emf(s-ds/2, 0) + k.emf(s-ds, 0)) / 6
	out.energy = k.current * ((open-k.r0*k.current)*dt - lost)
	return out
}

// expSmall is exp, by its series where that is good to 1e-9.
func expSmall(x float64) float64 {
	if x > 0.02 || x < -0.02 {
		return math.Exp(x)
	}
	return 1 + x*(1+x*(1./2+x*(1./6+x/24)))
}

// locate steps by the part of ds at whose end the emf is limit. The emf is above
// limit at the step's start, where it is from, and at or below it after ds, where it is to.
func (k *kernel) locate(s, v1, pa, from, to, ds, limit float64) (float64, stepped) {
	x := bracketRoot(0, from-limit, ds, to-limit, 1e-11*from, func(x float64) float64 {
		return k.step(s, v1, pa, x).emf - limit
	})
	return x, k.step(s, v1, pa, x)
}
