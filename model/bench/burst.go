package bench

import (
	"fmt"
	"math"
	"slices"

	"allup/model"
)

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
	rowNoise := l.sigmaCurrent() * end.i * (end.t - l.begin) / end.q // as it is at the end
	i, sigma, straight := h.currentAt(end, blocks, rowNoise)
	if straight {
		b.Current, b.Power = model.Current(i), model.Power(i*l.end)
	} else { // the rows of a second
		i, sigma = end.i, rowNoise/math.Sqrt(max(1, 1/l.straddle))
	}
	b.InRamp, b.Ramp = h.ramp > 0, h.ramp
	b.ConditioningCurrent = model.Current(h.level)
	if h.level > 0 {
		b.ConditioningTime = model.Time(h.at - l.begin)
	}
	if err := r.notBurst(b, h, blocks); err != nil {
		return BurstReduction{}, err
	}
	b.ConditioningShare = float64(b.ConditioningCurrent) * float64(b.ConditioningTime) / float64(r.pack.Rated)
	b.Findings = append(l.findings(r.pack.Chemistry), r.protocolFindings(b)...)
	b.Findings = append(b.Findings, l.doubts(blocks, false)...)
	if other, where, bent := h.bent(i, end, blocks, rowNoise); straight && bent {
		b.Findings = append(b.Findings, doubted(LogBentRamp, b.End.Line,
			"the ramp is not straight: the whole of it leads to %.4g A at the end, %s to %.4g A; rows are missing, or meter or load jumped", i, where, other))
	}
	sigma = math.Hypot(sigma, h.ramp*h.endNoise(blocks))
	if b.InRamp && b.End.CurrentStep <= unsureStep && sigma > unsureCurrent*i {
		b.Findings = append(b.Findings, doubted(LogNoisy, 0, "the rows of the ramp are so few, so noisy or so coarse that the current at its end is known to +- %.2g %% only (one sigma)", 100*sigma/i))
	}
	if h.flattens(blocks, end, l.sigma(), rowNoise) {
		b.Findings = append(b.Findings, doubted(LogFlatRamp, b.End.Line, "current or voltage stand still just before the burst end voltage, in the middle of the ramp: load or meter are at their limit, or the logger hung"))
	}
	SortFindings(b.Findings)
	return b, nil
}

// A burst that lasts longer than its conditioning and has no ramp is none.
const (
	beyondConditioning = 1.2 // of the protocol's time of conditioning
	noRampAtAll        = 0.2 // of the protocol's ramp
)

// notBurst is why a log is not one of a burst test, nil where it is one.
func (r *BurstReducer) notBurst(b BurstReduction, h hinge, blocks []moment) error {
	l := r.scan
	p := r.protocol
	lasted := l.crossing.t - l.begin
	what := ""
	switch load, within := held(blocks, l.begin); {
	case load == HeldPower && within < notHeld && lasted > beyondConditioning*float64(p.ConditioningTime)+2:
		what = "a constant power is held"
	case !b.InRamp && lasted > beyondConditioning*float64(p.ConditioningTime)+2:
		what = "there is no ramp"
	case b.InRamp && h.level == 0 && p.ConditioningTime > 0 && h.ramp < noRampAtAll*p.Ramp:
		what = fmt.Sprintf("the current rises by %.2g A/s only", h.ramp)
	default:
		return nil
	}
	return &LogError{LogNoBurst, l.loadedAt.Line, fmt.Sprintf(
		"%s for %.3g s from here: this is no burst test of %.3g s of conditioning and a ramp of %.3g A/s; is it the log of a discharge?", what, lasted, float64(p.ConditioningTime), p.Ramp)}
}

func (r *BurstReducer) protocolFindings(b BurstReduction) []LogFinding {
	var list []LogFinding
	p := r.protocol
	stated := float64(p.ConditioningCurrent) * float64(p.ConditioningTime) / float64(r.pack.Rated)
	switch {
	case !b.InRamp:
		list = append(list, noted(LogNoRamp, b.End.Line,
			"the burst end voltage was met after %.3g s of conditioning at %.4g A: the pack never came to the ramp", float64(b.ConditioningTime), float64(b.ConditioningCurrent)))
	case math.Abs(b.ConditioningShare-stated) > otherConditioning*max(stated, 0.05):
		list = append(list, noted(LogConditioning, 0,
			"conditioning removed %.3g %% of the rated charge, not the protocol's %.3g %%", 100*b.ConditioningShare, 100*stated))
	}
	if level, want := float64(b.ConditioningCurrent), float64(p.ConditioningCurrent); level > 0 && want > 0 && math.Abs(level/want-1) > surelyOther {
		list = append(list, doubted(LogOtherLoad, 0, "conditioning at %.4g A, not the protocol's %.4g A", level, want))
	}
	if d := float64(b.ConditioningTime - p.ConditioningTime); b.InRamp && b.ConditioningCurrent > 0 && math.Abs(d) > otherHinge*max(1, float64(b.End.Interval)) {
		list = append(list, doubted(LogConditioning, 0, "the ramp begins after %.4g s, not after the protocol's %.4g s", float64(b.ConditioningTime), float64(p.ConditioningTime)))
	}
	if b.InRamp && p.Ramp > 0 && math.Abs(b.Ramp/p.Ramp-1) > otherRamp {
		list = append(list, noted(LogOtherLoad, 0, "a ramp of %.3g A/s, not the protocol's %.3g A/s", b.Ramp, p.Ramp).in(true))
	}
	if b.End.CurrentStep > 0.03 && b.End.Interval >= shortestExtrapolation {
		list = append(list, noted(LogSparse, b.End.Line,
			"%.2g s between the rows around the end voltage, in which the current changed by %.2g %%", float64(b.End.Interval), 100*b.End.CurrentStep).in(b.End.CurrentStep > unsureStep))
	}
	return list
}

// hinge is a constant current and the ramp after it.
type hinge struct {
	level float64 // 0 where there is no constant part
	at    float64 // time at which the ramp begins
	ramp  float64 // A/s; 0 where there is none
}

// straightRamp is how far from its line a row of a straight ramp may be, of the current; noisy rows may be further.
const (
	straightRamp = 0.05
	rampSigmas   = 3
)

// What makes the current at the end of a burst doubtful.
const (
	unsureStep    = 0.15  // of the current, between the rows around the end: a straight line between them misses by a quarter of it
	bentRamp      = 0.02  // of the current, by which a part of the ramp leads to another one than the whole, and
	bentSigmas    = 4.5   // of the part's noise
	unsureCurrent = 0.017 // one sigma, of the current: three are 5 %
)

// currentAt is the current at the end of a straight ramp and its standard error, from the whole of it: the rows
// around the end are few, and one of them may be wrong. ok is false where the ramp is too short, or
// more than a few of its rows are off a straight line. The noise of a block is given.
func (h hinge) currentAt(end moment, blocks []moment, noise float64) (i, sigma float64, ok bool) {
	if h.ramp <= 0 {
		return 0, 0, false
	}
	count := 0.0 // of the blocks in the ramp
	for pass := range 2 {
		var line lineFit
		for _, b := range blocks {
			if b.t > h.at && (pass == 0 || math.Abs(b.i-i-h.ramp*(b.t-end.t)) < max(straightRamp*i, rampSigmas*noise)) {
				line.add(b.t-end.t, b.i)
			}
		}
		var slope float64
		if i, slope, ok = line.fit(); !ok || line.n < 8 || line.n < 0.85*count {
			return 0, 0, false
		}
		h.ramp, count = slope, line.n
		sigma = max(noise, math.Sqrt(line.sse()/(line.n-2))) * math.Sqrt(line.xx/(line.n*line.xx-line.x*line.x))
	}
	return i, sigma, true
}

// bent reports whether the last third of the ramp, or the rows around the end, lead to another current there than the
// whole of it.
func (h hinge) bent(whole float64, end moment, blocks []moment, noise float64) (other float64, where string, bent bool) {
	apart := func(i, sigma float64) bool { return math.Abs(i-whole) > max(bentRamp*whole, bentSigmas*sigma) }
	third := h
	third.at = end.t - (end.t-h.at)/3
	if i, sigma, ok := third.currentAt(end, blocks, noise); ok && apart(i, sigma) {
		return i, "its last third", true
	}
	return end.i, "the rows around it", apart(end.i, noise)
}

// endNoise is how well the time is known at which the voltage meets the end voltage in a ramp, one sigma: by the noise
// of the rows that lie near it.
func (h hinge) endNoise(blocks []moment) float64 {
	var fall lineFit
	sum, n := 0.0, 0.0
	for k := 2; k < len(blocks); k++ {
		if b := blocks[k]; blocks[k-2].t > h.at {
			fall.add(b.t-h.at, b.v)
			sum += math.Abs(blocks[k-2].v - 2*blocks[k-1].v + b.v)
			n++
		}
	}
	_, slope, ok := fall.fit()
	if !ok || slope >= 0 || n < 5 {
		return 0
	}
	noise := sum / n / secondDifference
	every := (blocks[len(blocks)-1].t - h.at) / n
	near := 2 * nearNoise * noise / (-slope * every) // rows, of which a line through them has a quarter's worth at its end
	return noise / -slope / math.Sqrt(max(1, near/4))
}

// flattens reports whether current or voltage have come to rest before the end, while they should go on: in the
// last four blocks, or the last two seconds, they move by less than half of what they do in the ramp.
// The noise of a block is given for both.
func (h hinge) flattens(blocks []moment, end moment, volts, amps float64) bool {
	if h.ramp <= 0 {
		return false
	}
	var ramp lineFit
	for _, b := range blocks {
		if b.t > h.at {
			ramp.add(b.t-end.t, b.v)
		}
	}
	_, fall, ok := ramp.fit()
	if !ok || ramp.n < 10 || fall >= 0 {
		return false
	}
	for _, since := range []float64{0, 2} {
		var v, i lineFit
		for k := len(blocks) - 1; k >= 0 && blocks[k].t > h.at && (v.n < 4 || blocks[k].t > end.t-since); k-- {
			v.add(blocks[k].t-end.t, blocks[k].v)
			i.add(blocks[k].t-end.t, blocks[k].i)
		}
		_, slopeV, okV := v.fit()
		_, slopeI, okI := i.fit()
		lever := math.Sqrt(v.xx - v.x*v.x/v.n)
		if okV && okI && v.n >= 4 && (slopeI+4*amps/lever < h.ramp/2 || slopeV-4*volts/lever > fall/2) {
			return true
		}
	}
	return false
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
			after = after.minus(lineFit{1, x, y, x * x, x * y, y * y})
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
