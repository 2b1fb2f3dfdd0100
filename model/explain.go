package model

import "math"

// Explanation is the circuit that comes nearest to tested metrics, and what had to be taken for unusual to get there.
type Explanation struct {
	Identification

	// Curve is which of the other open-circuit curves it has; -1 for the pack's own.
	Curve int
	// Unusual says in words what of the pack is not as usual; "" where the usual explains the metrics, and where nothing does.
	Unusual string
	// LeftOut is the metric that the others contradict, and which the circuit was made without; "" for none.
	LeftOut string
	// MisfitQ and MisfitR are how far capacity and resistance would have to be off to cover what the circuit
	// misses of the metrics, relative; 0 where nothing is beyond [DoubtfulSigma].
	MisfitQ, MisfitR float64
}

// Contradicts reports whether nothing explains the metrics together.
func (e Explanation) Contradicts() bool {
	_, bad := e.Doubtful()
	return bad
}

// farSigma is the residual from which on one metric of the others is looked for that is wrong.
const farSigma = 10

// Explain finds the circuit of tested metrics as [Identify] does. Where that leaves a residual beyond 3 sigma it
// tries, in this order, a charge dependence up to two sigmas from the usual one, a heat capacity up to one, and the other curves;
// what brings all residuals within 3 sigma is kept and named. Metrics that nothing brings together, one of them beyond 10 sigma,
// are identified without the one that the rest contradict, if there is one; else the nearest circuit stays.
// The residuals are always those of all metrics, and the errors are those of Identify.
func Explain(known Circuit, others []Curve, m TestedMetrics) (Explanation, error) {
	usual, err := Identify(known, m)
	if err != nil {
		return Explanation{}, err
	}
	best := Explanation{Identification: usual, Curve: -1}
	if !best.Contradicts() {
		return best, nil
	}
	try := func(c Circuit, curve int, unusual string) bool {
		id, err := Identify(c, m)
		if err != nil {
			return false
		}
		e := Explanation{Identification: id, Curve: curve, Unusual: unusual}
		if e.Contradicts() {
			return false
		}
		best = e
		return true
	}
	for _, sigmas := range []float64{-1, 1, 2} {
		c := known
		c.K += sigmas * UsualKSigma
		if known.K > 0 && try(c, -1, "its resistance depends on charge "+map[bool]string{true: "more", false: "less"}[sigmas > 0]+" than usual") {
			return best, nil
		}
	}
	for factor, how := range map[float64]string{HeatFactor: "less", 1 / HeatFactor: "more"} {
		c := known
		c.HeatCapacity *= factor
		if known.HeatCapacity > 0 && try(c, -1, "it warms itself "+how+" than usual") {
			return best, nil
		}
	}
	for i, curve := range others {
		c := known
		c.Curve = curve
		if try(c, i, "its open-circuit curve is another") {
			return best, nil
		}
	}
	if worst, _ := best.Doubtful(); math.Abs(worst.Sigma) > farSigma {
		best.leaveOut(known, m)
	}
	best.MisfitQ, best.MisfitR = Misfit(best.Circuit, best.Residuals, m)
	return best, nil
}

// leaveOut identifies without the one metric that leaves the others in agreement, the nearest to them if there are more.
func (e *Explanation) leaveOut(known Circuit, m TestedMetrics) {
	least := math.Inf(1)
	for _, r := range e.Residuals {
		if r.Metric == shiftResidual {
			continue
		}
		id, err := identify(known, m, r.Metric)
		if err != nil {
			continue
		}
		all := append(MetricResiduals(id.Circuit, m), Residual{shiftResidual, float64(id.Circuit.Shift / SigmaShift)})
		cost, agree := 0.0, true
		for _, x := range all {
			if x.Metric != r.Metric {
				cost += x.Sigma * x.Sigma
				agree = agree && math.Abs(x.Sigma) <= DoubtfulSigma
			}
		}
		if agree && cost < least {
			least = cost
			e.Identification, e.LeftOut = id, r.Metric
			e.Residuals = all
		}
	}
}

// Misfit is how far capacity and resistance would have to be off, relative and each alone, to cover the residuals beyond
// [DoubtfulSigma] of a circuit's tests: capacity and energy go as the one, burst and the sag at half charge as the other.
func Misfit(c Circuit, residuals []Residual, m TestedMetrics) (q, r float64) {
	for _, x := range residuals {
		off := math.Abs(x.Sigma)
		if off <= DoubtfulSigma {
			continue
		}
		switch x.Metric {
		case "capacity":
			q = max(q, SigmaCapacity*off)
		case "energy":
			q = max(q, SigmaEnergy*off)
		case "burst power", "burst current":
			r = max(r, SigmaBurst*off)
		case "mid voltage":
			sag := float64(c.OpenVoltage(0.5) - m.MidVoltage)
			r = max(r, SigmaMidVoltage*off*float64(m.MidVoltage)/max(sag, 0.01*float64(m.MidVoltage)))
		case shiftResidual:
			sag := float64(c.OpenVoltage(0.5)) - float64(m.MidVoltage)
			r = max(r, off*float64(SigmaShift)*float64(c.Cells)/max(sag, 0.01*float64(c.OpenVoltage(0.5))))
		}
	}
	return min(q, mostSigma), min(r, mostSigma)
}
