package main

import (
	"fmt"
	"testing"

	"allup/planner"
)

func sizedValues(s planner.Sized) values {
	return values{"pack_g": gramsOf(s.Pack), "all_up_g": gramsOf(s.Mass), "flight_s": float64(s.Time), "punch_ratio": s.Punch}
}

// familyValues are what JSON says of the best size within a family of packs.
func familyValues(f *planner.SizedFamily) values {
	out := values{
		"members": float64(f.Members), "m0_g": gramsOf(f.Family.Bare), "wh_per_g": float64(f.Family.EnergyPerMass) / 3600 / 1000, "steady_r_ohm_ah": f.Family.SteadyR,
		"dead_gram_s": float64(f.Worth.Dead), "pack_gram_s": float64(f.Worth.Pack), "free_at_bound": f.AtBound,
	}
	out.put("free.", sizedValues(f.Free))
	out.put("band.", worthValues(f))
	if f.Limited != nil {
		out.put("under_limit.", sizedValues(*f.Limited))
		out["binds"] = f.Binds
	}
	if f.Hover != nil {
		out["hover_dead_gram_s"], out["hover_pack_gram_s"] = float64(f.Hover.Dead), float64(f.Hover.Pack)
	}
	for i, x := range f.Curve {
		out.put(fmt.Sprintf("curve[%d].", i), sizedValues(x))
	}
	return out
}

// worthValues are the bands of what a gram is worth.
func worthValues(f *planner.SizedFamily) values {
	out := values{}
	put := func(key string, i planner.Interval) { out[key+"[0]"], out[key+"[1]"] = i.Low, i.High }
	put("dead_gram_s", f.Worth.DeadBand)
	put("pack_gram_s", f.Worth.PackBand)
	put("flight_s", f.Worth.TimeBand)
	if f.Hover != nil {
		put("hover_dead_gram_s", f.Hover.DeadBand)
		put("hover_pack_gram_s", f.Hover.PackBand)
	}
	return out
}

func TestSizeValues(t *testing.T) {
	for name, text := range builds(t) {
		t.Run(name, func(t *testing.T) {
			p := planOf(t, text)
			s, err := p.Size(packSetOf(t, p.Build.Parts), planner.SizeOptions{})
			if err != nil {
				t.Fatal(err)
			}
			want := values{"dry_mass_g": gramsOf(p.Dry), "cells": float64(s.Cells), "least_punch_ratio": s.LeastPunch}
			want.put("limit.", limitValues(p.Build.Limit))
			want.put("scale.", scaleValues(p))
			median := familyValues(&s.Families[0])
			want.put("family.", median)
			want.put("best_fifth.", familyValues(&s.Families[1]))
			want["dead_gram_s"], want["pack_gram_s"] = median["dead_gram_s"], median["pack_gram_s"]
			want.put("free.", sizedValues(s.Families[0].Free))
			want.put("band.", worthValues(&s.Families[0]))
			if l := s.Families[0].Limited; l != nil {
				want.put("under_limit.", sizedValues(*l))
			}
			for i := range s.Nearest {
				want.put(fmt.Sprintf("nearest[%d].", i), packValues(&s.Nearest[i]))
			}
			checkValues(t, askJSON(t, text, "size", "-"), want, asInJSON)

			var rows []values
			for i := range s.Families {
				for _, x := range s.Families[i].Curve {
					rows = append(rows, values{
						"family": s.Families[i].Name, "pack_g": gramsOf(x.Pack), "all_up_g": gramsOf(x.Mass), "flight_min": minutesOf(x.Time), "punch_ratio": x.Punch,
					})
				}
			}
			checkRows(t, askCSV(t, text, "size", "-"), rows)
		})
	}
}
