package bench

import (
	"math"

	"allup/model"
)

// Rules for two logs of one pack (own judgement: tests of one pack on one day differ by a few percent of its
// resistance, and a charger ends within a few millivolts per cell).
const (
	pairCurrents = 0.3   // relative: loads further apart do not compare
	pairRest     = 0.025 // V per cell between the voltages at rest
	pairCell     = 0.006 // V per cell, or
	pairSag      = 0.07  // of what the load pulls the voltage down by at once, whichever is more
	pairFast     = 0.77  // of that which is resistance: the rest is charge,
	pairWhole    = 1.05  // and with the slow part of the resistance
	pairTrend    = 0.006 // V per cell from the early to the late half
	pairPoints   = 12
)

// ComparePair compares the discharge of a pack with the conditioning of its burst test, which take a full pack
// the same way: at the same charge the voltages are the same, but for the loads' small difference. known is
// false where the loads are too far apart, or there are too few blocks to tell.
func ComparePair(cells int, d *DischargeReduction, b *BurstReduction) (findings []LogFinding, known bool) {
	if d == nil || b == nil || b.ConditioningTime <= 0 {
		return nil, false
	}
	n := float64(cells)
	if d.Trace.Rest > 0 && b.Trace.Rest > 0 && math.Abs(float64(d.Trace.Rest-b.Trace.Rest)) > pairRest*n {
		return []LogFinding{doubted(LogTwoPacks, 0, "at rest the discharge begins at %.4g V and the burst at %.4g V: they are not of one pack in one state, or of one voltmeter",
			float64(d.Trace.Rest), float64(b.Trace.Rest))}, true
	}
	rest := float64(max(d.Trace.Rest, b.Trace.Rest))
	if rest == 0 {
		return nil, false
	}
	conditioned := float64(b.ConditioningCurrent) * float64(b.ConditioningTime)
	var sums [2]float64 // of the early and of the late half
	var sag, r float64  // of the first point, before the charge counts for much
	for k := range pairPoints {
		q := conditioned * (0.1 + 0.85*float64(k)/(pairPoints-1))
		v, i, ok := traceAt(d.Trace, q)
		w, j, also := traceAt(b.Trace, q)
		if !ok || !also || math.Abs(i/j-1) > pairCurrents {
			return nil, false
		}
		if k == 0 {
			r = (rest - v) / i
			sag = rest - w
		}
		off := v - w + r*(pairFast+(pairWhole-pairFast)*float64(k)/(pairPoints-1))*(i-j)
		sums[2*k/pairPoints] += off / (pairPoints / 2)
	}
	most := max(pairCell*n, pairSag*math.Abs(sag))
	if worst := max(math.Abs(sums[0]), math.Abs(sums[1])); worst > most || math.Abs(sums[1]-sums[0]) > pairTrend*n {
		return []LogFinding{doubted(LogTwoPacks, 0, "at the same charge the discharge is %+.0f mV from the conditioning of the burst early on and %+.0f mV late, of the %.0f mV that the load takes: the logs are not of one pack in one state, or a meter or a clock is wrong in one of them",
			1e3*sums[0], 1e3*sums[1], 1e3*sag)}, true
	}
	return nil, true
}

// traceAt is voltage and current when a charge has been delivered: straight lines through the points around it.
func traceAt(t model.Trace, q float64) (v, i float64, ok bool) {
	var fv, fi lineFit
	p := t.Points
	last := 0.0
	if len(p) > 0 {
		last = float64(p[len(p)-1].Delivered)
	}
	if len(p) < 8 || q > last {
		return 0, 0, false
	}
	for reach := 0.15; reach < 0.6 && fv.n < 4; reach *= 1.5 {
		fv, fi = lineFit{}, lineFit{}
		for _, x := range p {
			if d := float64(x.Delivered) - q; math.Abs(d) <= reach*q {
				fv.add(d, float64(x.Voltage))
				fi.add(d, float64(x.Current))
			}
		}
	}
	v, _, ok = fv.fit()
	i, _, also := fi.fit()
	return v, i, ok && also && fv.n >= 3 && i > 0
}
