package model

import "math"

// Burst is the outcome of a burst test.
type Burst struct {
	Current    Current // at the end
	Power      Power   // at the end
	ChargeLeft float64
	InRamp     bool // false where the end voltage was met before the ramp began

	MaxTemperature Temperature // of the pack
}

// How finely a burst test is stepped where resistance changes; where it does not, one step is exact.
const (
	conditioningSteps = 6
	rampSteps         = 24 // over all of the charge that the ramp can take
)

// BurstTest runs the burst test of a protocol: conditioning at a constant current
// from full, then a current ramp from there until the burst end voltage, or until nothing is left.
//
// The current is known, so a step is exact in the charge and, for a voltage over R1 that changes linearly,
// in the RC element. The end is located inside its step.
func (c Circuit) BurstTest(p Protocol) Burst {
	r := burstRun{
		body: newBody(c), curve: c.Curve, shift: float64(c.Shift), cells: float64(c.Cells), capacity: float64(c.Capacity),
		end: float64(c.Cells) * float64(p.BurstEndPerCell), i0: float64(p.ConditioningCurrent), s0: 1,
	}
	st := burstState{point: point{s: 1, temp: r.start}}
	st.factor = r.factor(1, st.temp)
	hottest := st.temp
	ended := func(inRamp bool) Burst {
		i := r.current(st.t)
		return Burst{
			Current: Current(i), Power: Power(i * r.voltage(&st)), ChargeLeft: st.s, InRamp: inRamp,
			MaxTemperature: Temperature(max(hottest, st.temp)),
		}
	}
	// run passes a part in steps that end at given times; it reports whether the end voltage was met.
	run := func(steps int, at func(part float64) float64) bool {
		above := r.voltage(&st) - r.end
		if above < 0 {
			return true
		}
		for n := 1; n <= steps; n++ {
			from := st
			st = r.step(&from, at(float64(n)/float64(steps))-from.t)
			left := r.voltage(&st) - r.end
			if left < 0 {
				dt := bracketRoot(0, above, st.t-from.t, left, 1e-10, func(dt float64) float64 {
					st = r.step(&from, dt)
					return r.voltage(&st) - r.end
				})
				st = r.step(&from, dt)
				return true
			}
			above = left
			hottest = max(hottest, st.temp)
		}
		return false
	}
	steps := func(most int) int {
		if !r.varies {
			return 1
		}
		return most
	}

	if tc := float64(p.ConditioningTime); tc > 0 {
		last := min(tc, r.capacity/r.i0)
		if run(steps(conditioningSteps), func(part float64) float64 { return part * last }) || last < tc {
			return ended(false)
		}
	}
	r.s0, r.ramp = st.s, p.Ramp
	st.t = 0
	if r.ramp <= 0 {
		return ended(true)
	}
	// A part of the charge has gone when it is i0 t + ramp t^2 / 2, solved without a difference.
	run(steps(rampSteps), func(part float64) float64 {
		q := part * r.s0 * r.capacity
		return 2 * q / (r.i0 + math.Sqrt(r.i0*r.i0+2*r.ramp*q))
	})
	return ended(true)
}

// burstRun is a burst test being run: a current i0 + ramp t from a charge s0.
type burstRun struct {
	body
	curve                  Curve
	shift, cells, capacity float64
	end                    float64
	i0, ramp, s0           float64
}

// burstState is where it stands, t seconds into its part.
type burstState struct {
	point
	t, factor float64
}

func (r *burstRun) current(t float64) float64 { return r.i0 + r.ramp*t }

func (r *burstRun) charge(t float64) float64 { return r.s0 - (r.i0+r.ramp*t/2)*t/r.capacity }

func (r *burstRun) voltage(st *burstState) float64 {
	return r.cells*(float64(r.curve.At(st.s))+r.shift) - st.v1 - r.r0*st.factor*r.current(st.t)
}

// step is two halves for the RC element; the heat is that of the middle.
func (r *burstRun) step(from *burstState, dt float64) burstState {
	if !(dt > 0) {
		return *from
	}
	h := dt / 2
	to := burstState{t: from.t + dt, factor: from.factor}
	to.s, to.temp = r.charge(to.t), from.temp
	ia, im, ib := r.current(from.t), r.current(from.t+h), r.current(to.t)
	fm := from.factor
	if r.varies {
		fm = r.factor(r.charge(from.t+h), r.warm(from.temp, r.heat(ia, from.v1, from.factor), h))
	}
	phi := math.Exp(-h / r.tau)
	lag := (1 - phi) * r.tau / h
	xa, xm := r.r1*from.factor*ia, r.r1*fm*im
	vm := from.v1*phi + xm - xa*phi - (xm-xa)*lag
	if r.varies {
		to.temp = r.warm(from.temp, r.heat(im, vm, fm), dt)
		to.factor = r.factor(to.s, to.temp)
	}
	xb := r.r1 * to.factor * ib
	to.v1 = vm*phi + xb - xm*phi - (xb-xm)*lag
	return to
}
