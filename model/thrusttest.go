package model

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// ThrustRow is one row of a thrust stand's table of a motor with a propeller.
type ThrustRow struct {
	Throttle float64 // 0 to 1
	Voltage  Voltage // at the controller's input
	Current  Current // into the controller
	Thrust   Force
	Speed    AngularSpeed // 0 where it was not measured
}

// usable reports whether the row has what a fit needs.
func (r ThrustRow) usable() bool { return r.Thrust > 0 && r.Current > 0 && r.Voltage > 0 }

// FullThrottle is the throttle from which a row counts as full: the motor sees the
// whole bus voltage.
const FullThrottle = 0.995

// ThrustTest is a thrust stand's table with what is known of the parts on it.
type ThrustTest struct {
	// Motor needs its Kv. I0 is taken as it is; where it is 0, AssumedNoLoadShare of the greatest
	// motor current stands in. R, where it is above 0, is only where the fit starts.
	Motor Motor

	Diameter, Pitch Length // Pitch may be 0
	Blades          int

	// Efficiency of the stand's speed controller; 0 for AssumedControllerEfficiency.
	Efficiency float64
	Air        Density // 0 for SeaLevelDensity
	Rows       []ThrustRow
}

// AssumedNoLoadShare is a motor's no-load current over its current at full throttle,
// where no I0 is stated (assumption from memory: 3 to 5 % for small outrunners).
const AssumedNoLoadShare = 0.04

// Bounds of a fit that is kept.
const (
	MaxFitRMS        = 0.08
	MaxFigureOfMerit = 0.85
)

// ThrustFit is a rotor as a thrust stand saw it.
type ThrustFit struct {
	Propeller Propeller // Known is FromThrustTest; one CT and CP
	Motor     Motor     // with the fitted R; never Estimated

	RMS   float64 // of the relative errors that the fit made least
	Rows  []FittedRow
	Worst int // the row of the greatest error, an index of Rows

	// Standard uncertainties, relative, from the scatter about the fit; +Inf where
	// the rows do not fix the constant.
	UncertaintyCT, UncertaintyCP, UncertaintyR float64

	AssumedNoLoad     bool // I0 was not stated
	AssumedEfficiency bool // the stand's controller was not stated
	WithSpeed         bool // rows with a speed took part

	Glitches []SpeedGlitch // speeds that the fit left out, in the order of the rows
}

// SpeedGlitch is a speed that stands apart from those of the other rows.
type SpeedGlitch struct {
	Row      int // an index of the test's Rows
	Speed    AngularSpeed
	Expected AngularSpeed // what the row's thrust and the median of w/sqrt(T) give
}

// MaxSpeedRatio is how far a row's w/sqrt(T) may be off the median of all rows, times or over, before its
// speed counts as a glitch of the stand (assumption: CT would have to change twofold over the rows).
const MaxSpeedRatio = 1.4

// leastSpeeds is how many speeds a median must rest on before one of them is left out.
const leastSpeeds = 3

// speedGlitches are the speeds of rows that stand apart from the others. T = CT rho n^2 D^4 with a CT that
// hardly changes keeps w/sqrt(T) the same over the rows.
func speedGlitches(rows []ThrustRow) []SpeedGlitch {
	var ratios []float64
	for _, r := range rows {
		if r.usable() && r.Speed > 0 {
			ratios = append(ratios, float64(r.Speed)/math.Sqrt(float64(r.Thrust)))
		}
	}
	if len(ratios) < leastSpeeds {
		return nil
	}
	slices.Sort(ratios)
	n := len(ratios)
	median := (ratios[(n-1)/2] + ratios[n/2]) / 2
	var out []SpeedGlitch
	for i, r := range rows {
		if !r.usable() || r.Speed <= 0 {
			continue
		}
		expected := median * math.Sqrt(float64(r.Thrust))
		if off := float64(r.Speed) / expected; off > MaxSpeedRatio || off < 1/MaxSpeedRatio {
			out = append(out, SpeedGlitch{Row: i, Speed: r.Speed, Expected: AngularSpeed(expected)})
		}
	}
	return out
}

// FittedRow is a row against the fit. Errors are fitted over measured, minus 1.
type FittedRow struct {
	Row          ThrustRow
	Power        Power        // electrical, that the fit gives for the row's thrust
	Speed        AngularSpeed // that the fit gives for the row's thrust
	PowerError   float64
	SpeedError   float64 // 0 where no speed was measured, or it was left out
	ThrustError  float64 // at the row's voltage; full throttle only
	CurrentError float64 // at the row's voltage; full throttle only
}

// Greatest is the row's greatest error in size, with its sign.
func (r FittedRow) Greatest() float64 {
	worst := r.PowerError
	for _, e := range []float64{r.SpeedError, r.ThrustError, r.CurrentError} {
		if math.Abs(e) > math.Abs(worst) {
			worst = e
		}
	}
	return worst
}

// Refusal says why a thrust test is not used.
type Refusal string

// Why a thrust test is not used.
const (
	RefusedIncomplete Refusal = "thrust-test-incomplete" // the rows do not fix the constants
	RefusedMisfit     Refusal = "thrust-test-misfit"     // no constants come near the rows
	RefusedUnphysical Refusal = "thrust-test-unphysical" // only impossible constants do
)

// RefusedError is a thrust test that is not used, with the reason.
type RefusedError struct {
	Code Refusal
	Text string
}

func (e *RefusedError) Error() string { return "thrust test refused: " + e.Text }

func refuse(code Refusal, format string, args ...any) error {
	return &RefusedError{Code: code, Text: fmt.Sprintf(format, args...)}
}

// FitThrustTest finds CT, CP and R of a motor with a propeller from a stand's table: the least
// squares of relative errors of electrical power at each row's thrust, of speed where it was measured,
// and of thrust and current at full throttle, where the motor sees the bus voltage.
// Throttles below full are not used, since a stand's throttle is seldom the duty.
//
// Without speeds it is the full-throttle row that ties speed to voltage, through Kv.
// Rows without thrust, current or voltage are left out, and so is the speed, alone, of a row where
// it is a glitch; see [MaxSpeedRatio]. A test that does not fix
// the constants, that no constants meet within MaxFitRMS, or that only impossible
// constants meet, is a [*RefusedError].
//
// Sources: T = CT rho n^2 D^4, P = CP rho n^3 D^5 (AIAA 2014-2151, equations 3 and 4); the motor of Drela, 2007, as in [Motor].
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

// thrustFit is the least-squares problem: three parameters, each a logistic between
// bounds on a log scale, which the search cannot leave.
type thrustFit struct {
	test          ThrustTest
	rows          []ThrustRow
	rho, d        float64
	kv, i0, eta   float64
	assumedI0     bool
	assumedEta    bool
	speeds, fulls int
	glitches      []SpeedGlitch
	guess         constants // where the search starts, and what the ties hold CT and R to
	ties          constants // one standard deviation of each constant's logarithm about the guess; 0 for none
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
	tieAssumedI0   = 0.40 // small outrunners scatter so about AssumedNoLoadShare (assumption)
)

// What a fit does not know better of hover power, one standard deviation (assumptions; the second from
// synthetic tables of motors whose no-load current was not told).
const (
	leastStandSigma = 0.01
	assumedI0Sigma  = 0.04
)

// The parameters of the fit and their bounds. The figure of merit is searched instead of CP, beyond what is possible,
// so that an impossible optimum is found and refused rather than met at a wall.
const (
	fitCT = iota
	fitFM
	fitR  // ohm
	fitI0 // A; held where it is stated
	fitted
)

// constants are what a fit searches, by the indices above.
type constants [fitted]float64

func fitBounds() [fitted][2]float64 {
	return [fitted][2]float64{{0.01, 1}, {0.03, 2}, {0.5e-3, 5}, {1e-3, 50}}
}

func newThrustFit(t ThrustTest) (*thrustFit, error) {
	f := &thrustFit{
		test: t, rho: float64(t.Air), d: float64(t.Diameter),
		kv: float64(t.Motor.Kv), i0: float64(t.Motor.I0), eta: t.Efficiency,
	}
	if f.rho == 0 {
		f.rho = float64(SeaLevelDensity)
	}
	if f.eta == 0 {
		f.eta, f.assumedEta = AssumedControllerEfficiency, true
	}
	if !(f.kv > 0) || !(f.d > 0) {
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
		return nil, refuse(RefusedIncomplete, "%d rows have thrust, current and voltage, and 3 are the least", len(f.rows))
	case f.fulls == 0 && f.speeds == 0:
		return nil, refuse(RefusedIncomplete, "it has neither a row at full throttle nor a speed, so nothing ties speed to voltage")
	case f.fulls == 0 && f.speeds < 3:
		return nil, refuse(RefusedIncomplete, "without a row at full throttle it needs 3 rows with a speed, and has %d", f.speeds)
	}
	if f.i0 <= 0 {
		f.i0, f.assumedI0 = AssumedNoLoadShare*greatest*f.eta, true
	}
	f.ties = constants{fitCT: tieGeometryCT, fitR: tieStatedR}
	if f.assumedI0 {
		f.ties[fitI0] = tieAssumedI0
	}
	if t.Pitch <= 0 {
		f.ties[fitCT] = tieUnknownSize
	}
	blades := max(t.Blades, 2)
	p, err := GeometryPropeller(t.Diameter, t.Pitch, blades)
	if err != nil {
		return nil, refuse(RefusedIncomplete, "%v", err)
	}
	ct, cp := p.Coefficients(0)
	f.guess = constants{ct, FigureOfMerit(ct, cp), float64(t.Motor.R), f.i0}
	if f.guess[fitR] <= 0 {
		f.guess[fitR] = (1 - EstimatedLoadedSpeed) * atVoltage / (greatest * f.eta)
		f.ties[fitR] = tieEstimatedR
	}
	return f, nil
}

// at are the constants at the search's coordinates. A stated I0 has no coordinate.
func (f *thrustFit) at(x []float64) constants {
	v := f.guess
	bounds := fitBounds()
	for j := range x {
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
		b := bounds[j]
		share := min(max(math.Log(v[j]/b[0])/math.Log(b[1]/b[0]), 0.01), 0.99)
		x[j] = math.Log(share / (1 - share))
	}
	return x
}

// errorsAt calls each for the relative errors of every row under constants.
func (f *thrustFit) errorsAt(c constants, each func(row int, fit FittedRow)) {
	ct, cp, r := c[fitCT], PowerCoefficient(c[fitCT], c[fitFM]), c[fitR]
	thrust := ct * f.rho * math.Pow(f.d, 4) / (4 * math.Pi * math.Pi)           // T = thrust w^2
	torque := cp * f.rho * math.Pow(f.d, 5) / (8 * math.Pi * math.Pi * math.Pi) // Q = torque w^2
	kv, i0, eta := f.kv, c[fitI0], f.eta
	drag := kv * torque // I = drag w^2 + I0
	for n, row := range f.rows {
		w := math.Sqrt(float64(row.Thrust) / thrust)
		i := drag*w*w + i0
		p := (w/kv + i*r) * i / eta
		fit := FittedRow{Row: row, Power: Power(p), Speed: AngularSpeed(w)}
		fit.PowerError = p/(float64(row.Voltage)*float64(row.Current)) - 1
		if row.Speed > 0 {
			fit.SpeedError = w/float64(row.Speed) - 1
		}
		if row.Throttle >= FullThrottle {
			// The root of V = w/Kv + R (drag w^2 + I0), in the form without cancellation.
			v := max(float64(row.Voltage)-r*i0, 0)
			w := 2 * v / (1/kv + math.Sqrt(1/(kv*kv)+4*r*drag*v))
			fit.ThrustError = thrust*w*w/float64(row.Thrust) - 1
			fit.CurrentError = (drag*w*w+i0)/eta/float64(row.Current) - 1
		}
		each(n, fit)
	}
}

// square is the sum of squares of the errors and how many there are.
func (f *thrustFit) square(c constants) (sum float64, count int) {
	f.errorsAt(c, func(_ int, e FittedRow) {
		sum += e.PowerError*e.PowerError + e.SpeedError*e.SpeedError + e.ThrustError*e.ThrustError + e.CurrentError*e.CurrentError
	})
	return sum, len(f.rows) + f.speeds + 2*f.fulls
}

// pulls are the residuals that hold constants to the guess.
func (f *thrustFit) pulls(c constants) (pulls constants) {
	for j, tie := range f.ties {
		if tie > 0 {
			pulls[j] = tiedRowError / tie * math.Log(c[j]/f.guess[j])
		}
	}
	return pulls
}

// minimise searches from the guess, where that fails from resistances well to both sides of it,
// and once more from the best.
func (f *thrustFit) minimise() ([]float64, error) {
	problem := optimize.Problem{Func: func(x []float64) float64 {
		c := f.at(x)
		sum, count := f.square(c)
		for _, pull := range f.pulls(c) {
			sum += pull * pull
		}
		cost := sum / float64(count) * 1e4 // in percent, squared: of order 1
		if math.IsNaN(cost) {
			return math.Inf(1)
		}
		return cost
	}}
	settings := &optimize.Settings{FuncEvaluations: 2000, Converger: &optimize.FunctionConverge{Absolute: 1e-8, Iterations: 20}}
	var best *optimize.Result
	var failed error
	try := func(x []float64, size float64) {
		// A search that ends at its limit has still found a place; result judges it.
		r, err := optimize.Minimize(problem, x, settings, &optimize.NelderMead{SimplexSize: size})
		switch {
		case err != nil:
			failed = err
		case best == nil || r.F < best.F:
			best = r
		}
	}
	// The guess finds the optimum of a fair table; one that then looks bad gets more starts before it is refused.
	const fair = MaxFitRMS * MaxFitRMS * 1e4
	for _, scale := range []float64{1, 0.4, 2.5} {
		if best != nil && best.F < fair/4 {
			break
		}
		start := f.guess
		start[fitR] *= scale
		try(f.coordinates(start), 0.3)
	}
	if best == nil {
		return nil, refuse(RefusedMisfit, "the search for constants failed: %v", failed)
	}
	try(best.X, 0.05)
	return best.X, nil
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
	f.errorsAt(c, func(n int, e FittedRow) {
		out.Rows = append(out.Rows, e)
		if math.Abs(e.Greatest()) > math.Abs(out.Rows[out.Worst].Greatest()) {
			out.Worst = n
		}
	})
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
	// The band of a prediction is the scatter of the rows, on the side of power: of what is free in
	// them, of a stand at its best, and of the no-load current where that was guessed.
	sigma := out.RMS * math.Sqrt(float64(count)/float64(max(count-len(x), 1)))
	sigma = max(sigma, leastStandSigma)
	if f.assumedI0 {
		sigma = math.Hypot(sigma, assumedI0Sigma)
	}
	p.SigmaCT, p.SigmaFM = sigma, fm*sigma
	out.Propeller = p
	out.Motor = f.test.Motor
	out.Motor.R, out.Motor.I0, out.Motor.Estimated = Resistance(r), Current(c[fitI0]), false
	out.UncertaintyCT, out.UncertaintyCP, out.UncertaintyR = f.uncertainty(c, len(x), sum, count)
	return out, nil
}

// uncertainty is the relative standard uncertainty of each constant: the square roots of the
// diagonal of s^2 (J^T J)^-1, with J the derivatives of the errors by the logarithms of
// the constants and s^2 the sum of squares over the degrees of freedom.
func (f *thrustFit) uncertainty(c constants, free int, sum float64, count int) (uct, ucp, ur float64) {
	const h = 1e-4
	inf := math.Inf(1)
	// at is the errors with one constant's logarithm moved, CP's instead of the figure of merit's.
	at := func(k int, by float64) []float64 {
		v := c
		cp := PowerCoefficient(v[fitCT], v[fitFM])
		if k == fitFM {
			cp *= 1 + by
		} else {
			v[k] *= 1 + by
		}
		v[fitFM] = FigureOfMerit(v[fitCT], cp)
		var e []float64
		f.errorsAt(v, func(_ int, fit FittedRow) {
			e = append(e, fit.PowerError, fit.SpeedError, fit.ThrustError, fit.CurrentError)
		})
		pulls := f.pulls(v)
		return append(e, pulls[:]...)
	}
	j := mat.NewDense(4*len(f.rows)+fitted, free, nil)
	for k := range free {
		low := at(k, -h)
		for i, e := range at(k, h) {
			j.Set(i, k, (e-low[i])/(2*h))
		}
	}
	var normal, covariance mat.Dense
	normal.Mul(j.T(), j)
	if covariance.Inverse(&normal) != nil {
		return inf, inf, inf // singular, or so ill conditioned that gonum says so
	}
	s2 := sum / float64(count-1) // the ties stand in for two of the three constants
	u := func(k int) float64 { return math.Sqrt(s2 * covariance.At(k, k)) }
	return u(fitCT), u(fitFM), u(fitR)
}
