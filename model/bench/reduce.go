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
	if rise := risen(blocks); d.Held == HeldNothing && rise > burstRise {
		return DischargeReduction{}, &LogError{LogNoDischarge, l.loadedAt.Line, fmt.Sprintf(
			"the current rises to %.2g times what it is here, and neither it nor the power is held: is this the log of a burst?", rise)}
	}
	d.Findings = append(l.findings(r.pack.Chemistry), r.protocolFindings(d)...)
	d.Findings = append(d.Findings, l.coarseStartOf()...)
	d.Findings = append(d.Findings, l.doubts(blocks, d.Held != HeldNothing)...)
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
	otherRamp         = 0.06  // of the protocol's
	otherHinge        = 1.0   // s, or rows: the ramp begins at another time
	surelyOther       = 0.04  // of the protocol's load or conditioning current: one of them is wrong
	burstRise         = 1.6   // times the current at the start: no discharge
)

func (r *DischargeReducer) protocolFindings(d DischargeReduction) []LogFinding {
	var list []LogFinding
	if d.HeldWithin > notHeld {
		list = append(list, noted(LogNotHeld, 0, "the %s was held within %.2g %% only", steadier(d.Held), 100*d.HeldWithin))
	}
	stated := float64(r.protocol.DischargePower)
	switch {
	case stated > 0 && d.Held == HeldCurrent:
		list = append(list, noted(LogOtherLoad, 0, "a constant current of %.4g A, not the protocol's constant power of %.4g W", float64(d.Current), stated).in(true))
	case stated > 0 && math.Abs(float64(d.Power)/stated-1) > otherLoad:
		list = append(list, noted(LogOtherLoad, 0, "%.4g W, not the protocol's %.4g W", float64(d.Power), stated).in(math.Abs(float64(d.Power)/stated-1) > surelyOther))
	}
	if stated := float64(r.protocol.DischargeCurrent); stated > 0 && math.Abs(float64(d.Current)/stated-1) > otherLoad {
		list = append(list, noted(LogOtherLoad, 0, "%.4g A, not the protocol's %.4g A", float64(d.Current), stated).in(math.Abs(float64(d.Current)/stated-1) > surelyOther))
	}
	if share := float64(d.Current) * float64(d.End.Interval) / float64(d.Capacity); share > sparseEnd {
		list = append(list, noted(LogSparse, d.End.Line,
			"%.2g s between the rows around the end voltage, %.2g %% of the charge", float64(d.End.Interval), 100*share).in(share > unsureCharge))
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

// risen is how many times the current of the first blocks flows in the last ones.
func risen(blocks []moment) float64 {
	n := min(5, len(blocks))
	if n == 0 {
		return 1
	}
	middle := func(part []moment) float64 {
		i := make([]float64, len(part))
		for k, b := range part {
			i[k] = b.i
		}
		slices.Sort(i)
		return i[len(i)/2]
	}
	return middle(blocks[len(blocks)-n:]) / middle(blocks[:n])
}
