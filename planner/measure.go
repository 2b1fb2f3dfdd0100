package planner

import (
	"cmp"
	"math"
	"slices"

	"allup/model"
)

// Measure is something to measure next, and by how much the bands shrink: 0.3 is a band that is 30 % narrower.
type Measure struct {
	Code  Code
	Text  string
	Mass  float64
	Time  float64
	Punch float64
}

// standLeaves is what a measurement leaves, relative: a flown hover by its meter, a thrust test by its scatter
// between one stand and flight (own judgement), a bench test of a pack by the unit to unit scatter and what a
// circuit gets wrong.
const standLeaves = 0.035

// measureNext lists what would narrow the bands, what narrows flight time and punch most first. What would not
// is left out. First-order: the bands are taken as the root sum of squares of the effects.
func (p *Plan) measureNext(a *Assessment, effects []effectOf) []Measure {
	if !a.Flies() {
		return nil
	}
	var list []Measure
	try := func(code Code, text string, left func(e *effectOf) float64) {
		m := Measure{Code: code, Text: text}
		shrink := func(of func(*effectOf) float64) float64 {
			var was, is float64
			for i := range effects {
				e := &effects[i]
				v, l := of(e), left(e)
				was, is = was+v*v, is+v*v*l*l
			}
			if was == 0 {
				return 0
			}
			return 1 - math.Sqrt(is/was)
		}
		m.Mass = shrink(func(e *effectOf) float64 { return e.mass })
		m.Time = shrink(func(e *effectOf) float64 { return e.time })
		m.Punch = shrink(func(e *effectOf) float64 { return e.punch })
		if max(m.Mass, m.Time, m.Punch) >= 0.01 {
			list = append(list, m)
		}
	}
	if p.Scale == nil {
		scale := float64(model.WeighedTolerance) / math.Sqrt(3)
		for _, e := range effects {
			if e.Input == InputMass && e.Sigma > scale {
				try(WeighBoth, "weigh "+e.Subject, func(o *effectOf) float64 {
					if o.Input == InputMass && o.Subject == e.Subject {
						return scale / o.Sigma
					}
					return 1
				})
			}
		}
		try(WeighBoth, "put the whole build on the scale", func(o *effectOf) float64 {
			if o.Input == InputMass {
				return min(1, scale/o.Sigma/math.Sqrt(float64(len(p.Items)+1)))
			}
			return 1
		})
	}
	if p.Propulsion.Calibration == nil {
		p.tryRotors(effects, try)
	}
	if a.Pack.Basis == BasisLabel {
		bench := map[Input]float64{InputCapacity: math.Hypot(unitSigmaQ, model.ModelSigmaQ), InputResistance: math.Hypot(unitSigmaR, model.ModelSigmaR)}
		try(TestPacks, "put "+a.Pack.ID+" on a bench", func(o *effectOf) float64 {
			if s, ok := bench[o.Input]; ok && !o.Shared {
				return min(1, s/o.Sigma)
			}
			return 1
		})
	} else if a.Pack.SigmaK >= model.UsualKSigma {
		try(TestPacks, "keep the full logs of "+a.Pack.ID+"'s bench test, and reduce them", func(o *effectOf) float64 {
			if o.Input == InputChargeDep {
				return min(1, model.ModelSigmaK/o.Sigma)
			}
			return 1
		})
	}
	slices.SortStableFunc(list, func(a, b Measure) int { return cmp.Compare(b.Time+b.Punch, a.Time+a.Punch) })
	return list
}

// tryRotors is what a flown hover and a thrust test would leave of the rotors' part.
func (p *Plan) tryRotors(effects []effectOf, try func(Code, string, func(*effectOf) float64)) {
	rotor := func(o *effectOf) bool { return o.Shared && o.Input != InputMass }
	merit := slices.IndexFunc(effects, func(o effectOf) bool { return rotor(&o) && o.Input == InputFigureOfMerit })
	if merit < 0 {
		return
	}
	// What power error is left moves flight time as the figure of merit does.
	perSigma := math.Abs(effects[merit].time) / effects[merit].Sigma
	settle := func(code Code, text string, leaves float64, settled func(*effectOf) bool) {
		var time float64
		for i := range effects {
			if e := &effects[i]; settled(e) {
				time += e.time * e.time
			}
		}
		if time == 0 {
			return
		}
		part := min(1, perSigma*leaves/math.Sqrt(time))
		try(code, text, func(o *effectOf) float64 {
			if settled(o) {
				return part
			}
			return 1
		})
	}
	settle(FlyHovers, "fly a hover, and write its mass, current and voltage as flown under [hover]", model.SigmaFlownHover, func(o *effectOf) bool {
		return rotor(o) && o.Input != InputThrust
	})
	if p.Propulsion.Fit == nil {
		settle(TestRotors, "put "+p.Motor.ID+" with "+p.Prop.ID+" on a stand", standLeaves, rotor)
	}
}
