package model

import (
	"fmt"
	"math"
	"slices"
)

// StaticPoint is one row of a propeller's static table: the coefficients of
// T = CT rho n^2 D^4 and P = CP rho n^3 D^5 at a speed, n in revolutions per second.
//
// Source of the definitions: Deters, Ananda, Selig, AIAA 2014-2151, equations 3 and 4.
type StaticPoint struct {
	Speed  AngularSpeed
	CT, CP float64
}

// Knowledge says what a figure of propulsion rests on, best first.
type Knowledge string

// Kinds of knowledge of a propeller's coefficients.
const (
	FromStaticTable  Knowledge = "static-table" // measured coefficients against speed
	FromThrustTest   Knowledge = "thrust-test"  // a stand's table of this motor with this propeller
	FromCoefficients Knowledge = "coefficients" // one stated pair
	FromGeometry     Knowledge = "geometry"     // diameter, pitch and blades only
)

// Propeller is a propeller's size and its static coefficients.
type Propeller struct {
	Diameter Length
	Pitch    Length
	Blades   int
	Known    Knowledge

	// SigmaCT and SigmaFM are one standard deviation of CT and of the figure of merit, relative.
	SigmaCT, SigmaFM float64

	points []StaticPoint // one or more, speeds rising

	// SigmaGrowth is one standard deviation of growth.
	SigmaGrowth float64

	// growth is the power of thrust that the figure of merit rises with below that which the first point gives at
	// sea level, at a constant CT; above the last point nothing changes.
	growth float64
}

// Standard deviations of coefficients that were measured: static tables of the
// reference data repeat to about this (assumption).
const (
	measuredSigmaCT = 0.03
	measuredSigmaFM = 0.04
)

// tableGrowth is how the figure of merit falls with thrust below the lowest speed of a measured table: as it
// does, on average, over the lower half of the static runs of the UIUC Propeller Database.
const tableGrowth = 0.10

// NewPropeller is a propeller with coefficients known at one or more speeds, which must
// be in rising order and positive; thrust and torque must rise with speed everywhere.
func NewPropeller(diameter, pitch Length, blades int, known Knowledge, points []StaticPoint) (Propeller, error) {
	p := Propeller{
		Diameter: diameter, Pitch: pitch, Blades: blades, Known: known,
		SigmaCT: measuredSigmaCT, SigmaFM: measuredSigmaFM, points: slices.Clone(points),
	}
	if len(points) == 0 || !(diameter > 0) {
		return Propeller{}, fmt.Errorf("a propeller needs a diameter and coefficients at one speed at least")
	}
	for i, pt := range points {
		if !(pt.CT > 0) || !(pt.CP > 0) || math.IsInf(pt.CT+pt.CP, 0) {
			return Propeller{}, fmt.Errorf("coefficients ct %g and cp %g must be positive", pt.CT, pt.CP)
		}
		if !(pt.Speed >= 0) || math.IsInf(float64(pt.Speed), 0) {
			return Propeller{}, fmt.Errorf("speed %.6g rpm must be zero or more", pt.Speed.RPM())
		}
		if i == 0 {
			continue
		}
		before := points[i-1]
		switch w := float64(pt.Speed); {
		case !(pt.Speed > before.Speed):
			return Propeller{}, fmt.Errorf("speed %.6g rpm does not rise above %.6g rpm", pt.Speed.RPM(), before.Speed.RPM())
		case !rises(w, pt.CT, (pt.CT-before.CT)/float64(pt.Speed-before.Speed)):
			return Propeller{}, fmt.Errorf("thrust falls between %.6g and %.6g rpm", before.Speed.RPM(), pt.Speed.RPM())
		case !rises(w, pt.CP, (pt.CP-before.CP)/float64(pt.Speed-before.Speed)):
			return Propeller{}, fmt.Errorf("torque falls between %.6g and %.6g rpm", before.Speed.RPM(), pt.Speed.RPM())
		}
	}
	if points[0].Speed > 0 && len(points) > 1 {
		p.growth = tableGrowth
	}
	return p, nil
}

// rises reports whether c w^2, with c on a straight line of a slope, still rises at w.
// Its derivative is w (2 c + slope w); below w, where c > 0, it is then positive as well.
func rises(w, c, slope float64) bool { return 2*c+slope*w > 0 }

// The estimate from size: see [GeometryPropeller].
const (
	greatestPitchRatio = 0.8  // CT does not grow with pitch beyond it: the blades stall at rest
	geometryFM         = 0.48 // of two blades that lift geometryThrust
	geometryThrust     = 0.5  // N, of one propeller
	geometryGrowth     = 0.118
	greatestGeometryFM = 0.66
	geometrySigmaCT    = 0.20
	geometrySigmaFM    = 0.08
	geometrySigmaGrows = 0.065 // of geometryGrowth
)

// GeometryPropeller estimates the coefficients from size alone:
//
//	CT = exp(-3.171 + 1.414 min(p/D, 0.8)) (B/2)^0.66,  CP = sqrt(2/pi) CT^1.5 / FM
//	FM = 0.48 (B/2)^0.17 (T/0.5 N)^0.118, at most 0.66
//
// with T the thrust of one propeller, which stands for the Reynolds number. The scatter is one standard
// deviation of 20 % of CT, 8 % of FM, and 0.065 of the exponent from the cap down: small thrusts are less sure,
// 18 % at 0.5 N.
//
// Source: fitted to the 30 static runs of propellers of 2.5 to 5 in of the UIUC Propeller Database (Brandt,
// Deters, Ananda, Dantsker, Selig) and, cap of p/D and growth with thrust, to eight five-inch propellers of
// StrawsonDesign/motor_propeller_testing (MIT, 2018). Arms in the wake are outside it. Over all runs the blade
// exponent fits as 0.623, which is 1.29 for a third blade; the same blades with other counts measured 1.30 to
// 1.38 for three and 1.50 to 1.65 for four, which 0.66 lies within. Their CP rose 1.30 to 1.41 and 1.60 to 1.78
// times, less than CT^1.5: hence the 0.17.
func GeometryPropeller(diameter, pitch Length, blades int) (Propeller, error) {
	ratio := min(float64(pitch/diameter), greatestPitchRatio)
	ct := math.Exp(-3.171+1.414*ratio) * math.Pow(float64(blades)/2, 0.66)
	first := StaticPoint{CT: ct, CP: PowerCoefficient(ct, greatestGeometryFM)}
	p, err := NewPropeller(diameter, pitch, blades, FromGeometry, []StaticPoint{first})
	if err != nil {
		return Propeller{}, err
	}
	// Where the figure of merit reaches its cap.
	few := geometryFM * math.Pow(float64(blades)/2, 0.17)
	thrust := geometryThrust * math.Pow(greatestGeometryFM/few, 1/geometryGrowth)
	p.points[0].Speed = p.SpeedFor(Force(thrust), SeaLevelDensity)
	p.growth = geometryGrowth
	p.SigmaCT, p.SigmaFM, p.SigmaGrowth = geometrySigmaCT, geometrySigmaFM, geometrySigmaGrows
	return p, nil
}

// MeritSigma is one relative standard deviation of the figure of merit at a thrust at sea level.
func (p *Propeller) MeritSigma(thrust Force) float64 {
	first := p.Thrust(p.points[0].Speed, SeaLevelDensity)
	if !(p.SigmaGrowth > 0) || thrust >= first {
		return p.SigmaFM
	}
	return math.Hypot(p.SigmaFM, p.SigmaGrowth*math.Log(float64(first/thrust)))
}

// FigureOfMerit of a rotor with these coefficients: ideal over actual shaft power in hover.
//
// Source: momentum theory, FM = sqrt(2/pi) CT^1.5 / CP in propeller coefficients.
func FigureOfMerit(ct, cp float64) float64 { return math.Sqrt(2/math.Pi) * math.Pow(ct, 1.5) / cp }

// PowerCoefficient is the CP that goes with a CT at a figure of merit.
func PowerCoefficient(ct, fm float64) float64 { return math.Sqrt(2/math.Pi) * math.Pow(ct, 1.5) / fm }

// IdealPower is the momentum-theory power of a rotor that hovers: T^1.5/sqrt(2 rho A).
func IdealPower(thrust Force, air Density, area float64) Power {
	return Power(math.Pow(float64(thrust), 1.5) / math.Sqrt(2*float64(air)*area))
}

// DiskArea is the area that the propeller sweeps, m2.
func (p Propeller) DiskArea() float64 { return math.Pi / 4 * float64(p.Diameter) * float64(p.Diameter) }

// leastThrustShare is the part of the first point's thrust below which coefficients no longer change.
const leastThrustShare = 1e-3

// Coefficients at a speed in air of a density: straight lines in the table, held flat above it. Below it CT is
// held, and the figure of merit falls with thrust where the propeller is known to do so, by its table or by its
// size.
func (p *Propeller) Coefficients(w AngularSpeed, air Density) (ct, cp float64) {
	i, f := p.place(w)
	a := p.points[i]
	if f == 0 {
		if first := p.points[0].Speed; p.growth > 0 {
			thrust := float64(w/first) * float64(w/first)
			if len(p.points) == 1 { // by size; a table's rows are for their speeds in any air
				thrust *= float64(air / SeaLevelDensity)
			}
			if thrust < 1 {
				a.CP *= math.Pow(max(thrust, leastThrustShare), -p.growth)
			}
		}
		return a.CT, a.CP
	}
	b := p.points[i+1]
	return a.CT + f*(b.CT-a.CT), a.CP + f*(b.CP-a.CP)
}

func (p *Propeller) ctAt(w AngularSpeed) float64 {
	i, f := p.place(w)
	if f == 0 {
		return p.points[i].CT
	}
	return p.points[i].CT + f*(p.points[i+1].CT-p.points[i].CT)
}

// place is the table interval that holds a speed and how far into it the speed is.
func (p *Propeller) place(w AngularSpeed) (i int, fraction float64) {
	last := len(p.points) - 1
	if w <= p.points[0].Speed || last == 0 {
		return 0, 0
	}
	if w >= p.points[last].Speed {
		return last, 0
	}
	for p.points[i+1].Speed < w {
		i++
	}
	a, b := p.points[i].Speed, p.points[i+1].Speed
	return i, float64((w - a) / (b - a))
}

// Thrust at a speed in air of a density.
func (p Propeller) Thrust(w AngularSpeed, air Density) Force {
	ct := p.ctAt(w)
	n, d := w.RevPerSecond(), float64(p.Diameter)
	return Force(ct * float64(air) * n * n * d * d * d * d)
}

// Torque at a speed in air of a density: shaft power over speed.
func (p Propeller) Torque(w AngularSpeed, air Density) Torque {
	_, cp := p.Coefficients(w, air)
	n, d := w.RevPerSecond(), float64(p.Diameter)
	return Torque(cp * float64(air) * n * n * d * d * d * d * d / (2 * math.Pi))
}

// SpeedFor is the speed at which the propeller gives a thrust.
func (p Propeller) SpeedFor(thrust Force, air Density) AngularSpeed {
	d := float64(p.Diameter)
	// n^2 CT(n) = k
	k := float64(thrust) / (float64(air) * d * d * d * d)
	at := func(ct float64) AngularSpeed { return AngularSpeed(2 * math.Pi * math.Sqrt(k/ct)) }
	first, last := p.points[0], p.points[len(p.points)-1]
	if w := at(first.CT); w <= first.Speed || len(p.points) == 1 {
		return w
	}
	if w := at(last.CT); w >= last.Speed {
		return w
	}
	short := func(w float64) float64 {
		n := w / (2 * math.Pi)
		return p.ctAt(AngularSpeed(w))*n*n - k
	}
	lo, hi := float64(first.Speed), float64(last.Speed)
	for _, pt := range p.points[1:] {
		if f := short(float64(pt.Speed)); f >= 0 {
			hi = float64(pt.Speed)
			break
		}
		lo = float64(pt.Speed)
	}
	return AngularSpeed(bracketRoot(lo, short(lo), hi, short(hi), 1e-12*k, short))
}

// Scaled is the propeller with its coefficients multiplied, as a band needs it.
func (p Propeller) Scaled(ct, cp float64) Propeller {
	p.points = slices.Clone(p.points)
	for i := range p.points {
		p.points[i].CT *= ct
		p.points[i].CP *= cp
	}
	return p
}
