package planner

import (
	"fmt"
	"slices"

	"allup/catalog"
	"allup/model"
)

// Assessment is what a build does on one pack, or why it does not take it.
type Assessment struct {
	Pack       Pack
	Circuit    model.Circuit // the pack's, at the build's pack temperature: the one that flew
	Mass       model.Mass    // all-up
	Spare      model.Mass    // below the limit, with what is kept back taken off
	Margin     model.Mass    // below the limit
	OverChance float64       // chance that the all-up mass breaks the limit

	LandPerCell  model.Voltage // the landing voltage of the build, or of the pack's chemistry
	model.Answer               // flight, phases and punch of the build's mission
	PunchLanding model.Punch   // at the charge left on landing
	HoverC       float64       // hover current over rated capacity, 1/h
	Full         Full          // on a full pack

	BurstPower    *model.Power // tested, nil where nobody did
	PowerDensity  *float64     // W/kg, of BurstPower
	EnergyDensity *float64     // J/kg, tested

	Against  []Remark // every reason against the pack; empty for an eligible one
	Warnings []Remark
	Band     *Band

	// Filled by ranking.
	Rank  int // from 1
	Score float64
	Front bool // no other eligible pack beats it in both flight time and punch
}

// Eligible reports whether nothing speaks against the pack.
func (a *Assessment) Eligible() bool { return len(a.Against) == 0 }

// Assess answers one pack, without a band.
func (p *Plan) Assess(pack Pack) Assessment {
	a := Assessment{Pack: pack, Warnings: slices.Clone(pack.Remarks)}
	item := p.PackItem(pack.Pack)
	limit := p.Build.Limit
	a.Mass = p.Dry + item.Each
	a.Margin = limit.Mass - a.Mass
	a.Spare = a.Margin - limit.Spare
	a.OverChance = limit.ChanceOver(a.Mass, p.uncertainty(item))

	a.fits(p, item.Each)
	a.fly(p)
	a.densities(item.Each)
	return a
}

// uncertainty is the combined standard uncertainty of the all-up mass.
func (p *Plan) uncertainty(pack Item) model.Mass {
	return append(slices.Clone(p.budget), pack.MassItem).Uncertainty()
}

func (a *Assessment) against(code Code, format string, args ...any) {
	a.Against = append(a.Against, remark(code, a.Pack.ID, format, args...))
}

func (a *Assessment) warn(code Code, format string, args ...any) {
	a.Warnings = append(a.Warnings, remark(code, a.Pack.ID, format, args...))
}

// fits lists what speaks against the pack before anything flies.
func (a *Assessment) fits(p *Plan, packMass model.Mass) {
	limit, pack, filter := p.Build.Limit, a.Pack, p.Build.Packs
	switch {
	case !limit.Allows(a.Mass):
		a.against(OverLimit, "makes %s all-up, %s", grams(a.Mass), overText(limit.Limit, a.Mass))
	case !(model.Limit{Mass: limit.Mass - limit.Spare, Inclusive: true}).Allows(a.Mass):
		a.against(UnderSpare, "makes %s all-up, %s under the limit: less than the %s kept back", grams(a.Mass), grams(a.Margin), grams(limit.Spare))
	}
	if filter.MaxMass != nil && !(model.Limit{Mass: *filter.MaxMass, Inclusive: true}).Allows(packMass) {
		a.against(OverPackMass, "weighs %s (the build takes packs of at most %s)", grams(packMass), grams(*filter.MaxMass))
	}
	if len(filter.Cells) > 0 && !slices.Contains(filter.Cells, pack.Cells) {
		var want []string
		for _, c := range filter.Cells {
			want = append(want, fmt.Sprint(c))
		}
		a.against(WrongCells, "has %d cells (the build takes %s)", pack.Cells, listed(want, "or"))
	}
	if r := p.Motor.Cells; r != nil && (pack.Cells < r.Min || pack.Cells > r.Max) {
		a.against(MotorCells, "has %d cells (motor %s takes %s)", pack.Cells, p.Motor.ID, cellsText(*r))
	}
	if r := p.Board.Cells; r != nil && (pack.Cells < r.Min || pack.Cells > r.Max) {
		a.against(BoardCells, "has %d cells (board %s takes %s)", pack.Cells, p.Board.ID, cellsText(*r))
	}
	if len(filter.Chemistries) > 0 && !slices.Contains(filter.Chemistries, pack.Chemistry) {
		var want []string
		for _, c := range filter.Chemistries {
			want = append(want, string(c))
		}
		a.against(WrongChem, "is %s (the build takes %s)", pack.Chemistry, listed(want, "or"))
	}
	if len(filter.Plugs) > 0 && pack.Plug != "" && !slices.Contains(filter.Plugs, pack.Plug) {
		a.against(WrongPlug, "has plug %s (the build takes %s)", pack.Plug, listed(filter.Plugs, "or"))
	}
	if bay := p.Frame.Bay; bay != nil && pack.Size != nil && !holds(*bay, *pack.Size) {
		a.against(TooBigForBay, "measures %s (the bay of %s is %s)", boxText(*pack.Size), p.Frame.ID, boxText(*bay))
	}
}

// overText says by how much a mass breaks a limit; at the limit itself, why that is too much.
func overText(l model.Limit, m model.Mass) string {
	if l.At(m) {
		return "at the limit, which is " + LimitText(l)
	}
	return fmt.Sprintf("%s over the limit", grams(m-l.Mass))
}

// holds reports whether a box fits in another in some orientation with parallel sides.
func holds(outer, inner catalog.Box) bool {
	a := []model.Length{outer.L, outer.W, outer.H}
	b := []model.Length{inner.L, inner.W, inner.H}
	slices.Sort(a)
	slices.Sort(b)
	const grain = model.Millimetre / 1000
	return b[0] <= a[0]+grain && b[1] <= a[1]+grain && b[2] <= a[2]+grain
}

// circuitOf is a pack's circuit at the build's pack temperature.
func (p *Plan) circuitOf(pack Pack) model.Circuit {
	t := p.Build.Air.PackTemperature
	if t == nil {
		return pack.Circuit
	}
	tested := model.Celsius(25)
	if pack.Tested != nil && pack.Tested.Ambient > 0 {
		tested = pack.Tested.Ambient
	}
	return pack.Circuit.At(*t, tested)
}

func (a *Assessment) fly(p *Plan) {
	pack := p.circuitOf(a.Pack)
	a.Circuit = pack
	mission := p.mission(a.Pack.Chemistry)
	a.LandPerCell = mission.Landing.PerCell
	a.Answer = p.Drive.Answer(pack, a.Mass, mission)
	a.PunchLanding = p.Drive.PunchOut(pack, a.ChargeLeft())
	a.HoverC = float64(a.Flight.Current) / a.Pack.Rated.AmpHours()

	hover := a.Flight.Hover
	full := float64(pack.OpenVoltage(1))
	switch {
	case a.Flight.Duration > 0:
	case float64(hover.Rotor.Motor.Voltage) >= full:
		a.against(MotorVoltage, "is %.1f V when full and at rest; hover turns the motors at %.0f rpm, for which they need %.1f V",
			full, hover.Rotor.Speed.RPM(), float64(hover.Rotor.Motor.Voltage))
	default:
		a.against(CannotHold, "cannot hold the hover power of %.0f W: its voltage falls at once to the landing limit, or below what the motors need", float64(hover.Power))
	}
	if c := a.Cycle; a.Flight.Duration > 0 && c != nil && !(c.Duration > 0) {
		a.against(CannotHold, "cannot hold the flight's phases: the landing rule is met as soon as they begin")
	}
	if a.Flight.Duration > 0 && a.PunchRatio() < 1 {
		a.against(NoLift, "gives %.2f times the weight at the most at %.0f %% charge, limited by the %s", a.PunchRatio(), 100*a.Punch.Charge, limiterText(a.Punch.LimitedBy))
	}
	if limit := a.Pack.MaxCurrent; limit != nil {
		if a.Flight.Duration > 0 && a.Flight.EndCurrent > *limit {
			a.against(SteadyCurrent, "gives up to %.1f A in hover (it states %.1f A as its steady limit)", float64(a.Flight.EndCurrent), float64(*limit))
		} else if held := a.heldCurrent(); held > *limit {
			a.against(SteadyCurrent, "gives up to %.1f A in the flight's held phases (it states %.1f A as its steady limit)", float64(held), float64(*limit))
		} else if a.Punch.Current > *limit {
			a.warn(PunchCurrent, "gives %.0f A in a punch-out; it states %s A as its steady limit", float64(a.Punch.Current), trimmed(float64(*limit), 1))
		}
	}
	a.practice(p, pack)
	if a.Flight.ThrottleBound {
		a.warn(ThrottleBound, "has too little voltage for the motors before the landing rule is met; the flight ends there")
	}
	// Where the chance is small the paper figure speaks for itself.
	if len(a.Against) == 0 && a.OverChance > 0.05 {
		a.warn(MaybeOver, "is under the limit on paper, but the masses are not known better than to leave a chance of %.0f %% of breaking it: weigh the build", 100*a.OverChance)
	}
}

func limiterText(l model.Limiter) string {
	switch l {
	case model.LimitedByThrottle:
		return "motors at full throttle"
	case model.LimitedByBoard:
		return "board's current"
	case model.LimitedByMotor:
		return "motor's current limit"
	}
	return string(l)
}

func (a *Assessment) densities(mass model.Mass) {
	t := a.Pack.Tested
	if t == nil || mass <= 0 || a.Pack.Basis == BasisLabel {
		return
	}
	if burst := burstPower(*t, a.Pack.Cells); burst > 0 {
		w := float64(burst) / float64(mass)
		a.BurstPower, a.PowerDensity = &burst, &w
	}
	if t.Energy > 0 {
		e := float64(t.Energy) / float64(mass)
		a.EnergyDensity = &e
	}
}
