package model

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// traceRow is a point of the fit. Per cell: v is the voltage.
type traceRow struct {
	t, v, i, q float64
	first      bool    // begins a trace
	warmth     float64 // what the pack's temperature makes of its resistance
	end        bool    // the charge at the end voltage, an observation of its own
	weight     float64
}

// traceFit is the separable problem: nonlinear log(Q/q0), log(tau/20 s), K, the latter two in their priors' sigmas;
// linear R0, R1 per cell, shift, stretch - 1.
type traceFit struct {
	known   Circuit
	rows    []traceRow
	rest    []float64 // V per cell before load, one a trace that has it
	q0, r   float64
	share   float64 // sigma of R1's share
	scatter float64 // of the traces about the fit, in sigmaTrace
	shapes  bool
	ends    int // discharges whose energy is an observation: all where there are several, none where there is one

	design *mat.Dense
	target []float64
	best   linearValues
	x      []float64
}

// linearParameters are R0, R1, shift, stretch - 1 and bumps.
const linearParameters = 4 + bumps

type linearValues [linearParameters]float64

func newTraceFit(known Circuit, traces []Trace) *traceFit {
	f := &traceFit{known: known, share: sigmaShare, scatter: 1, shapes: true}
	n := float64(known.Cells)
	for _, tr := range traces {
		thinned := thin(tr.Points)
		w := math.Sqrt(independentPoints / float64(max(1, len(thinned))))
		for k, p := range thinned {
			f.rows = append(f.rows, traceRow{
				t: float64(p.Time), v: float64(p.Voltage) / n, i: float64(p.Current), q: float64(p.Delivered), first: k == 0, warmth: 1, weight: w,
			})
		}
		if len(thinned) > 0 {
			f.q0 = max(f.q0, float64(thinned[len(thinned)-1].Delivered)/0.98)
		}
		if e := tr.End; e.Delivered > 0 {
			f.rows = append(f.rows, traceRow{
				t: float64(e.Time), v: float64(e.Voltage) / n, i: float64(e.Current), q: float64(e.Delivered), first: len(thinned) == 0, end: true, warmth: 1, weight: 1,
			})
			f.ends++
		}
		if tr.Rest > 0 {
			f.rest = append(f.rest, float64(tr.Rest)/n)
		}
	}
	if f.ends == 1 {
		f.ends = 0 // its energy is met anyway, and must not hold the curve where a burst contradicts it
	}
	// The resistance's size only scales a prior; it is set again after a first search.
	f.r = DefaultSteadyR / max(f.q0/3600, 1e-3)
	rows := len(f.rows) + len(f.rest) + f.ends + linearParameters - 1
	f.design = mat.NewDense(rows, linearParameters, nil)
	f.target = make([]float64, rows)
	return f
}

// thin merges a trace to at most tracePoints, its beginning less than the rest.
func thin(points []TracePoint) []TracePoint {
	if len(points) <= tracePoints {
		return points
	}
	out := append([]TracePoint(nil), points[:earlyPoints]...)
	rest := points[earlyPoints:]
	per := (len(rest) + tracePoints - earlyPoints - 1) / (tracePoints - earlyPoints)
	for ; len(rest) >= per; rest = rest[per:] {
		var m TracePoint
		for _, p := range rest[:per] {
			m.Time += p.Time
			m.Voltage += p.Voltage
			m.Current += p.Current
			m.Delivered += p.Delivered
		}
		w := 1 / float64(per)
		m.Time *= Time(w)
		m.Voltage *= Voltage(w)
		m.Current *= Current(w)
		m.Delivered *= Charge(w)
		out = append(out, m)
	}
	return out
}

func (f *traceFit) capacity(x []float64) float64 { return f.q0 * math.Exp(min(max(x[0], -1), 1)) }
func (f *traceFit) tau(x []float64) float64 {
	return float64(RCTime) * math.Exp(min(max(x[1]*sigmaLogTau, -3), 3))
}

// k is the charge dependence, held where resistance stays above zero.
func (f *traceFit) k(x []float64) float64 {
	if f.known.K == 0 {
		return 0
	}
	return min(max(f.known.K+x[2]*UsualKSigma, LeastK), MostK)
}

// Bounds of a charge dependence that is believed.
const (
	LeastK = -0.3
	MostK  = 5
)

// fill makes the weighted design matrix and target at x.
func (f *traceFit) fill(x []float64) {
	q, tau, charge := f.capacity(x), f.tau(x), f.k(x)
	perHalf := 1 / (1 + charge*riseWithout(0.5))
	curve := &f.known.Curve
	var w, before float64 // settled current of the RC element, and the current a row ago
	var t float64
	raw := f.design.RawMatrix().Data
	put := func(row int, weight, i, settled, s, u, target float64) {
		d := raw[linearParameters*row : linearParameters*(row+1)]
		d[0], d[1], d[2] = -i*weight, -settled*weight, weight
		if f.shapes {
			d[3] = (u - stretchPivot) * weight
			for j := range bumps {
				d[4+j] = bump(j, s) * weight
			}
		}
		f.target[row] = target * weight
	}
	for k, p := range f.rows {
		i := p.i * p.warmth * (1 + charge*riseWithout(p.q/q)) * perHalf // that the resistances at half charge feel
		if p.first {
			w, before, t = 0, i, 0
		}
		if dt := p.t - t; dt > 0 {
			phi := math.Exp(-dt / tau)
			w = w*phi + i - before*phi - (i-before)*(1-phi)*tau/dt
		}
		before, t = i, p.t
		s := 1 - p.q/q
		u := float64(curve.At(s))
		slope := slopeAt(curve, s)
		if p.end {
			// What the voltage is off, over the curve's slope, is the charge that the end is off.
			put(k, 1/math.Hypot(leastScatter*sigmaTrace, slope*sigmaEnd*p.q/q), i, w, s, u, p.v-u)
			continue
		}
		put(k, p.weight/(f.scatter*math.Hypot(sigmaTrace, slope*sigmaCharge)), i, w, s, u, p.v-u)
	}
	row := len(f.rows)
	f.means(row)
	row += f.ends
	full := float64(curve.At(1))
	for _, v := range f.rest {
		put(row, 1/(f.scatter*sigmaTrace), 0, 0, 1, full, v-full)
		row++
	}
	clear(raw[linearParameters*row:])
	prior := func(parameter int, weight float64) { raw[linearParameters*row+parameter] = weight }
	prior(0, (1-FastShare)/(f.share*f.r))
	prior(1, -FastShare/(f.share*f.r))
	for parameter := 2; parameter < linearParameters; parameter++ {
		row++
		prior(parameter, 1/priorSigma(parameter))
	}
}

// slopeAt is how steep a curve is about a charge, V per cell over all of the charge.
func slopeAt(curve *Curve, s float64) float64 {
	const h = 0.01
	return float64(curve.At(s+h)-curve.At(s-h)) / (2 * h)
}

// means fills one row for each of several discharges, from a row on: its mean voltage over the charge, which is its
// energy, an observation of its own.
func (f *traceFit) means(row int) {
	if f.ends == 0 {
		return
	}
	raw := f.design.RawMatrix().Data
	for from, to := 0, 0; from < len(f.rows); from = to {
		to = from + 1
		for to < len(f.rows) && !f.rows[to].first {
			to++
		}
		if !f.rows[to-1].end {
			continue
		}
		d := raw[linearParameters*row : linearParameters*(row+1)]
		clear(d)
		f.target[row] = 0
		sum, volts := 0.0, 0.0
		for k := from; k < to; k++ {
			before, after := max(k-1, from), min(k+1, to-1)
			own := raw[linearParameters*k+2] // its weight is the shift's column
			share := f.rows[after].q - f.rows[before].q
			if own == 0 || !(share > 0) {
				continue
			}
			sum += share
			volts += share * f.rows[k].v
			for a := range d {
				d[a] += share * raw[linearParameters*k+a] / own
			}
			f.target[row] += share * f.target[k] / own
		}
		if sum > 0 {
			weight := 1 / (sigmaEnergyGiven * volts)
			for a := range d {
				d[a] *= weight
			}
			f.target[row] *= weight
		}
		row++
	}
}

// missed is the most that the fit is off the charge or the energy of a trace of its own, relative.
func (f *traceFit) missed() (most float64) {
	raw := f.design.RawMatrix().Data
	mean := len(f.rows) // the row of the trace's mean voltage
	for k, row := range f.rows {
		if !row.end {
			continue
		}
		q := row.q / f.capacity(f.x)
		off := f.residual(k, &f.best) / raw[linearParameters*k+2] // V; the weight is the shift's column
		charge := off / slopeAt(&f.known.Curve, 1-q) / q
		most = max(most, math.Abs(charge))
		if f.ends > 0 {
			voltage := f.residual(mean, &f.best) * sigmaEnergyGiven
			most = max(most, math.Abs(charge+voltage))
			mean++
		}
	}
	return most
}

// priorSigma is one sigma of shift, stretch and the curve's bumps about their usual values.
func priorSigma(parameter int) float64 {
	switch parameter {
	case 2:
		return float64(SigmaShift)
	case 3:
		return sigmaStretch
	}
	return sigmaBump
}

// bumps is how many parts of the charge a pack's curve may differ from the usual one in, apart from shift and stretch.
const bumps = 5

// bump is a smooth hump of the curve's voltage about a charge: 1 at 0.1, 0.3, ... 0.9, 0 from 0.2 away.
func bump(j int, s float64) float64 {
	const width = 1. / bumps
	x := (s - (float64(j)+0.5)*width) / width
	if x <= -1 || x >= 1 {
		return 0
	}
	c := math.Cos(math.Pi / 2 * x)
	return c * c
}

// linear solves for the linear parameters at x by the normal equations, which are
// well conditioned thanks to the priors; cost is half the sum of squares with the priors of tau and K.
func (f *traceFit) linear(x []float64) (p linearValues, cost float64) {
	const n = linearParameters
	f.fill(x)
	var normal [n][n + 1]float64
	rows := len(f.target)
	raw := f.design.RawMatrix().Data
	for k := range rows {
		d := raw[n*k : n*k+n]
		y := f.target[k]
		for a, da := range d {
			if da == 0 {
				continue
			}
			for b := a; b < n; b++ {
				normal[a][b] += da * d[b]
			}
			normal[a][n] += da * y
		}
	}
	a := mat.NewSymDense(n, nil)
	rhs := mat.NewVecDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			a.SetSym(i, j, normal[i][j])
		}
		rhs.SetVec(i, normal[i][n])
	}
	var chol mat.Cholesky
	if !chol.Factorize(a) {
		return p, math.Inf(1)
	}
	var sol mat.VecDense
	if err := chol.SolveVecTo(&sol, rhs); err != nil {
		if _, ill := err.(mat.Condition); !ill {
			return p, math.Inf(1)
		}
	}
	copy(p[:], sol.RawVector().Data)
	for k := range rows {
		r := f.residual(k, &p)
		cost += r * r / 2
	}
	cost += (x[1]*x[1] + x[2]*x[2]) / 2
	if math.IsNaN(cost) {
		cost = math.Inf(1)
	}
	return p, cost
}

// residual is that of a row, weighted.
func (f *traceFit) residual(row int, p *linearValues) float64 {
	r := f.target[row]
	for a, d := range f.design.RawMatrix().Data[linearParameters*row : linearParameters*(row+1)] {
		r -= d * p[a]
	}
	return r
}

// solve searches capacity, time constant and charge dependence.
func (f *traceFit) solve() error {
	x := []float64{0, 0, 0}
	searched := len(x)
	if f.known.K == 0 {
		searched-- // K stays 0
	}
	for range passes {
		problem := optimize.Problem{Func: func(y []float64) float64 {
			trial := [3]float64{}
			copy(trial[:], y)
			trial[0] /= capacityScale
			_, cost := f.linear(trial[:])
			return cost
		}}
		settings := &optimize.Settings{
			MajorIterations: 200, FuncEvaluations: 400,
			Converger: &optimize.FunctionConverge{Absolute: 1e-7, Relative: 1e-9, Iterations: 12},
		}
		best, err := optimize.Minimize(problem, []float64{x[0] * capacityScale, x[1], x[2]}[:searched], settings, &optimize.NelderMead{SimplexSize: 0.2})
		if best == nil || len(best.X) != searched || math.IsInf(best.F, 1) || math.IsNaN(best.F) {
			return fmt.Errorf("%w: %w", errUnfit, err)
		}
		copy(x, best.X)
		x[0] /= capacityScale
		if err := f.settle(x); err != nil {
			return err
		}
		if f.best[1] < 0 {
			f.share = sigmaShareTight
		}
		f.r = max(f.best[0]+f.best[1], 0.1*f.r)
		f.x = x
		f.leaveOutStray()
		f.warm()
		f.scatter = min(max(float64(f.result().RMS)/sigmaTrace, leastScatter), mostScatter)
	}
	return f.settle(x)
}

// errNoCurve means that the best curve for traces has voltages that no cell has.
var errNoCurve = fmt.Errorf("%w: the curve that comes nearest has voltages that no cell has", errUnfit)

// settle makes the values that are solved for those at x.
func (f *traceFit) settle(x []float64) error {
	f.best, _ = f.linear(x)
	if !f.shapes {
		return nil
	}
	if _, err := f.known.Curve.reshaped(&f.best); err != nil {
		return errNoCurve
	}
	return nil
}

// passes of the search, each with the temperatures, stray rows and scatter of the one before.
const passes = 3

// capacityScale makes a step of log capacity about as large as one of the others.
const capacityScale = 10

// warm finds the pack's temperature along each trace by the circuit as it was found last.
func (f *traceFit) warm() {
	if f.known.HeatCapacity <= 0 {
		return
	}
	c := f.result().Circuit
	if !(c.R0 > 0) || !(c.R1 >= 0) {
		return // no circuit to warm a pack
	}
	var pack follower
	for k := range f.rows {
		p := &f.rows[k]
		if p.first {
			pack = newFollower(c)
		}
		pack.to(p.t, p.i, p.q/float64(c.Capacity))
		p.warmth = ResistanceAt(Temperature(pack.temp)) * pack.perStart
	}
}

// strayScatter is how many times the usual residual a single row may have.
const strayScatter = 8

// leaveOutStray takes the weight from rows that are far off while both neighbours are
// not: what the log's own rules did not catch.
func (f *traceFit) leaveOutStray() {
	f.linear(f.x)
	residual, sorted := make([]float64, len(f.rows)), make([]float64, len(f.rows))
	for k := range f.rows {
		residual[k] = math.Abs(f.residual(k, &f.best))
	}
	copy(sorted, residual)
	slices.Sort(sorted)
	far := strayScatter * sorted[len(sorted)/2]
	for k := range f.rows {
		before, after := max(k-1, 0), min(k+1, len(f.rows)-1)
		if !f.rows[k].end && residual[k] > far && (before == k || residual[before] < far/2) && (after == k || residual[after] < far/2) {
			f.rows[k].weight = 0
		}
	}
}

// result is the fit at its solution.
func (f *traceFit) result() LogFit {
	n := float64(f.known.Cells)
	p := f.best
	var fit LogFit
	c := f.known
	c.Capacity, c.K = Charge(f.capacity(f.x)), f.k(f.x)
	c.R0, c.R1, c.Tau, c.Shift = Resistance(n*p[0]), Resistance(n*p[1]), Time(f.tau(f.x)), Voltage(p[2])
	if f.shapes {
		c.Curve, _ = f.known.Curve.reshaped(&p) // settle has seen that it is one
		c.Shift = 0
		fit.CurveOff = f.known.Curve.differs(c.Curve)
	}
	fit.Circuit = c

	f.linear(f.x)
	raw := f.design.RawMatrix().Data
	sum := 0.0
	residual := make([]float64, len(f.target))
	for k := range f.target {
		residual[k] = f.residual(k, &p)
	}
	count := 0.0
	for k, row := range f.rows {
		if row.q > (1-steepEnd)*float64(c.Capacity) || row.weight == 0 || row.end {
			continue
		}
		v := residual[k] / raw[linearParameters*k+2] // the weight is the shift's column
		sum += v * v
		count++
	}
	fit.RMS = Voltage(math.Sqrt(sum / max(1, count)))
	fit.Sigma = f.sigma(residual)
	return fit
}

// differs is the RMS difference of two curves down to steepEnd, the mean difference taken out.
func (c Curve) differs(other Curve) Voltage {
	var n, sum, square float64
	for s := steepEnd; s <= 1; s += 0.01 {
		d := float64(other.At(s) - c.At(s))
		n, sum, square = n+1, sum+d, square+d*d
	}
	return Voltage(math.Sqrt(max(0, square/n-sum*sum/(n*n))))
}

// reshaped is the curve with its voltages about stretchPivot times a factor, shifted and with its bumps, at 21 even
// charges: the form that records hold. The error is that of voltages which no curve has.
func (c Curve) reshaped(p *linearValues) (Curve, error) {
	volts := make([]Voltage, 21)
	for k := range volts {
		s := float64(k) / 20
		u := float64(c.At(s))
		v := u + p[2] + p[3]*(u-stretchPivot)
		for j := range bumps {
			v += p[4+j] * bump(j, s)
		}
		volts[k] = Voltage(math.Round(v*1e4) / 1e4)
		if k > 0 {
			volts[k] = max(volts[k], volts[k-1])
		}
	}
	return EvenCurve(volts)
}

// even is the curve at 21 even charges, the form that records hold.
func (c Curve) even() Curve {
	out, err := c.reshaped(&linearValues{})
	if err != nil {
		panic("model: a curve at even charges is none: " + err.Error())
	}
	return out
}
