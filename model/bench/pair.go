package bench

import (
	"fmt"
	"math"

	"allup/model"
)

// Rules for two logs of one pack (own judgement: tests of one pack on one day differ by a few percent of its
// resistance and by 2 % of its charge, a charger ends within a few millivolts per cell, and the curve is the same).
const (
	pairCurrents = 0.3    // relative: loads further apart do not compare
	pairRest     = 0.025  // V per cell between the voltages at rest
	pairCell     = 0.006  // V per cell, or
	pairSag      = 0.065  // of what the load pulls the voltage down by at once, whichever is more
	pairOhms     = 0.09   // of the same, where each log counts from its own voltage at rest
	pairTrend    = 0.005  // V per cell from the first to the last third of the conditioning,
	pairBend     = 0.0025 // and from the mean of those to the second
	pairSigmas   = 4      // of noise that may be in either
	pairLoads    = 0.1    // of what the loads' difference takes, which may be in them, too
	pairTogether = 1.3    // squares of all these, each as a share of its limit
	pairFast     = 0.75   // of that which is resistance at first (0.75 +- 0.05 in 2,000 random packs): the rest is charge,
	pairWhole    = 0.99   // and with the slow part of the resistance (0.99 +- 0.06)
	pairStart    = 0.05   // of the conditioning's charge, where the first rows are: they show the fast part alone;
	pairFrom     = 0.1    // of the same, where the first point of the thirds is,
	pairTo       = 0.85   // and the last: all that is near it lies before the ramp
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
	var off [3]float64        // of the discharge from the burst, in each third
	var sag, r, loads float64 // of the first point, before the charge counts for much
	for k := range pairPoints {
		part := float64(k) / (pairPoints - 1)
		q := conditioned * (pairFrom + (pairTo-pairFrom)*part)
		v, i, ok := traceAt(d.Trace, q)
		w, j, also := traceAt(b.Trace, q)
		if !ok || !also || math.Abs(i/j-1) > pairCurrents {
			return nil, false
		}
		if k == 0 {
			r, sag = (rest-v)/i, rest-w
		}
		loads = max(loads, r*math.Abs(i-j))
		off[3*k/pairPoints] += (v - w + r*(pairFast+(pairWhole-pairFast)*part)*(i-j)) / (pairPoints / 3)
	}
	noise := math.Hypot(noiseOfMean(d.Trace, conditioned), noiseOfMean(b.Trace, conditioned))
	within := func(limit, variance float64) float64 { // of the thirds' means, whose variance is three times that of the whole
		return math.Hypot(math.Hypot(limit*n, pairLoads*loads), pairSigmas*noise*math.Sqrt(3*variance))
	}
	early, middle, late := off[0], off[1], off[2]
	least := max(pairCell*n, pairSag*math.Abs(sag))
	level := max(math.Abs(early), math.Abs(middle), math.Abs(late)) / least
	first := ""
	if v, w, i, j, ok := bothWithin(d.Trace, b.Trace, pairStart*conditioned); ok {
		start := v - w + pairFast*r*(i-j)
		level = max(level, math.Abs(start)/math.Hypot(least, pairSigmas*noise*math.Sqrt(1/(2*pairStart))))
		first = fmt.Sprintf(", and %+.0f mV in the first rows", 1e3*start)
	}
	shares := []float64{
		level,
		(late - early) / within(pairTrend, 2),
		(middle - (early+late)/2) / within(pairBend, 1.5),
	}
	text := fmt.Sprintf("at the same charge the discharge is %+.0f, %+.0f and %+.0f mV from the conditioning of the burst, early, midway and late%s, of the %.0f mV that the load takes",
		1e3*early, 1e3*middle, 1e3*late, first, 1e3*sag)
	if d.Trace.Rest > 0 && b.Trace.Rest > 0 {
		// Each from its own voltage at rest: two packs may meet under load by chance, and differ in what they fell from.
		fell := float64(d.Trace.Rest-b.Trace.Rest) - (early+middle+late)/3
		falls := sag - rest + float64(b.Trace.Rest)
		shares = append(shares, fell/max(pairCell*n, pairOhms*math.Abs(falls)))
		text += fmt.Sprintf("; counted from each log's own rest it takes %.0f mV in the discharge and %.0f mV in the burst", 1e3*(falls+fell), 1e3*falls)
	}
	worst, together := 0.0, 0.0
	for _, s := range shares {
		worst, together = max(worst, math.Abs(s)), together+s*s
	}
	if worst > 1 || together > pairTogether {
		return []LogFinding{doubted(LogTwoPacks, 0, "%s: the logs are not of one pack in one state, or a meter or a clock is wrong in one of them", text)}, true
	}
	return nil, true
}

// noiseOfMean is the noise of the mean voltage up to a charge, one sigma, from second differences.
func noiseOfMean(t model.Trace, until float64) float64 {
	p := t.Points
	sum, n := 0.0, 0.0
	for k := 2; k < len(p) && float64(p[k].Delivered) <= until; k++ {
		sum += math.Abs(float64(p[k-2].Voltage - 2*p[k-1].Voltage + p[k].Voltage))
		n++
	}
	if n == 0 {
		return 0
	}
	return sum / n / secondDifference / math.Sqrt(n)
}

// traceAt is voltage and current when a charge has been delivered: straight lines through the points around it.
func traceAt(t model.Trace, q float64) (v, i float64, ok bool) {
	if len(t.Points) < 8 || q > float64(t.Points[len(t.Points)-1].Delivered) {
		return 0, 0, false
	}
	for reach := 0.15; reach < 0.6; reach *= 1.5 {
		var n float64
		if v, i, n, ok = traceWithin(t, q, reach*q); n >= 4 {
			break
		}
	}
	return v, i, ok
}

// bothWithin are the voltages of two traces at a charge, and their currents, from all points within as much of it.
func bothWithin(one, other model.Trace, q float64) (v, w, i, j float64, ok bool) {
	v, i, _, ok = traceWithin(one, q, q)
	w, j, _, also := traceWithin(other, q, q)
	return v, w, i, j, ok && also
}

// traceWithin is voltage and current at a charge from the n points that are within reach of it, three at least.
func traceWithin(t model.Trace, q, reach float64) (v, i, n float64, ok bool) {
	var fv, fi lineFit
	for _, x := range t.Points {
		if d := float64(x.Delivered) - q; math.Abs(d) <= reach {
			fv.add(d, float64(x.Voltage))
			fi.add(d, float64(x.Current))
		}
	}
	v, _, okV := fv.fit()
	i, _, okI := fi.fit()
	return v, i, fv.n, okV && okI && fv.n >= 3 && i > 0
}
