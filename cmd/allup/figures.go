package main

import (
	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/planner"
)

// figure is a number that there is to say of a build on a pack. Screens, CSV, JSON and Markdown of rank and swap
// have it from here, and a new one is a line of the lists below.
type figure struct {
	sheet.Figure[*planner.Assessment]
	Name string // in a list, where there is room for more than Head; "" for Head with its unit

	// Band is how far the figure may be off, in the unit of Key; nil where nobody works that out.
	Band func(*planner.Band) (low, high float64)
}

// figures are a list of which each has a key of its own.
type figures []figure

// figuresOf are all figures of a build on a pack, in the order of JSON.
func figuresOf() figures { return append(append(rankFigures(), massFigures()...), flightFigures()...) }

// rankFigures are those of a place in a ranking.
func rankFigures() figures {
	ranked := func(f func(*planner.Assessment) float64) func(*planner.Assessment) (float64, bool) {
		return func(a *planner.Assessment) (float64, bool) { return f(a), a.Rank > 0 }
	}
	return figures{
		{Figure: of("rank", "#", "", 0, 0, ranked(func(a *planner.Assessment) float64 { return float64(a.Rank) }))},
		// What has no price does not compare with what has one.
		{Figure: of("score", "score", "", 2, 1, func(a *planner.Assessment) (float64, bool) {
			return a.Score, a.Rank > 0 && (a.Merit.Priced || a.Plan.Currency() == "")
		})},
		{Figure: of("group", "grp", "", 0, 0, func(a *planner.Assessment) (float64, bool) { return float64(a.Group), a.Group > 0 })},
		chanceFigure("best_chance", "best", 2, func(a *planner.Assessment) *float64 { return a.Best }),
		chanceFigure("beats_next_chance", "beats next", 1, func(a *planner.Assessment) *float64 { return a.Next }),
		chanceFigure("first_beats_chance", "first beats it", 9, func(a *planner.Assessment) *float64 { return a.First }),
	}
}

// chanceFigure is a chance, in percent where people read it, between 0 and 1 in JSON.
func chanceFigure(key, head string, keep int, read func(*planner.Assessment) *float64) figure {
	f := figure{Figure: of(key, head, "%", 0, keep, func(a *planner.Assessment) (float64, bool) {
		c := read(a)
		if c == nil {
			return 0, false
		}
		return *c, true
	})}
	f.Per = 0.01
	return f
}

// massFigures are known of every pack, and those without Pack of a build without one.
func massFigures() figures {
	always := func(f func(*planner.Assessment) float64) func(*planner.Assessment) (float64, bool) {
		return func(a *planner.Assessment) (float64, bool) { return f(a), true }
	}
	maybe := func(f func(*planner.Assessment) *float64) func(*planner.Assessment) (float64, bool) {
		return func(a *planner.Assessment) (v float64, ok bool) {
			if p := f(a); p != nil {
				return *p, true
			}
			return 0, false
		}
	}
	allUp := figure{
		Figure: of("all_up_g", "all-up", "g", 1, 0, always(func(a *planner.Assessment) float64 { return a.Mass.Grams() })),
		Band: func(b *planner.Band) (float64, float64) {
			return model.Mass(b.Mass.Low).Grams(), model.Mass(b.Mass.High).Grams()
		},
	}
	margin := figure{
		Figure: of("margin_g", "under", "g", 1, 2, always(func(a *planner.Assessment) float64 { return a.Margin.Grams() })),
		Name:   "under limit g",
	}
	allUp.Grows, margin.Grows = true, true
	chance := figure{Figure: of("over_limit_chance", "chance over limit", "%", 0, 10, always(func(a *planner.Assessment) float64 { return a.OverChance }))}
	chance.Per = 0.01
	return figures{
		allUp, margin,
		{Figure: of("spare_g", "spare", "g", 1, 2, always(func(a *planner.Assessment) float64 { return a.Spare.Grams() }))},
		chance,
		{Figure: of("tested_burst_power_w", "tested", "W", 0, 8, maybe(func(a *planner.Assessment) *float64 { return (*float64)(a.BurstPower) }))},
		{Figure: of("power_density_w_per_g", "", "W/g", 1, 8, maybe(func(a *planner.Assessment) *float64 { return perGram(a.PowerDensity, 1) }))},
		{Figure: of("energy_density_wh_per_g", "", "Wh/g", 3, 9, maybe(func(a *planner.Assessment) *float64 { return perGram(a.EnergyDensity, float64(model.WattHour)) }))},
		{Figure: of("price", "price", "", 2, 11, maybe(func(a *planner.Assessment) *float64 {
			if a.Pack == nil {
				return nil
			}
			return a.Pack.Price
		}))},
	}
}

// flightFigures are known of a build that flies.
func flightFigures() figures {
	flown := func(f func(*planner.Assessment) float64) func(*planner.Assessment) (float64, bool) {
		return func(a *planner.Assessment) (v float64, ok bool) {
			if !a.Flies() {
				return 0, false
			}
			return f(a), true
		}
	}
	cycled := func(f func(*planner.Assessment, *model.PhaseFlight) (float64, bool)) func(*planner.Assessment) (float64, bool) {
		return func(a *planner.Assessment) (v float64, ok bool) {
			if !a.Flies() || a.Cycle == nil {
				return 0, false
			}
			return f(a, a.Cycle)
		}
	}
	current := figure{
		Figure: of("hover_current_a", "hover", "A", 2, 0, flown(func(a *planner.Assessment) float64 { return float64(a.Flight.Current) })),
		Band:   func(b *planner.Band) (float64, float64) { return b.Current.Low, b.Current.High },
	}
	throttle := figure{Figure: of("hover_throttle", "hover throttle", "%", 1, 6, flown(func(a *planner.Assessment) float64 { return a.Flight.Throttle }))}
	throttle.Per = 0.01
	time := figure{
		Figure: of("flight_s", "time", "min", 1, 0, flown(func(a *planner.Assessment) float64 { return float64(a.Duration()) })),
		Band:   func(b *planner.Band) (float64, float64) { return b.Time.Low, b.Time.High },
	}
	time.Per, time.SheetKey = float64(model.Minute), "flight_min"
	punch := figure{
		Figure: of("punch_ratio", "punch", "", 1, 0, flown((*planner.Assessment).PunchRatio)),
		Name:   "punch, times weight",
		Band:   func(b *planner.Band) (float64, float64) { return b.Punch.Low, b.Punch.High },
	}
	return figures{
		{Figure: of("hover_power_w", "hover", "W", 1, 6, flown(func(a *planner.Assessment) float64 { return float64(a.Flight.Hover.Power) }))},
		{Figure: of("hover_g_per_w", "hover", "g/W", 2, 6, flown(func(a *planner.Assessment) float64 { return a.MassPerPower() / float64(model.Gram) }))},
		current,
		{Figure: of("hover_current_start_a", "hover full", "A", 2, 6, flown(func(a *planner.Assessment) float64 { return float64(a.Flight.StartCurrent) }))},
		{Figure: of("hover_current_landing_a", "hover landing", "A", 2, 6, flown(func(a *planner.Assessment) float64 { return float64(a.Flight.EndCurrent) }))},
		{Figure: of("hover_c", "hover", "C", 1, 6, flown(func(a *planner.Assessment) float64 { return a.HoverC }))},
		throttle,
		{Figure: of("usable_wh", "Wh used", "", 2, 7, flown(func(a *planner.Assessment) float64 { return a.Usable().WattHours() }))},
		time,
		{Figure: of("land_v_per_cell", "lands at", "V/cell", 2, 12, flown(func(a *planner.Assessment) float64 { return float64(a.LandPerCell) }))},
		{Figure: of("charge_left", "charge left", "", 2, 6, flown(func(a *planner.Assessment) float64 { return a.ChargeLeft() }))},
		punch,
		{Figure: of("punch_ratio_landing", "landing punch", "", 1, 5, flown((*planner.Assessment).LandingRatio)), Name: "punch on landing"},
		{Figure: of("punch_current_a", "punch", "A", 1, 6, flown(func(a *planner.Assessment) float64 { return float64(a.Punch.Current) }))},
		{Figure: of("punch_throttle", "punch throttle", "", 2, 6, flown(func(a *planner.Assessment) float64 { return a.Punch.Throttle }))},
		{Figure: of("burst_power_w", "burst", "W", 0, 6, flown(func(a *planner.Assessment) float64 { return float64(a.Punch.BurstPower) }))},
		{Figure: of("pack_headroom", "headroom", "", 2, 6, flown(func(a *planner.Assessment) float64 { return a.Punch.Headroom })), Name: "pack headroom"},
		{Figure: of("pack_c_max", "pack", "deg C", 0, 13, flown(func(a *planner.Assessment) float64 { return a.MaxTemperature().Celsius() })), Name: "pack deg C at most"},
		{Figure: of("pack_c_landing", "pack landing", "deg C", 0, 13, flown(func(a *planner.Assessment) float64 { return a.EndTemperature().Celsius() }))},

		{Figure: of("hover_flight_s", "hover", "s", 0, 6, flown(func(a *planner.Assessment) float64 { return float64(a.Flight.Duration) }))},
		{Figure: of("first_met_s", "landing rule met", "s", 0, 6, cycled(func(_ *planner.Assessment, c *model.PhaseFlight) (float64, bool) { return float64(c.FirstMet), true }))},
		{Figure: of("strict_flight_s", "strict", "s", 0, 6, cycled(func(_ *planner.Assessment, c *model.PhaseFlight) (float64, bool) { return float64(c.Strict()), true }))},
		{Figure: of("first_dip_s", "first dip", "s", 0, 6, cycled(func(_ *planner.Assessment, c *model.PhaseFlight) (float64, bool) {
			return float64(c.FirstDip), c.Dipped
		}))},
		{Figure: of("full_throttle_motor_a", "full throttle", "A", 1, 6, flown(func(a *planner.Assessment) float64 { return float64(a.Full.Current) }))},
		{Figure: of("pitch_speed_m_s", "pitch speed", "m/s", 0, 6, flown(func(a *planner.Assessment) float64 { return float64(a.Full.PitchSpeed) }))},
		{Figure: of("tip_mach", "tip Mach", "", 2, 6, flown(func(a *planner.Assessment) float64 { return a.Full.TipMach }))},
	}
}

// of makes a figure of what every one has.
func of(key, head, unit string, digits, keep int, read func(*planner.Assessment) (float64, bool)) sheet.Figure[*planner.Assessment] {
	return sheet.Figure[*planner.Assessment]{Key: key, Head: head, Unit: unit, Digits: digits, Keep: keep, Of: read}
}

// perGram takes a density from per kilogram to per gram, and its unit to another.
func perGram(perKg *float64, unit float64) *float64 {
	if perKg == nil {
		return nil
	}
	v := *perKg * float64(model.Gram) / unit
	return &v
}

// figure is the one of a key, which must be there.
func (fs figures) figure(key string) figure {
	for _, f := range fs {
		if f.Key == key {
			return f
		}
	}
	panic("allup: no figure " + key)
}

// plain are the figures without their bands.
func (fs figures) plain() []sheet.Figure[*planner.Assessment] {
	var out []sheet.Figure[*planner.Assessment]
	for _, f := range fs {
		out = append(out, f.Figure)
	}
	return out
}

// name is the figure in a list of them.
func (f figure) name() string {
	if f.Name != "" {
		return f.Name
	}
	return f.Heading()
}

// between is a figure's band in words; "" where there is none.
func (f figure) between(a *planner.Assessment, word string) string {
	if f.Band == nil || a.Band == nil {
		return ""
	}
	low, high := f.Band(a.Band)
	return f.Range(low, high, word)
}

// bandCell is the cell of a figure's band.
func (f figure) bandCell(a *planner.Assessment, word string) sheet.Cell {
	if f.Band == nil || a.Band == nil {
		return sheet.Unknown()
	}
	low, high := f.Band(a.Band)
	return f.Interval(low, high, word)
}

// bandShown is the column of a figure's band on screens.
func (f figure) bandShown(keep int) (sheet.Column, func(*planner.Assessment) sheet.Cell) {
	column, _ := f.Shown()
	name := f.Head
	if f.Unit != "" {
		name = f.Unit
	}
	return sheet.Column{Head: name + " 5-95 %", Key: column.Key + sheet.BandKey, Keep: keep}, func(a *planner.Assessment) sheet.Cell {
		return f.bandCell(a, "-")
	}
}

// changeShown is the column of how far a figure is from the same under the build's own conditions.
func (f figure) changeShown(keep int) (sheet.Column, func(*planner.Assessment) sheet.Cell) {
	column, _ := f.Shown()
	name := f.Unit
	if name == "" {
		name = f.Head
	}
	return sheet.Column{Head: name + " change", Key: column.Key + "_change", Keep: keep}, func(a *planner.Assessment) sheet.Cell {
		if d, ok := a.ChangeOf(f.Of); ok {
			return f.Difference(d)
		}
		return sheet.Unknown()
	}
}

// changeExact is the same column in CSV.
func (f figure) changeExact() (sheet.Column, func(*planner.Assessment) sheet.Cell) {
	column, _ := f.Exact()
	return sheet.Column{Head: column.Key + "_change", Key: column.Key + "_change"}, func(a *planner.Assessment) sheet.Cell {
		if d, ok := a.ChangeOf(f.Of); ok && a.Eligible() {
			return f.ExactCell(d)
		}
		return sheet.Unknown()
	}
}

// bandExact are the columns of both ends of a figure's band in CSV.
func (f figure) bandExact(cols *sheet.Columns[*planner.Assessment]) {
	column, _ := f.Exact()
	for i, end := range []string{"_p5", "_p95"} {
		cols.Add(sheet.Column{Head: column.Key + end, Key: column.Key + end}, func(a *planner.Assessment) sheet.Cell {
			if a.Band == nil {
				return sheet.Unknown()
			}
			low, high := f.Band(a.Band)
			return f.ExactCell([]float64{low, high}[i])
		})
	}
}
