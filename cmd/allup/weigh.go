package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"allup/model"
	"allup/planner"
)

func newWeigh(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "weigh BUILD",
		Short: "What weighs what, against the limit; how sure",
		Long: `weigh adds up the build with the pack that it carries, compares it with the
limit, and says how sure that is. An item that you weighed counts +- 0.1 g, one from the
catalogue +- 3 %, unless it says otherwise. BUILD is a file, or - for standard input.`,
		Args:              arguments(1, 1, "one build file"),
		ValidArgsFunction: completeBuild,
		RunE: func(_ *cobra.Command, args []string) error {
			p, err := a.plan(args[0])
			if err != nil {
				return err
			}
			w := p.Weigh()
			if err := a.answer(weighScreen(w), weighJSON(w)); err != nil {
				return err
			}
			if w.Verdict != planner.Under {
				return errNo
			}
			return nil
		},
	}
}

func weighScreen(w planner.Weighing) screen {
	p := w.Plan
	s := screen{verdict: []string{weighVerdict(w)}}
	s.verdict = append(s.verdict, fmt.Sprintf("Dry %s; known to +- %s (2 sigma): chance of breaking the limit %s.",
		inGrams(w.Dry), inGrams(w.Expanded), percent(w.OverChance)))

	t := &table{columns: []column{
		{head: "slot", key: "slot", left: true},
		{head: "part", key: "id", left: true},
		{head: "name", key: "name", left: true, keep: 3},
		{head: "n", key: "count"},
		{head: "each g", key: "each_g", keep: 1},
		{head: "total g", key: "total_g"},
		{head: "+- g", key: "half_width_g", keep: 2},
		{head: "share %", key: "share_percent", keep: 1},
		{head: "by", key: "mass_basis", left: true, keep: 1},
	}}
	for _, i := range w.Items {
		t.add(word(i.Slot), word(i.ID), word(i.Name), integer(i.Count), number(i.Each.Grams(), 2), number(i.Total().Grams(), 2),
			number(float64(i.Count)*i.HalfWidth().Grams(), 2), number(100*float64(i.Total()/w.Mass), 1), word(massBasis(i)))
	}
	t.add(word("all-up"), word(""), word(""), word(""), word(""), number(w.Mass.Grams(), 2), number(w.Expanded.Grams(), 2), number(100, 1), word("2 sigma"))
	s.tables = []*table{t, lossTable(w)}
	if p.Pack == nil {
		s.notes = append(s.notes, "The build names no pack: this is its mass without one.")
	}
	s.notes = append(s.notes, weighedHover(w))
	s.notes = append(s.notes, remarkNotes(p.Conflicts)...)
	for _, r := range p.Warnings {
		if r.Code == planner.SeveralCandidate || r.Code == planner.HoverScatter || strings.HasPrefix(string(r.Code), string(planner.TestUnused)) {
			s.notes = append(s.notes, remarkNotes([]planner.Remark{r})...)
		}
	}
	s.notes = append(s.notes, limitNote(p), packCaution)
	return s
}

// lossTable is where the power of hovering goes at the mass that was weighed.
func lossTable(w planner.Weighing) *table {
	p := w.Plan
	h := p.Drive.Hover(w.Mass, p.Bus)
	t := &table{
		title: fmt.Sprintf("Where %.1f W go in hover at %s, %.1f V", float64(h.Power), inGrams(w.Mass), float64(h.Bus)),
		columns: []column{
			{head: "where", key: "place", left: true},
			{head: "W", key: "power_w"},
			{head: "%", key: "share_percent"},
			{head: "what it is", key: "what", left: true, keep: 1},
		},
	}
	for _, l := range p.Drive.Losses(h) {
		if l.Power != 0 {
			t.add(word(string(l.Place)), number(float64(l.Power), 2), number(100*float64(l.Power/h.Power), 1), word(placeWords(l.Place)))
		}
	}
	return t
}

// placeWords say what takes power at a place.
func placeWords(p model.Place) string {
	switch p {
	case model.PlaceLift:
		return "ideal, of the weight: the least for propellers of this size"
	case model.PlaceFrame:
		return "thrust lost to arms, guards, ducts"
	case model.PlaceInduced:
		return "blades: a wake that is not even"
	case model.PlaceProfile:
		return "blades: their drag"
	case model.PlaceCopper:
		return "motors: current through the windings"
	case model.PlaceNoLoad:
		return "motors: bearings, iron, air"
	case model.PlacePartDuty:
		return "motors and controllers at less than full throttle"
	case model.PlaceController:
		return "controllers: their efficiency"
	case model.PlaceFlown:
		return "what the flown hovers took beside all of these"
	}
	return "board, camera, transmitter, receiver"
}

// weighedHover is what hovering costs at the mass that was weighed.
func weighedHover(w planner.Weighing) string {
	return fmt.Sprintf("At %s it hovers on %.0f W from a bus of %.1f V. %s", inGrams(w.Mass), float64(w.Plan.Drive.Hover(w.Mass, w.Plan.Bus).Power), float64(w.Plan.Bus), propulsionNote(w.Plan))
}

func weighVerdict(w planner.Weighing) string {
	p := w.Plan
	carrying := "without a pack"
	if p.Pack != nil {
		carrying = "with " + p.Pack.ID
	}
	head := fmt.Sprintf("%s %s weighs %s all-up", p.Build.Name, carrying, inGrams(w.Mass))
	limit := limitName(p.Build.Limit)
	switch w.Verdict {
	case planner.Over:
		if p.Build.Limit.At(w.Mass) {
			return fmt.Sprintf("%s: NOT under %s: it is at the limit.", head, limit)
		}
		return fmt.Sprintf("%s: OVER %s by %s.", head, limit, inGrams(-w.Margin))
	case planner.SpareShort:
		return fmt.Sprintf("%s: %s, but that is LESS than the %s kept back.", head, leftUnder(w.Margin, limit), inGrams(p.Build.Limit.Spare))
	}
	if p.Build.Limit.Spare > 0 {
		return fmt.Sprintf("%s: %s, %s of it beyond the %s kept back.", head, leftUnder(w.Margin, limit), inGrams(w.Spare), inGrams(p.Build.Limit.Spare))
	}
	return fmt.Sprintf("%s: %s.", head, leftUnder(w.Margin, limit))
}

// massBasis says what a mass rests on.
func massBasis(i planner.Item) string {
	switch {
	case i.Weighed:
		return "scale"
	case i.Tolerance != nil:
		return "stated"
	}
	return "catalogue"
}
