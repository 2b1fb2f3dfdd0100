package model

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

// Priors and weights of the fit to full logs. A trace weighs as much as
// independentPoints independent points: its errors are those of the curve, and hang together.
const (
	sigmaTrace        = 0.003 // V per cell
	sigmaEnd          = 0.002 // of the charge that a discharge gives down to its end voltage
	sigmaEnergyGiven  = 0.002 // of the energy that a trace gives
	sigmaCharge       = 0.004 // of the charge: what the curve may be displaced by, felt where it is steep
	sigmaShare        = 0.15  // of R1/(R0 + R1) about 1 - FastShare
	sigmaShareTight   = 0.02
	leastScatter      = 0.1 // of a trace about the fit, in sigmaTrace: what it weighs against the priors
	mostScatter       = 10
	sigmaLogTau       = 0.7
	sigmaStretch      = 0.02
	sigmaBump         = 0.020 // V per cell, of the curve's own shape
	independentPoints = 20
	steepEnd          = 0.10 // of the charge, where a curve falls too steeply to count in the RMS
	tracePoints       = 250  // of a log in the fit
	earlyPoints       = 20   // of those, unmerged ones at its start
	stretchPivot      = 3.8  // V per cell, which a stretch leaves where it is
)

// What a fit may be before the tested metrics are the better source.
const (
	worstRMS    = 0.060 // V per cell
	worstSigmaR = 0.30  // of R0 + R1, relative
)

// What a curve of the pack's own must win of the RMS about its logs before it takes the place of the usual curve, as
// a share and in V per cell: a shape that explains less is as likely noise.
// Where of several discharges one's own charge or energy is missed by more than mostMissed with the usual curve the
// pack's own takes its place, too. (With a single one it would hide that a burst is another pack's.)
const (
	ownCurveShare = 0.2
	ownCurveGain  = 0.001
	mostMissed    = 0.01
)

// What a first-order circuit with a curve of its chemistry gets wrong of a cell, relative: it
// adds to what the fit's scatter leaves open.
//
// Source: fits to one or two rates of two measured pouch cells (LCO 2.28 Ah, NMC 33 Ah), against the
// charge and resistance measured at the other rates. Own choice of the round figures.
const (
	ModelSigmaQ = 0.025
	ModelSigmaR = 0.14
	ModelSigmaK = 0.15 // of the charge dependence, not relative
)

// LogFit is a circuit that was fitted to full logs.
type LogFit struct {
	Explanation // residuals are those of the tested metrics

	// RMS of the traces about the fit, per cell, down to 10 % charge left: below, the
	// curve is so steep that a percent of charge is tens of millivolts. 0 after a fallback.
	RMS Voltage
	// Sigma is one standard deviation of each parameter: from the fit's Jacobian and the scatter that
	// remains, rows that hang together counted once; that of capacity and of R0 + R1 with the model's
	// own error, too, as that of K: [ModelSigmaQ], [ModelSigmaR] and [ModelSigmaK]. Zero after a fallback.
	Sigma CircuitSigma
	// CurveOff is how far the pack's own open-circuit curve is from the usual one, RMS per cell down to 10 %
	// charge left, a shift taken out; 0 where the usual curve serves. A pack with its own has it in the
	// circuit, and no Shift.
	CurveOff Voltage
	// Fallback says why the circuit was identified from the tested metrics instead; "" where it was not.
	Fallback string
}

// CircuitSigma holds standard deviations of a circuit's parameters.
type CircuitSigma struct {
	Capacity Charge
	R0, R1   Resistance
	Steady   Resistance // of R0 + R1, which is known better than its parts
	Tau      Time
	Shift    Voltage // per cell
	K        float64 // 0 where the fit was told that there is no charge dependence
}

// errUnfit is wrapped by the reasons for a fallback.
var errUnfit = errors.New("the logs do not fix a circuit")

// FitLogs finds the circuit whose voltage is nearest to the traces of a pack's tests
// under the currents that were logged, by weighted least squares.
//
// For a capacity, a time constant and a charge dependence the voltage is linear in R0, R1, and the curve's
// shift, stretch and five humps along the charge, so those are solved for directly (variable projection) and
// only the three are searched, by gonum's Nelder-Mead method. Stretch and humps are kept only where they
// explain a fifth of what the usual curve leaves, or where without them the circuit would miss the charge or
// energy of one of several discharges by more than 1 %. Capacity is the curve's stretch along the charge. The
// charge at a discharge's end voltage and, of several, its energy are observations of their own, to 0.2 %. Weak
// priors hold what traces leave open: R1/(R0 + R1) 0.35 +- 0.15, tau 20 s within a factor of two, shift 0 +- 20
// mV per cell, stretch of the voltages 1 +- 0.02, humps 0 +- 20 mV per cell, K about that of known by
// [UsualKSigma]; a known K of 0 stays 0. The pack warms itself along each trace, by the heat of the circuit
// found before, so the search is repeated until that is the same.
//
// Traces may be in any order. The error says why they do not fix a circuit; see [ExplainLogs] for what is left then.
//
// Source of the method: G. Golub, V. Pereyra, Separable nonlinear least squares, Inverse Problems 19 (2003) R1.
func FitLogs(known Circuit, traces []Trace) (LogFit, error) {
	known = known.tested(known.Temperature)
	traces = slices.SortedStableFunc(slices.Values(traces), orderOfTraces)
	f := newTraceFit(known, traces)
	if len(f.rows) < 30 {
		return LogFit{}, fmt.Errorf("%w: they have %d points under load", errUnfit, len(f.rows))
	}
	shaped := f.solve()
	if shaped != nil && !errors.Is(shaped, errNoCurve) {
		return LogFit{}, shaped
	}
	usual := newTraceFit(known, traces)
	usual.shapes = false
	if err := usual.solve(); err != nil {
		return LogFit{}, err
	}
	fit := usual.result()
	if shaped == nil {
		own := f.result()
		if own.RMS > fit.RMS*(1-ownCurveShare) || own.RMS > fit.RMS-ownCurveGain {
			if missed := usual.missed(); f.ends > 0 && missed >= mostMissed && f.missed() <= missed {
				fit = own
			}
		} else {
			fit = own
		}
	}
	if err := unfit(fit); err != nil {
		return LogFit{}, err
	}
	c := fit.Circuit
	fit.Sigma.Capacity = Charge(math.Hypot(float64(fit.Sigma.Capacity), ModelSigmaQ*float64(c.Capacity)))
	if fit.Sigma.K > 0 {
		fit.Sigma.K = math.Hypot(fit.Sigma.K, ModelSigmaK)
	}
	fit.Sigma.Steady = Resistance(math.Hypot(float64(fit.Sigma.Steady), ModelSigmaR*float64(c.R0+c.R1)))
	return fit, nil
}

// unfit says why a fit does not fix a circuit; nil where it does.
func unfit(fit LogFit) error {
	c, sigma := fit.Circuit, float64(fit.Sigma.Steady)
	switch {
	case !(c.R0 > 0) || !(c.R1 >= 0):
		return fmt.Errorf("%w: the best R0 is %.3g mohm and R1 %.3g mohm", errUnfit, c.R0.MilliOhms(), c.R1.MilliOhms())
	case fit.RMS > worstRMS:
		return fmt.Errorf("%w: the best is %.3g mV per cell off (RMS)", errUnfit, 1e3*float64(fit.RMS))
	case math.IsInf(sigma, 0) || math.IsNaN(sigma):
		return fmt.Errorf("%w: they leave the resistance quite open", errUnfit)
	case sigma > worstSigmaR*float64(c.R0+c.R1):
		return fmt.Errorf("%w: the resistance is open within %.0f %%", errUnfit, 100*sigma/float64(c.R0+c.R1))
	}
	return nil
}

// orderOfTraces is by what was delivered, then by what was held: a sum is the same to the last bit only in one order.
func orderOfTraces(a, b Trace) int {
	last := func(t Trace) (p TracePoint) {
		if n := len(t.Points); n > 0 {
			p = t.Points[n-1]
		}
		return p
	}
	p, q := last(a), last(b)
	return cmp.Or(cmp.Compare(p.Delivered, q.Delivered), cmp.Compare(p.Time, q.Time), cmp.Compare(p.Voltage, q.Voltage), cmp.Compare(len(a.Points), len(b.Points)))
}
