package bench

import (
	"fmt"
	"math"
	"slices"

	"allup/model"
)

// TestedPack is what the reduction of a log must know of the pack on the bench.
type TestedPack struct {
	Cells     int
	Chemistry model.Chemistry
	Rated     model.Charge
}

// Rules of the scan. Currents are compared with the pack's 1 C, voltages with what
// the row before had: nothing else is known while a log streams by.
const (
	sustainedRows = 3    // rows of current that make a load
	idleCurrent   = 0.02 // of 1 C; more is a load
	leastSag      = 0.04 // V per cell that a load pulls down by, for its beginning to be seen in the voltage
	fallsFirst    = 0.3  // of that, in a row without a current: the load had come on
	stepUp        = 10   // a load that grows by this was a meter's offset before
	loadOff       = 0.5  // of the current in the row before; less is no load
	glitchVoltage = 0.03 // of the voltage
	glitchCurrent = 0.30 // of the current
	glitchReach   = 3    // rows on either side that a row is compared with
	gapIntervals  = 5    // times the usual interval
	stuckRows     = 10   // equal rows that may be a logger that hangs
	stuckJump     = 3    // times the usual step of the voltage
	belowRows     = 3    // rows at or below the end voltage that are an end
	belowTime     = 0.5  // s that they span at least
	belowShare    = 1e-3 // of the time under load that they span at least
	binTime       = 0.02 // s; rows that come faster are averaged
	pauseLimit    = 3.0  // s that the load may be off in a test,
	pauseShare    = 0.02 // or this share of its time if that is more
	dropoutLimit  = 5.0  // s that readings may be lost in a test,
	dropoutShare  = 0.05 // or this share of its time if that is more
	missingShare  = 0.10 // of the charge that may lie in gaps
	nearEnd       = 0.01 // V per cell: an end this near may be extrapolated
	pauseRise     = 0.01 // V per cell that a pack recovers at least when its load goes
	crossingNoise = 4    // sigmas that two rows must differ by to be interpolated between
	recentWindow  = 256  // points kept for the crossing
	mostBlocks    = 1024 // blocks kept of a whole log
	restRows      = 25   // rows at rest that count for its voltage
)

// moment is a point of a test under load: a row, or the mean of those of a few hundredths of a
// second. Current is positive, charge and energy count from load on.
type moment struct {
	t, v, i, q, e float64
	line          int
}

type scanState uint8

const (
	waiting scanState = iota
	loaded
	off
	ended
)

// logScan is one pass over a log in constant memory: it finds the load, leaves out
// or bridges what is broken, adds up charge and energy, and finds where the end
// voltage is crossed for good.
type logScan struct {
	cells, oneC, end float64

	// The glitch stage looks at a few rows on either side.
	window [2*glitchReach + 2]Sample // the latest rows, by number
	noiseV noiseFloor
	noiseI noiseFloor
	before Sample // the last one that was accepted
	final  Sample
	rows   int

	state scanState
	sign  float64

	idle      Sample            // the last row without load
	idleRows  int               // in all
	idleVolts [restRows]float64 // the last ones
	idleMost  float64           // the greatest current without a load
	idleEvery float64           // usual interval of rows without load; 0 where there is one only
	idleGap   float64           // from the last row without load to the first under it
	unlogged  float64           // s of the load before its first row that no row tells of
	fallen    int               // the last rows without a current in which the voltage had fallen as under load
	starting  [sustainedRows]Sample
	starts    int
	grown     [sustainedRows]Sample
	grows     int

	begin    float64 // time of load on
	loadedAt Sample  // first row under load
	early    [sustainedRows]Sample
	lately   [3]moment // the last three rows under load
	last     moment    // last row under load, or the last of a run of equal ones
	raw      Sample    // the same as read
	interval float64   // usual
	gap      moment    // a long interval that may be a gap: time, charge and line in it
	hasGap   bool

	same      int // rows equal to the one before
	sameFrom  moment
	sameRows  [stuckRows]moment // the first of them, put only when it is known that the logger did not hang
	sameTimes [stuckRows]float64
	step      float64 // usual change of the voltage
	pauseFrom Sample
	offRows   int
	offVolts  float64
	offSeen   int // rows with a plausible voltage
	offLast   Sample
	strange   [5]Sample // rows with a current and a voltage that cannot be
	stranges  int
	back      [2]Sample
	backs     int

	bin     moment
	binRows float64
	binFrom float64

	recent       [recentWindow]moment
	points       int
	below        int // rows in the run at or below the end
	belowFirst   int // its first point
	dipFirst     moment
	dipsRecent   int
	noise        float64 // mean of |second difference|
	noiseCount   float64
	noiseCurrent float64
	blocks       blockStore
	crossing     moment
	crossed      bool
	beganBelow   bool
	sudden       moment // the row after a jump to the end voltage; line 0: there was none
	suddenFrom   float64
	refused      *LogError
	straddle     float64 // s between the rows around the crossing
	straddleI    float64 // relative change of the current between them
	glitches     counter
	dropouts     counter
	pauses       counter
	gaps         counter
	stuck        counter
	dips         counter
	extrapolate  bool
}

func newLogScan(pack TestedPack, end model.Voltage) *logScan {
	return &logScan{cells: float64(pack.Cells), oneC: pack.Rated.AmpHours(), end: float64(pack.Cells) * float64(end)}
}

// add takes the next row; rows come in order of time.
func (l *logScan) add(s Sample) {
	l.final = s
	l.window[l.rows%len(l.window)] = s
	l.rows++
	if l.rows > glitchReach {
		l.acceptOrDrop(l.rows - 1 - glitchReach)
	}
}

// acceptOrDrop accepts the row of a number, or leaves it out where it strays from those around it.
func (l *logScan) acceptOrDrop(row int) {
	s := l.window[row%len(l.window)]
	if row > 0 && l.isGlitch(row, s) {
		if l.state != waiting { // before the load nothing hangs on it
			l.glitches.add(s.Line, 0)
		}
		return
	}
	l.before = s
	l.accept(s)
}

func (l *logScan) accept(s Sample) {
	switch l.state {
	case waiting:
		l.wait(s)
	case loaded:
		l.load(s)
	case off:
		l.pause(s)
	}
}

// wait looks for the first sustained current.
func (l *logScan) wait(s Sample) {
	if math.Abs(float64(s.Current)) <= max(idleCurrent*l.oneC, noiseReach*l.noiseI.mean) {
		l.starts = 0
		l.rest(s)
		return
	}
	if l.starts > 0 && (l.starting[0].Current > 0) != (s.Current > 0) {
		l.starts = 0
	}
	l.starting[l.starts] = s
	if l.starts++; l.starts == sustainedRows {
		l.start(l.starting)
	}
}

func (l *logScan) rest(s Sample) {
	if l.idleRows > 0 {
		l.idleEvery = float64(s.Time - l.idle.Time)
	}
	l.idle = s
	l.idleMost = max(l.idleMost, math.Abs(float64(s.Current)))
	l.idleVolts[l.idleRows%restRows] = float64(s.Voltage)
	l.idleRows++
}

// restVoltage is the median voltage of the last rows before the load, so that a stray
// row does not count; ok is false where the log begins under load.
func (l *logScan) restVoltage() (v float64, ok bool) {
	if l.idleRows == 0 {
		return 0, false
	}
	last := l.idleVolts
	n := min(l.idleRows, restRows)
	slices.Sort(last[:n])
	return (last[(n-1)/2] + last[n/2]) / 2, true
}

// fallenAtRest is how many of the last rows at rest have a good part of the fall to the first voltage under load.
func (l *logScan) fallenAtRest(loaded float64) (rows int) {
	rest, _ := l.restVoltage()
	if rest-loaded < leastSag*l.cells {
		return 0
	}
	for rows < min(l.idleRows, restRows) && rest-l.idleVolts[(l.idleRows-1-rows)%restRows] > fallsFirst*(rest-loaded) {
		rows++
	}
	return rows
}

// start begins the load at its first rows. The load counts from the last row without
// it, as far as that row is not further back than two intervals: testers write a
// last row when the step ends. Where it is much further back than rows come, with load or without,
// rows are missing, and the load counts from the last row without it, too.
//
// Source: the cycler's own counters in the 33 Ah pouch logs (Wiggins, Allu, Wang, doi
// 10.5281/zenodo.2580327), which have 0.83 to 0.94 of the first interval's energy.
func (l *logScan) start(rows [sustainedRows]Sample) {
	first := rows[0]
	l.state = loaded
	l.sign = 1
	if first.Current < 0 {
		l.sign = -1
	}
	i, v, t := l.sign*float64(first.Current), float64(first.Voltage), float64(first.Time)
	earlier := 0.0
	if l.idleRows > 0 {
		interval := float64(rows[1].Time - first.Time)
		l.idleGap = t - float64(l.idle.Time)
		if earlier = min(l.idleGap, 2*interval); l.idleGap > gapIntervals*max(interval, l.idleEvery) {
			earlier, l.unlogged = l.idleGap, l.idleGap
		}
	}
	l.begin = t - earlier
	l.fallen = l.fallenAtRest(v)
	l.loadedAt = first
	l.interval = float64(rows[1].Time - first.Time)
	l.last = moment{t: t, v: v, i: i, q: i * earlier, e: i * v * earlier, line: first.Line}
	l.early = [sustainedRows]Sample(rows)
	l.raw = first
	for k, r := range rows {
		l.lately[k] = moment{v: float64(r.Voltage), i: l.sign * float64(r.Current)}
	}
	l.put(l.last, math.Inf(1))
	for _, s := range rows[1:] {
		l.load(s)
	}
}

// restart forgets what came before rows: it was a meter's offset, not the load.
func (l *logScan) restart(rows [sustainedRows]Sample, before Sample) {
	fresh := logScan{
		cells: l.cells, oneC: l.oneC, end: l.end,
		window: l.window, before: l.before, final: l.final, rows: l.rows,
		idleRows: l.idleRows, idleVolts: l.idleVolts, glitches: l.glitches,
	}
	fresh.rest(before)
	*l = fresh
	l.start(rows)
}

// load takes a row while the pack is under load.
func (l *logScan) load(s Sample) {
	t, v, i := float64(s.Time), float64(s.Voltage), l.sign*float64(s.Current)
	dt := t - l.last.t
	switch {
	case dt <= 0:
		return
	case i < loadOff*l.usualCurrent() || !l.plausible(v):
		l.putSame()
		l.state = off
		l.pauseFrom, l.offRows, l.offSeen, l.offVolts, l.backs, l.stranges = s, 0, 0, 0, 0, 0
		l.pause(s)
		return
	}
	if l.offset(s, i) {
		return
	}
	l.watchGap(s, dt, i)

	if s.Voltage == l.raw.Voltage && s.Current == l.raw.Current {
		if l.same == 0 {
			l.sameFrom = l.last
		}
		l.same++
		l.sum(t, v, i, dt, s.Line)
		l.raw = s
		if l.same < stuckRows {
			l.sameRows[l.same], l.sameTimes[l.same] = l.last, dt
		}
		return
	}
	if l.same > 0 {
		l.unstick(v)
		dt = t - l.last.t
	}
	if d := math.Abs(v - l.last.v); d > 0 {
		if l.step == 0 {
			l.step = d
		}
		l.step += 0.05 * (d - l.step)
	}
	l.sum(t, v, i, dt, s.Line)
	l.raw = s
	l.put(l.last, dt)
}

// sum adds the trapezoid up to a row.
func (l *logScan) sum(t, v, i, dt float64, line int) {
	p := &l.last
	h := dt / 2
	p.q += h * (p.i + i)
	p.e += h * (p.i*p.v + i*v)
	p.t, p.v, p.i, p.line = t, v, i, line
	l.lately[0], l.lately[1], l.lately[2] = l.lately[1], l.lately[2], *p
}

// unstick ends a run of equal rows. Where the voltage then jumps, the logger hung: the
// rows after the first are taken back, so that a straight line bridges them.
func (l *logScan) unstick(v float64) {
	if l.same >= stuckRows && l.step > 0 && math.Abs(v-l.last.v) > stuckJump*l.step {
		l.stuck.add(l.sameFrom.line, float64(l.same))
		l.last, l.same = l.sameFrom, 0
		return
	}
	l.putSame()
}

// putSame puts the rows of a run of equal ones: the first few, and the last.
func (l *logScan) putSame() {
	for k := 1; k <= min(l.same, stuckRows-1); k++ {
		l.put(l.sameRows[k], l.sameTimes[k])
	}
	if l.same >= stuckRows {
		l.put(l.last, math.Inf(1))
	}
	l.same = 0
}

// offset watches for a load that grows to many times what it was at first.
func (l *logScan) offset(s Sample, i float64) bool {
	elapsed := l.last.t - l.begin
	if !(i*elapsed > stepUp*l.last.q) || elapsed <= 0 {
		l.grows = 0
		return false
	}
	l.grown[l.grows] = s
	if l.grows++; l.grows < sustainedRows {
		return false
	}
	before := l.raw
	before.Time = l.grown[0].Time - model.Time(l.interval)
	l.restart(l.grown, before)
	return true
}

// watchGap counts intervals that are long and followed by usual ones; where the
// next is as long, the logger has changed its rate.
func (l *logScan) watchGap(s Sample, dt, i float64) {
	if l.hasGap {
		l.hasGap = false
		if dt < l.gap.t/2 {
			l.gaps.add(l.gap.line, l.gap.q)
		} else {
			l.interval = dt
		}
	}
	if dt > gapIntervals*l.interval {
		l.gap = moment{t: dt, q: dt * (l.last.i + i) / 2, line: s.Line}
		l.hasGap = true
		return
	}
	l.interval += 0.1 * (dt - l.interval)
}

// pause takes a row while the load is off, and decides what it was when it returns.
func (l *logScan) pause(s Sample) {
	v, i := float64(s.Voltage), l.sign*float64(s.Current)
	plausible := l.plausible(v)
	if i >= loadOff*l.usualCurrent() && plausible {
		l.back[l.backs] = s
		if l.backs++; l.backs < len(l.back) {
			return
		}
		l.resume()
		return
	}
	l.backs = 0
	if i >= loadOff*l.usualCurrent() && v > l.end {
		// The current flows, and the voltage is higher than it could have been: where it stays
		// there, it was the rows before that were wrong.
		l.strange[l.stranges%len(l.strange)] = s
		if l.stranges++; l.stranges >= len(l.strange) {
			for k := range l.lately {
				r := l.strange[(l.stranges-1-k)%len(l.strange)]
				l.lately[k] = moment{v: float64(r.Voltage), i: l.sign * float64(r.Current)}
			}
			if l.plausible(v) {
				l.back = [2]Sample{l.strange[(l.stranges-2)%len(l.strange)], s}
				l.resume()
				return
			}
		}
	} else {
		l.stranges = 0
	}
	l.offRows++
	l.offLast = s
	if plausible {
		l.offSeen++
		l.offVolts += v
	}
	if l.below > 0 && float64(s.Time)-l.last.t > 10*l.interval && !l.strayEnd() {
		l.endHere()
	}
}

// plausible reports whether a voltage can follow the last ones under load.
func (l *logScan) plausible(v float64) bool {
	usual := median3(l.lately[0].v, l.lately[1].v, l.lately[2].v)
	return v >= 0.3*usual && v <= 1.5*usual
}

// usualCurrent is the current of the last rows under load, whatever one of them says.
func (l *logScan) usualCurrent() float64 {
	return median3(l.lately[0].i, l.lately[1].i, l.lately[2].i)
}

// allow refuses the log where what happened took longer than a test may have of it.
func (l *logScan) allow(what string, c *counter, most float64) {
	if c.amount > most && l.refused == nil {
		l.refused = &LogError{LogInterrupted, l.pauseFrom.Line, fmt.Sprintf(
			"%s for %.3g s in all by the time it came back from here (up to %.3g s is bridged): what the pack gave before and after is not one test", what, c.amount, most)}
	}
}

func median3(a, b, c float64) float64 { return max(min(a, b), min(max(a, b), c)) }

func (l *logScan) resume() {
	s := l.back[0]
	t, v, i := float64(s.Time), float64(s.Voltage), l.sign*float64(s.Current)
	dt := t - l.last.t
	rise := 0.0
	if l.offSeen > 0 {
		rise = l.offVolts/float64(l.offSeen) - l.last.v
	}
	if rise > pauseRise*l.cells && rise > 6*l.sigma() {
		l.pauses.add(l.pauseFrom.Line, dt)
		before, after := float64(l.pauseFrom.Time)-l.last.t, t-float64(l.offLast.Time)
		l.last.q += (l.last.i*before + i*after) / 2
		l.last.e += (l.last.i*l.last.v*before + i*v*after) / 2
	} else {
		l.dropouts.add(l.pauseFrom.Line, dt)
		l.last.q += dt * (l.last.i + i) / 2
		l.last.e += dt * (l.last.i*l.last.v + i*v) / 2
	}
	l.allow("the load was off", &l.pauses, max(pauseLimit, pauseShare*(l.last.t-l.begin)))
	l.allow("current or voltage were lost", &l.dropouts, max(dropoutLimit, dropoutShare*(l.last.t-l.begin)))
	l.state = loaded
	l.last.t, l.last.v, l.last.i, l.last.line = t, v, i, s.Line
	l.raw = s
	l.hasGap = false
	l.put(l.last, math.Inf(1))
	l.load(l.back[1])
}

// finish ends the log. Its error says why the log cannot be what it is said to be.
func (l *logScan) finish() error {
	for row := max(0, l.rows-glitchReach); row < l.rows; row++ {
		l.acceptOrDrop(row)
	}
	stuck := l.same
	if l.state == loaded {
		l.putSame()
	}
	l.same = stuck // check says since when
	l.flushBin()
	if l.state != ended && l.below > 0 {
		// A last row out of the blue is no end, unless rows are so far apart that a pack may have fallen as much.
		if l.strayEnd() && l.at(l.belowFirst).q-l.at(l.belowFirst-1).q < suddenCharge*3600*l.oneC {
			l.sudden, l.suddenFrom = l.at(l.belowFirst), l.at(l.belowFirst-1).v
		} else {
			l.endHere()
		}
	}
	if l.state != ended && !l.beganBelow && l.sudden.line == 0 && l.points >= 2 {
		l.endBetweenRows()
	}
	if err := l.check(); err != nil {
		return err
	}
	return nil
}
