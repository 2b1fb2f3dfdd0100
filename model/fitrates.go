package model

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/optimize"
)

// sigmaBetweenLoads is one sigma of the difference of mid voltages at two loads, relative to
// the voltage: what the usual curve gets wrong of a cell is nearly the same in both.
const sigmaBetweenLoads = 0.0005

// ErrTooFewRates means that discharges do not fix a resistance.
var ErrTooFewRates = errors.New("without a burst test a circuit needs discharges at two loads, each with capacity or energy and mid voltage")

// IdentifyRates finds the circuit whose simulated discharges are nearest to the tested ones at two or more
// loads, where there is no burst test: least squares on log capacity, log resistance and shift with the weights
// of [Identify]. All begin at the ambient temperature of the one at the least load; their order is nothing.
// Burst figures are not looked at. ErrTooFewRates is the only error that plausible figures can cause.
func IdentifyRates(known Circuit, tests []TestedMetrics) (Identification, error) {
	tests = slices.SortedStableFunc(slices.Values(tests), func(a, b TestedMetrics) int {
		return cmp.Or(cmp.Compare(meanCurrent(a), meanCurrent(b)), cmp.Compare(a.Capacity, b.Capacity), cmp.Compare(a.Energy, b.Energy))
	})
	lowest, highest := math.Inf(1), 0.0
	q0 := 0.0
	for _, m := range tests {
		if m.MidVoltage <= 0 || (m.Capacity <= 0 && m.Energy <= 0) {
			return Identification{}, ErrTooFewRates
		}
		load := meanCurrent(m)
		lowest, highest = min(lowest, load), max(highest, load)
		q0 = max(q0, float64(m.Capacity), float64(m.Energy)/float64(m.MidVoltage))
	}
	if len(tests) < 2 || highest < 1.3*lowest {
		return Identification{}, ErrTooFewRates
	}
	r0 := DefaultSteadyR / (q0 / 3600) * float64(known.Cells)
	circuit := func(x []float64) Circuit {
		r := Resistance(r0 * math.Exp(min(max(x[1], -3), 3)))
		c := known.tested(tests[0].Ambient)
		c.Capacity = Charge(q0 * math.Exp(min(max(x[0]/10, -1), 1)))
		c.R0, c.R1, c.Tau, c.Shift = r*FastShare, r*(1-FastShare), RCTime, Voltage(x[2])*SigmaShift
		return c
	}
	residuals := func(c Circuit) []Residual {
		var all []Residual
		first := 0.0 // by how much the first discharge's mid voltage is off
		for k, m := range tests {
			m.BurstPower, m.BurstCurrent = 0, 0
			all = append(all, MetricResiduals(c, m)...)
			mid := all[len(all)-1].Sigma * SigmaMidVoltage * float64(m.MidVoltage)
			if k == 0 {
				first = mid
				continue
			}
			all = append(all, Residual{Metric: "mid voltage between loads", Sigma: (mid - first) / (sigmaBetweenLoads * float64(m.MidVoltage))})
		}
		return append(all, Residual{Metric: "shift", Sigma: float64(c.Shift / SigmaShift)})
	}
	problem := optimize.Problem{Func: func(x []float64) float64 {
		cost := 0.0
		for _, r := range residuals(circuit(x)) {
			cost += r.Sigma * r.Sigma / 2
		}
		if math.IsNaN(cost) {
			return math.Inf(1)
		}
		return cost
	}}
	settings := &optimize.Settings{FuncEvaluations: 1500, Converger: &optimize.FunctionConverge{Absolute: 1e-7, Iterations: 30}}
	best, err := optimize.Minimize(problem, []float64{0.2, 0, 0}, settings, &optimize.NelderMead{SimplexSize: 0.3})
	if best == nil || len(best.X) != 3 || math.IsInf(best.F, 1) {
		return Identification{}, fmt.Errorf("no circuit near the tested discharges: %w", err)
	}
	c := circuit(best.X)
	return Identification{Circuit: c, Residuals: residuals(c)}, nil
}

// meanCurrent is about the current of a discharge.
func meanCurrent(m TestedMetrics) float64 {
	if m.Protocol.DischargePower > 0 {
		return float64(m.Protocol.DischargePower) / float64(m.MidVoltage)
	}
	return float64(m.Protocol.DischargeCurrent)
}
