package main

import (
	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/planner"
)

// rankSheet is a ranking for a spreadsheet: every pack of the catalogue in one table, one
// figure a column, the excluded ones with their reasons.
func rankSheet(r *planner.Ranking) *sheet.Table {
	t := &sheet.Table{}
	type maker func(a *planner.Assessment) sheet.Cell
	var makers []maker
	add := func(key string, make maker) {
		t.Columns = append(t.Columns, sheet.Column{Head: key, Key: key})
		makers = append(makers, make)
	}
	figure := func(key string, f func(a *planner.Assessment) float64) {
		add(key, func(a *planner.Assessment) sheet.Cell {
			if !a.Eligible() {
				return sheet.Unknown()
			}
			return sheet.Number(f(a), 6)
		})
	}
	band := func(key string, f func(b *planner.Band) planner.Interval, scale float64) {
		edge := func(which func(planner.Interval) float64) maker {
			return func(a *planner.Assessment) sheet.Cell {
				if a.Band == nil {
					return sheet.Unknown()
				}
				return sheet.Number(which(f(a.Band))*scale, 6)
			}
		}
		add(key+"_p5", edge(func(i planner.Interval) float64 { return i.Low }))
		add(key+"_p95", edge(func(i planner.Interval) float64 { return i.High }))
	}
	text := func(key string, f func(a *planner.Assessment) string) {
		add(key, func(a *planner.Assessment) sheet.Cell { return sheet.Word(orDash(f(a))) })
	}

	add("rank", func(a *planner.Assessment) sheet.Cell {
		if a.Rank == 0 {
			return sheet.Unknown()
		}
		return sheet.Integer(a.Rank)
	})
	text("pack", func(a *planner.Assessment) string { return a.Pack.ID })
	text("name", func(a *planner.Assessment) string { return a.Pack.Name })
	text("basis", func(a *planner.Assessment) string { return string(a.Pack.Basis) })
	add("all_up_g", func(a *planner.Assessment) sheet.Cell { return sheet.Number(a.Mass.Grams(), 6) })
	add("margin_g", func(a *planner.Assessment) sheet.Cell { return sheet.Number(a.Margin.Grams(), 6) })
	add("over_limit_chance", func(a *planner.Assessment) sheet.Cell { return sheet.Number(a.OverChance, 6) })
	figure("flight_min", func(a *planner.Assessment) float64 { return a.Duration().Minutes() })
	band("flight_min", func(b *planner.Band) planner.Interval { return b.Time }, 1/float64(model.Minute))
	figure("usable_wh", func(a *planner.Assessment) float64 { return a.Usable().WattHours() })
	figure("hover_power_w", func(a *planner.Assessment) float64 { return float64(a.Flight.Hover.Power) })
	figure("hover_current_a", func(a *planner.Assessment) float64 { return float64(a.Flight.Current) })
	band("hover_current_a", func(b *planner.Band) planner.Interval { return b.Current }, 1)
	figure("punch_ratio", func(a *planner.Assessment) float64 { return a.PunchRatio() })
	band("punch_ratio", func(b *planner.Band) planner.Interval { return b.Punch }, 1)
	figure("punch_ratio_landing", func(a *planner.Assessment) float64 { return a.LandingRatio() })
	figure("pack_headroom", func(a *planner.Assessment) float64 { return a.Punch.Headroom })
	figure("pack_c_max", func(a *planner.Assessment) float64 { return a.MaxTemperature().Celsius() })
	text("limited_by", func(a *planner.Assessment) string {
		if !a.Eligible() {
			return ""
		}
		return string(a.Punch.LimitedBy)
	})
	add("power_density_w_per_g", func(a *planner.Assessment) sheet.Cell { return maybe(perGram(a.PowerDensity), 6) })
	add("energy_density_wh_per_g", func(a *planner.Assessment) sheet.Cell { return maybe(wattHoursPerGram(a.EnergyDensity), 6) })
	add("price", func(a *planner.Assessment) sheet.Cell { return maybe(a.Pack.Price, 6) })
	text("currency", func(a *planner.Assessment) string { return a.Pack.Currency })
	figure("score", func(a *planner.Assessment) float64 { return a.Score })
	text("marks", marks)
	text("reasons_against", func(a *planner.Assessment) string { return joinReasons(a.Against) })

	for _, list := range [][]planner.Assessment{r.Ranked, r.Excluded} {
		for i := range list {
			row := make([]sheet.Cell, len(makers))
			for j, make := range makers {
				row[j] = make(&list[i])
			}
			t.Add(row...)
		}
	}
	return t
}
