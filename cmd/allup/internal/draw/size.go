package draw

import (
	"fmt"
	"slices"

	"allup/model/words"
	"allup/planner"
)

// PackSize is flight time against pack mass: the families of packs as curves, the packs of the ranking on them, and the
// heaviest pack that the rules leave. r may be nil.
func PackSize(z *planner.Sizing, r *planner.Ranking) *Drawing {
	p := z.Plan
	s := scene{}
	top := 1.35 * max(z.Most, z.Heaviest).Grams()
	t := extent{}
	t.include(0)
	for i, f := range z.Families {
		k := curve{ink: series(2 * i), dash: i, width: 1.8, label: f.Name + " of the packs", along: true}
		for _, at := range f.Curve {
			if m := at.Pack.Grams(); m <= top && m >= 0.5*z.Lightest.Grams() {
				k.line = append(k.line, xy{m, at.Time.Minutes()})
				t.include(at.Time.Minutes())
			}
		}
		s.curves = append(s.curves, k)
		if b := f.Limited; b != nil {
			s.points = append(s.points, point{at: xy{b.Pack.Grams(), b.Time.Minutes()}, ink: k.ink, radius: 4.5, diamond: true})
		}
	}
	if r != nil {
		s.points = append(s.points, sizePoints(z, r, top, &t)...)
	}
	label := fmt.Sprintf("%s: %s", bindText(z.MostBinds), limit(z.Most))
	s.rules = []rule{{at: z.Most.Grams(), ink: inkLimit, label: label}}
	s.x, s.y = axis{label: "pack mass, g", min: 0.5 * z.Lightest.Grams(), max: top}, axis{label: "flight time, min"}
	_, s.y.max = t.padded()
	median := z.Families[0]
	title := p.Build.Name + " finds no size of pack that keeps every rule"
	if b := median.Limited; b != nil {
		title = fmt.Sprintf("%s flies longest with a pack of about %.0f g; a gram more of it is worth %+.1f s",
			p.Build.Name, b.Pack.Grams(), float64(median.Worth.Pack))
	}
	return &Drawing{
		Name: FileName("pack-size", p.Build.Name), Title: title,
		Says: fmt.Sprintf("Flight time against pack mass for packs of %d cells, %s: a curve for the median of the tested packs and one for the best fifth, with the real packs as points. Without a limit about %.0f g would fly longest.",
			z.Cells, z.Chemistry, median.Free.Pack.Grams()),
		wide: 0.5, tall: 1, panels: []panel{{1, func(narrow bool) sight { return s.forPhone(narrow) }}},
	}
}

// sizePoints are the ranked packs of the sizing's kind, those near the best size named.
func sizePoints(z *planner.Sizing, r *planner.Ranking, top float64, t *extent) []point {
	var list []point
	for i := range r.Ranked {
		a := &r.Ranked[i]
		if a.Pack.Cells != z.Cells || a.Pack.Chemistry != z.Chemistry || i >= mostMarks {
			continue
		}
		m := (a.Mass - z.Plan.Dry).Grams()
		if m > top {
			continue
		}
		k := point{
			id: a.Pack.ID, at: xy{m, a.Duration().Minutes()}, ink: inkQuiet, radius: 3.4, hollow: a.Pack.Basis == planner.BasisLabel,
			label: a.Pack.ID, least: true, says: fmt.Sprintf("%s: %s of pack, %s", a.Pack.ID, words.Fixed(m, 1)+" g", minutes(a.Duration())),
		}
		if a.Rank <= 3 {
			k.ink, k.bold, k.least = inkText, true, false
		}
		t.include(k.at.y)
		list = append(list, k)
	}
	slices.Reverse(list)
	return list
}

func bindText(b planner.Bind) string {
	switch b {
	case planner.BindsPackMass:
		return "the build's heaviest pack"
	case planner.BindsBay:
		return "what the bay takes"
	}
	return "what the limit leaves"
}
