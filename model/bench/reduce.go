package bench

import (
	"fmt"
	"math"
	"slices"

	"allup/model"
)

// HeldLoad says what a tester held constant.
type HeldLoad string

// What a tester held constant.
const (
	HeldPower   HeldLoad = "power"
	HeldCurrent HeldLoad = "current"
	HeldNothing HeldLoad = "nothing"
)

// ReduceSettings change the rules of a reduction. The zero value is the usual one.
type ReduceSettings struct {
	// WholeSamples counts charge and energy as the trapezoid over all rows from the first
	// of the log to and including the first one below the end voltage, with nothing left
	// out or interpolated: the definition of the NASA Ames battery data. The default is
	// false: from load on to the interpolated crossing.
	WholeSamples bool
}

// LogEnd is what is known of the moment that a test's end voltage was crossed.
type LogEnd struct {
	Line        int        // of the first row at or below it
	Interval    model.Time // between the rows around it
	CurrentStep float64    // relative change of the current between them
}

// DischargeReduction is what a discharge log from full to the end voltage yields.
type DischargeReduction struct {
	Rows       int
	Capacity   model.Charge
	Energy     model.Energy
	MidVoltage model.Voltage // at half the delivered capacity
	Duration   model.Time

	Held       HeldLoad
	Power      model.Power   // mean under load
	Current    model.Current // mean under load
	HeldWithin float64       // relative: 95 % of the time the held quantity is nearer to its mean

	End      LogEnd
	Trace    model.Trace
	Findings []LogFinding
}

// DischargeReducer reduces the rows of a discharge log as they stream by, in constant memory.
type DischargeReducer struct {
	scan     *logScan
	pack     TestedPack
	protocol model.Protocol
	whole    *wholeSamples
}

// NewDischargeReducer reduces a discharge of a pack that ends at the protocol's end
// voltage. The load in the protocol is only compared with the log's.
func NewDischargeReducer(pack TestedPack, p model.Protocol, settings ReduceSettings) *DischargeReducer {
	r := &DischargeReducer{scan: newLogScan(pack, p.DischargeEndPerCell), pack: pack, protocol: p}
	if settings.WholeSamples {
		r.whole = &wholeSamples{end: r.scan.end, idle: idleCurrent * r.scan.oneC}
	}
	return r
}

// Add takes the next row. Rows come in order of time.
func (r *DischargeReducer) Add(s Sample) {
	if r.whole != nil {
		r.whole.add(s)
	}
	r.scan.add(s)
}

// Finish is the result after the last row. Its error is a [LogError]: why the log
// is not a discharge of this pack from full to the end voltage.
func (r *DischargeReducer) Finish() (DischargeReduction, error) {
	l := r.scan
	if err := l.finish(); err != nil {
		return DischargeReduction{}, err
	}
	end := l.crossing
	blocks := l.blocks.until(end.t)
	d := DischargeReduction{
		Rows: l.rows, Capacity: model.Charge(end.q), Energy: model.Energy(end.e), Duration: model.Time(end.t - l.begin),
		MidVoltage: model.Voltage(voltageAt(append(slices.Clip(blocks), end), end.q/2)),
		Power:      model.Power(end.e / (end.t - l.begin)), Current: model.Current(end.q / (end.t - l.begin)),
		End:   LogEnd{Line: end.line, Interval: model.Time(l.straddle), CurrentStep: l.straddleI},
		Trace: l.trace(blocks),
	}
	d.Trace.End = model.TracePoint{Time: d.Duration, Voltage: model.Voltage(end.v), Current: model.Current(end.i), Delivered: d.Capacity}
	d.Held, d.HeldWithin = held(blocks, l.begin)
	d.Findings = append(l.findings(r.pack.Chemistry), r.protocolFindings(d)...)
	d.Findings = append(d.Findings, l.coarseStartOf()...)
	if r.whole != nil {
		d.Capacity, d.Energy = model.Charge(math.Abs(r.whole.q)), model.Energy(math.Abs(r.whole.e))
	}
	SortFindings(d.Findings)
	return d, nil
}

// Departures from the protocol that are worth a word.
const (
	notHeld           = 0.03  // spread of the held quantity
	otherLoad         = 0.03  // of the protocol's
	sparseEnd         = 0.005 // of the charge, between the rows around the end
	otherConditioning = 0.10  // of the protocol's charge
	otherRamp         = 0.15  // of the protocol's
)

func (r *DischargeReducer) protocolFindings(d DischargeReduction) []LogFinding {
	var list []LogFinding
	if d.HeldWithin > notHeld {
		list = append(list, LogFinding{LogNotHeld, 1, 0, fmt.Sprintf("the %s was held within %.2g %% only", steadier(d.Held), 100*d.HeldWithin)})
	}
	stated := float64(r.protocol.DischargePower)
	switch {
	case stated > 0 && d.Held == HeldCurrent:
		list = append(list, LogFinding{LogOtherLoad, 1, 0, fmt.Sprintf("a constant current of %.4g A, not the protocol's constant power of %.4g W", float64(d.Current), stated)})
	case stated > 0 && math.Abs(float64(d.Power)/stated-1) > otherLoad:
		list = append(list, LogFinding{LogOtherLoad, 1, 0, fmt.Sprintf("%.4g W, not the protocol's %.4g W", float64(d.Power), stated)})
	}
	if share := float64(d.Current) * float64(d.End.Interval) / float64(d.Capacity); share > sparseEnd {
		list = append(list, LogFinding{LogSparse, 1, d.End.Line, fmt.Sprintf(
			"%.2g s between the rows around the end voltage, %.2g %% of the charge", float64(d.End.Interval), 100*share)})
	}
	return list
}

func steadier(h HeldLoad) HeldLoad {
	if h == HeldNothing {
		return "load"
	}
	return h
}

// trace is the thinned log as the fit wants it.
func (l *logScan) trace(blocks []moment) model.Trace {
	var t model.Trace
	if v, ok := l.restVoltage(); ok {
		t.Rest = model.Voltage(v)
	}
	t.Points = make([]model.TracePoint, len(blocks))
	for k, b := range blocks {
		t.Points[k] = model.TracePoint{Time: model.Time(b.t - l.begin), Voltage: model.Voltage(b.v), Current: model.Current(b.i), Delivered: model.Charge(b.q)}
	}
	return t
}

// voltageAt is the voltage when a charge has been delivered: a straight line through
// the blocks within 1 % of it, or between the two around it.
func voltageAt(blocks []moment, q float64) float64 {
	total := blocks[len(blocks)-1].q
	var line lineFit
	for _, b := range blocks {
		if math.Abs(b.q-q) <= 0.01*total {
			line.add((b.q-q)/total, b.v)
		}
	}
	if v, _, ok := line.fit(); ok && line.n >= 4 {
		return v
	}
	k, _ := slices.BinarySearchFunc(blocks, q, func(b moment, q float64) int {
		if b.q < q {
			return -1
		}
		return 1
	})
	k = min(max(k, 1), len(blocks)-1)
	if len(blocks) < 2 {
		return blocks[0].v
	}
	a, b := blocks[k-1], blocks[k]
	return a.v + (q-a.q)/(b.q-a.q)*(b.v-a.v)
}

// held is which of power and current was the steadier over a test, and how steady:
// the 95th percentile of the relative distance from its mean. The first second is the tester's.
func held(blocks []moment, begin float64) (HeldLoad, float64) {
	for len(blocks) > 20 && blocks[0].t < begin+1 {
		blocks = blocks[1:]
	}
	power, current := make([]float64, len(blocks)), make([]float64, len(blocks))
	for k, b := range blocks {
		power[k], current[k] = b.v*b.i, b.i
	}
	p, i := spread(power), spread(current)
	switch {
	case min(p, i) > 2*notHeld:
		return HeldNothing, min(p, i)
	case p < i:
		return HeldPower, p
	}
	return HeldCurrent, i
}

func spread(values []float64) float64 {
	if len(values) == 0 {
		return 0
	}
	mean := 0.0
	for _, v := range values {
		mean += v
	}
	mean /= float64(len(values))
	for k := range values {
		values[k] = math.Abs(values[k]/mean - 1)
	}
	slices.Sort(values)
	return values[(len(values)-1)*95/100]
}

// wholeSamples is the trapezoid of [ReduceSettings.WholeSamples].
type wholeSamples struct {
	end, idle   float64
	n           int
	t, v, i     float64
	q, e        float64
	underLoad   bool
	endedAtLine int
}

func (w *wholeSamples) add(s Sample) {
	t, v, i := float64(s.Time), float64(s.Voltage), float64(s.Current)
	if w.endedAtLine > 0 {
		return
	}
	if w.n > 0 {
		h := (t - w.t) / 2
		w.q += h * (w.i + i)
		w.e += h * (w.i*w.v + i*v)
	}
	w.n++
	w.t, w.v, w.i = t, v, i
	if math.Abs(i) > w.idle {
		w.underLoad = true
	}
	if w.underLoad && v < w.end {
		w.endedAtLine = max(1, s.Line)
	}
}

// BurstReduction is what a burst log yields.
type BurstReduction struct {
	Rows    int
	Current model.Current // at the burst end voltage
	Power   model.Power   // at the burst end voltage
	InRamp  bool          // false where the end voltage was met before a ramp began

	ConditioningCurrent model.Current // mean; 0 where the ramp began at once
	ConditioningTime    model.Time
	ConditioningShare   float64      // charge that conditioning removed, of the rated
	Ramp                float64      // A/s
	ChargeUsed          model.Charge // from full to the end

	End      LogEnd
	Trace    model.Trace
	Findings []LogFinding
}

// BurstReducer reduces the rows of a burst log as they stream by, in constant memory.
type BurstReducer struct {
	scan     *logScan
	pack     TestedPack
	protocol model.Protocol
}

// NewBurstReducer reduces a burst test of a pack that ends at the protocol's burst
// end voltage. Conditioning and ramp in the protocol are only compared with the log's.
func NewBurstReducer(pack TestedPack, p model.Protocol) *BurstReducer {
	return &BurstReducer{scan: newLogScan(pack, p.BurstEndPerCell), pack: pack, protocol: p}
}

// Add takes the next row. Rows come in order of time.
func (r *BurstReducer) Add(s Sample) { r.scan.add(s) }

// Finish is the result after the last row. Its error is a [LogError].
func (r *BurstReducer) Finish() (BurstReduction, error) {
	l := r.scan
	if err := l.finish(); err != nil {
		return BurstReduction{}, err
	}
	end := l.crossing
	blocks := l.blocks.until(end.t)
	b := BurstReduction{
		Rows: l.rows, Current: model.Current(end.i), Power: model.Power(end.i * l.end), ChargeUsed: model.Charge(end.q),
		End:   LogEnd{Line: end.line, Interval: model.Time(l.straddle), CurrentStep: l.straddleI},
		Trace: l.trace(blocks),
	}
	h := findRamp(append(slices.Clip(blocks), end))
	if i, ok := h.currentAt(end, blocks); ok {
		b.Current, b.Power = model.Current(i), model.Power(i*l.end)
	}
	b.InRamp, b.Ramp = h.ramp > 0, h.ramp
	b.ConditioningCurrent = model.Current(h.level)
	if h.level > 0 {
		b.ConditioningTime = model.Time(h.at - l.begin)
	}
	b.ConditioningShare = float64(b.ConditioningCurrent) * float64(b.ConditioningTime) / float64(r.pack.Rated)
	b.Findings = append(l.findings(r.pack.Chemistry), r.protocolFindings(b)...)
	SortFindings(b.Findings)
	return b, nil
}

func (r *BurstReducer) protocolFindings(b BurstReduction) []LogFinding {
	var list []LogFinding
	p := r.protocol
	stated := float64(p.ConditioningCurrent) * float64(p.ConditioningTime) / float64(r.pack.Rated)
	switch {
	case !b.InRamp:
		list = append(list, LogFinding{LogNoRamp, 1, b.End.Line, fmt.Sprintf(
			"the burst end voltage was met after %.3g s of conditioning at %.4g A: the pack never came to the ramp", float64(b.ConditioningTime), float64(b.ConditioningCurrent))})
	case math.Abs(b.ConditioningShare-stated) > otherConditioning*max(stated, 0.05):
		list = append(list, LogFinding{LogConditioning, 1, 0, fmt.Sprintf(
			"conditioning removed %.3g %% of the rated charge, not the protocol's %.3g %%", 100*b.ConditioningShare, 100*stated)})
	}
	if b.InRamp && p.Ramp > 0 && math.Abs(b.Ramp/p.Ramp-1) > otherRamp {
		list = append(list, LogFinding{LogOtherLoad, 1, 0, fmt.Sprintf("a ramp of %.3g A/s, not the protocol's %.3g A/s", b.Ramp, p.Ramp)})
	}
	if b.End.CurrentStep > 0.03 {
		list = append(list, LogFinding{LogSparse, 1, b.End.Line, fmt.Sprintf(
			"%.2g s between the rows around the end voltage, in which the current changed by %.2g %%", float64(b.End.Interval), 100*b.End.CurrentStep)})
	}
	return list
}

// hinge is a constant current and the ramp after it.
type hinge struct {
	level float64 // 0 where there is no constant part
	at    float64 // time at which the ramp begins
	ramp  float64 // A/s; 0 where there is none
}

// straightRamp is how far from its line a row of a straight ramp may be.
const straightRamp = 0.05

// currentAt is the current at the end of a straight ramp, from the whole of it: the rows
// around the end are few, and one of them may be wrong. ok is false where the ramp is too short, or
// more than a few of its rows are off a straight line.
func (h hinge) currentAt(end moment, blocks []moment) (i float64, ok bool) {
	if h.ramp <= 0 {
		return 0, false
	}
	count := 0.0 // of the blocks in the ramp
	for pass := range 2 {
		var line lineFit
		for _, b := range blocks {
			if b.t > h.at && (pass == 0 || math.Abs(b.i-i-h.ramp*(b.t-end.t)) < straightRamp*i) {
				line.add(b.t-end.t, b.i)
			}
		}
		var slope float64
		if i, slope, ok = line.fit(); !ok || line.n < 8 || line.n < 0.85*count {
			return 0, false
		}
		h.ramp, count = slope, line.n
	}
	return i, true
}

// findRamp splits a burst into a constant part and a straight ramp where the two fit best.
func findRamp(blocks []moment) hinge {
	t0, n := blocks[0].t, len(blocks)
	best, split := math.Inf(1), 0
	var all lineFit
	for _, b := range blocks {
		all.add(b.t-t0, b.i)
	}
	var before lineFit
	after := all
	for k := 0; k <= n; k++ {
		level := 0.0
		if before.n > 0 {
			level = max(0, before.yy-before.y*before.y/before.n)
		}
		if n-k >= 3 || k == n {
			if s := level + after.sse(); s < best*(1-1e-9) {
				best, split = s, k
			}
		}
		if k < n {
			x, y := blocks[k].t-t0, blocks[k].i
			before.add(x, y)
			after = lineFit{after.n - 1, after.x - x, after.y - y, after.xx - x*x, after.xy - x*y, after.yy - y*y}
		}
	}
	mean := all.y / all.n
	var level, ramp lineFit
	for k, b := range blocks {
		if k < split {
			level.add(b.t-t0, b.i)
		} else {
			ramp.add(b.t-t0, b.i)
		}
	}
	last := blocks[n-1]
	a, slope, ok := ramp.fit()
	if !ok || slope*(last.t-t0-ramp.x/max(1, ramp.n))*2 < 0.05*mean {
		return hinge{level: mean, at: last.t}
	}
	if level.n < 3 {
		return hinge{at: t0, ramp: slope}
	}
	h := hinge{level: level.y / level.n, ramp: slope}
	h.at = min(max(t0+(h.level-a)/slope, t0), last.t)
	return h
}

// Metrics are the tested metrics of the reductions of a pack's two logs, either of
// which may be nil, with the protocol as it was really run.
func Metrics(p model.Protocol, d *DischargeReduction, b *BurstReduction) model.TestedMetrics {
	m := model.TestedMetrics{Protocol: p}
	if d != nil {
		m.Capacity, m.Energy, m.MidVoltage = d.Capacity, d.Energy, d.MidVoltage
		m.Protocol.DischargePower, m.Protocol.DischargeCurrent = d.Power, 0
		if d.Held == HeldCurrent {
			m.Protocol.DischargePower, m.Protocol.DischargeCurrent = 0, d.Current
		}
	}
	if b != nil {
		m.BurstPower, m.BurstCurrent = b.Power, b.Current
		m.Protocol.ConditioningCurrent, m.Protocol.ConditioningTime = b.ConditioningCurrent, b.ConditioningTime
		if b.InRamp {
			m.Protocol.Ramp = b.Ramp
		}
	}
	return m
}
