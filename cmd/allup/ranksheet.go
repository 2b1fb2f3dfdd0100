package main

import (
	"fmt"
	"slices"

	"allup/cmd/allup/internal/sheet"
	"allup/planner"
)

// rankSheet is a ranking for a spreadsheet: every pack of the catalogue in one table, one figure a column, the
// excluded ones with their reasons. It has every figure that is known where everything is asked for.
func rankSheet(r *planner.Ranking, everything bool) *sheet.Table {
	all := figuresOf()
	var cols sheet.Columns[*planner.Assessment]
	add := func(keys ...string) {
		for _, key := range keys {
			cols.Add(all.figure(key).Exact())
		}
	}
	// What a pack does that does not suit is not ranked, and would only be taken for a rival.
	suits := func(keys ...string) {
		for _, key := range keys {
			head, cell := all.figure(key).Exact()
			cols.Add(head, func(a *planner.Assessment) sheet.Cell {
				if !a.Eligible() {
					return sheet.Unknown()
				}
				return cell(a)
			})
		}
	}
	text := func(key string, of func(a *planner.Assessment) string) {
		cols.Add(sheet.Words[*planner.Assessment]{Key: key, Head: key, Of: func(a *planner.Assessment) string { return orDash(of(a)) }}.Shown())
	}

	add("rank", "group")
	text("pack", func(a *planner.Assessment) string { return a.Pack.ID })
	text("name", func(a *planner.Assessment) string { return a.Pack.Name })
	text("basis", func(a *planner.Assessment) string { return string(a.Pack.Basis) })
	text("demo", func(a *planner.Assessment) string { return fmt.Sprint(a.Pack.Demo()) })
	add("all_up_g", "margin_g", "over_limit_chance")
	suits("flight_s")
	all.figure("flight_s").bandExact(&cols)
	suits("usable_wh", "hover_power_w", "hover_current_a")
	all.figure("hover_current_a").bandExact(&cols)
	suits("punch_ratio")
	all.figure("punch_ratio").bandExact(&cols)
	suits("punch_ratio_landing", "pack_headroom", "pack_c_max")
	text("limited_by", func(a *planner.Assessment) string {
		if !a.Eligible() {
			return ""
		}
		return string(a.Punch.LimitedBy)
	})
	if r.Plan.Home() != nil {
		for _, key := range []string{"flight_s", "hover_current_a", "punch_ratio"} {
			cols.Add(all.figure(key).changeExact())
		}
	}
	add("power_density_w_per_g", "energy_density_wh_per_g", "price")
	text("currency", func(a *planner.Assessment) string { return a.Pack.Currency })
	add("score", "best_chance", "beats_next_chance", "first_beats_chance")
	text("marks", marks)
	text(warningsKey, func(a *planner.Assessment) string { return joinReasons(a.Warnings()) })
	text("reasons_against", func(a *planner.Assessment) string { return joinReasons(a.Against()) })
	for _, f := range all {
		if head, _ := f.Exact(); everything && !cols.Has(head.Key) {
			suits(f.Key)
		}
	}
	return cols.Table("", slices.Concat(pointers(r.Ranked), pointers(r.Excluded)))
}
