package planner

import (
	"cmp"

	"allup/catalog"
	"allup/model"
	"allup/model/words"
)

// Conditions are what a question may change of the air that a build flies in; nil leaves
// what the build says.
type Conditions struct {
	Altitude *model.Length
	Air      *model.Temperature
	Pack     *model.Temperature
}

// of is what conditions make of a build's own air.
func (c Conditions) of(air catalog.AirConditions) catalog.AirConditions {
	if c.Altitude != nil {
		air.Altitude = *c.Altitude
	}
	if c.Air != nil {
		air.Temperature = c.Air
	}
	if c.Pack != nil {
		air.PackTemperature = c.Pack
	}
	return air
}

// In is the same build under other conditions, its flown hovers still those of the air that the file names. Nil
// pointers leave what the plan has.
func (p *Plan) In(c Conditions) (*Plan, error) {
	r := p.request
	r.conditions.Altitude = cmp.Or(c.Altitude, r.conditions.Altitude)
	r.conditions.Air = cmp.Or(c.Air, r.conditions.Air)
	r.conditions.Pack = cmp.Or(c.Pack, r.conditions.Pack)
	q, err := r.plan()
	if err == nil && r.conditions != (Conditions{}) {
		q.home = cmp.Or(p.home, p)
	}
	return q, err
}

// Home is the same build under the conditions that its file names; nil where no others were asked for.
func (p *Plan) Home() *Plan { return p.home }

// ChangeOf is how far a figure of an assessment is from the same under the build's own conditions; ok is false where no
// others were asked for, or where one of the two does not have the figure.
func (a *Assessment) ChangeOf(of func(*Assessment) (float64, bool)) (change float64, ok bool) {
	if a.Home == nil {
		return 0, false
	}
	here, known := of(a)
	home, knownHome := of(a.Home)
	return here - home, known && knownHome
}

// temperatures warns where the pack's temperature is outside what its resistance is known at.
func (p *Plan) temperatures() {
	t, air := p.Build.Air.PackTemperature, p.Build.Air.Temperature
	switch {
	case t != nil && *t < model.ColdestMeasured:
		p.warn(PackTemperature, "", "packs at %s C: their resistance is known down to %.0f C and taken as there, %.2f times that at 25 C; it is really higher, so the bands of time and punch are wider to the worse side, the more so the colder; cold packs sag and may be damaged by hard use",
			words.Trimmed(t.Celsius(), 1), model.ColdestMeasured.Celsius(), model.ResistanceAt(*t))
	case t != nil && t.Celsius() > 45:
		p.warn(PackTemperature, "", "packs at %s C: their resistance is known up to 45 C and taken as there; packs age fast and may fail above 60 C", words.Trimmed(t.Celsius(), 1))
	case air != nil && *air < model.ColdestMeasured:
		p.warn(PackTemperature, "", "air of %s C cools the packs: what resistance they have below %.0f C is not known, so the bands of time are wider to the worse side the more they cool; give pack_temperature_c where packs are as cold as the air",
			words.Trimmed(air.Celsius(), 1), model.ColdestMeasured.Celsius())
	}
}
