package planner

import (
	"slices"

	"allup/model"
)

// Conditions are what a question may change of the air that a build flies in; nil leaves
// what the build says.
type Conditions struct {
	Altitude *model.Length
	Air      *model.Temperature
	Pack     *model.Temperature
}

// In is the same build in other air, its flown hovers still those of the air that the file names. Nil
// pointers leave what the file says.
func (p *Plan) In(c Conditions) (*Plan, error) {
	build := *p.Build
	if c.Altitude != nil {
		build.Air.Altitude = *c.Altitude
	}
	if c.Air != nil {
		build.Air.Temperature = c.Air
	}
	if c.Pack != nil {
		build.Air.PackTemperature = c.Pack
	}
	air, err := airOf(build.Air)
	if err != nil {
		return nil, err
	}
	out := *p
	out.Build = &build
	out.Drive.Rotor.Air = air
	out.Warnings = slices.DeleteFunc(slices.Clone(p.Warnings), func(r Remark) bool { return r.Code == PackTemperature })
	out.temperatures()
	alternatives := slices.Clone(p.alternatives)
	for i := range alternatives {
		alternatives[i].Up.Air, alternatives[i].Down.Air = air, air
	}
	out.vary(alternatives)
	return &out, nil
}

// temperatures warns where the pack's temperature is outside what its resistance is known at.
func (p *Plan) temperatures() {
	t := p.Build.Air.PackTemperature
	if t == nil {
		return
	}
	switch c := t.Celsius(); {
	case c < 5:
		p.warn(PackTemperature, "", "packs at %s C: their resistance is known down to 5 C and taken as there, %.2f times that at 25 C; it is higher in truth, and cold packs sag and may be damaged by hard use", trimmed(c, 1), model.ResistanceAt(*t))
	case c > 45:
		p.warn(PackTemperature, "", "packs at %s C: their resistance is known up to 45 C and taken as there; packs age fast and may fail above 60 C", trimmed(c, 1))
	}
}
