package model

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
)

// How a steady resistance R, which is all that slow tests fix, is taken apart
// (assumptions from memory; the 10 s resistance of the cells in the reference data is
// 0.6 to 0.7 of the steady one).
const (
	FastShare      = 0.65 // R0 / R
	RCTime    Time = 20   // tau
)

// One-sigma weights of the tested metrics in the identification, relative, and the
// prior of the curve's shift about zero, per cell.
const (
	SigmaCapacity           = 0.01
	SigmaEnergy             = 0.01
	SigmaMidVoltage         = 0.003
	SigmaBurst              = 0.03
	SigmaShift      Voltage = 0.020
)

// DoubtfulSigma is the residual beyond which metrics contradict each other.
const DoubtfulSigma = 3

// Residual is how far the circuit's simulated test is from a tested metric, in sigmas.
type Residual struct {
	Metric string // "capacity", "energy", "mid voltage", "burst power", "burst current", "shift", or what a label stands for
	Sigma  float64
}

// shiftResidual names the residual of the curve's shift among those of the metrics.
const shiftResidual = "shift"

// Identification is a circuit with how well it meets what it was made from.
type Identification struct {
	Circuit   Circuit
	Residuals []Residual

	// SigmaQ and SigmaR are what the metrics' own sigmas leave open of capacity and resistance, with what an
	// unknown charge dependence and heat put into them: one standard deviation, relative.
	SigmaQ, SigmaR float64

	// Steeper is what the same metrics make of the rest of the circuit where its charge dependence is more: that
	// part of the sigmas goes with it.
	Steeper Steeper
}

// Steeper is by how much log capacity, log resistance and the curve's shift change with a charge dependence that is
// [UsualKSigma] more, so that the circuit meets the same metrics: first-order, for dependences near by.
type Steeper struct {
	LogQ, LogR float64
	Shift      Voltage
}

// Moved is a circuit with a charge dependence that is by more, between [LeastK] and [MostK].
func (s Steeper) Moved(c Circuit, by float64) Circuit {
	was := c.K
	c.K = min(max(c.K+by, LeastK), MostK)
	sigmas := (c.K - was) / UsualKSigma
	r := Resistance(math.Exp(s.LogR * sigmas))
	c.Capacity *= Charge(math.Exp(s.LogQ * sigmas))
	c.R0, c.R1 = c.R0*r, c.R1*r
	c.Shift += s.Shift * Voltage(sigmas)
	return c
}

// Doubtful is the residual furthest beyond 3 sigma; ok is false where there is none,
// that is where the metrics go together.
func (id Identification) Doubtful() (worst Residual, ok bool) {
	for _, r := range id.Residuals {
		if math.Abs(r.Sigma) > DoubtfulSigma && math.Abs(r.Sigma) > math.Abs(worst.Sigma) {
			worst, ok = r, true
		}
	}
	return worst, ok
}

// ErrTooFewMetrics means that metrics do not fix a circuit: a capacity or an energy,
// and a burst power or current, are the least.
var ErrTooFewMetrics = errors.New("a tested pack needs capacity or energy, and burst power or burst current")

// Identify finds the circuit whose simulated tests are nearest to the tested metrics, by least squares on log
// capacity, log resistance and the curve's shift, each residual divided by its sigma. Metrics that were not
// measured drop out. What is known of the pack beforehand, its cells, curve, charge dependence and heat, stays
// as it is, see [NewCircuit]; the tests begin at their ambient temperature, to which the resistances found
// belong.
//
// It starts from closed forms and follows damped Gauss-Newton steps, the Jacobian by forward
// differences. ErrTooFewMetrics is the only error that
// plausible metrics can cause; figures that no circuit comes near are kept with their
// residuals, for the caller to call doubtful.
func Identify(known Circuit, m TestedMetrics) (Identification, error) {
	return identify(known, m, Label{})
}

// identify is Identify where a label, if there is one, stands for a kind of test that is missing.
func identify(known Circuit, m TestedMetrics, label Label) (Identification, error) {
	f, err := newMetricFit(known, m, label)
	if err != nil {
		return Identification{}, err
	}
	return f.solve()
}

// Where a descent ends: half the sum of squares would fall by less than settled plus settledShare of itself, or it
// has tried often. A Jacobian that has been mended is taken anew where it would fall by less than nearly.
const (
	settled      = 1e-7
	settledShare = 1e-6
	nearly       = 1e-4
	mostTrials   = 60
)

// bounds are how far parameters may go from the start, that a wild trial step cannot overflow and figures that
// no pack has do not end in a curve that none has: a factor of e^3, and 25 sigma (0.5 V) of shift. longest is
// the longest step: what tests say of a circuit far off is not followed further.
func bounds() [3]float64  { return [3]float64{3, 3, 25} }
func longest() [3]float64 { return [3]float64{0.3, 0.5, 3} }

// solve finds the circuit from the start, and what the metrics leave open of it; f stays at it.
func (f *metricFit) solve() (Identification, error) {
	here, err := f.descend([3]float64{}, false)
	if err != nil {
		return Identification{}, err
	}
	return f.identification(here), nil
}

// identification is the solution with its errors; here are its residuals.
func (f *metricFit) identification(here fitPoint) Identification {
	id := Identification{Circuit: f.circuit(f.best), Residuals: make([]Residual, f.count)}
	for i := range f.count {
		id.Residuals[i] = Residual{Metric: f.terms[i].metric, Sigma: here.residual[i]}
	}
	f.linearise(f.best, here)
	f.normal(here)
	id.SigmaQ, id.SigmaR = f.sigmas()
	f.addUnknown(f.best, &id)
	return id
}

// descend goes from x to the least sum of squares by damped Gauss-Newton steps; f.best is where it ends. It begins
// with what usual tests have for a Jacobian. Between two Jacobians by differences each step mends the last one by what
// it has found, and none settles on a mended one. A descent that is for agreement alone gives up sooner: where it is
// no longer hopeful, or is nearly there, and a residual is clearly beyond [DoubtfulSigma].
//
// Sources: D. Marquardt, An algorithm for least-squares estimation of nonlinear parameters, J. SIAM 11 (1963) 431;
// C. G. Broyden, A class of methods for solving nonlinear simultaneous equations, Math. Comp. 19 (1965) 577.
func (f *metricFit) descend(x [3]float64, agreement bool) (fitPoint, error) {
	here := f.at(x)
	if !(here.cost < math.Inf(1)) {
		return here, errors.New("no circuit comes near the tested metrics")
	}
	if !f.linear && !f.usualJacobian() {
		f.linearise(x, here)
	}
	damping := 0.0
	for k := range mostTrials {
		f.normal(here)
		if agreement && k > 0 && !f.hopeful(&here) {
			break
		}
		trial, promised, ok := f.trial(x, damping)
		if !ok || promised < nearly {
			if agreement && !here.agrees(1.05*DoubtfulSigma) {
				break
			}
			if f.linearise(x, here) {
				continue
			}
			if ok && promised < settled+settledShare*here.cost {
				break
			}
		}
		if !ok {
			damping = max(10*damping, leastDamping)
			continue
		}
		there := f.at(trial)
		gain := here.cost - there.cost
		if !(gain >= 0) {
			if !f.linearise(x, here) {
				damping = max(10*damping, leastDamping)
			}
			continue
		}
		f.mend(x, trial, &here, &there)
		x, here, damping = trial, there, damping/10
		if damping < leastDamping {
			damping = 0
		}
	}
	f.best = x
	return here, nil
}

// trial is x after a damped step that ends at the bounds, and what it promises of half the sum of squares. A
// parameter at a bound that would go beyond, or on which no metric depends, stays.
func (f *metricFit) trial(x [3]float64, damping float64) (to [3]float64, promised float64, ok bool) {
	h, g := f.hessian, f.gradient
	most := bounds()
	for i := range 3 {
		if math.Abs(x[i]) >= most[i] && x[i]*g[i] <= 0 || !(h[i][i] > 0) {
			g[i] = 0
			for j := range 3 {
				h[i][j], h[j][i] = 0, 0
			}
			h[i][i] = 1
		}
	}
	step, ok := solve3(&h, &g, damping)
	long := 1.0
	for i, l := range longest() {
		long = max(long, math.Abs(step[i])/l)
	}
	for i := range to {
		to[i] = min(max(x[i]-step[i]/long, -most[i]), most[i])
	}
	return to, floats.Dot(step[:], g[:]) / 2, ok
}

// leastDamping is how much a diagonal is raised by where a whole step went wrong.
const leastDamping = 1e-2

// solve3 solves (h + damping diag h) x = b by Cholesky factors; ok is false where h is not positive definite.
func solve3(h *[3][3]float64, b *[3]float64, damping float64) (x [3]float64, ok bool) {
	var l [3][3]float64
	for i := range 3 {
		for j := range i + 1 {
			sum := h[i][j]
			if i == j {
				sum *= 1 + damping
			}
			for k := range j {
				sum -= l[i][k] * l[j][k]
			}
			if i != j {
				l[i][j] = sum / l[j][j]
				continue
			}
			if !(sum > 0) {
				return x, false
			}
			l[i][i] = math.Sqrt(sum)
		}
	}
	for i := range 3 {
		x[i] = b[i]
		for k := range i {
			x[i] -= l[i][k] * x[k]
		}
		x[i] /= l[i][i]
	}
	for i := 2; i >= 0; i-- {
		for k := i + 1; k < 3; k++ {
			x[i] -= l[k][i] * x[k]
		}
		x[i] /= l[i][i]
	}
	return x, true
}

// metricFit is the least-squares problem of Identify: at most 5 residuals in 3
// parameters (log Q/q0, log R/r0, shift/SigmaShift).
type metricFit struct {
	known  Circuit
	tested TestedMetrics
	q0, r0 float64

	best [3]float64 // the parameters of the solution

	terms [5]metricTerm
	count int

	tests simulatedTests // as they were run last

	last struct {
		x     [3]float64
		valid bool
		point fitPoint
	}
	jacobian [3][5]float64 // of the residuals, by parameter
	linear   bool          // there is one
	linearAt [3]float64    // where it was last taken by differences
	exact    bool          // of this very problem
	gradient [3]float64
	hessian  [3][3]float64
}

type metricTerm struct {
	metric        string
	tested, sigma float64
	simulated     func(o *simulatedTests) float64
}

type simulatedTests struct {
	circuit   Circuit
	discharge Discharge
	burst     Burst
}

type fitPoint struct {
	residual [5]float64 // in sigmas
	cost     float64    // half their sum of squares
}

// agrees reports whether all residuals are within some sigmas.
func (p *fitPoint) agrees(within float64) bool {
	for _, r := range p.residual {
		if math.Abs(r) > within {
			return false
		}
	}
	return true
}

func newMetricFit(known Circuit, m TestedMetrics, label Label) (*metricFit, error) {
	discharged, bursted := m.Discharged(), m.Bursted()
	if partly := label.Rated > 0 && (discharged || bursted); !partly && !(discharged && bursted) {
		return nil, ErrTooFewMetrics
	}
	switch p := m.Protocol; {
	case known.Cells < 1:
		return nil, fmt.Errorf("a pack has one cell or more, not %d", known.Cells)
	case discharged && !(p.DischargePower > 0 || p.DischargeCurrent > 0):
		return nil, errors.New("the discharge test has neither a power nor a current")
	case bursted && !(p.BurstEndPerCell > 0):
		return nil, errors.New("the burst test has no end voltage")
	case bursted && !(p.Ramp > 0):
		return nil, errors.New("the burst test has no current ramp")
	}
	f := &metricFit{known: known.tested(m.Ambient), tested: m}
	n := float64(known.Cells)
	add := func(metric string, tested, sigma float64, simulated func(*simulatedTests) float64) {
		if tested > 0 {
			f.terms[f.count] = metricTerm{metric, tested, sigma * tested, simulated}
			f.count++
		}
	}
	add("capacity", float64(m.Capacity), SigmaCapacity, func(o *simulatedTests) float64 { return float64(o.discharge.Delivered) })
	add("energy", float64(m.Energy), SigmaEnergy, func(o *simulatedTests) float64 { return float64(o.discharge.Energy) })
	add("mid voltage", float64(m.MidVoltage), SigmaMidVoltage, func(o *simulatedTests) float64 { return float64(o.discharge.MidVoltage) })
	// Power and current at a fixed voltage are one figure: count it once.
	if m.BurstPower > 0 {
		add("burst power", float64(m.BurstPower), SigmaBurst, func(o *simulatedTests) float64 { return float64(o.burst.Power) })
	} else {
		add("burst current", float64(m.BurstCurrent), SigmaBurst, func(o *simulatedTests) float64 { return float64(o.burst.Current) })
	}
	f.labelTerms(label)
	f.terms[f.count] = metricTerm{metric: shiftResidual}
	f.count++

	// Closed forms to start from: nearly all of the charge is delivered, and the burst
	// ends where a steady resistance takes the open voltage down to the end voltage.
	f.q0 = float64(m.Capacity) / 0.98
	if !(m.Capacity > 0) {
		f.q0 = float64(m.Energy) / (3.6 * n) / 0.98
	}
	if !discharged {
		f.q0 = LabelCapacity * float64(label.Rated)
	}
	if !bursted {
		f.r0 = DefaultSteadyR / (f.q0 / 3600) * n
		return f, nil
	}
	end := n * float64(m.Protocol.BurstEndPerCell)
	i := float64(m.BurstCurrent)
	if m.BurstPower > 0 {
		i = float64(m.BurstPower) / end
	}
	ic, ramp := float64(m.Protocol.ConditioningCurrent), m.Protocol.Ramp
	tc, tau := float64(m.Protocol.ConditioningTime), float64(RCTime)
	used, settled := ic*tc, i
	if rise := i - ic; rise > 0 && ramp > 0 {
		t := rise / ramp
		used += (i + ic) / 2 * t
		// What the RC element has seen of the current, as in BurstTest.
		settled = i - ramp*tau*(1-math.Exp(-t/tau)) - ic*math.Exp(-(t+tc)/tau)
	}
	left := min(max(1-used/f.q0, 0.1), 1)
	f.r0 = max(n*float64(known.Curve.At(left))-end, 0.02*n) / (FastShare*i + (1-FastShare)*settled)
	if known.HeatCapacity > 0 {
		// That is what is left of it in a pack as warm as the test has made it.
		start := f.known.StartTemperature()
		warmth := f.r0 * (ic*ic*tc + max(0, i*i*i-ic*ic*ic)/(3*ramp)) / known.HeatCapacity
		f.r0 *= ResistanceAt(start) / ResistanceAt(start+Temperature(warmth))
	}
	at := f.known
	at.R0 = 1
	emptier, _ := at.Resistances(left, at.StartTemperature())
	f.r0 /= float64(emptier)
	return f, nil
}

// circuit makes one of parameters.
func (f *metricFit) circuit(x [3]float64) Circuit {
	r := Resistance(f.r0 * math.Exp(x[1]))
	c := f.known
	c.Capacity = Charge(f.q0 * math.Exp(x[0]))
	c.R0, c.R1, c.Tau = r*FastShare, r*(1-FastShare), RCTime
	c.Shift = Voltage(x[2]) * SigmaShift
	return c
}

// at is the residuals and half their sum of squares at x.
func (f *metricFit) at(x [3]float64) fitPoint {
	if f.last.valid && f.last.x == x {
		return f.last.point
	}
	c := f.circuit(x)
	o, proto := &f.tests, f.tested.Protocol
	*o = simulatedTests{circuit: c}
	if f.tested.Discharged() {
		o.discharge = c.Discharge(proto.dischargeLoad(), Stop{PerCell: proto.DischargeEndPerCell})
	}
	if f.tested.Bursted() {
		o.burst = c.BurstTest(proto)
	}

	var p fitPoint
	for i := range f.count - 1 {
		t := &f.terms[i]
		p.residual[i] = (t.simulated(o) - t.tested) / t.sigma
	}
	p.residual[f.count-1] = x[2]
	for i := range f.count {
		p.cost += p.residual[i] * p.residual[i] / 2
	}
	f.last.x, f.last.point, f.last.valid = x, p, true
	return p
}

// mostSigma is the most that is believed of a relative sigma: beyond it nothing is known.
const mostSigma = 0.5

// sigmas are the standard deviations of log Q and log R: the diagonal of the inverse of
// the Gauss-Newton Hessian, whose residuals are in sigmas. Where the metrics fix nothing it
// is the most that is believed, a half.
func (f *metricFit) sigmas() (q, r float64) {
	const most = mostSigma
	h := &f.hessian
	det := h[0][0]*(h[1][1]*h[2][2]-h[1][2]*h[1][2]) -
		h[0][1]*(h[0][1]*h[2][2]-h[1][2]*h[0][2]) +
		h[0][2]*(h[0][1]*h[1][2]-h[1][1]*h[0][2])
	if !(det > 0) {
		return most, most
	}
	q = math.Sqrt(max(0, h[1][1]*h[2][2]-h[1][2]*h[1][2]) / det)
	r = math.Sqrt(max(0, h[0][0]*h[2][2]-h[0][2]*h[0][2]) / det)
	return min(q, most), min(r, most)
}

// addUnknown adds to the sigmas by how much capacity and resistance would move if the charge dependence or the
// heat of the pack were one sigma off what is known of it: one Gauss-Newton step from the solution, linearised
// there.
func (f *metricFit) addUnknown(x [3]float64, id *Identification) {
	base := f.at(x).residual
	known := f.known
	var unknown [3]Circuit
	n := 0
	if known.K != 0 {
		unknown[n] = known
		unknown[n].K += UsualKSigma
		n++
	}
	if known.HeatCapacity > 0 {
		unknown[n], unknown[n+1] = known, known
		unknown[n].HeatCapacity *= HeatFactor
		unknown[n].CoolingTime *= HeatFactor // the same loss to the air
		unknown[n+1].CoolingTime *= HeatFactor
		n += 2
	}
	for _, c := range unknown[:n] {
		f.known, f.last.valid = c, false
		moved := f.at(x).residual
		for i := range f.count {
			moved[i] -= base[i]
		}
		if step, ok := f.step(&moved); ok {
			if c.K != known.K {
				id.Steeper = Steeper{step[0], step[1], Voltage(step[2]) * SigmaShift}
			}
			id.SigmaQ = min(math.Hypot(id.SigmaQ, step[0]), mostSigma)
			id.SigmaR = min(math.Hypot(id.SigmaR, step[1]), mostSigma)
		}
	}
	f.known, f.last.valid = known, false
}

// step is the Gauss-Newton step that takes residuals away, by the Jacobian as it was taken last.
func (f *metricFit) step(residual *[5]float64) (step [3]float64, ok bool) {
	var gradient [3]float64
	for i := range 3 {
		gradient[i] = -floats.Dot(f.jacobian[i][:f.count], residual[:f.count])
	}
	return solve3(&f.hessian, &gradient, 0)
}

// otherwise is the problem of a pack that is known otherwise, at the solution of f with its Jacobian.
func (f *metricFit) otherwise(known Circuit) metricFit {
	g := *f
	g.known, g.exact, g.last.valid = known.tested(f.tested.Ambient), false, false
	return g
}

// looseness is how many times its usual sigma a metric gets that is not to count.
const looseness = 100

// without is the problem in which a metric hardly counts, at the solution of f.
func (f *metricFit) without(metric string) metricFit {
	g := *f
	g.last.valid = false
	for i := range g.count {
		if g.terms[i].metric == metric {
			g.terms[i].sigma *= looseness
			for j := range g.jacobian {
				g.jacobian[j][i] /= looseness
			}
		}
	}
	return g
}

// mayFall is how many times [DoubtfulSigma] a residual may be by one Gauss-Newton step where all come within it in the
// end: of 1,393 descents that ended so, for 83,000 random packs, none had more than 1.14.
const mayFall = 1.15

// hopeful reports whether the residuals of a point may all come within [DoubtfulSigma], judged by one Gauss-Newton step
// from it: far cheaper than to solve.
func (f *metricFit) hopeful(here *fitPoint) bool {
	step, ok := f.step(&here.residual)
	if !ok {
		return true
	}
	for i := range f.count {
		r := here.residual[i]
		for a := range 3 {
			r += f.jacobian[a][i] * step[a]
		}
		if math.Abs(r) > mayFall*DoubtfulSigma {
			return false
		}
	}
	return true
}

// sameJacobian is how far log Q and log R may move with the Jacobian kept, and sameShift the shift, which tests
// hang on nearly linearly, where metrics go together well, with half the sum of squares below 1: its change over that
// moves a solution by about a hundredth of a sigma. With larger residuals it moves it by as much more, so there they
// may go less far, down to the least.
const (
	sameJacobian, leastSame = 0.01, 1e-3
	sameShift, leastShift   = 0.1, 0.02
)

// linearise takes the Jacobian by differences at x, where here are the residuals. It is false, and nothing is
// done, where the last one that was taken so is near enough.
func (f *metricFit) linearise(x [3]float64, here fitPoint) bool {
	const h = 1e-5
	at, residual := f.linearAt, math.Sqrt(max(1, here.cost))
	near, nearShift := max(leastSame, sameJacobian/residual), max(leastShift, sameShift/residual)
	if f.exact && floats.Distance(x[:2], at[:2], math.Inf(1)) <= near && math.Abs(x[2]-at[2]) <= nearShift {
		return false
	}
	for j := range 3 {
		y := x
		y[j] += h
		moved := f.at(y)
		for i := range f.count {
			f.jacobian[j][i] = (moved.residual[i] - here.residual[i]) / h
		}
	}
	f.linearAt, f.linear, f.exact = x, true, true
	f.last.x, f.last.point = x, here
	return true
}

// usualSlope is by how much the logarithm of a metric rises with log Q, with log R and with a sigma of shift in the
// usual tests of usual LiPo packs, as they are simulated here: near enough for first steps, which are mended; none that
// settles is taken by it.
func usualSlope(metric string) (slope [3]float64, ok bool) {
	switch metric {
	case "capacity":
		return [3]float64{1, -0.022, 0.0018}, true
	case "energy":
		return [3]float64{1, -0.063, 0.0072}, true
	case "mid voltage":
		return [3]float64{0.004, -0.041, 0.0056}, true
	case "burst power", "burst current":
		return [3]float64{0.36, -0.64, 0.028}, true
	}
	return slope, false
}

// usualJacobian makes the Jacobian that of usual tests, which costs none. It is false, and nothing is done, where one
// of the terms has no usual slope.
func (f *metricFit) usualJacobian() bool {
	var jacobian [3][5]float64
	for i := range f.count - 1 {
		t := &f.terms[i]
		slope, ok := usualSlope(t.metric)
		if !ok {
			return false
		}
		for j := range slope {
			jacobian[j][i] = slope[j] * t.tested / t.sigma
		}
	}
	jacobian[2][f.count-1] = 1 // of the shift itself
	f.jacobian, f.linear = jacobian, true
	return true
}

// mend changes the Jacobian the least, in steps of longest, that it gives what a step from one point to another
// has shown.
func (f *metricFit) mend(from, to [3]float64, here, there *fitPoint) {
	var step, share [3]float64
	squares := 0.0
	for j, long := range longest() {
		step[j] = to[j] - from[j]
		share[j] = step[j] / (long * long)
		squares += step[j] * share[j]
	}
	if squares == 0 {
		return
	}
	for i := range f.count {
		missed := there.residual[i] - here.residual[i]
		for j := range 3 {
			missed -= f.jacobian[j][i] * step[j]
		}
		for j := range 3 {
			f.jacobian[j][i] += missed * share[j] / squares
		}
	}
}

// normal fills gradient and Gauss-Newton Hessian by the Jacobian.
func (f *metricFit) normal(here fitPoint) {
	for a := range 3 {
		f.gradient[a] = floats.Dot(f.jacobian[a][:f.count], here.residual[:f.count])
		for b := range 3 {
			f.hessian[a][b] = floats.Dot(f.jacobian[a][:f.count], f.jacobian[b][:f.count])
		}
	}
}
