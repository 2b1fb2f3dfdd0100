package bench

import (
	"math"
	"slices"
)

// isGlitch reports whether a row is far from both neighbours, which agree, or, where two
// stray rows stand together, from most of the three rows on either side. Voltages are
// compared with those at about the same current only.
func (l *logScan) isGlitch(row int, s Sample) bool {
	v, i := float64(s.Voltage), float64(s.Current)
	v0, i0 := float64(l.before.Voltage), float64(l.before.Current)
	farV, farI := glitchVoltage*math.Abs(v0), max(glitchCurrent*max(math.Abs(i0), math.Abs(i)), idleCurrent*l.oneC)
	if row+1 < l.rows {
		next := l.window[(row+1)%len(l.window)]
		farV = max(farV, l.noiseV.floor(v0, v, float64(next.Voltage), farV))
		farI = max(farI, l.noiseI.floor(i0, i, float64(next.Current), farI))
	}
	farFrom := math.Abs(v-v0) > farV
	if !farFrom && math.Abs(i-i0) <= farI {
		return false
	}
	// Between what came before and what follows, a value is on its way.
	movesV, movesI := row+1 < l.rows, row+1 < l.rows
	for k := row + 1; k <= min(row+2, l.rows-1); k++ {
		next := l.window[k%len(l.window)]
		movesI = movesI && onTheWay(i0, i, float64(next.Current))
		sameLoad := math.Abs(i-i0) <= farI && math.Abs(i-float64(next.Current)) <= farI
		if k == row+1 || sameLoad {
			movesV = movesV && sameLoad && onTheWay(v0, v, float64(next.Voltage))
		}
		if k == row+1 && (sameLoad && stray(v0, v, float64(next.Voltage), farV) || stray(i0, i, float64(next.Current), farI)) {
			return true
		}
	}
	var volts, amps [2 * glitchReach]float64
	nv, ni := 0, 0
	for k := max(0, row-glitchReach); k <= min(row+glitchReach, l.rows-1); k++ {
		if k == row {
			continue
		}
		o := l.window[k%len(l.window)]
		amps[ni] = float64(o.Current)
		ni++
		if math.Abs(float64(o.Current)-i) <= farI {
			volts[nv] = float64(o.Voltage)
			nv++
		}
	}
	return !movesV && strayAmong(volts[:nv], v, farV) || !movesI && strayAmong(amps[:ni], i, farI)
}

// noiseFloor is how far a row may be from the middle of its neighbours by the noise of a log alone: the mean of that
// distance, which white noise of one sigma makes 0.98 sigma.
type noiseFloor struct {
	mean float64
	rows int
}

const (
	noiseShare = 0.05 // of a new row in the mean
	noiseReach = 6    // means; one row in ten thousand of white noise is further
)

// floor learns from a row b between a and c, and is the distance that noise explains. One stray row does not
// move it far.
func (n *noiseFloor) floor(a, b, c, far float64) float64 {
	is := noiseReach * n.mean
	if math.Abs(c-a) > max(far, is) {
		return is // a step, which tells nothing of noise
	}
	d := math.Abs(b - (a+c)/2)
	if n.rows++; n.rows == 1 {
		n.mean = min(d, far)
	}
	n.mean += noiseShare * (min(d, max(far, is)) - n.mean)
	return is
}

// onTheWay reports whether b lies from a to c.
func onTheWay(a, b, c float64) bool { return min(a, c) <= b && b <= max(a, c) }

// stray reports whether b is further from the middle of a and c than far, and than
// twice what those two are apart.
func stray(a, b, c, far float64) bool {
	d := math.Abs(b - (a+c)/2)
	return d > far && d > 2*math.Abs(c-a)
}

// strayAmong reports whether v is further from the middle of the others than far, and than
// twice what most of those are apart. Of fewer than four others nothing can be told.
func strayAmong(others []float64, v, far float64) bool {
	n := len(others)
	if n < 4 {
		return false
	}
	slices.Sort(others)
	d := math.Abs(v - (others[(n-1)/2]+others[n/2])/2)
	return d > far && d > 2*(others[n-2]-others[1])
}
