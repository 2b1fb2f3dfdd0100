package model

import "math"

// bracketRoot is a root of a continuous f between lo and hi, where f has the values
// flo and fhi of different signs: false position, Illinois variant, which is
// superlinear and never leaves the bracket. It ends when |f| is at most tolerance or
// the bracket is as narrow as floats allow. Without a change of sign it is the
// end at which f is nearer to zero.
//
// Source: M. Dowell, P. Jarratt, A modified regula falsi method for computing the root of an equation, BIT 11 (1971) 168.
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
			lo, flo = x, fx
			if side == 1 {
				fhi /= 2
			}
			side = 1
		} else {
			hi, fhi = x, fx
			if side == -1 {
				flo /= 2
			}
			side = -1
		}
	}
	return (lo + hi) / 2
}
