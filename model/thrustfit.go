package model

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// FitThrustTest finds CT, CP, R and the loss at part duty of a motor with a propeller from a stand's table: the least
// squares of relative errors of electrical power at each row's thrust, of speed where it was measured,
// and of thrust and current at full throttle, where the motor sees all of the bus voltage that the controller passes.
// Throttles below full are not used, since a stand's throttle is seldom the duty: the duty of a row is the voltage that
// the motor needs over that of the bus.
//
// Without speeds it is the full-throttle row that ties speed to voltage, through Kv.
// Rows without thrust, current or voltage are left out, and so is the speed, alone, of a row where
// it is a glitch; see [MaxSpeedRatio]. A test that does not fix
// the constants, that no constants meet within MaxFitRMS, or that only impossible
// constants meet, is a [*RefusedError].
//
// Sources: T = CT rho n^2 D^4, P = CP rho n^3 D^5 (AIAA 2014-2151, equations 3 and 4); the motor of Drela,
// 2007, as in [Motor]; [Controller] for the loss at part duty.
func FitThrustTest(t ThrustTest) (ThrustFit, error) {
	f, err := newThrustFit(t)
	if err != nil {
		return ThrustFit{}, err
	}
	x, err := f.minimise()
	if err != nil {
		return ThrustFit{}, err
	}
	return f.result(x)
}

// thrustFit is the least-squares problem: the loss at part duty as it is, since it may come out below zero, and of
// each other constant a logistic between bounds on a log scale, which the search cannot leave.
type thrustFit struct {
	test          ThrustTest
	rows          []ThrustRow
	rho, d        float64
	motor         Motor
	controller    Controller
	assumedI0     bool
	assumedEta    bool
	speeds, fulls int
	glitches      []SpeedGlitch
	guess         constants // where the search starts, and what the ties hold CT and R to
	ties          constants // one standard deviation of each constant about the guess: of its logarithm, of x in volts; 0 for none
}

// Rows alone fix CP over CT, the power, well; without speeds they hardly tell a fast motor of
// high resistance from a slow one of low resistance. So CT is tied to the geometry's and R to the stated
// one, or to what EstimatedLoadedSpeed implies, as loosely as those are known. The weight of a
// tie is that of a row with tiedRowError; rows with speeds outweigh them wholly.
const (
	tiedRowError   = 0.02 // relative error of a stand's figure that is usual (assumption)
	tieGeometryCT  = 0.25 // the scatter of the geometry's CT, and some for blades outside its data
	tieStatedR     = 0.30 // data sheets give R between different ends, cold (assumption)
	tieEstimatedR  = 0.50
	tieUnknownSize = 1.00 // no pitch is known
	tieEstimatedI0 = 0.47 // the logarithm of EstimatedNoLoadFactor
	tiePartDuty    = 1.50 // V; stands scatter so about AssumedPartDutyDrop
)

// What a fit does not know better of hover power, one standard deviation: of a stand at its best (assumption),
// and of what the model gets wrong between one voltage or thrust and another, found on rows that were not
// fitted to, of seven motors with eight propellers at two voltages (StrawsonDesign/motor_propeller_testing,
// MIT, 2018).
const (
	leastStandSigma = 0.01
	fitModelSigma   = 0.025
)

// The parameters of the fit and their bounds. The figure of merit is searched instead of CP, beyond what is possible,
// so that an impossible optimum is found and refused rather than met at a wall.
const (
	fitCT = iota
	fitFM
	fitR  // ohm
	fitX  // V, the loss at part duty
	fitI0 // A; held where it is stated
	fitted
)

// constants are what a fit searches, by the indices above.
type constants [fitted]float64

func fitBounds() [fitted][2]float64 {
	return [fitted][2]float64{fitCT: {0.01, 1}, fitFM: {0.03, 2}, fitR: {0.5e-3, 5}, fitI0: {1e-3, 50}}
}

func newThrustFit(t ThrustTest) (*thrustFit, error) {
	f := &thrustFit{
		test: t, rho: float64(t.Air), d: float64(t.Diameter),
		motor: t.Motor, controller: AssumedController(),
	}
	if f.rho == 0 {
		f.rho = float64(SeaLevelDensity)
	}
	if t.Efficiency > 0 {
		f.controller.Efficiency, f.controller.Assumed = t.Efficiency, false
		f.controller.Drop = 1 - t.Efficiency
	}
	f.assumedEta = f.controller.Assumed
	kv := float64(f.motor.Kv)
	if !(kv > 0) || !(f.d > 0) {
		return nil, refuse(RefusedIncomplete, "the motor's kv and the propeller's diameter must be known")
	}
	var greatest, atVoltage float64
	f.glitches = speedGlitches(t.Rows)
	for i, r := range t.Rows {
		if !r.usable() {
			continue
		}
		if slices.ContainsFunc(f.glitches, func(g SpeedGlitch) bool { return g.Row == i }) {
			r.Speed = 0
		}
		f.rows = append(f.rows, r)
		if r.Speed > 0 {
			f.speeds++
		}
		if r.Throttle >= FullThrottle {
			f.fulls++
		}
		if float64(r.Current) > greatest {
			greatest, atVoltage = float64(r.Current), float64(r.Voltage)
		}
	}
	switch {
	case len(f.rows) < 3:
		return nil, refuse(RefusedIncomplete, "%d rows have thrust, current and voltage: at least 3 are needed", len(f.rows))
	case f.fulls == 0 && f.speeds == 0:
		return nil, refuse(RefusedIncomplete, "it has neither a row at full throttle nor a speed, so nothing ties speed to voltage")
	case f.fulls == 0 && f.speeds < 3:
		return nil, refuse(RefusedIncomplete, "without a row at full throttle it needs 3 rows with a speed, and has %d", f.speeds)
	}
	f.ties = constants{fitCT: tieGeometryCT, fitR: tieStatedR, fitX: tiePartDuty}
	passed := 1 - f.controller.Drop
	current := greatest * f.controller.Efficiency / passed // of the motor
	if f.motor.I0 <= 0 {
		f.assumedI0 = true
		f.motor.I0 = Current(EstimatedNoLoadShare * current)
		f.motor.NoLoadSpeed, f.motor.NoLoadFixed = AngularSpeed(EstimatedLoadedSpeed*kv*atVoltage), AssumedNoLoadFixed
		f.ties[fitI0] = tieEstimatedI0
	}
	if t.Pitch <= 0 {
		f.ties[fitCT] = tieUnknownSize
	}
	blades := max(t.Blades, 2)
	p, err := GeometryPropeller(t.Diameter, t.Pitch, blades)
	if err != nil {
		return nil, refuse(RefusedIncomplete, "%v", err)
	}
	ct, cp := p.Coefficients(p.SpeedFor(geometryThrust, SeaLevelDensity), SeaLevelDensity)
	f.guess = constants{ct, FigureOfMerit(ct, cp), float64(t.Motor.R), float64(AssumedPartDutyDrop), float64(f.motor.I0)}
	if f.guess[fitR] <= 0 {
		f.guess[fitR] = (passed - EstimatedLoadedSpeed) * atVoltage / current
		f.ties[fitR] = tieEstimatedR
	}
	return f, nil
}

// at are the constants at the search's coordinates. A stated I0 has no coordinate.
func (f *thrustFit) at(x []float64) constants {
	v := f.guess
	bounds := fitBounds()
	for j := range x {
		if j == fitX {
			v[j] = x[j] * tiePartDuty
			continue
		}
		b := bounds[j]
		v[j] = b[0] * math.Pow(b[1]/b[0], 1/(1+math.Exp(-x[j])))
	}
	return v
}

// coordinates are the search's coordinates of constants, taken a little inside the bounds.
func (f *thrustFit) coordinates(v constants) []float64 {
	n := fitted
	if !f.assumedI0 {
		n = fitI0
	}
	x := make([]float64, n)
	bounds := fitBounds()
	for j := range x {
		if j == fitX {
			x[j] = v[j] / tiePartDuty
			continue
		}
		b := bounds[j]
		share := min(max(math.Log(v[j]/b[0])/math.Log(b[1]/b[0]), 0.01), 0.99)
		x[j] = math.Log(share / (1 - share))
	}
	return x
}

// standRotor is the rotor on the stand under constants, in plain SI numbers.
type standRotor struct {
	thrust, drag          float64 // T = thrust w^2, I = drag w^2 + perSpeed w + fixed
	perSpeed, fixed       float64
	kv, r, x, eta, passed float64
}

func (f *thrustFit) under(c constants) standRotor {
	square, cube := f.d*f.d, 8*math.Pi*math.Pi*math.Pi
	m := f.motor
	m.I0 = Current(c[fitI0])
	s := standRotor{
		thrust: c[fitCT] * f.rho * square * square / (4 * math.Pi * math.Pi),
		drag:   float64(m.Kv) * PowerCoefficient(c[fitCT], c[fitFM]) * f.rho * square * square * f.d / cube,
		kv:     float64(m.Kv), r: c[fitR], x: c[fitX], eta: f.controller.Efficiency, passed: 1 - f.controller.Drop,
	}
	s.fixed, s.perSpeed = m.noLoad()
	return s
}

// rowErrors are the relative errors of power, speed, and thrust and current at full throttle; those that a row
// does not have are 0.
type rowErrors [4]float64

// at is the power and the speed of a row's thrust, and the errors of the row.
func (s *standRotor) at(row *ThrustRow) (power, w float64, e rowErrors) {
	volts := float64(row.Voltage)
	w = math.Sqrt(float64(row.Thrust) / s.thrust)
	i := s.drag*w*w + s.perSpeed*w + s.fixed
	v := w/s.kv + i*s.r
	// The duty is not held at 1, so that nothing bends where a row is near it.
	power = (v + s.x*(1-v/(s.passed*volts))) * i / s.eta
	e[0] = power/(volts*float64(row.Current)) - 1
	if row.Speed > 0 {
		e[1] = w/float64(row.Speed) - 1
	}
	if row.Throttle >= FullThrottle {
		// The root of passed V = w/Kv + R (drag w^2 + perSpeed w + fixed), in the form without cancellation.
		v := max(s.passed*volts-s.r*s.fixed, 0)
		b := 1/s.kv + s.r*s.perSpeed
		full := 2 * v / (b + math.Sqrt(b*b+4*s.r*s.drag*v))
		e[2] = s.thrust*full*full/float64(row.Thrust) - 1
		e[3] = (s.drag*full*full+s.perSpeed*full+s.fixed)*s.passed/s.eta/float64(row.Current) - 1
	}
	return power, w, e
}

// against is every row against the fit.
func (f *thrustFit) against(c constants) (rows []FittedRow) {
	s := f.under(c)
	for _, row := range f.rows {
		p, w, e := s.at(&row)
		rows = append(rows, FittedRow{
			Row: row, Power: Power(p), Speed: AngularSpeed(w),
			PowerError: e[0], SpeedError: e[1], ThrustError: e[2], CurrentError: e[3],
		})
	}
	return rows
}

// square is the sum of squares of the errors and how many there are.
func (f *thrustFit) square(c constants) (sum float64, count int) {
	s := f.under(c)
	for i := range f.rows {
		_, _, e := s.at(&f.rows[i])
		for _, v := range e {
			sum += v * v
		}
	}
	return sum, len(f.rows) + f.speeds + 2*f.fulls
}

// pulls are the residuals that hold constants to the guess.
func (f *thrustFit) pulls(c constants) (pulls constants) {
	for j, tie := range f.ties {
		if j == fitX {
			pulls[j] = tiedRowError / tie * (c[j] - f.guess[j])
		} else if tie > 0 {
			pulls[j] = tiedRowError / tie * math.Log(c[j]/f.guess[j])
		}
	}
	return pulls
}

// minimise searches from the guess, and where that ends badly from resistances well to both sides of it:
// Newton's method on the sum of squares, with the Hessian that Gauss takes, J^T J.
func (f *thrustFit) minimise() ([]float64, error) {
	// In percent, squared: of order 1.
	_, count := f.square(f.guess)
	scale := 1e4 / float64(count)
	free := len(f.coordinates(f.guess))
	errors := make([]float64, f.count())
	slope := newSlope(f, free)
	problem := optimize.Problem{
		Func: func(x []float64) float64 {
			f.residuals(errors, f.at(x))
			var sum float64
			for _, e := range errors {
				sum += e * e
			}
			if math.IsNaN(sum) {
				return math.Inf(1)
			}
			return scale * sum
		},
		Grad: func(grad, x []float64) {
			f.residuals(errors, f.at(x))
			g := mat.NewVecDense(free, grad)
			g.MulVec(slope.at(x).T(), mat.NewVecDense(len(errors), errors))
			g.ScaleVec(2*scale, g)
		},
		Hess: func(hess *mat.SymDense, x []float64) {
			hess.SymOuterK(2*scale, slope.at(x).T())
		},
	}
	settings := &optimize.Settings{MajorIterations: 100, GradientThreshold: 1e-7, Converger: &optimize.FunctionConverge{Absolute: 1e-10, Iterations: 5}}
	var best *optimize.Result
	var failed error
	// The guess finds the optimum of a fair table; one that then looks bad gets more starts before it is refused.
	const fair = MaxFitRMS * MaxFitRMS * 1e4
	for _, by := range []float64{1, 0.4, 2.5} {
		if best != nil && best.F < fair/4 {
			break
		}
		start := f.guess
		start[fitR] *= by
		// A search that ends for want of progress has still found a place; result judges it.
		r, err := optimize.Minimize(problem, f.coordinates(start), settings, &optimize.Newton{})
		if r == nil || math.IsInf(r.F, 1) {
			failed = err
			continue
		}
		if best == nil || r.F < best.F {
			best = r
		}
	}
	if best == nil {
		return nil, refuse(RefusedMisfit, "the search for constants failed: %v", failed)
	}
	return best.X, nil
}

// slope is the derivatives of the residuals by the search's coordinates, and where they were last taken: the
// search asks twice for those of a place.
type slope struct {
	fit       *thrustFit
	jacobian  *mat.Dense
	of, moved []float64
	high, low []float64
}

func newSlope(f *thrustFit, free int) *slope {
	n := f.count()
	return &slope{fit: f, jacobian: mat.NewDense(n, free, nil), moved: make([]float64, free), high: make([]float64, n), low: make([]float64, n)}
}

func (s *slope) at(x []float64) *mat.Dense {
	if slices.Equal(x, s.of) {
		return s.jacobian
	}
	const h = 1e-5
	s.of = append(s.of[:0], x...)
	copy(s.moved, x)
	for k := range x {
		s.moved[k] = x[k] + h
		s.fit.residuals(s.high, s.fit.at(s.moved))
		s.moved[k] = x[k] - h
		s.fit.residuals(s.low, s.fit.at(s.moved))
		s.moved[k] = x[k]
		for i := range s.high {
			s.jacobian.Set(i, k, (s.high[i]-s.low[i])/(2*h))
		}
	}
	return s.jacobian
}

// result judges the optimum and puts the fit together.
func (f *thrustFit) result(x []float64) (ThrustFit, error) {
	c := f.at(x)
	sum, count := f.square(c)
	ct, fm, r := c[fitCT], c[fitFM], c[fitR]
	cp := PowerCoefficient(ct, fm)
	out := ThrustFit{
		RMS:           math.Sqrt(sum / float64(count)),
		AssumedNoLoad: f.assumedI0, AssumedEfficiency: f.assumedEta, WithSpeed: f.speeds > 0,
		Glitches: f.glitches,
	}
	out.Rows = f.against(c)
	for n := range out.Rows {
		if math.Abs(out.Rows[n].Greatest()) > math.Abs(out.Rows[out.Worst].Greatest()) {
			out.Worst = n
		}
	}
	worst := out.Rows[out.Worst]
	switch bound := fitBounds()[fitR]; {
	case out.RMS > MaxFitRMS:
		return ThrustFit{}, refuse(RefusedMisfit, "errors of %.1f %% RMS are above %.0f %%; worst is the row at %.0f %% throttle, %+.0f %%",
			100*out.RMS, 100*MaxFitRMS, 100*worst.Row.Throttle, 100*worst.Greatest())
	case r < 2*bound[0]:
		return ThrustFit{}, refuse(RefusedUnphysical, "only a motor without resistance meets it: the stated kv is too low for these voltages, or the thrust too great")
	case r > bound[1]/2:
		return ThrustFit{}, refuse(RefusedUnphysical, "only a motor of %.2g ohm meets it: the stated kv is too high for these voltages", r)
	case fm > MaxFigureOfMerit:
		return ThrustFit{}, refuse(RefusedUnphysical, "it implies a figure of merit of %.2f, and %.2f is the most that is possible: too much thrust for its power", fm, MaxFigureOfMerit)
	}
	p, err := NewPropeller(f.test.Diameter, f.test.Pitch, f.test.Blades, FromThrustTest, []StaticPoint{{CT: ct, CP: cp}})
	if err != nil {
		return ThrustFit{}, refuse(RefusedUnphysical, "%v", err)
	}
	// The band of a prediction is the scatter of the rows, on the side of power, and what the model gets wrong.
	sigma := out.RMS * math.Sqrt(float64(count)/float64(max(count-len(x), 1)))
	sigma = math.Hypot(max(sigma, leastStandSigma), fitModelSigma)
	p.SigmaCT, p.SigmaFM = sigma, sigma
	out.Propeller, out.PartDuty = p, Voltage(c[fitX])
	out.Motor = f.motor
	out.Motor.R, out.Motor.I0, out.Motor.EstimatedR, out.Motor.EstimatedI0 = Resistance(r), Current(c[fitI0]), false, false
	f.spread(&out, c, len(x), sum, count)
	return out, nil
}

// moved are constants with one of them moved: x by volts, the others by a fraction. CP is held where CT moves.
func (c constants) moved(k int, by float64) constants {
	cp := PowerCoefficient(c[fitCT], c[fitFM])
	switch k {
	case fitX:
		c[k] += by
	case fitFM:
		cp *= 1 + by
	default:
		c[k] *= 1 + by
	}
	c[fitFM] = FigureOfMerit(c[fitCT], cp)
	return c
}

// residuals puts all errors under constants into e, those of the ties last.
func (f *thrustFit) residuals(e []float64, c constants) {
	s := f.under(c)
	for i := range f.rows {
		_, _, row := s.at(&f.rows[i])
		e = e[copy(e, row[:]):]
	}
	pulls := f.pulls(c)
	copy(e, pulls[:])
}

// count is how many residuals there are.
func (f *thrustFit) count() int { return len(rowErrors{})*len(f.rows) + fitted }

// spread puts what is uncertain about the optimum into a fit: the standard uncertainty of each constant, which
// is the square root of the diagonal of s^2 (J^T J)^-1, with J the derivatives of the errors by the constants
// (by the logarithms of all but x) and s^2 the sum of squares over the degrees of freedom; the loss at part
// duty moved by its own uncertainty, and the growth of the no-load current by its, with the other constants
// moved to where the rows are then met best.
func (f *thrustFit) spread(out *ThrustFit, c constants, free int, sum float64, count int) {
	const h = 1e-4
	inf := math.Inf(1)
	out.UncertaintyCT, out.UncertaintyCP, out.UncertaintyR = inf, inf, inf
	high, low := make([]float64, f.count()), make([]float64, f.count())
	j := mat.NewDense(len(high), free, nil)
	for k := range free {
		f.residuals(high, c.moved(k, h))
		f.residuals(low, c.moved(k, -h))
		for i := range high {
			j.Set(i, k, (high[i]-low[i])/(2*h))
		}
	}
	var normal, covariance mat.Dense
	normal.Mul(j.T(), j)
	if covariance.Inverse(&normal) != nil {
		return // singular, or so ill conditioned that gonum says so
	}
	s2 := sum / float64(max(count-free+2, 1)) // the ties stand in for two of the constants
	u := func(k int) float64 { return math.Sqrt(s2 * covariance.At(k, k)) }
	out.UncertaintyCT, out.UncertaintyCP, out.UncertaintyR = u(fitCT), u(fitFM), u(fitR)
	out.SigmaPart = Voltage(u(fitX))

	toward := func(input Input, by func(k int) float64) fitDirection {
		d := fitDirection{input: input, ct: by(fitCT), cp: by(fitFM), r: by(fitR), partDuty: by(fitX)}
		if f.assumedI0 {
			d.i0 = by(fitI0)
		}
		return d
	}
	out.ways = append(out.ways, toward(InputPartDuty, func(k int) float64 { return s2 * covariance.At(k, fitX) / u(fitX) }))
	if f.motor.NoLoadSpeed <= 0 {
		return
	}
	// One step of Gauss and Newton, from the optimum to that of another growth.
	other := *f
	other.motor.NoLoadFixed += AssumedNoLoadFixedSigma
	e := make([]float64, f.count())
	other.residuals(e, c)
	var gradient, delta mat.VecDense
	gradient.MulVec(j.T(), mat.NewVecDense(len(e), e))
	delta.MulVec(&covariance, &gradient)
	grown := toward(InputNoLoadGrowth, func(k int) float64 { return -delta.AtVec(k) })
	grown.fixed = AssumedNoLoadFixedSigma
	out.ways = append(out.ways, grown)
}
