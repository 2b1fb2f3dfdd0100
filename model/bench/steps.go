package bench

import (
	"math"
	"slices"
)

// Rules of what is a step.
const (
	stepSigmas  = 5.2   // a step is this many sigmas of its own error: of 5,600 undamaged benches none has such,
	closeSigmas = 5.8   // and this many where it is one from a few blocks to the next, of which there are more,
	stepCell    = 0.006 // V per cell: more than any cell steps by itself,
	stepPause   = 0.020 // V per cell where the load was off in between,
	stepLoad    = 0.025 // of a load that is held
	stepFollows = 0.3   // of what the current's step should do to the voltage
	stepStays   = 3     // sigmas by which the voltage does not follow a sure step of the current,
	stepHalf    = 0.5   // and of what it should do
	stepCurve   = 1.2   // times what the change of slope over the windows explains
	stepCubic   = 0.08  // of what the slope makes of half a window
	stepClock   = 0.4   // of the step that a clock makes which jumped
	stepGap     = 0.3   // of what the slope makes of a gap
	leastAfter  = 2     // blocks between a step and the end
	closeGap    = 1.5   // of the usual time between blocks
	closeStays  = 0.5   // of the jump between two blocks, which is between those around them, too
	closeWide   = 4     // blocks whose slopes count on either side of a close jump
)

// sideways are running sums over time of the current and of the voltage with what the load takes put back, so that
// a line through any blocks costs a difference. Where a ramp begins the voltage bends, and what is put back
// bends the other way: a step there is not lost in the bends of both.
type sideways struct{ back, v, i []lineFit }

// sumsOf puts back what the load takes of the voltage through a resistance r0, which may be 0.
func sumsOf(blocks []moment, r0 float64) sideways {
	s := sideways{make([]lineFit, len(blocks)+1), make([]lineFit, len(blocks)+1), make([]lineFit, len(blocks)+1)}
	v0, i0, t0 := blocks[0].v, blocks[0].i, blocks[0].t
	for k, b := range blocks {
		s.back[k+1], s.v[k+1], s.i[k+1] = s.back[k], s.v[k], s.i[k]
		s.back[k+1].add(b.t-t0, b.v-v0+r0*(b.i-i0))
		s.v[k+1].add(b.t-t0, b.v-v0)
		s.i[k+1].add(b.t-t0, b.i-i0)
	}
	return s
}

// jump is by how much a line through m blocks after block k lies above one through m blocks before it, at the
// time of block k.
type jump struct {
	rise   float64
	steep  float64 // the steeper of the two slopes
	mean   float64 // slope
	bend   float64 // what the change of slope between the two may make of it
	noise  float64 // variance of a block about the lines, or the usual one at this reading if that is more
	usual  float64 // variance of a block, as it usually is at this reading
	level  float64 // mean reading
	lever  float64 // variance of rise over that of a block; 0: there are no lines
	sigmas float64 // of rise's own error that make it a step
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
		steep := max(math.Abs(slopeA), math.Abs(slopeB))
		list[k] = jump{
			rise: b + slopeB*t - a - slopeA*t, steep: steep, mean: (slopeA + slopeB) / 2,
			bend:  math.Abs(slopeB-slopeA)*(right.x/right.n-left.x/left.n)/4 + stepCubic*steep*(t-left.x/left.n),
			noise: (left.sse() + right.sse()) / (left.n + right.n - 4), lever: lever(left) + lever(right), sigmas: stepSigmas,
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
	free := 1 - 2/(9*float64(2*m-4)) // the median of chi squared is below its mean by the third power of that
	usual := noises[len(noises)/2] / (free * free * free)
	for k := range list {
		list[k].usual = usual * list[k].level * list[k].level
		list[k].noise = max(list[k].noise, list[k].usual)
	}
	return list
}

// closeJumps are jumps from the mean of m blocks to the mean of the next m, beyond what the slopes of lines through
// wide blocks on either side lead to. Where the slope changes from one to the other in between, and be it at once, the
// way lies between the two. Where the slope changes fast, at the knee of the curve, such a jump is known better than
// one from lines.
func closeJumps(sums []lineFit, zero float64, blocks []moment, m, wide int, usual []jump) []jump {
	list := make([]jump, len(blocks))
	usualEvery := (blocks[len(blocks)-1].t - blocks[0].t) / float64(len(blocks)-1)
	for k := wide; k+leastAfter < len(blocks); k++ {
		if usual[k].lever == 0 || blocks[k].t-blocks[k-1].t > closeGap*usualEvery {
			continue // over a gap lines are a guess
		}
		left, right := sums[k].minus(sums[k-wide]), sums[min(k+wide, len(blocks))].minus(sums[k])
		_, slopeA, okA := left.fit()
		_, slopeB, okB := right.fit()
		before, after := sums[k].minus(sums[k-m]), sums[k+m].minus(sums[k])
		if !okA || !okB {
			continue
		}
		rise := func(before, after int) float64 { // from one block to another, beyond the mean slope
			y := sums[after+1].y - sums[after].y - sums[before+1].y + sums[before].y
			return y - (slopeA+slopeB)/2*(blocks[after].t-blocks[before].t)
		}
		n := float64(m)
		way := after.x/n - before.x/n
		lever := func(f lineFit) float64 { return way * way / 4 / (f.xx - f.x*f.x/f.n) }
		steep := max(math.Abs(slopeA), math.Abs(slopeB))
		list[k] = jump{
			rise: after.y/n - before.y/n - way*(slopeA+slopeB)/2,
			// A bend makes no more than the first part, so stepCurve times that is not wanted.
			bend:  way*math.Abs(slopeB-slopeA)/2/stepCurve + stepCubic*steep*way,
			noise: usual[k].noise, usual: usual[k].usual, lever: 2/n + lever(left) + lever(right), sigmas: closeSigmas,
			level: zero + (left.y+right.y)/(left.n+right.n),
		}
		if between := rise(k-1, k); min(rise(k-1, k+1)/between, rise(k-2, k)/between) < closeStays {
			list[k].rise = 0 // a stray row
		}
	}
	return list
}

// surely is how many times rise is what noise and bend explain; more than 1 is a step.
func (j jump) surely() float64 { return j.known(j.sigmas) }

func (j jump) known(sigmas float64) float64 {
	return math.Abs(j.rise) / (sigmas*math.Sqrt(j.noise*j.lever) + stepCurve*j.bend + 1e-9)
}

// stepRules is what counts as a step in one log.
type stepRules struct {
	least    float64 // V
	r0       float64 // of the pack as the load comes on; 0: not known
	constant bool    // the load is one that is held
}

// score is how surely voltage and current step at one place and do not go together, 1 at the limit. back is of the
// voltage with what the load takes put back, or of the voltage itself where a load is held; current is there.
func (r stepRules) score(back, i jump, current float64) float64 {
	follows := r.r0 * math.Abs(i.rise)
	score := min(math.Abs(back.rise)/r.least, back.surely())
	if follows > 0 {
		score = min(score, math.Abs(back.rise)/(stepFollows*follows))
	}
	surely := min(math.Abs(i.rise)/(stepLoad*current), i.surely())
	switch {
	case r.constant:
		score = max(score, surely)
	case follows > 0: // whether the voltage follows takes less to tell where the current steps for sure than anywhere
		score = max(score, min(surely, back.known(stepStays), math.Abs(back.rise)/(stepHalf*follows)))
	}
	return score
}

// steps finds where voltage or current jump and the other does not follow as it does when the load comes on.
func (l *logScan) steps(blocks []moment, constant bool) (LogFinding, bool) {
	windows := []int{4, 6, 12, 25}
	if len(blocks) < 2*windows[0]+1 {
		return LogFinding{}, false
	}
	rules := stepRules{least: stepCell * l.cells, constant: constant}
	if l.pauses.count > 0 {
		rules.least = stepPause * l.cells
	}
	if r, known := l.firstResistance(); known {
		rules.r0 = r
	}
	back := rules.r0
	if constant {
		back = 0 // a held load does not bend, and its noise would only be added
	}
	sums := sumsOf(blocks, back)
	worst, at := 0.0, 0
	var dv, di float64
	try := func(volts, amps []jump) {
		for k, v := range volts {
			i := amps[k]
			if v.lever == 0 || i.lever == 0 {
				continue
			}
			if score := rules.score(v, i, blocks[k].i); score > max(worst, 1) {
				worst, at, dv, di = score, k, v.rise-back*i.rise, i.rise
			}
		}
	}
	v0, i0 := blocks[0].v, blocks[0].i
	zero := v0 + back*i0
	for _, m := range windows {
		volts, amps := jumps(sums.back, zero, blocks, m), jumps(sums.i, i0, blocks, m)
		for k, v := range jumps(sums.v, v0, blocks, m) {
			volts[k].noise = max(volts[k].noise, v.usual+back*back*amps[k].usual) // what is put back has noise, too
		}
		try(volts, amps)
		if m == closeWide {
			for near := 1; near <= leastAfter; near++ {
				try(closeJumps(sums.back, zero, blocks, near, m, volts), closeJumps(sums.i, i0, blocks, near, m, amps))
			}
		}
	}
	if worst <= 1 {
		return LogFinding{}, false
	}
	return doubted(LogStep, blocks[at].line, "near here the voltage steps by %+.3g V and the current by %+.3g A, which do not go together: a meter's gain or the pack changed, or rows are missing or moved", dv, di), true
}
