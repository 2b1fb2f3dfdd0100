package planner

import (
	"slices"

	"allup/catalog"
	"allup/model"
)

// Plan is a build made ready: its parts looked up, its masses added, its drive prepared.
type Plan struct {
	Build     *catalog.Build // in the air that is asked for
	Selection                // the parts that it is made of

	Items      []Item // everything but the pack, in the order that a screen shows
	Drive      model.Drive
	Bus        model.Voltage // nominal, of the pack that the rotors are thought for
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
	moved       []movedRotor // one for each uncertain input of the rotors
	request     request
	home        *Plan // see [Plan.Home]
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
	p.Bus = p.nominalBus()
	work, drive, err := p.driveIn(p.Build.Air)
	if err != nil {
		return err
	}
	p.Drive, p.Propulsion, p.moved = drive, work.Propulsion, work.moved
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
		p.applyCalibration(k)
	}
	return nil
}

// PowerSigma is the relative standard uncertainty of the rotors' power in hover with today's pack.
func (p *Plan) PowerSigma() float64 {
	r := p.Drive.Rotor
	more, less := r.PowerSpread(p.Drive.Hover(p.hoverMass(), p.Bus).Rotor.Thrust, p.Bus, r.Uncertain())
	return (more + less) / 2
}

// driveIn is the build's drive in some air, before flown hovers correct it.
func (p *Plan) driveIn(conditions catalog.AirConditions) (*rotorWork, model.Drive, error) {
	air, err := airOf(conditions)
	if err != nil {
		return nil, model.Drive{}, err
	}
	work := p.request.rotors.rotor(p.Selection, air, p.Bus, p.request.only)
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

// hoverMass is the all-up mass with today's pack, or the limit where the build names none.
func (p *Plan) hoverMass() model.Mass {
	if p.Pack == nil {
		return max(p.Build.Limit.Mass, p.Dry)
	}
	m, _ := p.With(p.Pack)
	return m
}

// statedMotor is what a record states of a motor. A no-load current whose voltage is not stated is
// taken at the free speed on another voltage.
func statedMotor(r *catalog.Motor, at model.Voltage) model.Motor {
	m := model.Motor{Kv: r.Kv, EstimatedR: r.R == nil, EstimatedI0: r.NoLoadCurrent == nil, Estimate: model.UsualMotor(at)}
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

// withMotor gives a rotor the build's motor; what its record does not state is estimated.
func (p *rotorWork) withMotor(r *model.Rotor, bus model.Voltage) {
	r.Motor = statedMotor(p.Motor, bus)
	var missing string
	switch m := r.Motor; {
	case m.EstimatedR && m.EstimatedI0:
		missing = "resistance or no-load current: both are made from"
	case m.EstimatedR:
		missing = "resistance: it is made from"
	case m.EstimatedI0:
		missing = "no-load current: it is made from"
	default:
		return
	}
	p.warn(MotorEstimated, p.Motor.ID, "states no %s the propeller, a loaded speed of %.2f +- %.2f of kv x %.1f V at full throttle, and a no-load share of %.2f of the current then, times or over %.1f",
		missing, model.EstimatedLoadedSpeed, model.EstimatedLoadedSpeedSigma, float64(bus), model.EstimatedNoLoadShare, model.EstimatedNoLoadFactor)
	r.EstimateMotor()
}

func (p *rotorWork) controller() model.Controller {
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
