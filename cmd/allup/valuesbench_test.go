package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"allup/catalog"
	"allup/model/bench"
	"allup/planner/tested"
)

// measuredAs puts a figure for which zero stands for unknown.
func measuredAs(v values, path string, x float64) {
	if x != 0 {
		v[path] = x
	}
}

func TestReduceValues(t *testing.T) {
	file := filepath.Join(repository(t), "testdata", "bench", "bench.toml")
	in, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	b, _, err := catalog.ReadBench(file, in)
	if err != nil {
		t.Fatal(err)
	}
	packs, err := tested.ReduceBench(b, catalog.BenchFS(file), builtIn(t), nil)
	if err != nil {
		t.Fatal(err)
	}
	want := values{}
	var rows []values
	kinds := map[bool]int{}
	for i := range packs {
		p := &packs[i]
		kinds[p.Record != nil]++
		v := values{"id": p.Bench.ID}
		if p.Record != nil {
			v.put("", metricValues(p))
			row := values{"pack": p.Bench.ID}
			for _, key := range []string{"capacity_mah", "energy_wh", "mid_voltage_v", "burst_current_a", "burst_power_w", "tested_c", "wh_per_g", "w_per_g"} {
				if x, ok := v[key]; ok {
					row[key] = x
				}
			}
			row["delivered_over_rated_percent"] = 100 * v["delivered_over_rated"].(float64)
			rows = append(rows, row)
			v.put("protocol.", protocolValues(p.Discharge, p.Burst))
			if f := p.Fit; f != nil {
				v.put("circuit.", circuitValues(f.Circuit))
				v["test_c_max"] = float64(p.TestTemperature) - 273.15
				measuredAs(v, "fit_rms_mv", milliVoltsOf(f.RMS))
				if f.Fallback == "" {
					v.put("circuit_sigma.", values{
						"capacity_mah": milliAmpHoursOf(f.Sigma.Capacity), "r0_mohm": milliOhmsOf(f.Sigma.R0), "r1_mohm": milliOhmsOf(f.Sigma.R1),
						"tau_s": float64(f.Sigma.Tau), "shift_mv": milliVoltsOf(f.Sigma.Shift), "charge_dependence": f.Sigma.K,
					})
					v["curve_off_mv"] = milliVoltsOf(f.CurveOff)
				}
			}
		}
		if p.Record == nil {
			rows = append(rows, values{"pack": p.Bench.ID, "status": "refused"})
		}
		want.put(fmt.Sprintf("packs[%d].", i), v)
	}
	if kinds[true] < 5 || kinds[false] == 0 {
		t.Errorf("the demo bench has %v packs reduced and refused", kinds)
	}
	checkValues(t, askJSON(t, "", "reduce", file), want, asInJSON)
	checkRows(t, askCSV(t, "", "reduce", file), rows)
}

// metricValues are a reduced pack's metrics, and their ratios worked out from the label.
func metricValues(p *tested.ReducedPack) values {
	m, grams, ampHours := p.Metrics, gramsOf(p.Record.Mass), float64(p.Bench.Rated)/3600
	out := values{}
	measuredAs(out, "capacity_mah", milliAmpHoursOf(m.Capacity))
	measuredAs(out, "energy_wh", wattHoursOf(m.Energy))
	measuredAs(out, "mid_voltage_v", float64(m.MidVoltage))
	measuredAs(out, "burst_current_a", float64(m.BurstCurrent))
	measuredAs(out, "burst_power_w", float64(m.BurstPower))
	measuredAs(out, "tested_c", float64(m.BurstCurrent)/ampHours)
	measuredAs(out, "wh_per_g", wattHoursOf(m.Energy)/grams)
	measuredAs(out, "w_per_g", float64(m.BurstPower)/grams)
	measuredAs(out, "delivered_over_rated", float64(m.Capacity)/float64(p.Bench.Rated))
	return out
}

func protocolValues(d *bench.DischargeReduction, b *bench.BurstReduction) values {
	out := values{}
	if d != nil {
		out["discharge_held"], out["held_within"] = d.Held, d.HeldWithin
		measuredAs(out, "discharge_power_w", float64(d.Power))
		measuredAs(out, "discharge_current_a", float64(d.Current))
	}
	if b != nil {
		measuredAs(out, "conditioning_current_a", float64(b.ConditioningCurrent))
		measuredAs(out, "conditioning_s", float64(b.ConditioningTime))
		measuredAs(out, "ramp_a_per_s", b.Ramp)
		out["conditioning_share"] = b.ConditioningShare
	}
	return out
}

func TestFieldValues(t *testing.T) {
	for group, options := range map[string]tested.FieldOptions{
		"cells,chemistry": {}, "cells": {AnyChemistry: true}, "none": {AnyCells: true, AnyChemistry: true},
	} {
		t.Run(group, func(t *testing.T) {
			f := tested.CompareField(packSetOf(t, builtIn(t)), options)
			want := values{}
			var rows []values
			for i, g := range f.Groups {
				at := fmt.Sprintf("groups[%d].", i)
				want[at+"through_circuit"] = false // all were tested alike
				if g.Cells > 0 {
					want[at+"cells"] = float64(g.Cells)
				}
				for m, v := range g.Medians {
					want[at+"medians."+string(m)] = v
				}
				for j, p := range g.Packs {
					v := values{"pack": p.ID, "cells": float64(p.Cells), "chemistry": p.Chemistry, "basis": p.Basis, "demo": true, "through_circuit": false}
					row := values{"pack": p.ID, "cells": float64(p.Cells), "chemistry": p.Chemistry}
					v.put("circuit.", circuitValues(p.Circuit))
					for m, s := range p.Standings {
						v.put("standings."+string(m)+".", values{"value": s.Value, "rank": float64(s.Rank), "ratio": s.Ratio})
						row[string(m)], row[string(m)+"_rank"], row[string(m)+"_ratio"] = s.Value, float64(s.Rank), s.Ratio
					}
					want.put(fmt.Sprintf("%spacks[%d].", at, j), v)
					rows = append(rows, row)
				}
			}
			checkValues(t, askJSON(t, "", "field", "--group", group), want, asInJSON)
			checkRows(t, askCSV(t, "", "field", "--group", group), rows)
		})
	}
}

// TestFieldOfTheUsualTest checks a field's standings themselves, of a pack tested by the usual protocol: each is worked
// out here from the record.
func TestFieldOfTheUsualTest(t *testing.T) {
	cat := builtIn(t)
	got := askJSON(t, "", "field")
	checked := 0
	for path, id := range got {
		if filepath.Ext(path) != ".pack" {
			continue
		}
		at := path[:len(path)-len("pack")]
		if got[at+"through_circuit"] == true {
			continue
		}
		r := cat.Packs[id.(string)]
		m := r.Tested
		want := values{
			at + "standings.delivered_over_rated.value": float64(m.Capacity) / float64(r.Rated),
			at + "standings.wh_per_g.value":             wattHoursOf(m.Energy) / gramsOf(r.Mass),
			at + "standings.mid_v_per_cell.value":       float64(m.MidVoltage) / float64(r.Cells),
		}
		if m.BurstPower > 0 {
			want[at+"standings.w_per_g.value"] = float64(m.BurstPower) / gramsOf(r.Mass)
		}
		for key, w := range want {
			if v, ok := got[key].(float64); !ok || math.Abs(v/w.(float64)-1) > 1e-9 {
				t.Errorf("%s of %s is %v, want %v", key, id, got[key], w)
			}
		}
		checked++
	}
	if checked < 20 {
		t.Errorf("only %d packs were compared by their own tests", checked)
	}
}

func TestLimitsValues(t *testing.T) {
	want := values{}
	var rows []values
	for i, l := range catalog.Thresholds() {
		v := values{"id": l.ID, "published": l.Published}
		row := values{"id": l.ID, "passes_when": l.Published}
		if l.Limit != nil {
			v["mass_g"], v["inclusive"] = gramsOf(l.Limit.Mass), l.Limit.Inclusive
			row["mass_g"] = gramsOf(l.Limit.Mass)
		}
		want.put(fmt.Sprintf("limits[%d].", i), v)
		rows = append(rows, row)
	}
	checkValues(t, askJSON(t, "", "limits"), want, asInJSON)
	got := askCSV(t, "", "limits")
	checkRows(t, got, rows)
	// The pound is 453.59237 g by the agreement of 1959; 0.55 lb is what two countries publish.
	if !slices.ContainsFunc(got, func(row values) bool {
		v, ok := row["mass_g"].(float64)
		return ok && math.Abs(v-0.55*453.59237) < 1e-6
	}) {
		t.Error("no limit of 0.55 lb")
	}
}
