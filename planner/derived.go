package planner

import (
	"cmp"
	"slices"

	"allup/catalog"
	"allup/model"
)

// Share is an item's part of the mass that was weighed, 0 to 1.
func (w Weighing) Share(i Item) float64 { return float64(i.Total() / w.Mass) }

// TotalHalfWidth is the greatest error of all of an item's parts that is still expected: identical parts err together.
func (i Item) TotalHalfWidth() model.Mass { return model.Mass(i.Count) * i.HalfWidth() }

// HoverPower is the electrical power of hovering at the mass that was weighed.
func (w Weighing) HoverPower() model.Power { return w.Plan.Drive.Hover(w.Mass).Power }

// PowerChange is how far HoverPower is from the same under the build's own conditions; ok is false where no others were
// asked for.
func (w Weighing) PowerChange() (change model.Power, ok bool) {
	home := w.Plan.home
	if home == nil {
		return 0, false
	}
	return w.HoverPower() - home.Drive.Hover(w.Mass).Power, true
}

// Reference is the assessment that a ranking's figures of hover are of: the best or, where no pack suits, that of today's
// pack; nil where there is none.
func (r *Ranking) Reference() *Assessment {
	if len(r.Ranked) > 0 {
		return &r.Ranked[0]
	}
	for i := range r.Excluded {
		if today := r.Plan.Pack; today != nil && r.Excluded[i].Pack.ID == today.ID {
			return &r.Excluded[i]
		}
	}
	return nil
}

// FigureOfMerit is the rotors' in the hover of an assessment of the plan.
func (p *Plan) FigureOfMerit(a *Assessment) float64 {
	return model.FigureOfMerit(p.Drive.Rotor.Propeller.Coefficients(a.Flight.Hover.Rotor.Speed))
}

// LeastPerCell is a phase's lowest voltage for one cell of the pack.
func (a *Assessment) LeastPerCell(u model.PhaseUse) model.Voltage {
	return u.MinVoltage / model.Voltage(a.Pack.Cells)
}

// SpeedAsked is what a threshold asks of a build's speed, and the speed at which the build's impact would transfer the
// energy from which it asks for more.
type SpeedAsked struct {
	Rule string
	catalog.SpeedClause
	Transferring model.Speed
}

// SpeedsAsked are the clauses on speed of the thresholds that the build names, at the mass of an assessment.
func (p *Plan) SpeedsAsked(a *Assessment) []SpeedAsked {
	var out []SpeedAsked
	for _, rule := range p.Build.Limit.Rules {
		if t, ok := catalog.LookupThreshold(rule); ok && t.Speed != nil {
			out = append(out, SpeedAsked{rule, *t.Speed, model.SpeedOf(a.Mass, t.Speed.Transfer)})
		}
	}
	return out
}

// PowerOf is a pack's tested power density.
type PowerOf struct {
	ID       string
	WPerGram float64
}

// PowerSpread is the least and the greatest power density of the packs of a bench that were reduced; ok is false where
// no two differ.
func PowerSpread(packs []ReducedPack) (least, most PowerOf, ok bool) {
	var known []PowerOf
	for i := range packs {
		if p := &packs[i]; p.Record != nil {
			if w := RatiosOf(p.Record, p.Metrics).WPerGram; w > 0 {
				known = append(known, PowerOf{p.Bench.ID, w})
			}
		}
	}
	if len(known) < 2 {
		return PowerOf{}, PowerOf{}, false
	}
	byPower := func(a, b PowerOf) int { return cmp.Compare(a.WPerGram, b.WPerGram) }
	least, most = slices.MinFunc(known, byPower), slices.MaxFunc(known, byPower)
	return least, most, most.WPerGram > least.WPerGram
}

// Packs is the number of packs that a field compares.
func (f *Field) Packs() (n int) {
	for _, g := range f.Groups {
		n += len(g.Packs)
	}
	return n
}

// Spread is what there is to say of best and worst in the largest group; ok is false where they are not far apart.
func (f *Field) Spread() (r Remark, ok bool) {
	if len(f.Groups) == 0 {
		return Remark{}, false
	}
	largest := slices.MaxFunc(f.Groups, func(a, b FieldGroup) int { return cmp.Compare(len(a.Packs), len(b.Packs)) })
	return largest.spread()
}

// farResistance is the ratio of a fitted resistance to a stated one from which on one of them is doubted (own judgement).
const farResistance = 1.6

// StatedResistance is the resistance that a thrust test's motor states, where that is far from the fitted one; ok is
// false where it is near, or none is stated.
func StatedResistance(cat *catalog.Catalogue, id string, fit *model.ThrustFit) (stated model.Resistance, ok bool) {
	r := cat.Motors[cat.ThrustTests[id].Motor].R
	if r == nil {
		return 0, false
	}
	ratio := float64(fit.Motor.R / *r)
	return *r, ratio > farResistance || ratio < 1/farResistance
}

// SizeEstimate is what is known of a propeller by its size alone.
type SizeEstimate struct{ CT, SigmaCT, CP, Merit, SigmaMerit float64 } // SigmaCT is relative

// EstimateBySize is what allup takes a propeller without measured coefficients for. The error is that of a size that no
// propeller has.
func EstimateBySize(r *catalog.Prop) (SizeEstimate, error) {
	g, err := model.GeometryPropeller(r.Diameter, r.Pitch, r.Blades)
	if err != nil {
		return SizeEstimate{}, err
	}
	ct, cp := g.Coefficients(0)
	return SizeEstimate{CT: ct, SigmaCT: g.SigmaCT, CP: cp, Merit: model.FigureOfMerit(ct, cp), SigmaMerit: g.SigmaFM}, nil
}
