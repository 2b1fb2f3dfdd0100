package model

import "math"

// Burst is the outcome of a burst test.
type Burst struct {
	Current    Current // at the end
	Power      Power   // at the end
	ChargeLeft float64
	InRamp     bool // false where the end voltage was met before the ramp began
}

// BurstTest runs the burst test of a protocol: conditioning at a constant current
// from full, then a current ramp from there until the burst end voltage.
//
// Under a current that is constant or a ramp the circuit has closed forms, so
// nothing is stepped; only the crossing is searched for. Both parts only ever
// lower the voltage, so there is at most one crossing. A pack that runs empty
// first ends there.
func (c Circuit) BurstTest(p Protocol) Burst {
	n, q := float64(c.Cells), float64(c.Capacity)
	r0, r1, tau := c.unpack()
	ic, tc := float64(p.ConditioningCurrent), float64(p.ConditioningTime)
	end := n * float64(p.BurstEndPerCell)
	shift := float64(c.Shift)

	sagged := r1 * ic // v1 when conditioning has settled
	v1c := sagged * (1 - math.Exp(-tc/tau))
	sc := 1 - ic*tc/q

	// part gives the state after t seconds of conditioning (ramp false) or of the ramp.
	part := func(ramp bool, t float64) (s, i, v float64) {
		var v1 float64
		phi := math.Exp(-t / tau)
		if ramp {
			k := p.Ramp
			i = ic + k*t
			s = sc - (ic*t+k*t*t/2)/q
			v1 = v1c*phi + r1*(i-k*tau-(ic-k*tau)*phi)
		} else {
			i = ic
			s = 1 - ic*t/q
			v1 = sagged * (1 - phi)
		}
		return s, i, n*(float64(c.Curve.At(s))+shift) - v1 - r0*i
	}
	ended := func(ramp bool, t float64) Burst {
		s, i, v := part(ramp, t)
		return Burst{Current: Current(i), Power: Power(i * v), ChargeLeft: s, InRamp: ramp}
	}

	// crossing is when the voltage of a part meets the end voltage, or is below it: from 0 to last.
	crossing := func(ramp bool, last float64) float64 {
		above := func(t float64) float64 { _, _, v := part(ramp, t); return v - end }
		final := above(last)
		if final >= 0 {
			return last
		}
		return bracketRoot(0, above(0), last, final, 1e-10, above)
	}

	if tc > 0 {
		last := min(tc, q/ic)
		if t := crossing(false, last); t < tc {
			return ended(false, t)
		}
	}
	if p.Ramp <= 0 {
		return ended(true, 0)
	}
	// The pack is empty when sc q = ic t + ramp t^2 / 2, solved without a difference.
	empty := 2 * sc * q / (ic + math.Sqrt(ic*ic+2*p.Ramp*sc*q))
	return ended(true, crossing(true, empty))
}
