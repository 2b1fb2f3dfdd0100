package bench

import (
	"math"
	"slices"
)

// Rules of what makes a log doubtful (own judgement, tried on undamaged and damaged logs).
const (
	stepSigmas     = 5.5   // a step is this many sigmas of its own error,
	stepCell       = 0.006 // V per cell: more than any cell steps by itself,
	stepPause      = 0.020 // V per cell where the load was off in between,
	stepLoad       = 0.025 // of a load that is held
	stepFollows    = 0.3   // of what the current's step should do to the voltage
	stepCurve      = 1.5   // times what the change of slope over the windows explains
	stepGap        = 0.4   // of what the slope makes of a gap
	clockChange    = 0.05  // of the rows' interval
	clockSteady    = 0.02  // of the interval: rows that come by a clock
	clockWindow    = 8     // blocks
	clockView      = 40    // blocks on either side in which the voltage is compared
	clockBetter    = 0.6   // of the squares that the other reading of the clock leaves
	wholeRate      = 0.03  // of a whole number: loggers change their rate by one
	leastTogether  = 0.45  // of the resistance after five seconds, in the first rows under load
	mostTogether   = 1.30  // of the same
	togetherTime   = 5.0   // s
	togetherWindow = 1.0   // s
)

// doubts are findings that no single row shows: voltage and current that do not go together, and a clock that
// does not go with either. constant says that the load is one that is held.
func (l *logScan) doubts(blocks []moment, constant bool) []LogFinding {
	var list []LogFinding
	if f, ok := l.metersApart(blocks); ok {
		list = append(list, f)
	}
	if f, ok := l.steps(blocks, constant); ok {
		list = append(list, f)
	}
	if f, ok := l.stretched(blocks); ok {
		list = append(list, f)
	}
	return list
}

// sideways are running sums of voltage and current over time, so that a line through any
// blocks costs a difference.
type sideways struct{ v, i []lineFit }

func sumsOf(blocks []moment) sideways {
	s := sideways{make([]lineFit, len(blocks)+1), make([]lineFit, len(blocks)+1)}
	v0, i0, t0 := blocks[0].v, blocks[0].i, blocks[0].t
	for k, b := range blocks {
		s.v[k+1], s.i[k+1] = s.v[k], s.i[k]
		s.v[k+1].add(b.t-t0, b.v-v0)
		s.i[k+1].add(b.t-t0, b.i-i0)
	}
	return s
}

// jump is by how much a line through m blocks after block k lies above one through m blocks before it, at the
// time of block k.
type jump struct {
	rise  float64
	slope float64 // the steeper of the two
	bend  float64 // what the change of slope between the two may make of it
	noise float64 // variance of a block about the lines
	lever float64 // variance of rise over that of a block
}

// jumps are those at every block with m others on either side; elsewhere they are zero.
func jumps(sums []lineFit, blocks []moment, m int) []jump {
	list := make([]jump, len(blocks))
	var noises []float64
	for k := m; k+m < len(blocks); k++ {
		t := blocks[k].t - blocks[0].t
		left, right := sums[k].minus(sums[k-m]), sums[k+1+m].minus(sums[k+1])
		a, slopeA, okA := left.fit()
		b, slopeB, okB := right.fit()
		if !okA || !okB {
			continue
		}
		lever := func(f lineFit) float64 {
			x := t - f.x/f.n
			return 1/f.n + x*x/(f.xx-f.x*f.x/f.n)
		}
		list[k] = jump{
			rise: b + slopeB*t - a - slopeA*t, slope: max(math.Abs(slopeA), math.Abs(slopeB)), bend: math.Abs(slopeB-slopeA) * (right.x/right.n - left.x/left.n) / 4,
			noise: (left.sse() + right.sse()) / float64(2*m-4), lever: lever(left) + lever(right),
		}
		noises = append(noises, list[k].noise)
	}
	if len(noises) == 0 {
		return list
	}
	// Over a gap lines are a guess.
	for k := m; k+m < len(blocks); k++ {
		gap := blocks[k+1].t - blocks[k-1].t - 4*(blocks[len(blocks)-1].t-blocks[0].t)/float64(len(blocks)-1)
		if gap > 0 {
			list[k].bend += stepGap * list[k].slope * gap
		}
	}
	// Of a few blocks the noise is known badly: that of the whole log counts where it is more.
	slices.Sort(noises)
	usual := noises[len(noises)/2]
	for k := range list {
		list[k].noise = max(list[k].noise, usual)
	}
	return list
}

// surely is how many times rise is what noise and bend explain; more than 1 is a step.
func (j jump) surely() float64 {
	return math.Abs(j.rise) / (stepSigmas*math.Sqrt(j.noise*j.lever) + stepCurve*j.bend + 1e-9)
}

// steps finds where voltage or current jump and the other does not follow as it does when the load comes on.
func (l *logScan) steps(blocks []moment, constant bool) (LogFinding, bool) {
	windows := []int{6, 25}
	if len(blocks) < 2*windows[0]+1 {
		return LogFinding{}, false
	}
	sums := sumsOf(blocks)
	r0, known := l.firstResistance()
	least := stepCell * l.cells
	if l.pauses.count > 0 {
		least = stepPause * l.cells
	}
	worst, at := 0.0, 0
	var dv, di float64
	for _, m := range windows {
		volts, amps := jumps(sums.v, blocks, m), jumps(sums.i, blocks, m)
		for k := m; k+m < len(blocks); k++ {
			v, i := volts[k], amps[k]
			if v.lever == 0 || i.lever == 0 {
				continue
			}
			alone := v
			if known {
				alone.rise += r0 * i.rise
				alone.bend += r0 * i.bend
				alone.noise += r0 * r0 * i.noise
			}
			score := min(math.Abs(alone.rise)/least, alone.surely())
			if known && i.rise != 0 {
				score = min(score, math.Abs(alone.rise)/(stepFollows*r0*math.Abs(i.rise)))
			}
			if constant {
				score = max(score, min(math.Abs(i.rise)/(stepLoad*blocks[k].i), i.surely()))
			}
			if score > max(worst, 1) {
				worst, at, dv, di = score, k, v.rise, i.rise
			}
		}
	}
	if worst <= 1 {
		return LogFinding{}, false
	}
	return doubted(LogStep, blocks[at].line, "near here the voltage steps by %+.3g V and the current by %+.3g A, which do not go together: a meter's gain or the pack changed, or rows are missing or moved", dv, di), true
}

// firstResistance is the pack's resistance as the load comes on, in the second row under it.
func (l *logScan) firstResistance() (r float64, ok bool) {
	rest, atRest := l.restVoltage()
	if !atRest || l.unlogged > 0 {
		return 0, false
	}
	s := l.early[1]
	r = (rest - float64(s.Voltage)) / math.Abs(float64(s.Current))
	return r, r > 0
}

// metersApart compares the resistance in the first rows under load with that after some seconds.
func (l *logScan) metersApart(blocks []moment) (LogFinding, bool) {
	rest, atRest := l.restVoltage()
	if !atRest || l.unlogged > 0 {
		return LogFinding{}, false
	}
	interval := float64(l.early[1].Time - l.early[0].Time)
	s := l.early[2]
	if interval >= 0.25 {
		s = l.early[1]
	}
	if interval >= 0.5 {
		s = l.early[0]
	}
	if float64(s.Time)-l.begin > togetherTime/2 {
		return LogFinding{}, false
	}
	var v, i, n float64
	for _, b := range blocks {
		if d := b.t - l.begin - togetherTime; math.Abs(d) <= max(togetherWindow, interval) {
			v, i, n = v+b.v, i+b.i, n+1
		}
	}
	if n == 0 {
		return LogFinding{}, false
	}
	first, later := (rest-float64(s.Voltage))/math.Abs(float64(s.Current)), (rest*n-v)/i
	sigma := l.sigma() / math.Abs(float64(s.Current))
	if later > 4*sigma && (first < leastTogether*later-4*sigma || first > mostTogether*later+4*sigma) {
		return doubted(LogLag, s.Line, "%.3g mohm here and %.3g mohm after %.2g s: voltage and current do not move together as the load comes on", 1e3*first, 1e3*later, togetherTime), true
	}
	return LogFinding{}, false
}

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
	for k := clockWindow; k+clockWindow < len(every); k++ {
		before, steadyA := steadyRate(every[k-clockWindow : k])
		after, steadyB := steadyRate(every[k+1 : k+1+clockWindow])
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

// parabolaSquares is the sum of squares that a parabola leaves: polynomials that are orthogonal over
// the points are taken out one after the other.
func parabolaSquares(x, y []float64) float64 {
	n := len(x)
	basis := make([][]float64, 0, 3)
	rest := slices.Clone(y)
	for degree := range 3 {
		p := make([]float64, n)
		for k := range p {
			p[k] = math.Pow(x[k]/math.Abs(x[0]), float64(degree))
		}
		for _, q := range basis {
			f := dot(p, q)
			for k := range p {
				p[k] -= f * q[k]
			}
		}
		norm := math.Sqrt(dot(p, p))
		if norm < 1e-9 {
			continue
		}
		for k := range p {
			p[k] /= norm
		}
		f := dot(rest, p)
		for k := range rest {
			rest[k] -= f * p[k]
		}
		basis = append(basis, p)
	}
	return dot(rest, rest)
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for k := range a {
		sum += a[k] * b[k]
	}
	return sum
}
