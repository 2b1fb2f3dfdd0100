package bench

import (
	"math"
	"slices"
)

// Rules of what is a step.
const (
	stepSigmas  = 5.5   // a step is this many sigmas of its own error: of 3,000 undamaged benches one has such,
	stepCell    = 0.006 // V per cell: more than any cell steps by itself,
	stepPause   = 0.020 // V per cell where the load was off in between,
	stepLoad    = 0.025 // of a load that is held
	stepFollows = 0.3   // of what the current's step should do to the voltage
	stepCurve   = 1.2   // times what the change of slope over the windows explains
	stepCubic   = 0.08  // of what the slope makes of half a window
	stepClock   = 0.4   // of the step that a clock makes which jumped
	stepGap     = 0.3   // of what the slope makes of a gap
	leastAfter  = 2     // blocks between a step and the end
)

// sideways are running sums over time of the current and of the voltage with what the load takes put back, so that
// a line through any blocks costs a difference. Where a ramp begins the voltage bends, and what is put back
// bends the other way: a step there is not lost in the bends of both.
type sideways struct{ back, i []lineFit }

// sumsOf puts back what the load takes of the voltage through a resistance r0, which may be 0.
func sumsOf(blocks []moment, r0 float64) sideways {
	s := sideways{make([]lineFit, len(blocks)+1), make([]lineFit, len(blocks)+1)}
	v0, i0, t0 := blocks[0].v, blocks[0].i, blocks[0].t
	for k, b := range blocks {
		s.back[k+1], s.i[k+1] = s.back[k], s.i[k]
		s.back[k+1].add(b.t-t0, b.v-v0+r0*(b.i-i0))
		s.i[k+1].add(b.t-t0, b.i-i0)
	}
	return s
}

// jump is by how much a line through m blocks after block k lies above one through m blocks before it, at the
// time of block k.
type jump struct {
	rise  float64
	steep float64 // the steeper of the two slopes
	mean  float64 // slope
	bend  float64 // what the change of slope between the two may make of it
	noise float64 // variance of a block about the lines, or the usual one at this reading if that is more
	usual float64 // variance of a block, as it usually is at this reading
	level float64 // mean reading
	lever float64 // variance of rise over that of a block
}

// jumps are those at every block with m others before it, and up to m after it; elsewhere they are zero. The sums count
// readings from zero.
func jumps(sums []lineFit, zero float64, blocks []moment, m int) []jump {
	list := make([]jump, len(blocks))
	var noises []float64
	for k := m; k+leastAfter < len(blocks); k++ {
		t := blocks[k].t - blocks[0].t
		left, right := sums[k].minus(sums[k-m]), sums[min(k+1+m, len(blocks))].minus(sums[k+1])
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
			rise: b + slopeB*t - a - slopeA*t, steep: max(math.Abs(slopeA), math.Abs(slopeB)), mean: (slopeA + slopeB) / 2, bend: math.Abs(slopeB-slopeA)*(right.x/right.n-left.x/left.n)/4 + stepCubic*max(math.Abs(slopeA), math.Abs(slopeB))*(t-left.x/left.n),
			noise: (left.sse() + right.sse()) / (left.n + right.n - 4), lever: lever(left) + lever(right),
			level: zero + (left.y+right.y)/(left.n+right.n),
		}
		noises = append(noises, list[k].noise/(list[k].level*list[k].level))
	}
	if len(noises) == 0 {
		return list
	}
	// Over a gap lines are a guess, but for one case: the step is what a clock that jumped would make.
	usualEvery := (blocks[len(blocks)-1].t - blocks[0].t) / float64(len(blocks)-1)
	for k := m; k+leastAfter < len(blocks); k++ {
		gap := blocks[k+1].t - blocks[k-1].t - 2*usualEvery
		if gap < 2*usualEvery {
			continue
		}
		jumped := -list[k].mean * gap
		if math.Abs(list[k].rise-jumped) < stepClock*math.Abs(jumped) {
			list[k].bend *= 1 - gap/(gap+2*float64(m)*usualEvery)
		} else {
			list[k].bend += stepGap * list[k].steep * gap
		}
	}
	// Noise grows with the reading, or not at all where the reading does not change much.
	slices.Sort(noises)
	usual := noises[len(noises)/2]
	for k := range list {
		list[k].usual = usual * list[k].level * list[k].level
		list[k].noise = max(list[k].noise, list[k].usual)
	}
	return list
}

// surely is how many times rise is what noise and bend explain; more than 1 is a step.
func (j jump) surely() float64 {
	return math.Abs(j.rise) / (stepSigmas*math.Sqrt(j.noise*j.lever) + stepCurve*j.bend + 1e-9)
}

// steps finds where voltage or current jump and the other does not follow as it does when the load comes on.
func (l *logScan) steps(blocks []moment, constant bool) (LogFinding, bool) {
	windows := []int{4, 6, 12, 25}
	if len(blocks) < 2*windows[0]+1 {
		return LogFinding{}, false
	}
	r0, known := l.firstResistance()
	if !known {
		r0 = 0
	}
	sums := sumsOf(blocks, r0)
	least := stepCell * l.cells
	if l.pauses.count > 0 {
		least = stepPause * l.cells
	}
	worst, at := 0.0, 0
	var dv, di float64
	for _, m := range windows {
		volts, amps := jumps(sums.back, blocks[0].v+r0*blocks[0].i, blocks, m), jumps(sums.i, blocks[0].i, blocks, m)
		for k := m; k+leastAfter < len(blocks); k++ {
			alone, i := volts[k], amps[k]
			if alone.lever == 0 || i.lever == 0 {
				continue
			}
			alone.noise = max(alone.noise, r0*r0*i.usual) // of what is put back, which grows with the current
			score := min(math.Abs(alone.rise)/least, alone.surely())
			if known && i.rise != 0 {
				score = min(score, math.Abs(alone.rise)/(stepFollows*r0*math.Abs(i.rise)))
			}
			if constant {
				score = max(score, min(math.Abs(i.rise)/(stepLoad*blocks[k].i), i.surely()))
			}
			if score > max(worst, 1) {
				worst, at, dv, di = score, k, alone.rise-r0*i.rise, i.rise
			}
		}
	}
	if worst <= 1 {
		return LogFinding{}, false
	}
	return doubted(LogStep, blocks[at].line, "near here the voltage steps by %+.3g V and the current by %+.3g A, which do not go together: a meter's gain or the pack changed, or rows are missing or moved", dv, di), true
}
