package main

import (
	"fmt"

	"allup/catalog"
	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/model/words"
	"allup/planner"
)

// weighedNow puts what a scale shows in place of what the build says of one: the build with the pack that it
// carries, or without one.
func weighedNow(b *catalog.Build, shown model.Mass) {
	b.Scale = &catalog.Scale{Mass: shown, Tolerance: model.WeighedTolerance}
	if len(b.Slots.Pack) > 0 {
		b.Scale.Pack = b.Slots.Pack[0]
	}
}

// parseScale reads what a scale shows.
func parseScale(text string) (model.Mass, error) {
	m, err := model.ParseMass(text)
	if err == nil && !(m > 0) {
		err = fmt.Errorf("it is what a scale shows, such as 238.1g")
	}
	return m, err
}

// onTheScale says what was on the scale: "238.1 g +- 0.10 g with sedge-650".
func onTheScale(s *planner.Scale) string {
	text := fmt.Sprintf("%s +- %s", words.Grams(s.Shown), words.Grams(s.HalfWidth))
	if s.Pack == "" {
		return text + " without a pack"
	}
	return text + " with " + s.Pack
}

// scaleNote is what the scale said against the list, for screens that only use it.
func scaleNote(p *planner.Plan) []string {
	if p.Scale == nil || !p.Scale.Agrees() {
		return nil // a disagreement is a warning, with everything in it
	}
	return []string{fmt.Sprintf("All-up masses follow the scale, %s; the list adds up to %s.", onTheScale(p.Scale), words.Grams(p.Scale.Sum))}
}

// reconciledNotes say where the difference between scale and list may hide.
func reconciledNotes(w *planner.Weighing) []string {
	p := w.Plan
	r, ok := p.Reconcile()
	if !ok {
		return nil
	}
	relation := "as much as"
	switch d := r.Difference(); {
	case d > model.Gram/200:
		relation = words.Grams(d) + " more than"
	case d < -model.Gram/200:
		relation = words.Grams(-d) + " less than"
	}
	note := fmt.Sprintf("On the scale: %s, %s the list, which adds up to %s.", onTheScale(r.Scale), relation, words.Grams(r.Sum))
	if r.Agrees() {
		note += fmt.Sprintf(" Scale and list agree: up to %s of difference is within what the list leaves open (2 sigma).", words.Grams(r.Allowed()))
		if where := hidingPlaces(r.Hiding); where != "" {
			note += " It hides most likely in " + where + "."
		}
		return append([]string{note}, otherPacksNote(w)...)
	}
	note += fmt.Sprintf(" That is MORE than the %s that the list leaves open (2 sigma).", words.Grams(r.Allowed()))
	if r.Difference() > 0 {
		note += " Something is on board that the list lacks (solder, wires, screws, tape, a plug), or a mass in it is wrong."
	} else {
		note += " Something of the list was not on the scale, or a mass in it is wrong."
	}
	if where := hidingPlaces(r.Hiding); where != "" {
		note += " Not on a scale yet: " + where + "."
	}
	notes := []string{note + " The scale counts: what it shows, less what comes off and plus what comes on."}
	notes = append(notes, otherPacksNote(w)...)
	for _, i := range r.Absent {
		notes = append(notes, fmt.Sprintf("%s weighs %s, about what is missing: was it on the scale?", i.ID, words.Grams(i.Total())))
	}
	return notes
}

// otherPacksNote says what the scale does not settle: the pack that was on it hides part of the dry mass.
func otherPacksNote(w *planner.Weighing) []string {
	if w.Plan.Scale.Pack == "" || w.DryExpanded <= 3*w.Expanded {
		return nil
	}
	return []string{fmt.Sprintf("With another pack the rest is known to +- %s only (2 sigma): weigh %s alone, too, and put it under [weighed].",
		words.Grams(w.DryExpanded), w.Plan.Scale.Pack)}
}

// hidingPlaces are the items that the difference most likely hides in.
func hidingPlaces(hiding []planner.Hiding) string {
	const most, least = 3, 0.05
	var places []string
	for _, h := range hiding {
		if len(places) == most || h.Share < least || h.Weighed {
			break
		}
		of := ""
		if len(places) == 0 {
			of = " of the doubt"
		}
		places = append(places, fmt.Sprintf("%s (%.0f %%%s)", pieces(h.Item), 100*h.Share, of))
	}
	return words.List(places, "and")
}

// pieces is an item with its number: "sedge-650", "the 4 wick-1404-3800".
func pieces(i planner.Item) string {
	if i.Count > 1 {
		return fmt.Sprintf("the %d %s", i.Count, i.ID)
	}
	return i.ID
}

// weighFirstTable is what to weigh next, and what that is worth.
func weighFirstTable(w *planner.Weighing) *sheet.Table {
	const most = 4
	t := &sheet.Table{Title: "What to weigh first: how much smaller the +- of the all-up mass becomes, and what is left of it once those above are weighed, too", Columns: []sheet.Column{
		{Head: "part", Key: "id", Left: true},
		{Head: "n", Key: "count"},
		{Head: "takes off g", Key: "removes_g"},
		{Head: "leaves +- g", Key: "left_g"},
	}}
	for n, i := range w.WeighFirst() {
		if n == most {
			break
		}
		t.Add(sheet.Word(i.ID), sheet.Integer(i.Count), sheet.Number(i.Removes.Grams(), 2), sheet.Number(i.Left.Grams(), 2))
	}
	return t
}

// jsonScale is a build on the pilot's own scale beside the sum of its parts.
type jsonScale struct {
	ShownG      float64      `json:"shown_g"`
	HalfWidthG  float64      `json:"half_width_g"`
	Pack        *string      `json:"pack"`
	SumG        float64      `json:"sum_g"`
	DifferenceG float64      `json:"difference_g"`
	AllowedG    float64      `json:"allowed_difference_g"`
	Agrees      bool         `json:"agrees"`
	MayHideIn   []jsonHiding `json:"may_hide_in"`
	NotOnScale  []string     `json:"perhaps_not_on_scale"`
}

type jsonHiding struct {
	Slot  string  `json:"slot"`
	ID    string  `json:"id"`
	Share float64 `json:"share"`
}

func scaleJSON(p *planner.Plan) *jsonScale {
	r, ok := p.Reconcile()
	if !ok {
		return nil
	}
	out := &jsonScale{
		ShownG: r.Shown.Grams(), HalfWidthG: r.HalfWidth.Grams(), SumG: r.Sum.Grams(), DifferenceG: r.Difference().Grams(),
		AllowedG: r.Allowed().Grams(), Agrees: r.Agrees(), MayHideIn: []jsonHiding{}, NotOnScale: []string{},
	}
	if r.Pack != "" {
		out.Pack = &r.Pack
	}
	for _, h := range r.Hiding {
		out.MayHideIn = append(out.MayHideIn, jsonHiding{h.Slot, h.ID, h.Share})
	}
	for _, i := range r.Absent {
		out.NotOnScale = append(out.NotOnScale, i.ID)
	}
	return out
}

type jsonToWeigh struct {
	Slot     string  `json:"slot"`
	ID       string  `json:"id"`
	Count    int     `json:"count"`
	RemovesG float64 `json:"removes_g"`
	LeftG    float64 `json:"left_g"`
}

func weighFirstJSON(w *planner.Weighing) []jsonToWeigh {
	out := []jsonToWeigh{}
	for _, i := range w.WeighFirst() {
		out = append(out, jsonToWeigh{i.Slot, i.ID, i.Count, i.Removes.Grams(), i.Left.Grams()})
	}
	return out
}
