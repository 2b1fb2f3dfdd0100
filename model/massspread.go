package model

import "math"

// MassSpread is how far a mass that is a sum of parts may be off: the two widest parts as what they are,
// rectangular, and all the rest as normal. One part often rules a budget, such as a pack from a catalogue on a
// build that was weighed, and then a normal tail gives mass to errors that the part cannot have.
//
// Source: JCGM 101:2008, 6.4.2 (rectangular), and JCGM 100:2008, G.2 (the sum of the rest tends to normal).
type MassSpread struct {
	Widest, Second Mass // half-widths
	Rest           Mass // standard uncertainty
}

// NormalSpread is that of a mass with a normal standard uncertainty.
func NormalSpread(uncertainty Mass) MassSpread { return MassSpread{Rest: uncertainty} }

// And is the spread with one part more, of a half-width. Parts are independent.
func (s MassSpread) And(halfWidth Mass) MassSpread {
	switch {
	case halfWidth > s.Widest:
		s.Widest, s.Second, halfWidth = halfWidth, s.Widest, s.Second
	case halfWidth > s.Second:
		s.Second, halfWidth = halfWidth, s.Second
	}
	s.Rest = Mass(math.Sqrt(float64(s.Rest*s.Rest + halfWidth*halfWidth/3)))
	return s
}

// Uncertainty is the standard uncertainty of the sum.
func (s MassSpread) Uncertainty() Mass {
	return Mass(math.Sqrt(float64(s.Rest*s.Rest + (s.Widest*s.Widest+s.Second*s.Second)/3)))
}

// Above is the chance that the mass is more than d above its estimate. Where there is no spread at all it is 0 or 1.
func (s MassSpread) Above(d Mass) float64 {
	x, a, b, u := float64(d), float64(s.Widest), float64(s.Second), float64(s.Rest)
	// A rectangle of a hundredth of what is beside it is lost there, and its differences would be lost in floats.
	if b < max(u, a)/100 {
		u, b = math.Hypot(u, b/math.Sqrt(3)), 0
	}
	if a < u/100 {
		u, a = math.Hypot(u, a/math.Sqrt(3)), 0
	}
	switch far := a + b + 8*u; {
	case far > 0 && x >= far:
		return 0
	case far > 0 && x <= -far:
		return 1
	case a == 0 && u == 0:
		if x < 0 {
			return 1
		}
		return 0
	case a == 0:
		return math.Erfc(x/u/math.Sqrt2) / 2
	case b == 0:
		return within01(1 - (onceOver(x+a, u)-onceOver(x-a, u))/(2*a))
	}
	below := twiceOver(x+a+b, u) - twiceOver(x+a-b, u) - twiceOver(x-a+b, u) + twiceOver(x-a-b, u)
	return within01(1 - below/(4*a*b))
}

func within01(p float64) float64 { return min(max(p, 0), 1) }

// onceOver is the integral up to x of the normal distribution function with a standard deviation u, which may be 0.
func onceOver(x, u float64) float64 {
	if u == 0 {
		return max(x, 0)
	}
	z := x / u
	return u * (z*normalBelow(z) + normalDensity(z))
}

// twiceOver is the integral of onceOver.
func twiceOver(x, u float64) float64 {
	if u == 0 {
		return max(x, 0) * max(x, 0) / 2
	}
	z := x / u
	return u * u * ((z*z+1)*normalBelow(z) + z*normalDensity(z)) / 2
}

func normalBelow(z float64) float64   { return math.Erfc(-z/math.Sqrt2) / 2 }
func normalDensity(z float64) float64 { return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) }

// Quantile is how far above its estimate the mass is with a chance p of being below, 0 < p < 1.
func (s MassSpread) Quantile(p float64) Mass {
	high := float64(s.Widest + s.Second + 8*s.Rest)
	if high == 0 {
		return 0
	}
	over := func(x float64) float64 { return s.Above(Mass(x)) - (1 - p) }
	return Mass(bracketRoot(-high, p, high, p-1, 1e-9, over))
}

// ChanceOver is the chance that a mass with a spread breaks a limit. Without a spread it is 0 or 1.
func (l Limit) ChanceOver(m Mass, s MassSpread) float64 {
	if s == (MassSpread{}) {
		if l.Allows(m) {
			return 0
		}
		return 1
	}
	return s.Above(l.Mass - m)
}
