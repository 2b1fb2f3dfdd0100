package planner

import (
	"fmt"

	"allup/catalog"
	"allup/model"
)

// Plan is a build made ready: its parts looked up, its masses added, its drive prepared.
type Plan struct {
	Build *catalog.Build
	Frame *catalog.Frame
	Motor *catalog.Motor
	Prop  *catalog.Prop
	Board *catalog.Board
	Gear  []*catalog.Gear
	Pack  *catalog.Pack // what flies today; nil where the build names none

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

	budget      model.MassBudget // of Items
	dryVariance float64          // of Dry, kg2
	variants    []variant
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

// Resolve makes a plan of a checked build. Of a slot that lists candidates it takes the first, and says so.
func Resolve(b *catalog.Build) (*Plan, error) {
	p := &Plan{Build: b}
	p.lookUp()
	if p.Frame == nil || p.Motor == nil || p.Prop == nil || p.Board == nil {
		return nil, fmt.Errorf("build %q has an empty slot", b.Name)
	}
	p.addItems()
	if err := p.readScale(); err != nil {
		return nil, err
	}
	if err := p.makeDrive(); err != nil {
		return nil, err
	}
	c := Candidate{Plan: p}
	p.Conflicts = brokenBy(&c, partConflicts).remarks(&c, partConflicts)
	p.variants = p.makeVariants()
	return p, nil
}

// lookUp finds the records of the build's slots.
func (p *Plan) lookUp() {
	b := p.Build
	cat := b.Parts
	p.Frame = cat.Frames[p.first("frame", b.Slots.Frame)]
	p.Motor = cat.Motors[p.first("motor", b.Slots.Motor)]
	p.Prop = cat.Props[p.first("prop", b.Slots.Prop)]
	p.Board = cat.Boards[p.first("board", b.Slots.Board)]
	if len(b.Slots.Pack) > 0 {
		p.Pack = cat.Packs[p.first("pack", b.Slots.Pack)]
	}
	for _, id := range b.Slots.Gear {
		p.Gear = append(p.Gear, cat.Gear[id])
	}
}

func (p *Plan) first(slot string, ids []string) string {
	if len(ids) > 1 {
		p.Warnings = append(p.Warnings, remark(SeveralCandidate, "", "slot %s lists %d candidates; %s, the first, is taken", slot, len(ids), ids[0]))
	}
	if len(ids) == 0 {
		return ""
	}
	return ids[0]
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
		p.budget = append(p.budget, i.MassItem)
		u := float64(i.Uncertainty())
		p.dryVariance += u * u
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
	air, err := airOf(p.Build.Air)
	if err != nil {
		return err
	}
	rotor, err := p.propulsion(air)
	if err != nil {
		return err
	}
	p.Dry, _ = p.known(p.Items)
	p.Drive = model.Drive{
		Rotors:     p.Build.Rotors,
		Rotor:      rotor,
		GearPower:  p.Board.Power,
		ThrustLoss: p.Frame.ThrustLoss,
	}
	for _, g := range p.Gear {
		p.Drive.GearPower += g.Power
	}
	if !p.Frame.ThrustLossOK {
		p.warn(LossAssumed, p.Frame.ID, "states no thrust loss: none is taken off for arms and guards")
	}
	if err := p.calibrate(); err != nil {
		return err
	}
	p.Propulsion.Sigma = powerSigma(p.Drive.Rotor)
	p.readMission()
	p.temperatures()
	return nil
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

func (p *Plan) motor() model.Motor {
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

func (p *Plan) controller() model.Controller {
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
