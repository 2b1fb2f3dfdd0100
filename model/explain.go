package model

import (
	"fmt"
	"math"
)

// Label is what a pack's label says beyond its number of cells.
type Label struct {
	Chemistry Chemistry
	Rated     Charge
}

// Explanation is the circuit that comes nearest to a pack's tests, and what had to be taken for unusual to get there.
type Explanation struct {
	Identification

	// OtherCurve is the chemistry whose open-circuit curve the circuit has, where that is not the label's.
	OtherCurve Chemistry
	// Unusual says in words what of the pack is not as usual; "" where the usual explains the tests, and where
	// nothing does.
	Unusual string
	// LeftOut is the metric that the others contradict, and which the circuit was made without; "" for none.
	LeftOut string
	// MisfitQ and MisfitR are how far capacity and resistance would have to be off to cover what the circuit
	// misses of the metrics, relative; 0 where nothing is beyond [DoubtfulSigma].
	MisfitQ, MisfitR float64
}

// What makes Explain leave out a metric (own judgement).
const (
	farSigma  = 10 // the residual from which on one metric is looked for that is wrong,
	clearCost = 8  // and how much worse, in half squares of sigmas, leaving out any other must be
)

// attempt is one thing that a pack may have otherwise than usual.
type attempt struct {
	unusual string
	sigmas  float64 // how unusual that is
	curve   Chemistry
	change  func(c *Circuit)
}

// wrongLabel is how unusual another chemistry than the label's is, in sigmas (own judgement).
const wrongLabel = 2

// attempts are all that Explain tries.
func attempts(known Circuit, label Label) []attempt {
	var list []attempt
	if known.K != 0 {
		charge := func(sigmas float64, how string) {
			list = append(list, attempt{
				fmt.Sprintf("its resistance depends %s on charge than is usual", how), math.Abs(sigmas), "", func(c *Circuit) { c.K += sigmas * UsualKSigma },
			})
		}
		charge(-1, "less")
		charge(1, "more")
		charge(2, "much more")
	}
	if known.HeatCapacity > 0 {
		list = append(list,
			attempt{"it warms itself less than is usual", 1, "", func(c *Circuit) { c.HeatCapacity *= HeatFactor }},
			attempt{"it warms itself more than is usual", 1, "", func(c *Circuit) { c.HeatCapacity /= HeatFactor }})
	}
	for _, chemistry := range Chemistries() {
		if curve, err := CurveOf(chemistry); err == nil && chemistry != label.Chemistry {
			list = append(list, attempt{
				otherCurveWords(chemistry, label), wrongLabel, chemistry, func(c *Circuit) { c.Curve = curve.even() },
			})
		}
	}
	return list
}

// Explain finds the circuit of tested metrics as [Identify] does. Where that leaves a residual beyond 3 sigma
// it tries a charge dependence up to two sigmas from the usual one, a heat capacity up to one, and the other
// curves; of those that bring all residuals within 3 sigma the least unusual is kept and named: the least
// squares with its own. Metrics that nothing brings together, one of them beyond 10 sigma, are identified
// without the one that the rest and the label contradict, if there is clearly one; else the nearest circuit
// stays. The residuals are always those of all metrics; the errors are those of Identify.
func Explain(known Circuit, label Label, m TestedMetrics) (Explanation, error) {
	f, err := newMetricFit(known, m, Label{})
	if err != nil {
		return Explanation{}, err
	}
	usual, err := f.solve()
	if err != nil {
		return Explanation{}, err
	}
	best := Explanation{Identification: usual}
	worst, bad := usual.Doubtful()
	if !bad {
		return best, nil
	}
	least := math.Inf(1)
	var found metricFit
	var foundHere fitPoint
	for _, a := range attempts(known, label) {
		c := known
		a.change(&c)
		other := f.otherwise(c)
		if begin := other.at(f.best); !other.hopeful(&begin) {
			continue
		}
		here, err := other.descend(f.best, true)
		if err != nil || !here.agrees(DoubtfulSigma) {
			continue
		}
		if squares := a.sigmas*a.sigmas + 2*here.cost; squares < least {
			least, found, foundHere = squares, other, here
			best.Unusual, best.OtherCurve = a.unusual, a.curve
		}
	}
	if best.Unusual != "" {
		best.Identification = found.identification(foundHere)
		return best, nil
	}
	if math.Abs(worst.Sigma) > farSigma {
		best.leaveOut(f, label, m)
	}
	best.MisfitQ, best.MisfitR = Misfit(best.Circuit, best.Residuals, m)
	return best, nil
}

// leaveOut identifies without the one metric that leaves the others in agreement, with each other and with the label.
func (e *Explanation) leaveOut(f *metricFit, label Label, m TestedMetrics) {
	least, second := math.Inf(1), math.Inf(1)
	found := *e
	for _, r := range e.Residuals {
		if r.Metric == shiftResidual {
			continue
		}
		other := f.without(r.Metric)
		here, err := other.descend(f.best, false)
		if err != nil {
			continue
		}
		id := other.identification(here)
		all := append(MetricResiduals(id.Circuit, m), Residual{shiftResidual, float64(id.Circuit.Shift / SigmaShift)})
		cost, agree := 0.0, true
		for _, x := range all {
			if x.Metric != r.Metric {
				cost += x.Sigma * x.Sigma / 2
				agree = agree && math.Abs(x.Sigma) <= DoubtfulSigma
			}
		}
		if !agree {
			continue
		}
		if label.Rated > 0 {
			off := (float64(id.Circuit.Capacity/label.Rated) - LabelCapacity) / LabelCapacitySigma
			cost += off * off / 2
		}
		if cost < least {
			least, second = cost, least
			found.Identification, found.LeftOut = id, r.Metric
			found.Residuals = all
		} else {
			second = min(second, cost)
		}
	}
	if second > least+clearCost {
		*e = found
	}
}

// Misfit is how far capacity and resistance would have to be off, relative and each alone, to cover the
// residuals beyond [DoubtfulSigma] of a circuit's tests: capacity and energy go as the one, burst and voltages,
// over what the discharge pulls the voltage down by, as the other. It is a half at most, beyond which nothing
// is known.
func Misfit(c Circuit, residuals []Residual, m TestedMetrics) (q, r float64) {
	sag := 0.0 // V
	sagOf := func(v float64) float64 {
		if sag == 0 {
			e := float64(c.OpenVoltage(0.5))
			loaded := float64(m.Protocol.BurstEndPerCell) * float64(c.Cells)
			if m.Discharged() {
				loaded = float64(c.Tests(m.Protocol).MidVoltage)
			}
			sag = max(e-loaded, 0.01*e)
		}
		return v / sag
	}
	mean := 0.0 // by how much capacity and energy disagree, relative
	for _, x := range residuals {
		off := math.Abs(x.Sigma)
		if off <= DoubtfulSigma {
			continue
		}
		switch x.Metric {
		case "capacity", labelCapacityResidual:
			q = max(q, SigmaCapacity*off)
			mean -= SigmaCapacity * x.Sigma
		case "energy":
			q = max(q, SigmaEnergy*off)
			mean += SigmaEnergy * x.Sigma
		case "burst power", "burst current":
			r = max(r, SigmaBurst*off)
		case "mid voltage":
			r = max(r, sagOf(SigmaMidVoltage*off*float64(m.MidVoltage)))
		case shiftResidual:
			r = max(r, sagOf(off*float64(SigmaShift)*float64(c.Cells)))
		}
	}
	if mean != 0 && !(m.MidVoltage > 0) {
		// Their ratio is a mean voltage, which nothing else speaks for or against.
		r = max(r, sagOf(math.Abs(mean)*float64(c.OpenVoltage(0.5))))
	}
	return min(q, mostSigma), min(r, mostSigma)
}
