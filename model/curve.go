package model

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/interp"
)

// Chemistry names a family of cells by its open-circuit curve.
type Chemistry string

// The chemistries that have a curve.
const (
	LiPo  Chemistry = "lipo"  // LCO/graphite pouch, charged to 4.20 V
	LiHV  Chemistry = "lihv"  // the same, charged to 4.35 V
	LiIon Chemistry = "liion" // NMC/graphite-SiOx, charged to 4.20 V
)

// Chemistries lists every known chemistry in a fixed order.
func Chemistries() []Chemistry { return []Chemistry{LiPo, LiHV, LiIon} }

// Curve is an open-circuit voltage per cell against charge left: between knots a
// cubic that keeps the knots' monotone shape and joins with a continuous slope,
// outside them the straight line along the slope at the end. (The slope of LiHV jumps at
// charge 0.9, where its straight line begins.)
//
// Source of the interpolation: F. N. Fritsch, J. Butland, A method for constructing
// local monotone piecewise cubic interpolants, SIAM J. Sci. Stat. Comput. 5 (1984) 300.
type Curve struct {
	charge []float64 // knots, 0..1, strictly rising
	volts  []float64 // V per cell at the knots, not falling
	pieces []cubic   // between knot i and knot i+1
}

// cubic is c0 + c1 x + c2 x^2 + c3 x^3 with x counted from the knot at its left.
type cubic struct{ c0, c1, c2, c3 float64 }

func (p cubic) at(x float64) float64 { return p.c0 + x*(p.c1+x*(p.c2+x*p.c3)) }

// interpolate is the curve through knots, which must be sorted and at least two.
func interpolate(charge, volts []float64) (Curve, error) {
	c := Curve{charge: charge, volts: volts}
	slope := make([]float64, len(charge))
	if len(charge) == 2 {
		slope[0] = (volts[1] - volts[0]) / (charge[1] - charge[0])
		slope[1] = slope[0]
	} else {
		var fit interp.FritschButland
		if err := fit.Fit(charge, volts); err != nil {
			return Curve{}, fmt.Errorf("open-circuit curve: %w", err)
		}
		for i, s := range charge {
			slope[i] = fit.PredictDerivative(s)
		}
	}
	for i := range len(charge) - 1 {
		h := charge[i+1] - charge[i]
		d := (volts[i+1] - volts[i]) / h
		c.pieces = append(c.pieces, cubic{
			c0: volts[i],
			c1: slope[i],
			c2: (3*d - 2*slope[i] - slope[i+1]) / h,
			c3: (slope[i] + slope[i+1] - 2*d) / (h * h),
		})
	}
	return c, nil
}

// lipoVolts and liionVolts are tabulated curves per cell at charge 0, 0.05, ... 1.
//
// Sources: lipo, LCO/graphite pouch cell: Ai, Kraft, Sturm, Jossen, Wu, J.
// Electrochem. Soc. 167 (2020) 013512. liion, NMC811/graphite-SiOx cell: Chen et
// al., J. Electrochem. Soc. 167 (2020) 080534. Both computed from the published
// half-cell data.
func lipoVolts() []float64 {
	return []float64{
		3.0000, 3.5421, 3.6396, 3.6654, 3.6954, 3.7168, 3.7331,
		3.7481, 3.7622, 3.7763, 3.7925, 3.8122, 3.8365, 3.8675,
		3.9089, 3.9519, 3.9945, 4.0409, 4.0879, 4.1384, 4.2000,
	}
}

func liionVolts() []float64 {
	return []float64{
		2.5000, 3.1094, 3.2959, 3.4339, 3.4852, 3.5286, 3.5814,
		3.6290, 3.6670, 3.7054, 3.7509, 3.7983, 3.8406, 3.8896,
		3.9479, 3.9943, 4.0421, 4.0809, 4.0967, 4.1236, 4.2000,
	}
}

// EvenCurve is the curve through volts at evenly spaced charges from 0 to 1.
// It needs at least two finite, positive, non-falling voltages.
func EvenCurve(volts []Voltage) (Curve, error) {
	if len(volts) < 2 {
		return Curve{}, fmt.Errorf("an open-circuit curve needs at least 2 voltages, got %d", len(volts))
	}
	charge, cell := make([]float64, len(volts)), make([]float64, len(volts))
	for i, v := range volts {
		charge[i] = float64(i) / float64(len(volts)-1)
		cell[i] = float64(v)
		if !(v > 0) || math.IsInf(float64(v), 0) {
			return Curve{}, fmt.Errorf("open-circuit voltage %d is %g V: want a positive number", i+1, float64(v))
		}
		if i > 0 && cell[i] < cell[i-1] {
			return Curve{}, fmt.Errorf("open-circuit voltage %d falls from %g to %g V: it may not fall as charge rises", i+1, cell[i-1], cell[i])
		}
	}
	return interpolate(charge, cell)
}

// CurveOf is the open-circuit curve of a chemistry. An unknown chemistry is an error.
//
// lihv is the lipo curve at charge/0.9 up to charge 0.9 (4.20 V), then a straight
// line to 4.35 V when full; that shape is an assumption from memory, not a
// measurement.
func CurveOf(c Chemistry) (Curve, error) {
	var volts []float64
	full := 1.0
	switch c {
	case LiPo:
		volts = lipoVolts()
	case LiIon:
		volts = liionVolts()
	case LiHV:
		volts, full = lipoVolts(), 0.9
	default:
		return Curve{}, fmt.Errorf("chemistry %q has no open-circuit curve", c)
	}
	charge := make([]float64, len(volts))
	for i := range volts {
		charge[i] = full * float64(i) / float64(len(volts)-1)
	}
	curve, err := interpolate(charge, volts)
	if err == nil && c == LiHV {
		curve.pieces = append(curve.pieces, cubic{c0: 4.20, c1: (4.35 - 4.20) / (1 - full)})
		curve.charge = append(curve.charge, 1)
		curve.volts = append(curve.volts, 4.35)
	}
	return curve, err
}

// IsZero reports whether the curve has no knots.
func (c Curve) IsZero() bool { return len(c.charge) == 0 }

// At is the open-circuit voltage of one cell at a charge left of 0 to 1.
func (c Curve) At(charge float64) Voltage {
	seg := c.segment(charge)
	return Voltage(c.onSegment(seg, charge))
}

// onSegment is the voltage at a charge that piece seg covers; the first and last
// piece also cover what lies below and above the knots.
func (c Curve) onSegment(seg int, charge float64) float64 {
	p, x, width := &c.pieces[seg], charge-c.charge[seg], c.charge[seg+1]-c.charge[seg]
	switch {
	case x < 0:
		return p.c0 + p.c1*x
	case x > width:
		end := p.c1 + width*(2*p.c2+width*3*p.c3)
		return p.at(width) + end*(x-width)
	}
	return p.at(x)
}

// Knots returns copies of the curve's charges and voltages, empty first.
func (c Curve) Knots() (charge []float64, volts []Voltage) {
	for i, s := range c.charge {
		charge = append(charge, s)
		volts = append(volts, Voltage(c.volts[i]))
	}
	return charge, volts
}

// segment is the index of the piece that covers charge; at a knot, the one below it.
func (c Curve) segment(charge float64) int {
	i := sort.SearchFloat64s(c.charge, charge) - 1
	return min(max(i, 0), len(c.charge)-2)
}
