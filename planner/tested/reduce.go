package tested

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"slices"
	"strings"

	"allup/catalog"
	"allup/catalog/csvlog"
	"allup/model"
	"allup/model/bench"
	"allup/model/words"
	"allup/planner"
)

// Remarks about bench logs. Findings of a log have the codes of [bench.LogCode].
const (
	LogUnread      planner.Code = "log-unread"       // a log's file cannot be read
	FitFallback    planner.Code = "fit-fallback"     // the circuit comes from the metrics, not from the traces
	FitRough       planner.Code = "fit-rough"        // the circuit is far from the traces
	Implausible    planner.Code = "implausible"      // figures that no such pack has
	NoCircuit      planner.Code = "no-circuit"       // the logs fix no circuit
	NotTested      planner.Code = "not-tested"       // too few metrics for a tested pack
	OwnCurve       planner.Code = "own-curve"        // the pack has an open-circuit curve of its own
	FromCatalogue  planner.Code = "from-catalogue"   // fields that the bench file leaves out
	DateOfFile     planner.Code = "date-of-file"     // the bench file has no date
	RateMetrics    planner.Code = "several-loads"    // metrics are those of one of several discharges
	ResistanceOpen planner.Code = "resistance-split" // the parts of the resistance are not known well
)

// ReducedPack is a pack whose bench logs became tested metrics and a circuit, or not.
type ReducedPack struct {
	Bench *catalog.BenchPack

	// Record is the pack's catalogue record; nil where a log was refused. Its numbers
	// are rounded to the digits that a written record has.
	Record *catalog.Pack
	// Metrics are what the logs gave, also where that is too little for Record.Tested.
	Metrics   model.TestedMetrics
	Discharge *bench.DischargeReduction // of the first discharge log
	Burst     *bench.BurstReduction
	Fit       *model.LogFit // nil where there is no circuit

	TestTemperature model.Temperature // the highest that the circuit has in the usual tests as they were run

	Failed  []planner.Remark // why there is no record
	Remarks []planner.Remark // findings and warnings, in the order of the pipeline
	Doubts  []planner.Remark // those of the remarks after which the figures may be wrong
	Unread  []error          // files that could not be read; they are among Failed, too

	sources []logSource // that were read
}

// ReduceBench reduces the logs of every pack of a bench. A pack whose logs cannot be
// read or are refused does not stop the others. known, which may be nil, fills fields that
// say nothing of the test (size, plug, price) from a record of the same id and label.
// The error is that of a chemistry without a curve.
func ReduceBench(b *catalog.Bench, logs fs.FS, known *catalog.Catalogue, progress planner.Progress) ([]ReducedPack, error) {
	packs := make([]ReducedPack, len(b.Packs))
	for i := range b.Packs {
		curve, err := model.CurveOf(b.Packs[i].Chemistry)
		if err != nil {
			return nil, err
		}
		packs[i] = reducePack(&b.Packs[i], b.Protocol, logs, curve, known)
		if progress != nil {
			progress(i+1, len(packs))
		}
	}
	doubtSameLogs(packs)
	return packs, nil
}

func remark(code planner.Code, subject, format string, args ...any) planner.Remark {
	return planner.Remark{Code: code, Subject: subject, Text: fmt.Sprintf(format, args...)}
}

// reading is a pack's logs on their way.
type reading struct {
	*ReducedPack
	logs     fs.FS
	protocol model.Protocol
	stated   catalog.StatedTests
	pack     bench.TestedPack
	ran      []discharged  // in the order of the bench file until chooseDischarge
	traces   []model.Trace // of the burst
	date     string
}

func reducePack(p *catalog.BenchPack, protocol catalog.BenchProtocol, logs fs.FS, curve model.Curve, known *catalog.Catalogue) ReducedPack {
	out := ReducedPack{Bench: p}
	r := reading{
		ReducedPack: &out, logs: logs, protocol: protocol.For(p.Rated, p.Cells), stated: protocol.Stated,
		pack: bench.TestedPack{Cells: p.Cells, Chemistry: p.Chemistry, Rated: p.Rated},
	}
	for _, name := range p.Discharge {
		r.discharge(name)
	}
	if p.Burst != "" {
		r.burst(p.Burst)
	}
	r.chooseDischarge()
	if len(out.Failed) > 0 {
		out.Discharge, out.Burst = nil, nil
		return out
	}
	out.Metrics = bench.Metrics(r.protocol, out.Discharge, out.Burst)
	out.Metrics.Ambient = p.Ambient
	roundMetrics(&out.Metrics)
	r.refuseImplausible()
	if len(out.Failed) > 0 {
		out.Discharge, out.Burst = nil, nil
		return out
	}
	if said, low := planner.TestedLow(p.ID, out.Metrics.Protocol); low {
		out.Remarks = append(out.Remarks, said)
	}
	r.compareLogs()
	r.fit(curve)
	r.doubtShare()
	out.Record = r.record(known)
	return out
}

// What a pack can give of its label, and the current that a small pack can burst at (own
// judgement): beyond these a log is in another unit than its header says, or of another pack.
const (
	leastOfLabel = 0.02 // delivered
	mostOfLabel  = 1.5
	mostBurstC   = 300
)

// What packs of one label give of it: outside of this the figures are in doubt. The lower one is the capacity of
// the circuit where there is one, so that an old pack which gives little down to a high end voltage is none of these.
const (
	usuallyLeast = 0.45
	usuallyMost  = 1.2
)

// refuseImplausible refuses metrics that no such pack has.
func (r *reading) refuseImplausible() {
	const hint = "is a unit in the header wrong, ms or mA, or is the log of another pack?"
	p, m := r.Bench, r.Metrics
	for _, d := range r.ran {
		if share := float64(d.Capacity / p.Rated); share < leastOfLabel || share > mostOfLabel {
			r.fail(Implausible, d.name, 0, fmt.Sprintf("the capacity would be %.0f mAh, %.2g times the %.0f mAh on the label, where %.2f to %.1f times is possible; %s",
				d.Capacity.MilliAmpHours(), share, p.Rated.MilliAmpHours(), leastOfLabel, mostOfLabel, hint))
		}
	}
	if c := float64(m.BurstCurrent) / p.Rated.AmpHours(); m.BurstCurrent > 0 && c > mostBurstC {
		r.fail(Implausible, p.Burst, 0, fmt.Sprintf("the burst current would be %.0f A, %.0f C, where up to %d C is possible; %s", float64(m.BurstCurrent), c, mostBurstC, hint))
	}
}

// doubtShare doubts a capacity that packs of that label hardly have.
func (r *reading) doubtShare() {
	p, m := r.Bench, r.Metrics
	if m.Capacity <= 0 {
		return
	}
	delivered := float64(m.Capacity / p.Rated)
	whole, what := delivered, "capacity"
	if r.Fit != nil {
		whole, what = float64(r.Fit.Circuit.Capacity/p.Rated), "capacity of the circuit"
	}
	switch {
	case delivered > usuallyMost:
		r.doubt(Implausible, "capacity is %.0f %% of the label, where %.0f %% is much: is the log of another pack, or a gain or a clock wrong?", 100*delivered, 100*usuallyMost)
	case whole < usuallyLeast:
		r.doubt(Implausible, "%s is %.0f %% of the label, where %.0f %% is little: is the log of another pack, or a gain or a clock wrong?", what, 100*whole, 100*usuallyLeast)
	}
}

func (r *reading) fail(code planner.Code, name string, line int, text string) {
	r.Failed = append(r.Failed, planner.Remark{Code: code, Subject: place(name, line), Text: text})
}

// place is where in a log something is, as compilers say it.
func place(name string, line int) string {
	if line > 0 {
		return fmt.Sprintf("%s:%d", name, line)
	}
	return name
}

func (r *reading) findings(name string, list []bench.LogFinding) {
	for _, f := range list {
		said := planner.Remark{Code: planner.Code(f.Code), Subject: place(name, f.Line), Text: f.Text}
		r.Remarks = append(r.Remarks, said)
		if f.Doubt {
			r.Doubts = append(r.Doubts, said)
		}
	}
}

// doubt is a remark after which the figures may be wrong.
func (r *reading) doubt(code planner.Code, format string, args ...any) {
	said := remark(code, r.Bench.ID, format, args...)
	r.Remarks, r.Doubts = append(r.Remarks, said), append(r.Doubts, said)
}

// compareLogs sets the discharge against the burst. What begins under load began full only where the other log, which
// has a row at rest, says so.
func (r *reading) compareLogs() {
	list, known := bench.ComparePair(r.Bench.Cells, r.Discharge, r.Burst)
	r.findings(r.Bench.ID, list)
	if known {
		return
	}
	if d := r.Discharge; d != nil && d.Trace.Rest == 0 {
		r.doubt(planner.Code(bench.LogNoRest), "discharge begins under load, and no other log tells whether the pack was full")
	}
	if b := r.Burst; b != nil && b.Trace.Rest == 0 {
		r.doubt(planner.Code(bench.LogNoRest), "burst begins under load, and no other log tells whether the pack was full")
	}
}

// logSource is a log that was read, for the record.
type logSource struct{ name, hash string }

// refused keeps what is wrong with a log, whatever the type of its error: a fault of the log itself, or else a
// failure to read it. It reports whether there is anything.
func (r *reading) refused(name string, err error) bool {
	if err == nil {
		return false
	}
	if refusal, is := errors.AsType[*bench.LogError](err); is {
		r.fail(planner.Code(refusal.Code), name, refusal.Line, refusal.Msg)
		return true
	}
	r.fail(LogUnread, name, 0, err.Error())
	r.Unread = append(r.Unread, fmt.Errorf("reading a log of %s: %w", r.Bench.ID, err))
	return true
}

// stream reads one log through add; ok is false where it failed.
func (r *reading) stream(name string, add func(bench.Sample)) (ok bool) {
	log, err := csvlog.Open(r.logs, name, r.Bench.Columns)
	if err == nil {
		defer log.Close()
		for log.Scan() {
			add(log.Sample())
		}
		err = log.Err()
	}
	if r.refused(name, err) {
		return false
	}
	r.findings(name, log.Findings())
	r.sources = append(r.sources, logSource{name, log.Hash()})
	r.date = max(r.date, log.Date())
	return true
}

// discharged is a discharge log that was read.
type discharged struct {
	name string
	bench.DischargeReduction
}

// chooseDischarge makes the discharge nearest to the protocol's load the one that the tested metrics are of,
// whatever the order in the bench file.
func (r *reading) chooseDischarge() {
	if len(r.ran) == 0 {
		return
	}
	off := func(d *discharged) float64 {
		load, asked := float64(d.Power), float64(r.protocol.DischargePower)
		if r.protocol.DischargeCurrent > 0 {
			load, asked = float64(d.Current), float64(r.protocol.DischargeCurrent)
		}
		return math.Abs(math.Log(load / asked))
	}
	slices.SortStableFunc(r.ran, func(a, b discharged) int {
		return cmp.Or(cmp.Compare(off(&a), off(&b)), cmp.Compare(b.Capacity, a.Capacity), cmp.Compare(b.Energy, a.Energy))
	})
	r.Discharge = &r.ran[0].DischargeReduction
	if len(r.ran) > 1 {
		r.Remarks = append(r.Remarks, remark(RateMetrics, r.Bench.ID, "has several discharges: the tested metrics are those of %s, nearest to the protocol's load, the circuit is that of all", r.ran[0].name))
	}
}

// asStated takes the doubt from another load than the protocol's where the bench file does not state it: then
// it is the usual protocol that was not kept.
func asStated(findings []bench.LogFinding, stated bool) []bench.LogFinding {
	for k := range findings {
		if f := &findings[k]; (f.Code == bench.LogOtherLoad || f.Code == bench.LogConditioning) && !stated {
			f.Doubt = false
		}
	}
	return findings
}

func (r *reading) discharge(name string) {
	reducer := bench.NewDischargeReducer(r.pack, r.protocol, bench.ReduceSettings{})
	if !r.stream(name, reducer.Add) {
		return
	}
	d, err := reducer.Finish()
	if r.refused(name, err) {
		return
	}
	r.findings(name, asStated(d.Findings, r.stated.Discharge))
	r.ran = append(r.ran, discharged{name, d})
}

func (r *reading) burst(name string) {
	reducer := bench.NewBurstReducer(r.pack, r.protocol)
	if !r.stream(name, reducer.Add) {
		return
	}
	b, err := reducer.Finish()
	if r.refused(name, err) {
		return
	}
	r.findings(name, asStated(b.Findings, r.stated.Burst))
	r.traces = append(r.traces, b.Trace)
	r.Burst = &b
}

// roughFit is a fit's RMS that deserves a word: twice what measured cells leave.
const roughFit model.Voltage = 0.020

// curveWorthAWord is about what good packs of one chemistry differ by: less is nothing to tell.
const curveWorthAWord model.Voltage = 0.010

// fit makes the circuit: from the traces, or from the metrics, or from discharges at several loads, or from the
// one test that there is.
func (r *reading) fit(curve model.Curve) {
	id := r.Bench.ID
	known := model.NewCircuit(r.Bench.Cells, curve, r.Bench.Mass)
	traces := r.traces
	rates := make([]model.TestedMetrics, len(r.ran))
	for k := range r.ran {
		d := &r.ran[k].DischargeReduction
		traces = append(traces, d.Trace)
		rates[k] = bench.Metrics(r.protocol, d, nil)
		rates[k].Ambient = r.Bench.Ambient
	}
	fit, err := model.ExplainLogs(known, model.Label{Chemistry: r.Bench.Chemistry, Rated: r.Bench.Rated}, traces, rates, r.Metrics)
	if err != nil {
		r.doubt(NoCircuit, "has no circuit: %v", err)
		return
	}
	roundCircuit(&fit.Circuit)
	r.Fit = &fit
	r.TestTemperature = fit.Circuit.TestTemperature(r.Metrics.Protocol)
	if r.TestTemperature > planner.HottestPack() {
		r.Remarks = append(r.Remarks, remark(planner.HotPack, id, "was warmed to about %.0f C by its tests, as its circuit has it: above %.0f C packs age fast and may fail",
			r.TestTemperature.Celsius(), planner.HottestPack().Celsius()))
	}
	if fit.Fallback != "" {
		r.Remarks = append(r.Remarks, remark(FitFallback, id, "circuit from the tested metrics, its R0 and R1 by a fixed share: %s", fit.Fallback))
	}
	if fit.RMS > roughFit {
		r.Remarks = append(r.Remarks, remark(FitRough, id, "circuit is %.0f mV per cell off its logs (RMS): its cells are not quite of the usual kind", 1e3*float64(fit.RMS)))
	}
	if fit.CurveOff > curveWorthAWord {
		r.Remarks = append(r.Remarks, remark(OwnCurve, id, "has an open-circuit curve of its own, %.0f mV per cell (RMS) from the usual one of %s, to meet its logs", 1e3*float64(fit.CurveOff), r.Bench.Chemistry))
	}
	if said, open := resistanceOpen(id, &fit); open {
		r.Remarks = append(r.Remarks, said)
	}
	r.explain(&fit)
}

// resistanceOpen says that logs do not part R0 from R1; open is false where they do, or where nothing was fitted.
func resistanceOpen(id string, fit *model.LogFit) (said planner.Remark, open bool) {
	if fit.Fallback != "" || fit.Sigma.R0 <= fit.Circuit.R0/5 {
		return planner.Remark{}, false
	}
	return remark(ResistanceOpen, id, "logs do not part R0 from R1 well: R0 %.1f +- %.1f mohm, together %.1f +- %.1f mohm",
		fit.Circuit.R0.MilliOhms(), fit.Sigma.R0.MilliOhms(), (fit.Circuit.R0 + fit.Circuit.R1).MilliOhms(), fit.Sigma.Steady.MilliOhms()), true
}

// explain says what of the logs is not as usual, and what of them the circuit does not explain.
func (r *reading) explain(fit *model.LogFit) {
	worst, bad := fit.Doubtful()
	off := math.Abs(worst.Sigma)
	if fit.Unusual != "" {
		r.Remarks = append(r.Remarks, remark(planner.Unusual, r.Bench.ID, "has logs that go together only if %s: that is assumed", fit.Unusual))
	}
	switch {
	case fit.LeftOut != "":
		r.doubt(planner.Doubtful, "tested %s contradicts the other metrics, by %.0f sigma: the circuit is made without it, and its errors cover it", fit.LeftOut, off)
	case bad:
		r.doubt(planner.Doubtful, "logs contradict each other: no circuit's simulated test comes nearer than %.1f sigma to the tested %s; its errors cover that", off, worst.Metric)
	}
}

// record makes the catalogue record.
func (r *reading) record(known *catalog.Catalogue) *catalog.Pack {
	p := r.Bench.Pack
	r.borrow(&p, known)
	if p.Date != "" {
		r.date = p.Date
	} else if r.date != "" {
		r.Remarks = append(r.Remarks, remark(DateOfFile, p.ID, "bench file gives no date: %s, the day that the logs were last written", r.date))
	}
	p.Date = ""
	source := r.source()
	m := r.Metrics
	whole := m.Discharged() && m.Bursted()
	if !whole {
		text := "has one kind of log only: its record carries that test and the circuit, nothing of the other"
		if r.Fit == nil {
			text = "has one kind of log only, and no circuit: too little for a record of a test; the record is its label"
		}
		r.Remarks = append(r.Remarks, remark(NotTested, p.ID, "%s", text))
	}
	if whole || r.Fit != nil {
		p.Tested, p.TestDate, p.TestSource = &m, r.date, source
	} else {
		p.Date = r.date
		p.Note = strings.TrimPrefix(p.Note+"; logs: "+source, "; ")
	}
	if r.Fit != nil {
		c := r.Fit.Circuit
		p.Circuit = &c
		p.CircuitSigmaQ, p.CircuitSigmaR, p.CircuitSigmaK = recordSigmas(r.Fit)
	}
	return &p
}

// recordSigmas are the errors of capacity, steady resistance and charge dependence as a record keeps them: the
// fit's, or those that the metrics left open with what a circuit gets wrong, and what either misses of the
// metrics; zero where discharges at several loads gave the circuit, which states none.
func recordSigmas(f *model.LogFit) (model.Charge, model.Resistance, float64) {
	c := f.Circuit
	q, r, k := float64(f.Sigma.Capacity/c.Capacity), float64(f.Sigma.Steady/(c.R0+c.R1)), f.Sigma.K
	if f.Fallback != "" {
		q, r, k = f.SigmaQ, f.SigmaR, model.UsualKSigma
		if q > 0 {
			q, r = math.Hypot(q, model.ModelSigmaQ), math.Hypot(r, model.ModelSigmaR)
		}
	}
	if q > 0 {
		q, r = math.Hypot(q, f.MisfitQ), math.Hypot(r, f.MisfitR)
	}
	// Short of the bound by more than a rounding.
	const most = 0.999 * catalog.MostCircuitSigma
	sigmaQ, sigmaR := c.Capacity*model.Charge(min(q, most)), (c.R0+c.R1)*model.Resistance(min(r, most))
	roundTo(&sigmaQ, model.MilliAmpH)
	roundTo(&sigmaR, model.MilliOhm)
	roundTo(&k, 1)
	return sigmaQ, sigmaR, k
}

// source names the logs with their hashes, cut so that a record can hold it.
func (r *reading) source() string {
	const most = 450 // of the 500 characters that a text in a record may have
	for digits := 64; digits >= 8; digits /= 2 {
		parts := make([]string, len(r.sources))
		for i, s := range r.sources {
			parts[i] = s.name + " sha256 " + s.hash[:digits]
		}
		if text := strings.Join(parts, "; "); len(text) <= most {
			return text
		}
	}
	return fmt.Sprintf("%d logs, sha256 of the first %s", len(r.sources), r.sources[0].hash)
}

// borrow fills what the bench file leaves out from a record of the same id and label.
func (r *reading) borrow(p *catalog.Pack, known *catalog.Catalogue) {
	if known == nil {
		return
	}
	old, ok := known.Packs[p.ID]
	if !ok || old.Cells != p.Cells || old.Chemistry != p.Chemistry || math.Abs(float64(old.Rated/p.Rated)-1) > 0.001 {
		return
	}
	var fields []string
	take := func(name string, missing bool, set func()) {
		if missing {
			set()
			fields = append(fields, name)
		}
	}
	take("name", p.Name == p.ID && old.Name != p.ID, func() { p.Name = old.Name })
	take("size_mm", p.Size == nil && old.Size != nil, func() { p.Size = old.Size })
	take("plug", p.Plug == "" && old.Plug != "", func() { p.Plug = old.Plug })
	take("max_current_a", p.MaxCurrent == nil && old.MaxCurrent != nil, func() { p.MaxCurrent = old.MaxCurrent })
	take("price", p.Price == nil && old.Price != nil, func() { p.Price, p.Currency = old.Price, old.Currency })
	take("url", p.URL == "" && old.URL != "", func() { p.URL = old.URL })
	if len(fields) > 0 {
		r.Remarks = append(r.Remarks, remark(FromCatalogue, p.ID, "takes %s from the catalogue's record of that id", words.List(fields, "and")))
	}
}

// Comments are what stands above a written record: protocol, fit, and what was assumed.
func (p *ReducedPack) Comments() []string {
	var lines []string
	add := func(format string, args ...any) { lines = append(lines, fmt.Sprintf(format, args...)) }
	add("%s, reduced from its bench logs by allup reduce.", p.Bench.ID)
	if d := p.Discharge; d != nil {
		load := fmt.Sprintf("constant power of %.4g W", float64(d.Power))
		switch d.Held {
		case bench.HeldCurrent:
			load = fmt.Sprintf("constant current of %.4g A", float64(d.Current))
		case bench.HeldNothing:
			load = fmt.Sprintf("no constant load, %.4g W in the mean", float64(d.Power))
		}
		add("Discharge: %s, held within %.1f %%, %d rows, %.0f s.", load, 100*d.HeldWithin, d.Rows, float64(d.Duration))
	}
	if b := p.Burst; b != nil {
		if b.InRamp {
			add("Burst: %.4g A for %.3g s removed %.3g %% of the rated charge, then +%.3g A/s; %d rows.",
				float64(b.ConditioningCurrent), float64(b.ConditioningTime), 100*b.ConditioningShare, b.Ramp, b.Rows)
		} else {
			add("Burst: ended at %.4g A, before a ramp; %d rows.", float64(b.Current), b.Rows)
		}
	}
	if f := p.Fit; f != nil && f.Fallback == "" {
		add("Circuit: fitted to the logs, %.2g mV per cell off (RMS); one sigma: capacity %.2g mAh, R0 %.2g mohm, R1 %.2g mohm, tau %.2g s, shift %.2g mV, charge dependence %.2g.",
			1e3*float64(f.RMS), f.Sigma.Capacity.MilliAmpHours(), f.Sigma.R0.MilliOhms(), f.Sigma.R1.MilliOhms(), float64(f.Sigma.Tau), 1e3*float64(f.Sigma.Shift), f.Sigma.K)
	}
	for _, r := range p.Remarks {
		add("%s: %s.", r.Subject, r.Text)
	}
	return lines
}

// roundMetrics and roundCircuit round to the digits of a written record, so that what
// is shown, written and read back is the same.
func roundMetrics(m *model.TestedMetrics) {
	roundTo(&m.Protocol.DischargePower, 1)
	roundTo(&m.Protocol.DischargeCurrent, 1)
	roundTo(&m.Protocol.ConditioningCurrent, 1)
	roundTo(&m.Protocol.ConditioningTime, 1)
	roundTo(&m.Protocol.Ramp, 1)
	roundTo(&m.Capacity, model.MilliAmpH)
	roundTo(&m.Energy, model.WattHour)
	roundTo(&m.MidVoltage, 1)
	roundTo(&m.BurstPower, 1)
	roundTo(&m.BurstCurrent, 1)
}

func roundCircuit(c *model.Circuit) {
	roundTo(&c.Capacity, model.MilliAmpH)
	roundTo(&c.R0, model.MilliOhm)
	roundTo(&c.R1, model.MilliOhm)
	roundTo(&c.Tau, 1)
	roundTo(&c.Shift, 1e-3)
	roundTo(&c.K, 1)
}

func roundTo[T ~float64](v *T, unit T) { *v = T(catalog.RoundForRecord(float64(*v/unit))) * unit }

// PowerOf is a pack's tested power density.
type PowerOf struct {
	ID       string
	WPerGram float64
}

// PowerSpread is the least and the greatest power density of the packs of a bench that were reduced; ok is false where
// no two differ.
func PowerSpread(packs []ReducedPack) (least, most PowerOf, ok bool) {
	var known []PowerOf
	for i := range packs {
		if p := &packs[i]; p.Record != nil {
			if w := planner.RatiosOf(p.Record, p.Metrics).WPerGram; w > 0 {
				known = append(known, PowerOf{p.Bench.ID, w})
			}
		}
	}
	if len(known) < 2 {
		return PowerOf{}, PowerOf{}, false
	}
	byPower := func(a, b PowerOf) int { return cmp.Compare(a.WPerGram, b.WPerGram) }
	least, most = slices.MinFunc(known, byPower), slices.MaxFunc(known, byPower)
	return least, most, most.WPerGram > least.WPerGram
}
