package model

import (
	"fmt"
	"math"
)

// When another open-circuit curve than the label's is looked for, and what it must bring (own judgement: good
// packs' logs are met within 2 to 8 mV, and those of a cell taken for the other chemistry within 25 to 55 mV).
const (
	wellFit         Voltage = 0.010 // per cell, RMS
	otherCurveShare float64 = 0.5   // of the RMS that the label's curve leaves
)

// ExplainLogs finds the circuit of a pack's tests from their traces, as [FitLogs] does, and where the curve of
// the label's chemistry leaves much, tries the others: one that comes twice as near is kept and named. Where no
// traces fix a circuit it goes on to the tested metrics with [Explain], then to discharges at several loads
// with [IdentifyRates], and last to whichever single test there is with [IdentifyPartly]. The order of traces
// and rates is nothing. The error means that there is no test that a circuit can be made of.
func ExplainLogs(known Circuit, label Label, traces []Trace, rates []TestedMetrics, m TestedMetrics) (LogFit, error) {
	known = known.tested(m.Ambient)
	fit, unfit := FitLogs(known, traces)
	if unfit != nil || fit.RMS > wellFit {
		if other, found := otherCurve(known, label, traces, fit, unfit); found {
			fit, unfit = other, nil
		}
	}
	if unfit == nil {
		fit.Residuals = MetricResiduals(fit.Circuit, m)
		fit.MisfitQ, fit.MisfitR = Misfit(fit.Circuit, fit.Residuals, m)
		return fit, nil
	}
	why := unfit.Error()
	if e, err := Explain(known, label, m); err == nil {
		return LogFit{Explanation: e, Fallback: why}, nil
	}
	id, err := IdentifyRates(known, rates)
	if err != nil {
		id, err = IdentifyPartly(known, label, m)
	}
	if err != nil {
		return LogFit{}, fmt.Errorf("%w, and %w", unfit, err)
	}
	fit = LogFit{Explanation: Explanation{Identification: id}, Fallback: why}
	fit.MisfitQ, fit.MisfitR = Misfit(fit.Circuit, fit.Residuals, m)
	return fit, nil
}

// otherCurve is the nearest fit with the curve of another chemistry; found is false where none is far nearer
// than own, or, where unfit says that there is none, near.
func otherCurve(known Circuit, label Label, traces []Trace, own LogFit, unfit error) (best LogFit, found bool) {
	most := Voltage(otherCurveShare) * own.RMS
	if unfit != nil {
		most = wellFit
	}
	for _, chemistry := range Chemistries() {
		curve, err := CurveOf(chemistry)
		if err != nil || chemistry == label.Chemistry {
			continue
		}
		known.Curve = curve.even()
		if fit, err := FitLogs(known, traces); err == nil && fit.RMS < most {
			most, best, found = fit.RMS, fit, true
			best.OtherCurve = chemistry
			best.Unusual = otherCurveWords(chemistry, label)
		}
	}
	return best, found
}

// otherCurveWords name an open-circuit curve that is not the label's.
func otherCurveWords(chemistry Chemistry, label Label) string {
	return fmt.Sprintf("its open-circuit curve is that of %s, not of %s", chemistry, label.Chemistry)
}

// IdentifyPartly finds the circuit of a pack of which one kind of test is there only. What the other would have
// told is taken as for a pack that nobody tested, see [LabelCircuit], with that sigma: the steady resistance
// without a burst test, the capacity without a discharge. With both it is [Identify].
func IdentifyPartly(known Circuit, label Label, m TestedMetrics) (Identification, error) {
	return identify(known, m, label)
}

// labelCapacityResidual and labelResistanceResidual name the residuals of what a label stands for.
const (
	labelCapacityResidual   = "capacity of the label"
	labelResistanceResidual = "usual resistance"
)

// labelTerms adds what a label says of the test that is missing.
func (f *metricFit) labelTerms(label Label) {
	if !f.tested.Discharged() {
		q := LabelCapacity * float64(label.Rated)
		f.terms[f.count] = metricTerm{labelCapacityResidual, q, LabelCapacitySigma * float64(label.Rated), func(o *simulatedTests) float64 { return float64(o.circuit.Capacity) }}
		f.count++
	}
	if !f.tested.Bursted() {
		f.terms[f.count] = metricTerm{labelResistanceResidual, 0, LabelRSigma, func(o *simulatedTests) float64 {
			return math.Log(o.circuit.At(usualTemperature(), usualTemperature()).SteadyRTimesCapacity() / DefaultSteadyR)
		}}
		f.count++
	}
}
