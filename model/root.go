package model

import "math"

// bracketRoot is a root of a continuous f between lo and hi, where f has the values
// flo and fhi of different signs: false position, Anderson-Bjorck variant, which is
// superlinear and never leaves the bracket. It ends when |f| is at most tolerance or
// the bracket is as narrow as floats allow. Without a change of sign it is the
// end at which f is nearer to zero.
//
// Source: N. Anderson, A. Bjorck, A new high order method of regula falsi type for
// computing a root of an equation, BIT 13 (1973) 253.
func bracketRoot(lo, flo, hi, fhi, tolerance float64, f func(float64) float64) float64 {
	if (flo > 0) == (fhi > 0) {
		if math.Abs(flo) < math.Abs(fhi) {
			return lo
		}
		return hi
	}
	side := 0
	for range 200 {
		x := (lo*fhi - hi*flo) / (fhi - flo)
		fx := f(x)
		if math.Abs(fx) <= tolerance || math.Abs(hi-lo) <= 0x1p-50*math.Abs(x) {
			return x
		}
		if (fx > 0) == (flo > 0) {
			if side == 1 {
				fhi *= weight(fx, flo)
			}
			lo, flo, side = x, fx, 1
		} else {
			if side == -1 {
				flo *= weight(fx, fhi)
			}
			hi, fhi, side = x, fx, -1
		}
	}
	return (lo + hi) / 2
}

// weight is by how much the end that stays counts less, after a step from before to now on the
// same side.
func weight(now, before float64) float64 {
	if g := 1 - now/before; g > 0 {
		return g
	}
	return 0.5
}
