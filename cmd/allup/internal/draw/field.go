package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"allup/model/words"
	"allup/planner/tested"
)

// measures are what a field is compared by, as an axis names them, and the digits of their values.
func measures() []struct {
	tested.Measure
	label  string
	digits int
	scale  float64
} {
	return []struct {
		tested.Measure
		label  string
		digits int
		scale  float64
	}{
		{tested.WPerGram, "W/g", 1, 1},
		{tested.TestedC, "burst C", 0, 1},
		{tested.WhPerGram, "Wh/g", 3, 1},
		{tested.Delivered, "% of label", 0, 100},
		{tested.MidPerCell, "mid V/cell", 2, 1},
		{tested.R0TimesQ, "R0, mohm Ah", 1, 1},
		{tested.PricePerWh, "price a Wh", 2, 1},
	}
}

// Field is a group of tested packs by every measure: each as its ratio to the group's median, the range as a
// bar, best and worst named with their values. It is nil for a group of one.
func Field(g *tested.FieldGroup) *Drawing {
	if len(g.Packs) < 2 {
		return nil
	}
	s := scene{}
	x := extent{}
	var says, names []string
	all := measures()
	slices.Reverse(all) // the first at the top
	for _, m := range all {
		if m.Measure == tested.PricePerWh && g.Currency != "" {
			m.label = words.Clean(g.Currency) + " a Wh"
		}
		var list []tested.FieldPack
		for _, p := range g.Packs {
			if _, ok := p.Standings[m.Measure]; ok {
				list = append(list, p)
			}
		}
		if len(list) < 2 {
			continue
		}
		row := float64(len(names))
		names = append(names, m.label)
		slices.SortStableFunc(list, func(a, b tested.FieldPack) int {
			return cmp.Compare(a.Standings[m.Measure].Ratio, b.Standings[m.Measure].Ratio)
		})
		text := func(p tested.FieldPack) string {
			return words.Fixed(p.Standings[m.Measure].Value*m.scale, m.digits)
		}
		low, high := list[0], list[len(list)-1]
		s.spans = append(s.spans, span{
			from: xy{low.Standings[m.Measure].Ratio, row}, to: xy{high.Standings[m.Measure].Ratio, row}, ink: inkBand, width: 6,
		})
		for i, p := range list {
			ratio := p.Standings[m.Measure].Ratio
			x.include(ratio)
			k := point{
				id: p.ID, at: xy{ratio, row}, ink: inkQuiet, radius: 3, label: "", hollow: p.ByCircuit,
				says: fmt.Sprintf("%s: %s %s, %.2f times the median", p.ID, text(p), m.label, ratio),
			}
			if i == 0 || i == len(list)-1 {
				k.ink, k.radius, k.label = inkTwo, 4, p.ID+" "+text(p)
				if (i == 0) == m.LessIsBetter() {
					k.ink, k.bold = inkOne, true
				}
			}
			s.points = append(s.points, k)
		}
		says = append(says, fmt.Sprintf("%s from %s (%s) to %s (%s)", m.label, text(low), low.ID, text(high), high.ID))
	}
	if len(names) == 0 {
		return nil
	}
	s.rules = []rule{{at: 1, ink: inkAxis, dash: 2}}
	s.x, s.y = axis{label: "times the median of the group (blue: the best)", log: true}, axis{names: names, min: -0.6, max: float64(len(names)) - 0.4}
	s.x.min, s.x.max = x.low/1.12, x.high*1.12
	slices.Reverse(says)
	return &Drawing{
		Name: FileName("field", g.Name()), Title: fieldTitle(g),
		Says: fmt.Sprintf("%s, %s, by each measure as its ratio to the group's median. %s.", g.Name(), words.Count(len(g.Packs), "pack", "packs"), strings.Join(says, "; ")),
		wide: 0.62, tall: 1.3, panels: []panel{{1, func(bool) sight { return s }}},
	}
}

func fieldTitle(g *tested.FieldGroup) string {
	best, worst := math.Inf(-1), math.Inf(1)
	var first, last string
	for _, p := range g.Packs {
		st, ok := p.Standings[tested.WPerGram]
		if !ok {
			continue
		}
		if st.Value > best {
			best, first = st.Value, p.ID
		}
		if st.Value < worst {
			worst, last = st.Value, p.ID
		}
	}
	if first == "" || first == last {
		return g.Name() + ": the field against its medians"
	}
	if best < 1.05*worst {
		return g.Name() + ": all give about the same power for their mass"
	}
	return fmt.Sprintf("%s: %s gives %.1f times the power of %s for its mass", g.Name(), first, best/worst, last)
}

// Labels is what tested packs deliver against what their labels say; nil where none is known.
func Labels(of string, packs []LabelledPack) *Drawing {
	if len(packs) == 0 {
		return nil
	}
	s := scene{}
	x := extent{}
	worst := packs[0]
	short := 0
	for _, p := range packs {
		x.include(p.RatedMilliAmpHours, p.DeliveredMilliAmpHours)
		share := p.DeliveredMilliAmpHours / p.RatedMilliAmpHours
		if share < worst.DeliveredMilliAmpHours/worst.RatedMilliAmpHours {
			worst = p
		}
		k := point{
			id: p.ID, at: xy{p.RatedMilliAmpHours, p.DeliveredMilliAmpHours}, ink: inkQuiet, radius: 3.6, label: p.ID, least: true,
			says: fmt.Sprintf("%s: %.0f of %.0f mAh, %.0f %%", p.ID, p.DeliveredMilliAmpHours, p.RatedMilliAmpHours, 100*share),
		}
		if share < leastShare {
			k.ink, k.bold, k.least, k.label = inkTwo, true, short >= 6, fmt.Sprintf("%s %.0f %%", p.ID, 100*share)
			short++
		}
		s.points = append(s.points, k)
	}
	low, high := x.padded()
	line := func(share float64, label string, dash int, ink ink) curve {
		return curve{line: []xy{{low, low * share}, {high, high * share}}, ink: ink, dash: dash, width: 1.1, label: label, least: true, along: true}
	}
	s.curves = []curve{line(1, "as labelled", 0, inkAxis), line(leastShare, fmt.Sprintf("%.0f %%", 100*leastShare), 1, inkAxis)}
	s.x, s.y = axis{label: "label, mAh", min: low, max: high}, axis{label: "delivered, mAh", min: low * 0.8, max: high}
	title := fmt.Sprintf("All packs deliver %.0f %% of their label or more", 100*leastShare)
	if short > 0 {
		title = fmt.Sprintf("%s of %d deliver less than %.0f %% of their label; %s the least, %.0f %%", words.Count(short, "pack", "packs"), len(packs), 100*leastShare,
			worst.ID, 100*worst.DeliveredMilliAmpHours/worst.RatedMilliAmpHours)
	}
	return &Drawing{
		Name: FileName("delivered", of), Title: title,
		Says: fmt.Sprintf("What %s deliver in their tests against what their labels say; on the line they are equal.", words.Count(len(packs), "pack", "packs")),
		wide: 0.55, tall: 1.05, panels: []panel{{1, func(narrow bool) sight { return s.forPhone(narrow) }}},
	}
}

// leastShare is what good packs deliver of their label and more, as the field's own remarks have it (common practice).
const leastShare = 0.88

// LabelledPack is a pack with what its label says and what it delivered.
type LabelledPack struct {
	ID                                         string
	RatedMilliAmpHours, DeliveredMilliAmpHours float64
}

// LabelsOfField are the packs of a field for [Labels].
func LabelsOfField(f *tested.Field) []LabelledPack {
	var list []LabelledPack
	for _, g := range f.Groups {
		for _, p := range g.Packs {
			if st, ok := p.Standings[tested.Delivered]; ok {
				list = append(list, LabelledPack{p.ID, p.Rated.MilliAmpHours(), st.Value * p.Rated.MilliAmpHours()})
			}
		}
	}
	return list
}

// LabelsOfBench are the packs of a bench for [Labels].
func LabelsOfBench(packs []tested.ReducedPack) []LabelledPack {
	var list []LabelledPack
	for i := range packs {
		if p := &packs[i]; p.Record != nil && p.Metrics.Capacity > 0 {
			list = append(list, LabelledPack{p.Bench.ID, p.Bench.Rated.MilliAmpHours(), p.Metrics.Capacity.MilliAmpHours()})
		}
	}
	return list
}
