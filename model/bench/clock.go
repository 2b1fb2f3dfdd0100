package bench

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Rules of what is a clock that was stretched.
const (
	clockChange = 0.05 // of the rows' interval
	clockSteady = 0.02 // of the interval: rows that come by a clock
	clockWindow = 8    // blocks
	clockView   = 40   // blocks on either side in which the voltage is compared
	clockBetter = 0.6  // of the squares that the other reading of the clock leaves
	wholeRate   = 0.03 // of a whole number: loggers change their rate by one
)

// stretched finds where rows begin to come at another rate, and the voltage goes on as if they did not: that
// is a clock which was stretched, not a logger that changed its rate.
func (l *logScan) stretched(blocks []moment) (LogFinding, bool) {
	n := len(blocks)
	if n < 3*clockWindow {
		return LogFinding{}, false
	}
	every := make([]float64, n-1)
	for k := range every {
		every[k] = blocks[k+1].t - blocks[k].t
	}
	for k := clockWindow; k+2+clockWindow <= len(every); k++ {
		before, steadyA := steadyRate(every[k-clockWindow : k])
		after, steadyB := steadyRate(every[k+2 : k+2+clockWindow]) // a block at the change, and the one after it, may have some of both
		ratio := after / before
		if !steadyA || !steadyB || math.Abs(math.Log(ratio)) < clockChange {
			continue
		}
		genuine, stretched := clockSquares(blocks, k, ratio)
		whole := math.Max(ratio, 1/ratio)
		if stretched < clockBetter*genuine || genuine*clockBetter < stretched && math.Abs(whole-math.Round(whole)) > wholeRate*whole {
			return doubted(LogClock, blocks[k].line, "from here on the clock says %.3g times as much from row to row, and the voltage does not fall as much faster: was the time stretched?", ratio), true
		}
		k += clockWindow
	}
	return LogFinding{}, false
}

// steadyRate is the median of intervals; steady is false where they differ.
func steadyRate(every []float64) (median float64, steady bool) {
	sorted := slices.Sorted(slices.Values(every))
	median = (sorted[(len(sorted)-1)/2] + sorted[len(sorted)/2]) / 2
	return median, sorted[len(sorted)-1]-sorted[0] < clockSteady*median
}

// clockSquares is what a parabola through the voltage around block k leaves, over the time as it is and over
// the time with what is after the block put back by a ratio.
func clockSquares(blocks []moment, k int, ratio float64) (asIs, putBack float64) {
	from, to := max(0, k-clockView), min(len(blocks), k+clockView)
	x, back, y := make([]float64, 0, to-from), make([]float64, 0, to-from), make([]float64, 0, to-from)
	for n := from; n < to; n++ {
		t := blocks[n].t - blocks[k].t
		x = append(x, t)
		if t > 0 {
			t /= ratio
		}
		back, y = append(back, t), append(y, blocks[n].v)
	}
	return parabolaSquares(x, y), parabolaSquares(back, y)
}

// parabolaSquares is the sum of squares that the best parabola leaves.
func parabolaSquares(x, y []float64) float64 {
	const degrees = 3
	span := max(math.Abs(x[0]), math.Abs(x[len(x)-1]))
	design := mat.NewDense(len(x), degrees, nil)
	for k := range x {
		u := x[k] / span
		design.SetRow(k, []float64{1, u, u * u})
	}
	target := mat.NewVecDense(len(y), slices.Clone(y))
	var qr mat.QR
	qr.Factorize(design)
	var best, rest mat.VecDense
	if qr.SolveVecTo(&best, false, target) != nil {
		return math.Inf(1)
	}
	rest.MulVec(design, &best)
	rest.SubVec(target, &rest)
	return mat.Dot(&rest, &rest)
}
