package model

import "math"

// Reading is what a scale showed of several parts at once, beside what their own masses add up to.
type Reading struct {
	Shown       Mass // by the scale
	Uncertainty Mass // of Shown, standard
	Sum         Mass // of the parts that were on the scale
	SumU        Mass // standard uncertainty of Sum
}

// agreeWithin is how many standard uncertainties of their difference two masses may be apart and still agree (common
// practice: the expanded uncertainty, coverage factor 2).
const agreeWithin = 2

// Difference is what the scale shows beyond the sum.
func (r Reading) Difference() Mass { return r.Shown - r.Sum }

// Allowed is the greatest difference that the uncertainties of scale and sum explain.
func (r Reading) Allowed() Mass {
	return agreeWithin * Mass(math.Hypot(float64(r.Uncertainty), float64(r.SumU)))
}

// Agrees reports whether scale and sum agree within what is known of both.
func (r Reading) Agrees() bool { return Mass(math.Abs(float64(r.Difference()))) <= r.Allowed() }

// A CorrelatedSum is the mass of some parts by their own masses, and how it goes with those that were on the scale.
type CorrelatedSum struct {
	Mass       Mass
	Variance   float64 // kg2
	Covariance float64 // kg2, with the sum of the parts that were on the scale
	Aboard     bool    // whether what the list lacks, if the scale found such a thing, is in this sum
}

// Correct is the mass of a sum as the scale has it, and its standard uncertainty.
//
// Where scale and sum agree, it is the least-squares estimate from both: the difference is shared out among the parts
// by their variances. Where they do not, the masses of the list cannot explain the difference: something is on board
// that the list lacks, or one mass in it is wrong. The scale alone counts then, less what came off since, plus what
// came on.
//
// Source: least squares with a covariance matrix, JCGM 102:2011, 7; for the second case the same with a part of unknown
// mass on board (derived).
func (r Reading) Correct(s CorrelatedSum) (mass, uncertainty Mass) {
	u2, sum2 := float64(r.Uncertainty)*float64(r.Uncertainty), float64(r.SumU)*float64(r.SumU)
	switch {
	case u2+sum2 <= 0: // both are exact: nothing to share out by
		if s.Aboard {
			return s.Mass + r.Difference(), Mass(math.Sqrt(max(0, s.Variance)))
		}
		return s.Mass, Mass(math.Sqrt(max(0, s.Variance)))
	case r.Agrees():
		share := s.Covariance / (u2 + sum2)
		return s.Mass + Mass(share)*r.Difference(), Mass(math.Sqrt(max(0, s.Variance-share*s.Covariance)))
	case s.Aboard:
		return s.Mass + r.Difference(), Mass(math.Sqrt(max(0, s.Variance-2*s.Covariance+sum2+u2)))
	}
	return s.Mass, Mass(math.Sqrt(max(0, s.Variance)))
}

// Covariance is that of two corrected sums, given the covariance of the sums by their own masses, in kg2.
func (r Reading) Covariance(a, b CorrelatedSum, ofSums float64) float64 {
	u2, sum2 := float64(r.Uncertainty)*float64(r.Uncertainty), float64(r.SumU)*float64(r.SumU)
	switch {
	case u2+sum2 <= 0:
		return ofSums
	case r.Agrees():
		return ofSums - a.Covariance*b.Covariance/(u2+sum2)
	}
	// The part that the list lacks is Shown - Sum - error of the scale.
	if a.Aboard {
		ofSums -= b.Covariance
	}
	if b.Aboard {
		ofSums -= a.Covariance
	}
	if a.Aboard && b.Aboard {
		ofSums += sum2 + u2
	}
	return ofSums
}
