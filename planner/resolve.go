package planner

import (
	"fmt"
	"math"
	"slices"

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
	Bus        model.Voltage // nominal, of the pack that the rotors are thought for
	Dry        model.Mass    // everything but the pack
	Mission    model.Mission // what the build flies
	Propulsion Propulsion    // what Drive's rotors rest on

	// Warnings are about figures of the build itself, Conflicts about parts of it that do
	// not go together whatever the pack.
	Warnings  []Remark
	Conflicts []Remark

	budget   model.MassBudget // of Items
	variants []variant

	alternatives []model.Alternative // of Drive's rotors
}

// Item is one line of the mass budget.
type Item struct {
	Slot string // "frame", "motor", ..., "extra", "pack"
	ID   string
	Name string
	model.MassItem
	WithPack bool // travels with any pack
}

// Resolve makes a plan of a checked build. Of a slot that lists candidates it takes the first, and says so.
func Resolve(b *catalog.Build) (*Plan, error) {
	p := &Plan{Build: b}
	cat := b.Parts
	p.Frame = cat.Frames[p.first("frame", b.Slots.Frame)]
	p.Motor = cat.Motors[p.first("motor", b.Slots.Motor)]
	p.Prop = cat.Props[p.first("prop", b.Slots.Prop)]
	p.Board = cat.Boards[p.first("board", b.Slots.Board)]
	if len(b.Slots.Pack) > 0 {
		p.Pack = cat.Packs[p.first("pack", b.Slots.Pack)]
	}
	if p.Frame == nil || p.Motor == nil || p.Prop == nil || p.Board == nil {
		return nil, fmt.Errorf("build %q has an empty slot", b.Name)
	}
	for _, id := range b.Slots.Gear {
		p.Gear = append(p.Gear, cat.Gear[id])
	}
	p.addItems()
	if err := p.makeDrive(); err != nil {
		return nil, err
	}
	p.conflicts()
	return p, nil
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
	}
}

func (p *Plan) add(slot string, c *catalog.Common, count int) {
	p.Items = append(p.Items, p.item(slot, c, count))
}

func (p *Plan) item(slot string, c *catalog.Common, count int) Item {
	return p.onScale(Item{
		Slot: slot, ID: c.ID, Name: c.Name,
		MassItem: model.MassItem{Each: c.Mass, Count: count, Weighed: c.Weighed, Tolerance: c.Tolerance},
	})
}

// onScale puts the pilot's own weighing over the catalogue's figure.
func (p *Plan) onScale(i Item) Item {
	if m, ok := p.Build.Weighed[i.ID]; ok {
		i.Each, i.Weighed, i.Tolerance = m, true, nil
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
	p.Bus = p.nominalBus()
	rotor, err := p.propulsion(air)
	if err != nil {
		return err
	}
	p.Dry = p.budget.Total()
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
	p.vary(rotor.Alternatives(p.Bus))
	if err := p.calibrate(); err != nil {
		return err
	}
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

// nominalBus is 3.7 V a cell of today's pack, or of the most cells that the build or its motor takes.
func (p *Plan) nominalBus() model.Voltage {
	cells := usualCells
	switch {
	case p.Pack != nil:
		cells = p.Pack.Cells
	case len(p.Build.Packs.Cells) > 0:
		cells = slices.Max(p.Build.Packs.Cells)
	case p.Motor.Cells != nil:
		cells = p.Motor.Cells.Max
	}
	return model.NominalPerCell * model.Voltage(cells)
}

// usualCells are those of a build that says nothing of them.
const usualCells = 4

// statedMotor is what a record states of a motor. A no-load current whose voltage is not stated is
// taken at the free speed on another voltage.
func statedMotor(r *catalog.Motor, at model.Voltage) model.Motor {
	m := model.Motor{Kv: r.Kv, EstimatedR: r.R == nil, EstimatedI0: r.NoLoadCurrent == nil}
	if r.R != nil {
		m.R = *r.R
	}
	if r.NoLoadCurrent != nil {
		m.I0, m.NoLoadFixed = *r.NoLoadCurrent, model.AssumedNoLoadFixed
		if r.NoLoadVoltage != nil {
			at = *r.NoLoadVoltage
		}
		m.NoLoadSpeed = model.AngularSpeed(float64(r.Kv) * float64(at))
	}
	if r.MaxCurrent != nil {
		m.MaxCurrent = *r.MaxCurrent
	}
	return m
}

// withMotor is a rotor with the build's motor; what its record does not state is estimated.
func (p *Plan) withMotor(r model.Rotor) model.Rotor {
	r.Motor = statedMotor(p.Motor, p.Bus)
	missing := ""
	switch m := r.Motor; {
	case m.EstimatedR && m.EstimatedI0:
		missing = "resistance or no-load current: both are made from"
	case m.EstimatedR:
		missing = "resistance: it is made from"
	case m.EstimatedI0:
		missing = "no-load current: it is made from"
	default:
		return r
	}
	p.warn(MotorEstimated, p.Motor.ID, "states no %s the propeller, a loaded speed of %.2f +- %.2f of kv x %.1f V at full throttle, and a no-load share of %.2f of the current then, times or over %.1f",
		missing, model.EstimatedLoadedSpeed, model.EstimatedLoadedSpeedSigma, float64(p.Bus), model.EstimatedNoLoadShare, model.EstimatedNoLoadFactor)
	return r.EstimateMotor(p.Bus, model.EstimatedLoadedSpeed, model.EstimatedNoLoadShare)
}

func (p *Plan) controller() model.Controller {
	r := p.Board
	c := model.AssumedController()
	if r.Efficiency != nil {
		c.Efficiency, c.Drop, c.Assumed = *r.Efficiency, 1-*r.Efficiency, false
	} else {
		p.warn(BoardEstimated, r.ID, "states no efficiency of its speed controllers: %.2f +- %.2f is assumed",
			model.AssumedControllerEfficiency, model.ControllerEfficiencySigma)
	}
	if r.MaxCurrent != nil {
		c.MaxCurrent = *r.MaxCurrent
	}
	return c
}

// conflicts names the parts of the build that do not go together.
func (p *Plan) conflicts() {
	conflict := func(code Code, subject, format string, args ...any) {
		p.Conflicts = append(p.Conflicts, remark(code, subject, format, args...))
	}
	if most := p.Frame.MaxProp; most > 0 && p.Prop.Diameter > most+model.Millimetre/10 {
		conflict(PropTooLarge, p.Prop.ID, "is %s in across; frame %s takes at most %s in",
			trimmed(p.Prop.Diameter.Inches(), 2), p.Frame.ID, trimmed(most.Inches(), 2))
	}
	if a, b := p.Motor.Mount, p.Frame.MotorMount; a != nil && b != nil && differ(*a, *b) {
		conflict(MotorMount, p.Motor.ID, "has a %s mm bolt circle; frame %s has %s mm", trimmed(a.Millimetres(), 2), p.Frame.ID, trimmed(b.Millimetres(), 2))
	}
	if a, b := p.Prop.Shaft, p.Motor.Shaft; a != nil && b != nil && differ(*a, *b) {
		conflict(PropShaft, p.Prop.ID, "is bored for a %s mm shaft; motor %s has %s mm", trimmed(a.Millimetres(), 2), p.Motor.ID, trimmed(b.Millimetres(), 2))
	}
}

func differ(a, b model.Length) bool { return math.Abs(float64(a-b)) > float64(model.Millimetre)/10 }
