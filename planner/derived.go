package planner

import (
	"slices"

	"allup/catalog"
	"allup/model"
)

// Share is an item's part of the mass that was weighed, 0 to 1.
func (w Weighing) Share(i Item) float64 { return float64(i.Total() / w.Mass) }

// TotalHalfWidth is the greatest error of all of an item's parts that is still expected: identical parts err together.
func (i Item) TotalHalfWidth() model.Mass { return model.Mass(i.Count) * i.HalfWidth() }

// HoverPower is the electrical power of hovering at the mass that was weighed.
func (w Weighing) HoverPower() model.Power { return w.Hover().Power }

// Hover is the build in hover at the mass that was weighed, on its nominal bus voltage.
func (w Weighing) Hover() model.Hover { return w.Plan.Drive.Hover(w.Mass, w.Plan.Bus) }

// PowerChange is how far HoverPower is from the same under the build's own conditions; ok is false where no others were
// asked for.
func (w Weighing) PowerChange() (change model.Power, ok bool) {
	home := w.Plan.home
	if home == nil {
		return 0, false
	}
	return w.HoverPower() - home.Drive.Hover(w.Mass, home.Bus).Power, true
}

// Reference is the assessment that a ranking's figures of hover are of: the best or, where no pack suits, that
// of today's pack; nil where there is none.
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
	return model.FigureOfMerit(p.Drive.Rotor.Propeller.Coefficients(a.Flight.Hover.Rotor.Speed, p.Drive.Rotor.Air))
}

// MassPerPower is what the build lifts in hover for each watt that it takes from the pack, gear included, kg/W;
// 0 where it does not hover.
func (a *Assessment) MassPerPower() float64 {
	if !(a.Flight.Hover.Power > 0) {
		return 0
	}
	return float64(a.Mass) / float64(a.Flight.Hover.Power)
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

// StandLoss is where the power of a thrust test's row goes.
type StandLoss struct {
	Hover  model.Hover // of one rotor that lifts what the row shows
	Losses []model.Loss
}

// StandLosses are where the power goes at each row's thrust, by a test's fit.
func StandLosses(cat *catalog.Catalogue, id string, fit *model.ThrustFit) []StandLoss {
	d := model.Drive{Rotors: 1, Rotor: fit.Apply(model.Rotor{Controller: model.AssumedController(), Air: cat.ThrustTests[id].Air})}
	var out []StandLoss
	for _, row := range fit.Rows {
		h := d.Hover(model.Mass(row.Row.Thrust.GramsForce())*model.Gram, row.Row.Voltage)
		losses := slices.DeleteFunc(d.Losses(h), func(l model.Loss) bool {
			return l.Place == model.PlaceFrame || l.Place == model.PlaceFlown || l.Place == model.PlaceGear
		})
		out = append(out, StandLoss{h, losses})
	}
	return out
}

// farResistance is the ratio of a fitted resistance to a stated one from which on one of them is doubted (own
// judgement).
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

// SizeEstimate is what is known of a propeller by its size alone, at a thrust at sea level. SigmaCT is relative.
type SizeEstimate struct {
	Thrust                             model.Force
	CT, SigmaCT, CP, Merit, SigmaMerit float64
}

// estimateThrust is that of a propeller of a small craft in hover.
const estimateThrust model.Force = 0.5

// EstimateBySize is what allup takes a propeller without measured coefficients for. The error is that of a size that no
// propeller has.
func EstimateBySize(r *catalog.Prop) (SizeEstimate, error) {
	g, err := model.GeometryPropeller(r.Diameter, r.Pitch, r.Blades)
	if err != nil {
		return SizeEstimate{}, err
	}
	ct, cp := g.Coefficients(g.SpeedFor(estimateThrust, model.SeaLevelDensity), model.SeaLevelDensity)
	merit := model.FigureOfMerit(ct, cp)
	return SizeEstimate{Thrust: estimateThrust, CT: ct, SigmaCT: g.SigmaCT, CP: cp, Merit: merit, SigmaMerit: merit * g.MeritSigma(estimateThrust)}, nil
}
