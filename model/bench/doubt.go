package bench

import "math"

// Rules of what makes a log doubtful; like those in steps.go and clock.go own judgement, tried on undamaged and
// damaged logs.
const (
	noisyCell      = 0.020 // V per cell, one sigma from row to row
	noisyCurrent   = 0.06  // of the current, one sigma from row to row
	leastTogether  = 0.45  // of the resistance after five seconds, in the first rows under load
	mostTogether   = 1.30  // of the same
	togetherTime   = 5.0   // s
	togetherWindow = 1.0   // s
	fallsEarly     = 0.4   // s that the voltage may fall before the current comes, or one row
)

// doubts are findings that no single row shows: voltage and current that do not go together, and a clock that
// does not go with either. constant says that the load is one that is held.
func (l *logScan) doubts(blocks []moment, constant bool) []LogFinding {
	var list []LogFinding
	if f, ok := l.voltageFirst(); ok {
		list = append(list, f)
	} else if f, ok := l.metersApart(blocks); ok {
		list = append(list, f)
	}
	if f, ok := l.noisy(blocks); ok {
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

// noisy finds readings so noisy that the moment of the end is a guess.
func (l *logScan) noisy(blocks []moment) (LogFinding, bool) {
	sum := 0.0
	for _, b := range blocks {
		sum += b.i
	}
	volts, amps := l.sigma()/l.cells, l.sigmaCurrent()*float64(len(blocks))/sum
	if volts < noisyCell && amps < noisyCurrent {
		return LogFinding{}, false
	}
	return doubted(LogNoisy, 0, "from row to row the voltage scatters by %.3g mV per cell and the current by %.2g %% (one sigma)", 1e3*volts, 100*amps), true
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

// voltageFirst finds a voltage that falls some rows before the current comes. In one row it may: meters are read in
// turn.
func (l *logScan) voltageFirst() (LogFinding, bool) {
	before := float64(l.fallen) * l.idleEvery
	if l.fallen < 2 || before < fallsEarly {
		return LogFinding{}, false
	}
	return doubted(LogLag, l.loadedAt.Line, "the voltage falls %.2g s before the current comes, which is here: the two are out of step", before), true
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
