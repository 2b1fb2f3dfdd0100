package planner

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"allup/catalog"
	"allup/model"
	"allup/model/words"
)

// Scale is a build on the pilot's own scale beside the sum of its parts.
type Scale struct {
	model.Reading
	HalfWidth model.Mass // of what the scale shows
	Pack      string     // the id of the pack that was on it; "" without one

	on    []Item // what was on it
	count map[string]int
}

// Reconciled is a build that a scale has seen, item by item.
type Reconciled struct {
	*Scale
	Hiding []Hiding
	Absent []Item // items that alone weigh what the scale shows too little, where the list does not explain it
}

// Hiding is an item whose mass may be off, and how much of the doubt about the sum is its.
type Hiding struct {
	Item
	Share float64 // of the variance of the sum
}

// itemKey tells items apart: an extra and a part may not have one id, but a pack and nothing are told from gear.
func itemKey(i Item) string { return i.Slot + " " + i.ID }

// readScale puts the scale beside the list. It needs Items, and changes none of them.
// Its error is a [catalog.InputErrors].
func (p *Plan) readScale() error {
	s := p.Build.Scale
	if s == nil {
		return nil
	}
	// What was on the scale are the build's own parts, the first of each slot, whatever a swap changed since.
	weighed := p
	if s.Of != nil {
		aboard, err := SelectionOf(s.Of)
		if err != nil {
			return err
		}
		weighed = &Plan{Build: s.Of, Selection: aboard}
		weighed.addItems()
	}
	on := slices.Clone(weighed.Items)
	if s.Pack != "" {
		on = append(on, weighed.PackItem(p.Build.Parts.Packs[s.Pack]))
	}
	var budget model.MassBudget
	for _, i := range on {
		budget = append(budget, i.MassItem)
	}
	p.Scale = &Scale{
		Reading: model.Reading{
			Shown: s.Mass, Uncertainty: s.Tolerance / model.Mass(math.Sqrt(3)),
			Sum: budget.Total(), SumU: budget.Uncertainty(),
		},
		HalfWidth: s.Tolerance, Pack: s.Pack, on: on, count: map[string]int{},
	}
	for _, i := range on {
		p.Scale.count[itemKey(i)] += i.Count
	}
	r := p.Scale.Reading
	if ratio := float64(r.Shown / r.Sum); ratio > mostOfList || ratio < leastOfList {
		key := "all_up_g"
		if s.Pack == "" {
			key = "dry_g"
		}
		return catalog.InputErrors{{
			File: p.Build.File, Line: p.Build.Line("scale", key), Field: "scale." + key, Value: words.Trimmed(r.Shown.Grams(), 3),
			Msg: fmt.Sprintf("is %.2f times the %s that the list adds up to", ratio, words.Grams(r.Sum)), Allowed: fmt.Sprintf("%.1f to %.1f times", leastOfList, mostOfList),
		}}
	}
	if !r.Agrees() {
		p.warn(ScaleDisagrees, "", "on the scale: %s, where the list adds up to %s +- %s (2 sigma): a mass in it is wrong, or something is on board that it lacks or in it that was not on board; the scale counts",
			words.Grams(r.Shown), words.Grams(r.Sum), words.Grams(2*r.SumU))
	}
	return nil
}

// What a scale shows is believed from here to there, in times the sum of the list: beyond it is another aircraft, or a
// slip (own judgement).
const (
	leastOfList = 0.6
	mostOfList  = 1.6
)

// sum is the mass of items by the list, and how it goes with what was on the scale. Identical parts are fully
// correlated, different ones independent.
func (s *Scale) sum(items []Item, aboard bool) model.CorrelatedSum {
	out := model.CorrelatedSum{Aboard: aboard}
	for _, i := range items {
		piece := float64(i.PieceUncertainty())
		out.Mass += i.Total()
		out.Variance += float64(i.Count*i.Count) * piece * piece
		out.Covariance += float64(i.Count*s.count[itemKey(i)]) * piece * piece
	}
	return out
}

// known is the mass of items with everything that is known of it, and its standard uncertainty: by the list or, where
// the build was on a scale, by both.
func (p *Plan) known(items []Item) (mass, uncertainty model.Mass) {
	if p.Scale != nil {
		return p.Scale.Correct(p.Scale.sum(items, true))
	}
	var budget model.MassBudget
	for _, i := range items {
		budget = append(budget, i.MassItem)
	}
	return budget.Total(), budget.Uncertainty()
}

// With is the all-up mass on a pack, and its standard uncertainty.
func (p *Plan) With(pack *catalog.Pack) (allUp, uncertainty model.Mass) {
	if p.Scale == nil {
		item := p.PackItem(pack)
		u := float64(item.Uncertainty())
		return p.Dry + item.Each, model.Mass(math.Sqrt(p.dryVariance + u*u))
	}
	return p.known(append(slices.Clone(p.Items), p.PackItem(pack)))
}

// SpreadWith is how far the all-up mass on a pack may be off.
func (p *Plan) SpreadWith(pack *catalog.Pack) model.MassSpread {
	if p.Scale != nil {
		_, u := p.With(pack)
		return model.NormalSpread(u)
	}
	return p.drySpread.And(p.PackItem(pack).TotalHalfWidth())
}

// scaled are the uncertain masses of a build that was on the scale: the dry mass, which packs share, and what a pack
// adds to it. Where the pack was on the scale, too, it is not independent of the dry mass: what one is more the other
// is less. follows is by how much the pack's mass moves with the dry mass.
func (p *Plan) scaled(pack *catalog.Pack) (dry, own Uncertain, follows float64) {
	s := p.Scale
	ofDry := s.sum(p.Items, true)
	_, u := s.Correct(ofDry)
	dry = Uncertain{InputMass, "scale", float64(u), true, moveMass}
	if pack == nil {
		return dry, Uncertain{}, 0
	}
	item := p.PackItem(pack)
	ofPack := s.sum([]Item{item}, false)
	_, up := s.Correct(ofPack)
	variance := float64(up) * float64(up)
	if u > 0 {
		covariance := s.Covariance(ofDry, ofPack, 0)
		follows = covariance / (float64(u) * float64(u))
		variance = max(0, variance-covariance*follows)
	}
	return dry, Uncertain{InputMass, item.ID, math.Sqrt(variance), false, moveMass}, follows
}

// Reconcile says where the difference between scale and list may hide; ok is false where nothing was on a scale.
func (p *Plan) Reconcile() (r Reconciled, ok bool) {
	if p.Scale == nil {
		return Reconciled{}, false
	}
	r.Scale = p.Scale
	variance := float64(r.SumU) * float64(r.SumU)
	for _, i := range p.Scale.on {
		u := float64(i.Uncertainty())
		if variance > 0 && u > 0 {
			r.Hiding = append(r.Hiding, Hiding{i, u * u / variance})
		}
		// Nothing was weighed that is lighter than the scale can tell.
		if off := -r.Difference(); !r.Agrees() && i.Total() > 5*r.HalfWidth {
			within := model.Mass(math.Hypot(float64(i.Uncertainty()), float64(r.Uncertainty)))*2 + r.HalfWidth
			if model.Mass(math.Abs(float64(i.Total()-off))) <= within {
				r.Absent = append(r.Absent, i)
			}
		}
	}
	slices.SortStableFunc(r.Hiding, func(a, b Hiding) int { return cmp.Compare(b.Share, a.Share) })
	return r, true
}

// ToWeigh is an item that is not on a scale yet, and what weighing it is worth.
type ToWeigh struct {
	Item
	Removes model.Mass // off the expanded uncertainty of the all-up mass, when it alone is weighed
	Left    model.Mass // expanded uncertainty when it and those before it in the list are weighed
}

// WeighFirst lists the items of a weighing that a scale would make surer, the one that removes most first. Identical
// parts are weighed together. Items that remove less than a scale can tell are left out.
func (w *Weighing) WeighFirst() []ToWeigh {
	var list []ToWeigh
	for _, i := range w.Items {
		if removes := w.Expanded - w.expandedAfter(map[string]bool{itemKey(i): true}); removes >= model.WeighedTolerance/10 {
			list = append(list, ToWeigh{Item: i, Removes: removes})
		}
	}
	slices.SortStableFunc(list, func(a, b ToWeigh) int { return cmp.Compare(b.Removes, a.Removes) })
	done := map[string]bool{}
	for n := range list {
		done[itemKey(list[n].Item)] = true
		list[n].Left = w.expandedAfter(done)
	}
	return list
}

// expandedAfter is the expanded uncertainty of the all-up mass once some items are weighed.
func (w *Weighing) expandedAfter(weighed map[string]bool) model.Mass {
	after := func(items []Item) ([]Item, model.MassBudget) {
		items = slices.Clone(items)
		var budget model.MassBudget
		for n := range items {
			if i := &items[n]; weighed[itemKey(*i)] {
				i.Weighed, i.Together, i.Tolerance = true, i.Count, nil
			}
			budget = append(budget, items[n].MassItem)
		}
		return items, budget
	}
	items, budget := after(w.Items)
	if w.Plan.Scale == nil {
		return 2 * budget.Uncertainty()
	}
	s := *w.Plan.Scale
	agreed := s.Agrees()
	var onScale model.MassBudget
	s.on, onScale = after(s.on)
	s.SumU = onScale.Uncertainty()
	// What the items will weigh is not known yet: scale and list go on agreeing, or not, as they do now.
	if s.Shown = s.Sum; !agreed {
		s.Shown += 2 * s.Allowed()
	}
	_, u := s.Correct(s.sum(items, true))
	return 2 * u
}
