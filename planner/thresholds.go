package planner

import (
	"slices"

	"allup/catalog"
	"allup/model"
)

// AgainstThreshold is a mass beside one published threshold.
type AgainstThreshold struct {
	catalog.Threshold
	Named bool       // among the build's own rules
	Mass  model.Mass // all-up

	// Where the threshold has a limit.
	Passes     bool
	Margin     model.Mass // below the limit
	OverChance float64    // of breaking it

	Transferring model.Speed // at which an impact transfers what the speed clause names; 0 without one
}

// AgainstAll is the mass of a weighing beside every threshold that is known, in their order. It compares
// masses; what else a threshold asks for is in its text.
func (w *Weighing) AgainstAll() []AgainstThreshold {
	var out []AgainstThreshold
	for _, t := range catalog.Thresholds() {
		a := AgainstThreshold{Threshold: t, Named: slices.Contains(w.Plan.Build.Limit.Rules, t.ID), Mass: w.Mass}
		if l := t.Limit; l != nil {
			a.Passes, a.Margin, a.OverChance = l.Allows(w.Mass), l.Mass-w.Mass, l.ChanceOver(w.Mass, w.Spread)
		}
		if t.Speed != nil {
			a.Transferring = model.SpeedOf(w.Mass, t.Speed.Transfer)
		}
		out = append(out, a)
	}
	return out
}
