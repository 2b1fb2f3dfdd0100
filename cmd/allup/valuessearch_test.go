package main

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"allup/catalog"
	"allup/planner"
)

// foundValues are what is said of a whole build.
func foundValues(x *planner.FoundBuild) values {
	out := packValues(&x.Assessment)
	out["frame"], out["motor"], out["prop"], out["board"] = x.Parts.Frame.ID, x.Parts.Motor.ID, x.Parts.Prop.ID, x.Parts.Board.ID
	for i, g := range x.Parts.Gear {
		out[fmt.Sprintf("gear[%d]", i)] = g.ID
	}
	out["score"], out["front"], out["alike"] = x.Score, x.Front, float64(x.Alike)
	maybe(out, "build_price", x.Price, 1)
	return out
}

func TestSearchValues(t *testing.T) {
	all := builds(t)
	all["choice"] = strings.Replace(strings.Replace(all["stint"], `"eyrie-tx"`, `["eyrie-tx", "eyrie-lite"]`, 1), "price = 0", "price = 1", 1)
	for name, text := range all {
		t.Run(name, func(t *testing.T) {
			b := buildOf(t, text).Open(catalog.KindProp, catalog.KindBoard)
			f, err := planner.Search(context.Background(), b, planner.SpaceOf(b, packSetOf(t, b.Parts), nil), planner.Conditions{}, planner.SearchOptions{Top: 4})
			if err != nil {
				t.Fatal(err)
			}
			got := askJSON(t, text, "search", "-", "--any", "prop,board", "--top", "4")
			want := values{"combinations": float64(f.Combinations), "tried": float64(f.Tried), "untried": 0.0, "partial": false, "priced": f.Priced, "seconds": got["seconds"]}
			want.put("limit.", limitValues(b.Limit))
			maybe(want, "today_score", f.TodayScore, 1)
			if f.Today != nil {
				want.put("today.", packValues(f.Today))
			}
			for code, n := range f.Excluded {
				want["excluded."+string(code)] = float64(n)
			}
			for list, of := range map[string][]planner.FoundBuild{"best": f.Best, "front": f.Front} {
				for i := range of {
					want.put(fmt.Sprintf("%s[%d].", list, i), foundValues(&of[i]))
				}
			}
			checkValues(t, got, want, asInJSON)

			var rows []values
			for list, of := range map[string][]planner.FoundBuild{"best": f.Best, "front": f.Front} {
				for i := range of {
					x := &of[i]
					all := foundValues(x)
					row := values{"list": list, "flight_min": minutesOf(x.Duration())}
					for _, key := range []string{
						"frame", "motor", "prop", "board", "pack", "rank", "all_up_g", "margin_g", "over_limit_chance", "hover_power_w", "hover_current_a", "punch_ratio",
						"punch_ratio_landing", "pack_headroom", "score", "build_price", "alike",
					} {
						if v, ok := all[key]; ok {
							row[key] = v
						}
					}
					rows = append(rows, row)
				}
			}
			slices.SortStableFunc(rows, func(a, b values) int { return strings.Compare(fmt.Sprint(a["list"]), fmt.Sprint(b["list"])) })
			checkRows(t, askCSV(t, text, "search", "-", "--any", "prop,board", "--top", "4"), rows)
		})
	}
}

func TestSuggestValues(t *testing.T) {
	for name, text := range builds(t) {
		if name == "no pack" {
			continue
		}
		t.Run(name, func(t *testing.T) {
			b := buildOf(t, text)
			s, err := planner.Suggest(context.Background(), b, packSetOf(t, b.Parts), planner.Conditions{}, nil)
			if err != nil {
				t.Fatal(err)
			}
			want := values{"suits": s.Suits, "combinations": float64(s.Looked), "tried": float64(s.Tried), "priced": s.Priced}
			want.put("limit.", limitValues(b.Limit))
			want.put("today.", packValues(s.Today))
			put := func(prefix string, g *planner.Suggestion) {
				want.put(prefix+"build.", foundValues(&g.Build))
				maybe(want, prefix+"score_ratio", g.Times, 1)
				for i, c := range g.Changes {
					want.put(fmt.Sprintf("%schanges[%d].", prefix, i), values{"change": string(c.Slot) + "=" + c.Now, "was": c.Was, "now": c.Now})
				}
			}
			for i := range s.Singles {
				put(fmt.Sprintf("singles[%d].", i), &s.Singles[i])
			}
			if s.Pair != nil {
				put("pair.", s.Pair)
			}
			if len(s.Singles) == 0 {
				t.Error("no change suits")
			}
			checkValues(t, askJSON(t, text, "swap", "-", "--suggest"), want, asInJSON)

			rows := []values{suggestRow("(today)", s.Today, nil, nil)}
			for i := range s.Singles {
				rows = append(rows, suggestRow(strings.Join(changeWords(&s.Singles[i]), " "), &s.Singles[i].Build.Assessment, s.Today, s.Singles[i].Times))
			}
			if s.Pair != nil {
				rows = append(rows, suggestRow(strings.Join(changeWords(s.Pair), " "), &s.Pair.Build.Assessment, s.Today, s.Pair.Times))
			}
			checkRows(t, askCSV(t, text, "swap", "-", "--suggest"), rows)
		})
	}
}

// TestSuggestionsAreSwaps: what is suggested is a swap to which the answer is yes, with the figures that the swap has.
func TestSuggestionsAreSwaps(t *testing.T) {
	for _, name := range []string{"stint", "plover", "scaled"} {
		text := builds(t)[name]
		b := buildOf(t, text)
		s, err := planner.Suggest(context.Background(), b, packSetOf(t, b.Parts), planner.Conditions{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		all := append(slices.Clone(s.Singles), *s.Pair)
		for i := range all {
			g := &all[i]
			args := append([]string{"swap", "-"}, changeWords(g)...)
			if said := tell(t, 0, text, args...); said.Code != exitYes {
				t.Errorf("%s, %v: exit %d: %s", name, args, said.Code, said.Out)
			}
			got := askJSON(t, text, args...)
			checkValues(t, values{"all_up_g": got["after.all_up_g"], "flight_s": got["after.flight_s"], "punch_ratio": got["after.punch_ratio"]},
				values{"all_up_g": gramsOf(g.Build.Mass), "flight_s": float64(g.Build.Duration()), "punch_ratio": g.Build.PunchRatio()}, asInJSON)
		}
	}
}

// suggestRow is the row of a build in the CSV of suggestions.
func suggestRow(change string, a, today *planner.Assessment, times *float64) values {
	row := values{"change": change, "all_up_g": gramsOf(a.Mass), "flight_min": minutesOf(a.Duration()), "punch_ratio": a.PunchRatio()}
	if a.Band != nil {
		row["flight_min_p5"], row["flight_min_p95"] = a.Band.Time.Low/60, a.Band.Time.High/60
	}
	if today != nil {
		row["flight_min_change"], row["punch_ratio_change"] = minutesOf(a.Duration())-minutesOf(today.Duration()), a.PunchRatio()-today.PunchRatio()
	}
	maybe(row, "score_ratio", times, 1)
	return row
}

// Ten best builds are listed where nobody asks for another number.
func TestSearchListsTen(t *testing.T) {
	got := askJSON(t, builds(t)["stint"], "search", "-", "--any", "prop,board")
	if _, ok := got["best[9].score"]; !ok {
		t.Errorf("no tenth build among %v", got["combinations"])
	}
	if _, ok := got["best[10].score"]; ok {
		t.Error("an eleventh build is listed")
	}
}

// The band of a size reaches further below its time in the cold that no pack was measured in: by 0.0009 without
// the cold as an input of its own, since all resistance is higher.
func TestSizeWidensInTheCold(t *testing.T) {
	below := func(celsius string) float64 {
		got := askJSON(t, builds(t)["stint"], "size", "-", "--pack-temperature", celsius)
		return 1 - got["band.flight_s[0]"].(float64)/got["under_limit.flight_s"].(float64)
	}
	if known, cold := below("5C"), below("-20C"); !(cold > known+1e-3) {
		t.Errorf("reaches %.5f below at 5 C, %.5f at -20 C", known, cold)
	}
}
