package planner

import (
	"allup/catalog"
	"allup/model"
)

// Plan is a build made ready: its parts looked up, its masses added, its drive prepared.
type Plan struct {
	Build     *catalog.Build // in the air that is asked for
	Selection                // the parts that it is made of

	Items      []Item // everything but the pack, in the order that a screen shows
	Drive      model.Drive
	Scale      *Scale        // nil where the build was not on a scale
	Dry        model.Mass    // everything but the pack, by the scale where there is one
	Mission    model.Mission // what the build flies
	Propulsion Propulsion    // what Drive's rotors rest on

	// Warnings are about figures of the build itself, Conflicts about parts of it that do
	// not go together whatever the pack.
	Warnings  []Remark
	Conflicts []Remark

	dryVariance float64 // of Dry, kg2
	drySpread   model.MassSpread
	variants    []variant
	request     request
}

// Item is one line of the mass budget.
type Item struct {
	Slot string // "frame", "motor", ..., "extra", "pack"
	ID   string
	Name string
	model.MassItem
	WithPack bool // travels with any pack
	Demo     bool // its record is invented
}

func (p *Plan) addItems() {
	rotors := p.Build.Rotors
	p.add("frame", &p.Frame.Common, 1)
	p.add("motor", &p.Motor.Common, rotors)
	p.add("prop", &p.Prop.Common, rotors)
	p.add("board", &p.Board.Common, 1)
	seen := map[string]int{}
	for _, g := range p.Gear {
		if i, again := seen[g.ID]; again {
			p.Items[i].Count++
			continue
		}
		seen[g.ID] = len(p.Items)
		p.add("gear", &g.Common, 1)
	}
	for _, e := range p.Build.Extras {
		item := Item{
			Slot: "extra", ID: e.ID, Name: e.Name, WithPack: e.WithPack,
			MassItem: model.MassItem{Each: e.Mass, Count: 1, Weighed: e.Weighed, Tolerance: e.Tolerance},
		}
		p.Items = append(p.Items, p.onScale(item))
	}
	for _, i := range p.Items {
		u := float64(i.Uncertainty())
		p.dryVariance += u * u
		p.drySpread = p.drySpread.And(i.TotalHalfWidth())
	}
}

func (p *Plan) add(slot string, c *catalog.Common, count int) {
	p.Items = append(p.Items, p.item(slot, c, count))
}

func (p *Plan) item(slot string, c *catalog.Common, count int) Item {
	return p.onScale(Item{
		Slot: slot, ID: c.ID, Name: c.Name, Demo: c.Demo(),
		MassItem: model.MassItem{Each: c.Mass, Count: count, Weighed: c.Weighed, Tolerance: c.Tolerance},
	})
}

// onScale puts the pilot's own weighing over the catalogue's figure.
func (p *Plan) onScale(i Item) Item {
	if w, ok := p.Build.Weighed[i.ID]; ok {
		i.Each, i.Weighed, i.Together, i.Tolerance = w.Each, true, w.Together, nil
	}
	return i
}

// PackItem is the mass item of a pack in this build.
func (p *Plan) PackItem(pack *catalog.Pack) Item { return p.item("pack", &pack.Common, 1) }

func (p *Plan) makeDrive() error {
	p.Dry, _ = p.known(p.Items)
	work, drive, err := p.driveIn(p.Build.Air)
	if err != nil {
		return err
	}
	p.Drive, p.Propulsion = drive, work.Propulsion
	p.Warnings = append(p.Warnings, work.Warnings...)
	if !p.Frame.ThrustLossOK {
		p.warn(LossAssumed, p.Frame.ID, "states no thrust loss: none is taken off for arms and guards")
	}
	k := p.request.calibration
	if p.request.hovers == hoversCount && len(p.Build.Flown) > 0 {
		_, flew, err := p.driveIn(p.request.build.Air)
		if err != nil {
			return err
		}
		if k, err = p.calibrate(flew); err != nil {
			return err
		}
	}
	if k != nil {
		p.adopt(k)
	}
	p.Propulsion.Sigma = powerSigma(p.Drive.Rotor)
	return nil
}

// driveIn is the build's drive in some air, before flown hovers correct it.
func (p *Plan) driveIn(conditions catalog.AirConditions) (*rotorWork, model.Drive, error) {
	air, err := airOf(conditions)
	if err != nil {
		return nil, model.Drive{}, err
	}
	work := p.request.rotors.rotor(p.Selection, air)
	if work.err != nil {
		return nil, model.Drive{}, work.err
	}
	d := model.Drive{
		Rotors:     p.Build.Rotors,
		Rotor:      work.rotor,
		GearPower:  p.Board.Power,
		ThrustLoss: p.Frame.ThrustLoss,
	}
	for _, g := range p.Gear {
		d.GearPower += g.Power
	}
	return work, d, nil
}

func airOf(a catalog.AirConditions) (model.Density, error) {
	if a.Temperature == nil {
		return model.StandardAir(a.Altitude)
	}
	return model.AirDensity(a.Altitude, *a.Temperature)
}

func (p *Plan) warn(code Code, subject, format string, args ...any) {
	p.Warnings = append(p.Warnings, remark(code, subject, format, args...))
}

func (p *rotorWork) motor() model.Motor {
	r := p.Motor
	m := model.Motor{Kv: r.Kv}
	if r.MaxCurrent != nil {
		m.MaxCurrent = *r.MaxCurrent
	}
	if r.R == nil || r.NoLoadCurrent == nil {
		m.Estimated = true
		p.warn(MotorEstimated, r.ID, "states no resistance or no-load current: efficiency %.2f +- %.2f and a loaded speed of %.2f +- %.2f of Kv x V are assumed",
			model.EstimatedEfficiency, model.EstimatedEfficiencySigma, model.EstimatedLoadedSpeed, model.EstimatedLoadedSpeedSigma)
		return m
	}
	m.R, m.I0 = *r.R, *r.NoLoadCurrent
	return m
}

func (p *rotorWork) controller() model.Controller {
	r := p.Board
	c := model.Controller{Efficiency: model.AssumedControllerEfficiency, Assumed: true}
	if r.Efficiency != nil {
		c.Efficiency, c.Assumed = *r.Efficiency, false
	} else {
		p.warn(BoardEstimated, r.ID, "states no efficiency of its speed controllers: %.2f +- %.2f is assumed",
			model.AssumedControllerEfficiency, model.ControllerEfficiencySigma)
	}
	if r.MaxCurrent != nil {
		c.MaxCurrent = *r.MaxCurrent
	}
	return c
}
