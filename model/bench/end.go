package bench

import "math"

// put takes a row as a moment; rows that come faster than binTime are averaged first.
func (l *logScan) put(p moment, dt float64) {
	if dt >= binTime {
		l.flushBin()
		l.emit(p)
		return
	}
	if l.binRows == 0 {
		l.bin, l.binFrom = moment{line: p.line}, p.t
	}
	b := &l.bin
	b.t += p.t
	b.v += p.v
	b.i += p.i
	b.q += p.q
	b.e += p.e
	l.binRows++
	if p.t-l.binFrom >= binTime {
		l.flushBin()
	}
}

func (l *logScan) flushBin() {
	if l.binRows == 0 {
		return
	}
	b, n := l.bin, 1/l.binRows
	l.binRows = 0
	l.emit(moment{t: b.t * n, v: b.v * n, i: b.i * n, q: b.q * n, e: b.e * n, line: b.line})
}

// at is a recent point, n counting from load on.
func (l *logScan) at(n int) moment { return l.recent[n%recentWindow] }

func (l *logScan) emit(p moment) {
	if l.state == ended {
		return
	}
	if n := l.points; n >= 2 {
		a, b := l.at(n-2), l.at(n-1)
		if before, now := b.t-a.t, p.t-b.t; now < 1.2*before && before < 1.2*now {
			l.noise += math.Abs(a.v - 2*b.v + p.v)
			l.noiseCurrent += math.Abs(a.i - 2*b.i + p.i)
			l.noiseCount++
		}
	}
	l.recent[l.points%recentWindow] = p
	l.points++
	l.blocks.add(p)

	if p.v > l.end*(1+1e-9) { // a logger's rounding is not above it
		if l.below > 0 {
			l.dip(l.at(max(l.belowFirst, l.points-recentWindow)))
		}
		l.below = 0
		return
	}
	if l.below == 0 {
		l.belowFirst = l.points - 1
	}
	l.below++
	span := p.t - l.at(max(l.belowFirst, l.points-recentWindow)).t
	if l.below >= belowRows && (span >= max(belowTime, belowShare*(p.t-l.begin)) || l.below >= recentWindow/2) {
		l.endHere()
	}
}

// dip notes a run below the end voltage that did not last. Those of the last moments
// before the end are its noise and are not counted.
func (l *logScan) dip(p moment) {
	if l.dipsRecent > 0 && p.t-l.dipFirst.t > l.dipWindow() {
		l.dips.add(l.dipFirst.line, 0)
		l.dips.count += l.dipsRecent - 1
		l.dipsRecent = 0
	}
	if l.dipsRecent == 0 {
		l.dipFirst = p
	}
	l.dipsRecent++
}

func (l *logScan) dipWindow() float64 { return max(1, 0.01*(l.last.t-l.begin)) }

// nearNoise is how many sigmas of noise a row may be from the end voltage that counts for the line through it.
const nearNoise = 6

// secondDifference is the mean of |a - 2b + c| for white noise, in sigma: the root of 6 times that of 2/pi.
const secondDifference = 1.954

// sigma is the noise of a moment's voltage, from second differences.
func (l *logScan) sigma() float64 {
	if l.noiseCount < 5 {
		return 0
	}
	return l.noise / l.noiseCount / secondDifference
}

// sigmaCurrent is the noise of a moment's current, found the same way.
func (l *logScan) sigmaCurrent() float64 {
	if l.noiseCount < 5 {
		return 0
	}
	return l.noiseCurrent / l.noiseCount / secondDifference
}

// strayEnd reports whether the log ends in a single row below the end voltage that
// comes out of the blue: the rows before were not on their way there.
func (l *logScan) strayEnd() bool {
	k := l.belowFirst
	if l.below > 1 || k < 2 || k <= l.points-recentWindow {
		return false
	}
	a, b := l.at(k-2), l.at(k-1)
	return b.v-l.end > max(3*(a.v-b.v), 0.1*l.end, 6*l.sigma())
}

// endHere places the end at the run below the end voltage.
func (l *logScan) endHere() {
	k := l.belowFirst
	if k == 0 || k <= l.points-recentWindow {
		l.beganBelow = true // check says why that is refused
		return
	}
	a, b := l.at(k-1), l.at(k)
	l.watchJump(k)
	l.straddle = b.t - a.t
	l.straddleI = math.Abs(b.i-a.i) / max(a.i, b.i)
	t := a.t + (a.v-l.end)/(a.v-b.v)*(b.t-a.t)
	if a.v-b.v < crossingNoise*l.sigma() {
		t = l.smoothCrossing(t, k)
	}
	l.endAt(t)
}

// watchJump notes an end voltage that is met in a jump, or right after one, where there is no room to look for steps: a
// fall of a good part of a volt in next to no charge, many times that of the rows before. A pack runs empty
// faster and faster, but not at once.
func (l *logScan) watchJump(k int) {
	oldest := max(0, l.points-recentWindow+1)
	for j := k; j > max(oldest, k-leastAfter-1); j-- {
		a, b := l.at(j-1), l.at(j)
		before := 4 * l.sigma()
		for n := j - 1; n > max(oldest, j-5); n-- {
			before = max(before, l.at(n-1).v-l.at(n).v)
		}
		if fall := a.v - b.v; fall > suddenFall*l.cells && fall > suddenTimes*before && b.q-a.q < suddenCharge*3600*l.oneC {
			l.sudden, l.suddenFrom = b, a.v
		}
	}
}

// smoothCrossing is where a straight line through the noise around point k meets
// the end voltage, t where there are too few points for one.
func (l *logScan) smoothCrossing(t float64, k int) float64 {
	near := nearNoise * l.sigma()
	lo, hi := k-1, k
	oldest := max(0, l.points-recentWindow)
	for lo > oldest && math.Abs(l.at(lo-1).v-l.end) <= near {
		lo--
	}
	for hi < l.points-1 && math.Abs(l.at(hi+1).v-l.end) <= near {
		hi++
	}
	var line lineFit
	for n := lo; n <= hi; n++ {
		p := l.at(n)
		line.add(p.t-t, p.v-l.end)
	}
	if a, slope, ok := line.fit(); ok && hi-lo >= 3 && slope < 0 {
		return min(max(t-a/slope, l.at(lo).t), l.at(hi).t)
	}
	return t
}

// endAt makes the crossing at a time between recent points.
func (l *logScan) endAt(t float64) {
	n := l.points - 1
	for n > max(1, l.points-recentWindow+1) && l.at(n-1).t >= t {
		n--
	}
	a, b := l.at(n-1), l.at(n)
	f := (t - a.t) / (b.t - a.t)
	i := a.i + f*(b.i-a.i)
	c := moment{t: t, v: l.end, line: b.line, i: i}
	c.q = a.q + (t-a.t)*(a.i+i)/2
	c.e = a.e + (t-a.t)*(a.i*a.v+i*l.end)/2

	if fitted, ok := l.currentAt(t); ok {
		c.i = fitted
	}
	l.crossing, l.crossed, l.state = c, true, ended
	if l.dipsRecent > 0 && t-l.dipFirst.t > l.dipWindow() {
		l.dips.add(l.dipFirst.line, 0)
		l.dips.count += l.dipsRecent - 1
	}
}

// currentAt is the current at a time near the end, from a straight line through the
// points within half a second of it or, after the last one, within a second; points far from
// the line are left out of it. ok is false where there are too few.
func (l *logScan) currentAt(t float64) (i float64, ok bool) {
	back := belowTime
	if t >= l.at(l.points-1).t-0.1 {
		back = 2 * belowTime
	}
	level, slope := 0.0, 0.0
	for pass := range 2 {
		var line lineFit
		for n := l.points - 1; n >= max(0, l.points-recentWindow); n-- {
			p := l.at(n)
			if p.t < t-back || p.t > t+belowTime || pass > 0 && math.Abs(p.i-level-slope*(p.t-t)) > 0.1*level {
				continue
			}
			line.add(p.t-t, p.i)
		}
		if level, slope, ok = line.fit(); !ok || line.n < 5 {
			return 0, false
		}
	}
	return level, true
}

// endBetweenRows places the end after the last row under load where the voltage was
// about to meet the end voltage when the tester stopped.
func (l *logScan) endBetweenRows() {
	a, b := l.at(l.points-2), l.at(l.points-1)
	dt := b.t - a.t
	slope, ramp := (b.v-a.v)/dt, (b.i-a.i)/dt
	if a.v-b.v < crossingNoise*l.sigma() && l.points >= 10 {
		var v lineFit
		for n := l.points - 1; n >= max(0, l.points-recentWindow); n-- {
			p := l.at(n)
			if p.t < b.t-2*belowTime && v.n >= 10 {
				break
			}
			v.add(p.t-b.t, p.v)
		}
		b.v, slope, _ = v.fit()
	}
	room := 1.5 * dt
	if l.state == off {
		room = min(float64(l.pauseFrom.Time)-b.t, 2*dt)
	}
	near := b.v-l.end <= max(nearEnd*l.cells, 4*l.sigma())
	ahead := 0.0
	if slope < 0 {
		ahead = (l.end - b.v) / slope
	}
	if !near && (slope >= 0 || ahead > room) {
		return
	}
	// Where the load was seen to be off, the end lies before that row.
	most := 2 * dt
	if l.state == off {
		most = max(0, room)
	}
	ahead = min(max(ahead, 0), most)
	c := b
	c.t += ahead
	c.q += b.i * ahead
	c.e += b.i * (b.v + l.end) / 2 * ahead
	c.v = l.end
	c.i += ramp * ahead
	if fitted, ok := l.currentAt(c.t); ok {
		c.i = fitted
	}
	l.straddle, l.straddleI = ahead, math.Abs(ramp*dt)/b.i
	l.crossing, l.crossed, l.extrapolate, l.state = c, true, true, ended
}
