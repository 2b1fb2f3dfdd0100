package draw

import (
	"cmp"
	"fmt"
	"slices"

	"allup/model"
	"allup/model/words"
	"allup/planner"
	"allup/planner/tested"
)

// fewCurves is how many curves can be told apart by ink and dash; of more, only those that stand out are named.
const fewCurves = 6

// discharged are the packs with a discharge log, highest mid voltage per cell first.
func discharged(packs []tested.ReducedPack) []*tested.ReducedPack {
	var list []*tested.ReducedPack
	for i := range packs {
		if packs[i].Discharge != nil && len(packs[i].Discharge.Trace.Points) > 1 {
			list = append(list, &packs[i])
		}
	}
	slices.SortStableFunc(list, func(a, b *tested.ReducedPack) int { return cmp.Compare(midPerCell(b), midPerCell(a)) })
	return list
}

func midPerCell(p *tested.ReducedPack) float64 {
	return float64(p.Metrics.MidVoltage) / float64(p.Bench.Cells)
}

// named reports whether the i-th of n curves has a name and an ink of its own: the first, the last and the
// middle of many.
func named(i, n int) bool { return n <= fewCurves || i == 0 || i == n-1 || i == n/2 }

// Discharges is the loaded voltage of bench packs over the charge that they delivered; nil without discharge logs.
func Discharges(bench string, packs []tested.ReducedPack) *Drawing {
	d := discharges(bench, packs, "discharge", "delivered charge, mAh", func(p *tested.ReducedPack, q model.Charge) float64 { return q.MilliAmpHours() })
	if d != nil {
		d.Title = dischargeTitle(discharged(packs))
	}
	return d
}

// DischargeShares is the loaded voltage of bench packs over the share of what each delivered, its middle marked; nil
// without discharge logs.
func DischargeShares(bench string, packs []tested.ReducedPack) *Drawing {
	d := discharges(bench, packs, "discharge-share", "share of the delivered charge, %", func(p *tested.ReducedPack, q model.Charge) float64 {
		return float64(q / p.Discharge.Capacity)
	})
	if d != nil {
		list := discharged(packs)
		d.Title = fmt.Sprintf("Half-way down, packs hold %s to %s V per cell", words.Fixed(midPerCell(list[len(list)-1]), 2), words.Fixed(midPerCell(list[0]), 2))
		if len(list) == 1 {
			d.Title = fmt.Sprintf("Half-way down, %s holds %s V per cell", list[0].Bench.ID, words.Fixed(midPerCell(list[0]), 2))
		}
	}
	return d
}

func dischargeTitle(list []*tested.ReducedPack) string {
	most := slices.MaxFunc(list, func(a, b *tested.ReducedPack) int { return cmp.Compare(delivered(a), delivered(b)) })
	least := slices.MinFunc(list, func(a, b *tested.ReducedPack) int { return cmp.Compare(delivered(a), delivered(b)) })
	if most == least {
		return fmt.Sprintf("%s delivers %.0f %% of its label", most.Bench.ID, 100*delivered(most))
	}
	return fmt.Sprintf("Of their labels %s delivers the most, %.0f %%, and %s the least, %.0f %%", most.Bench.ID, 100*delivered(most), least.Bench.ID, 100*delivered(least))
}

func delivered(p *tested.ReducedPack) float64 { return float64(p.Metrics.Capacity / p.Bench.Rated) }

func discharges(bench string, packs []tested.ReducedPack, kind, label string, at func(*tested.ReducedPack, model.Charge) float64) *Drawing {
	list := discharged(packs)
	if len(list) == 0 {
		return nil
	}
	s := scene{}
	share := kind == "discharge-share"
	x, y := extent{}, extent{}
	x.include(0)
	var says []string
	for i, p := range list {
		cells := float64(p.Bench.Cells)
		k := curve{id: p.Bench.ID, ink: inkQuiet, width: 1, least: true}
		if named(i, len(list)) {
			k.ink, k.dash, k.width, k.least = series(i), i, 1.7, false
			if len(list) > fewCurves {
				k.ink = series(len(says) % 3)
			}
		}
		d := p.Discharge
		for _, q := range append(slices.Clip(d.Trace.Points), d.Trace.End) {
			k.line = append(k.line, xy{at(p, q.Delivered), float64(q.Voltage) / cells})
		}
		for _, v := range k.line {
			x.include(v.x)
			y.include(v.y)
		}
		k.says = fmt.Sprintf("%s delivers %.0f mAh, %s V per cell half-way", p.Bench.ID, d.Capacity.MilliAmpHours(), words.Fixed(midPerCell(p), 2))
		mid := point{id: p.Bench.ID, at: xy{at(p, d.Capacity/2), midPerCell(p)}, ink: k.ink, radius: 3, bold: true, least: k.least}
		switch {
		case k.least:
		case share:
			mid.label = fmt.Sprintf("%s %s V", p.Bench.ID, words.Fixed(midPerCell(p), 2))
		default:
			k.label = fmt.Sprintf("%s %.0f mAh", p.Bench.ID, d.Capacity.MilliAmpHours())
		}
		if !k.least {
			says = append(says, k.says)
		}
		s.curves = append(s.curves, k)
		s.points = append(s.points, mid)
	}
	slices.Reverse(s.curves) // the named ones on top, the best last
	s.x, s.y = axis{label: label, percent: share}, axis{label: "loaded voltage per cell, V"}
	s.x.max = 1.0
	if !share {
		s.x.max = 1.22 * x.high // room for the names at the ends
	}
	s.y.min, s.y.max = y.padded()
	if !share {
		s.y.min -= 0.1 * (y.high - y.low) // and below them
	}
	return &Drawing{
		Name: FileName(kind, bench),
		Says: fmt.Sprintf("Loaded voltage per cell of %s against %s, falling; a dot marks the voltage at half of what was delivered. %s.",
			words.Count(len(list), "pack", "packs"), label, words.List(says, "and")),
		wide: 0.55, tall: 1.05, panels: []panel{{1, func(narrow bool) sight { return s.namesOnly(narrow) }}},
	}
}

// namesOnly leaves the figures out of curves' labels where there is little room.
func (s scene) namesOnly(narrow bool) sight {
	if !narrow {
		return s
	}
	s.curves = slices.Clone(s.curves)
	for i := range s.curves {
		if k := &s.curves[i]; k.label != "" && k.id != "" {
			k.label = k.id
		}
	}
	return s
}

// Burst is the voltage and the current of a pack's burst test against time, with the voltage that ends it and the power
// there; nil without a burst log.
func Burst(p *tested.ReducedPack) *Drawing {
	b := p.Burst
	if b == nil || len(b.Trace.Points) < 2 {
		return nil
	}
	id, cells := p.Bench.ID, float64(p.Bench.Cells)
	volts, amps := scene{}, scene{}
	t, v, i := extent{}, extent{}, extent{}
	t.include(0)
	i.include(0)
	measured := curve{ink: inkPart3, width: 4, label: "measured", along: true}
	current := curve{ink: inkOne, width: 1.7}
	for _, q := range b.Trace.Points {
		measured.line = append(measured.line, xy{float64(q.Time), float64(q.Voltage) / cells})
		current.line = append(current.line, xy{float64(q.Time), float64(q.Current)})
	}
	end := float64(p.Metrics.Protocol.BurstEndPerCell)
	last := xy{current.line[len(current.line)-1].x, float64(b.Current)}
	for _, at := range measured.line {
		t.include(at.x)
		v.include(at.y)
	}
	v.include(end)
	for _, at := range current.line {
		i.include(at.y)
	}
	i.include(last.y)
	volts.curves = []curve{measured}
	if fitted := fittedLine(p, b.Trace); fitted != nil {
		for _, at := range fitted {
			v.include(at.y)
		}
		volts.curves = append(volts.curves, curve{ink: inkTwo, width: 1.4, line: fitted, label: "fitted", along: true})
	}
	volts.rules = []rule{{at: end, horizontal: true, ink: inkLimit, label: fmt.Sprintf("burst end %s V", words.Fixed(end, 2))}}
	amps.curves = []curve{current}
	amps.points = []point{{at: last, ink: inkOne, radius: 3.6, bold: true, label: fmt.Sprintf("%.0f A, %.0f W", float64(b.Current), float64(b.Power))}}
	_, tMax := t.padded()
	volts.x, amps.x = axis{max: tMax, bare: true}, axis{label: "time under load, s", max: tMax}
	volts.y, amps.y = axis{label: "V per cell"}, axis{label: "A"}
	volts.y.min, volts.y.max = v.padded()
	amps.y.min, amps.y.max = i.padded()
	title := fmt.Sprintf("%s gives %.0f W at %s V per cell, %s", id, float64(b.Power), words.Fixed(end, 2), perGram(p))
	return &Drawing{
		Name: FileName("burst", id), Title: title,
		Says: fmt.Sprintf("Burst test of %s: voltage per cell above, current below, against time. Conditioning at %.1f A for %.0f s, then a ramp until %s V per cell at %.0f A.",
			id, float64(b.ConditioningCurrent), float64(b.ConditioningTime), words.Fixed(end, 2), float64(b.Current)),
		wide: 0.55, tall: 1.05,
		panels: []panel{{0.52, func(bool) sight { return volts }}, {0.48, func(bool) sight { return amps }}},
	}
}

func perGram(p *tested.ReducedPack) string {
	return words.Fixed(planner.RatiosOf(&p.Bench.Pack, p.Metrics).WPerGram, 1) + " W/g"
}

// fittedLine is the voltage per cell of a pack's circuit under the current of a trace; nil without a circuit.
func fittedLine(p *tested.ReducedPack, t model.Trace) []xy {
	if p.Fit == nil {
		return nil
	}
	line := make([]xy, len(t.Points))
	for i, v := range p.Fit.Circuit.Follow(t) {
		line[i] = xy{float64(t.Points[i].Time), float64(v) / float64(p.Bench.Cells)}
	}
	return line
}

// Fit is a pack's discharge as it was measured and as its circuit gives it, with what is between them; nil without a
// discharge log or a circuit.
func Fit(p *tested.ReducedPack) *Drawing {
	if p.Fit == nil || p.Discharge == nil || len(p.Discharge.Trace.Points) < 2 {
		return nil
	}
	id, cells, trace := p.Bench.ID, float64(p.Bench.Cells), p.Discharge.Trace
	volts, misses := scene{}, scene{}
	t, v, m := extent{}, extent{}, extent{}
	t.include(0)
	measured := curve{ink: inkPart3, width: 4, label: "measured", along: true}
	missed := curve{ink: inkTwo, width: 1.3}
	fitted := curve{ink: inkTwo, width: 1.4, line: fittedLine(p, trace), label: "fitted", along: true}
	for i, q := range trace.Points {
		at := xy{float64(q.Time), float64(q.Voltage) / cells}
		measured.line = append(measured.line, at)
		missed.line = append(missed.line, xy{at.x, 1e3 * (fitted.line[i].y - at.y)})
		t.include(at.x)
		v.include(at.y, fitted.line[i].y)
		// Where the curve falls off, a percent of charge is tens of millivolts: what counts is what is above that.
		if float64(q.Delivered/p.Fit.Circuit.Capacity) < 0.9 {
			m.include(missed.line[i].y)
		}
	}
	m.include(-10, 10)
	volts.curves = []curve{measured, fitted}
	misses.curves = []curve{missed}
	misses.rules = []rule{{at: 0, horizontal: true, ink: inkAxis}}
	_, tMax := t.padded()
	volts.x, misses.x = axis{max: tMax, bare: true}, axis{label: "time under load, s", max: tMax}
	volts.y, misses.y = axis{label: "V per cell"}, axis{label: "missed, mV"}
	volts.y.min, volts.y.max = v.padded()
	room := 0.15 * (m.high - m.low)
	misses.y.min, misses.y.max = m.low-room, m.high+room
	title := fmt.Sprintf("%s: its circuit is %s mV per cell off its logs (RMS)", id, words.Grown(1e3*float64(p.Fit.RMS), 0))
	if p.Fit.Fallback != "" {
		title = id + ": its circuit comes from the tested metrics, not from the logs"
	}
	c := p.Fit.Circuit
	return &Drawing{
		Name: FileName("fit", id), Title: title,
		Says: fmt.Sprintf("Discharge of %s: measured and fitted voltage per cell above, the difference in millivolts below, against time. Circuit: %.0f mAh, R0 %.1f mohm, R1 %.1f mohm, tau %.0f s.",
			id, c.Capacity.MilliAmpHours(), c.R0.MilliOhms(), c.R1.MilliOhms(), float64(c.Tau)),
		wide: 0.55, tall: 1.05,
		panels: []panel{{0.62, func(bool) sight { return volts }}, {0.38, func(bool) sight { return misses }}},
	}
}
