package planner

import (
	"fmt"
	"math"

	"allup/model"
)

// Source says where a number comes from.
type Source string

// Sources of numbers, the surest first.
const (
	Measured  Source = "measured"  // on a scale, a bench, a stand or in flight
	Stated    Source = "stated"    // by the build's file
	Catalogue Source = "catalogue" // by a record
	Published Source = "published" // a standard or a rule's text
	Estimated Source = "estimated" // from size or label
	Assumed   Source = "assumed"   // for want of anything else
	Computed  Source = "computed"  // by the formula beside it, from numbers above
	Simulated Source = "simulated" // by stepping the pack's circuit through the discharge
	Solved    Source = "solved"    // the root of an equation that the numbers below check
)

// Step is one number that led to an answer.
type Step struct {
	Key     string // stable; formulas name numbers by it
	Text    string
	Value   float64
	Unit    string
	Source  Source
	From    string // the record or the rule; of computed numbers the formula
	Sigma   float64
	Times   bool // Sigma is a factor: known to times or over it
	Known   bool // Sigma says something
	OfMass  float64
	OfTime  float64 // share of the variance of flight time, first-order
	OfPunch float64
}

// Why is every number that led to the answer of a build on a pack, in order, and what to measure next.
type Why struct {
	Answer *Assessment
	Steps  []Step
	Next   []Measure
}

// Why traces the answer of the build on a pack from its file to flight time, punch and merit.
func (p *Plan) Why(pack *Pack) *Why {
	a := p.Assess(pack)
	p.DrawBand(&a)
	w := &Why{Answer: &a}
	t := tracer{p: p, a: &a, w: w, shares: p.sharesOf(pack)}
	t.masses()
	if a.Flies() {
		t.hover()
		t.pack()
		t.flight()
		t.punch()
	}
	w.Next = p.measureNext(&a, t.shares)
	return w
}

// effectOf is what an uncertain input does to mass, time and punch, one standard deviation of it.
type effectOf struct {
	Uncertain
	mass, time, punch float64
}

// sharesOf are the effects of all uncertain inputs of the build on a pack.
func (p *Plan) sharesOf(pack *Pack) []effectOf {
	base := p.At(pack, p.Bare())
	mission := p.MissionOn(pack.Chemistry)
	var out []effectOf
	for _, u := range p.Uncertain(pack) {
		above, below := u.around(base)
		up, down := figuresOf(&above, mission), figuresOf(&below, mission)
		out = append(out, effectOf{u, float64(above.Mass-below.Mass) / 2, (up[0] - down[0]) / 2, (up[2] - down[2]) / 2})
	}
	return out
}

type tracer struct {
	p      *Plan
	a      *Assessment
	w      *Why
	shares []effectOf
}

func (t *tracer) add(s Step) { t.w.Steps = append(t.w.Steps, s) }

// computed adds a number with its formula.
func (t *tracer) computed(key, text string, v float64, unit, formula string) {
	t.add(Step{Key: key, Text: text, Value: v, Unit: unit, Source: Computed, From: formula})
}

// given adds a number that is uncertain by an input, of which sigma is in the number's own unit for each of the
// input's.
func (t *tracer) given(s Step, input Input, subject string, perSigma float64) {
	var mass, time, punch float64
	for _, e := range t.shares {
		mass, time, punch = mass+e.mass*e.mass, time+e.time*e.time, punch+e.punch*e.punch
	}
	for _, e := range t.shares {
		if e.Input != input || e.Subject != subject {
			continue
		}
		s.Known, s.Sigma = true, e.Sigma*perSigma
		if input == InputPartDuty && t.p.Propulsion.Fit == nil || input == InputNoLoadShare {
			s.Times, s.Sigma = true, math.Exp(e.Sigma)
		}
		part := func(v, of float64) float64 {
			if of == 0 {
				return 0
			}
			return v * v / of
		}
		s.OfMass, s.OfTime, s.OfPunch = part(e.mass, mass), part(e.time, time), part(e.punch, punch)
	}
	t.add(s)
}

func (t *tracer) masses() {
	p := t.p
	items := append(append([]Item{}, p.Items...), p.PackItem(t.a.Pack.Pack))
	sum := ""
	for n, i := range items {
		key := fmt.Sprintf("mass_%d_g", n+1)
		source, from := Catalogue, i.Slot+" "+i.ID
		switch {
		case i.Weighed:
			source = Measured
		case i.Slot == "extra":
			source = Stated
		}
		if i.Count > 1 {
			from += fmt.Sprintf(", %d x %.4g g", i.Count, i.Each.Grams())
		}
		t.given(Step{Key: key, Text: "mass of " + i.ID, Value: i.Total().Grams(), Unit: "g", Source: source, From: from}, InputMass, i.ID, 1000)
		if sum != "" {
			sum += " + "
		}
		sum += key
	}
	if p.Scale != nil {
		t.given(Step{Key: "scale_g", Text: "all-up by scale and list together", Value: t.a.Mass.Grams(), Unit: "g", Source: Measured, From: "least squares of the scale and " + sum}, InputMass, "scale", 1000)
		t.computed("all_up_g", "all-up mass", t.a.Mass.Grams(), "g", "scale_g")
	} else {
		t.computed("all_up_g", "all-up mass", t.a.Mass.Grams(), "g", sum)
	}
	l := p.Build.Limit
	source, from := Stated, "[limit]"
	if l.Rule != "" {
		source, from = Published, l.Rule
	}
	t.add(Step{Key: "limit_g", Text: "limit", Value: l.Mass.Grams(), Unit: "g", Source: source, From: from})
	t.computed("margin_g", "under the limit", t.a.Margin.Grams(), "g", "limit_g - all_up_g")
	t.computed("over_limit_chance", "chance of breaking the limit", t.a.OverChance, "", "the two widest masses rectangular, the rest normal: chance of an error above margin_g")
}

// knowledge is the source of a propeller's or a fitted constant.
func knowledge(k model.Knowledge) Source {
	switch k {
	case model.FromStaticTable, model.FromThrustTest, FromFlownHover:
		return Measured
	case model.FromGeometry:
		return Estimated
	}
	return Catalogue
}

func (t *tracer) hover() {
	p, h := t.p, t.a.Flight.Hover
	d := p.Drive
	r := d.Rotor
	prop, motor, board := "prop "+p.Prop.ID, "motor "+p.Motor.ID, "board "+p.Board.ID
	known := knowledge(p.Propulsion.Base)
	t.add(Step{Key: "gravity_m_s2", Text: "standard gravity", Value: model.StandardGravity, Unit: "m/s2", Source: Published, From: "exact, 3rd CGPM 1901"})
	t.add(Step{Key: "rotors", Text: "rotors", Value: float64(d.Rotors), Source: Stated, From: "build"})
	loss := Step{Key: "thrust_loss", Text: "thrust lost to arms and guards", Value: d.ThrustLoss, Source: Catalogue, From: "frame " + p.Frame.ID}
	if !p.Frame.ThrustLossOK {
		loss.Source, loss.From = Assumed, "none is taken off"
	}
	t.add(loss)
	t.computed("thrust_n", "thrust of one rotor", float64(h.Rotor.Thrust), "N", "all_up_g/1000 x gravity_m_s2 / ((1 - thrust_loss) x rotors)")
	t.add(Step{Key: "air_kg_m3", Text: "air density", Value: float64(r.Air), Unit: "kg/m3", Source: Published, From: "ISO 2533 at the build's height and temperature"})
	t.add(Step{Key: "diameter_m", Text: "propeller diameter", Value: float64(r.Propeller.Diameter), Unit: "m", Source: Catalogue, From: prop})
	ct, cp := r.Propeller.Coefficients(h.Rotor.Speed, r.Air)
	t.given(Step{Key: "ct", Text: "thrust coefficient at this speed", Value: ct, Source: known, From: prop}, InputThrust, p.Prop.ID, ct)
	t.given(Step{Key: "cp", Text: "power coefficient at this speed", Value: cp, Source: known, From: prop + ", by its figure of merit"}, InputFigureOfMerit, p.Prop.ID, cp)
	t.computed("rev_s", "speed", h.Rotor.Speed.RevPerSecond(), "rev/s", "sqrt(thrust_n / (ct x air_kg_m3 x diameter_m^4))")
	t.computed("torque_nm", "torque", float64(h.Rotor.Torque), "N m", "cp x air_kg_m3 x rev_s^2 x diameter_m^5 / (2 pi)")
	constants := func(estimated bool) Source {
		switch {
		case p.Propulsion.Fit != nil:
			return Measured
		case estimated:
			return Estimated
		}
		return Catalogue
	}
	t.given(Step{Key: "kv_rad_s_v", Text: "speed constant", Value: float64(r.Motor.Kv), Unit: "rad/s/V", Source: Catalogue, From: motor}, InputLoadedSpeed, p.Motor.ID, float64(r.Motor.Kv))
	t.add(Step{Key: "winding_ohm", Text: "winding resistance", Value: float64(r.Motor.R), Unit: "ohm", Source: constants(r.Motor.EstimatedR), From: motor})
	t.given(Step{Key: "no_load_a", Text: "no-load current at this speed", Value: float64(r.Motor.NoLoadCurrent(h.Rotor.Speed)), Unit: "A", Source: constants(r.Motor.EstimatedI0), From: motor}, t.noLoadInput(), p.Motor.ID, t.noLoadSlope(h.Rotor.Speed))
	factor := Step{Key: "flown_factor", Text: "flown hovers over prediction", Value: 1, Source: Assumed, From: "no flown hover"}
	if r.Calibration > 0 {
		factor.Value, factor.Source, factor.From = r.Calibration, Measured, p.Propulsion.Reason
	}
	t.add(factor)
	t.computed("motor_a", "motor current", float64(h.Rotor.Motor.Current), "A", "(kv_rad_s_v x torque_nm + no_load_a) x flown_factor")
	t.computed("motor_v", "motor voltage", float64(h.Rotor.Motor.Voltage), "V", "2 pi x rev_s / kv_rad_s_v + motor_a / flown_factor x winding_ohm")
	controller := Step{Key: "efficiency", Text: "controller efficiency", Value: r.Controller.Efficiency, Source: Catalogue, From: board}
	if r.Controller.Assumed {
		controller.Source = Assumed
	}
	t.given(controller, InputEfficiency, p.Motor.ID, r.Controller.Efficiency)
	t.add(Step{Key: "controller_drop", Text: "voltage share that stays in the controller", Value: r.Controller.Drop, Source: controller.Source, From: board})
	drop := Step{Key: "part_duty_v", Text: "loss at part duty", Value: float64(r.Controller.PartDutyDrop), Unit: "V", Source: Measured, From: "thrust test"}
	if r.Controller.PartDutyAssumed {
		drop.Source, drop.From = Assumed, board
	}
	t.given(drop, InputPartDuty, p.Board.ID, 1)
	t.add(Step{Key: "bus_v", Text: "bus voltage that hover power is of", Value: float64(h.Bus), Unit: "V", Source: Simulated, From: "half way through the discharge"})
	t.computed("duty", "duty", h.Rotor.Duty, "", "motor_v / ((1 - controller_drop) x bus_v)")
	t.computed("rotor_w", "power of one rotor", float64(h.Rotor.BusPower), "W", "(motor_v x motor_a + part_duty_v x motor_a x (1 - duty)) / efficiency")
	t.add(Step{Key: "gear_w", Text: "power of board and gear", Value: float64(d.GearPower), Unit: "W", Source: Catalogue, From: "records of board and gear"})
	t.computed("hover_w", "hover power", float64(h.Power), "W", "rotors x rotor_w + gear_w")
}

func (t *tracer) noLoadInput() Input {
	if t.p.Drive.Rotor.Motor.EstimatedI0 {
		return InputNoLoadShare
	}
	return InputNoLoadGrowth
}

// noLoadSlope is by how much the no-load current at a speed moves with one unit of what is uncertain of its growth.
func (t *tracer) noLoadSlope(w model.AngularSpeed) float64 {
	m := t.p.Drive.Rotor.Motor
	if m.NoLoadSpeed <= 0 {
		return 0
	}
	slope := math.Abs(float64(m.I0) * (1 - float64(w/m.NoLoadSpeed)))
	if t.p.Propulsion.Fit != nil { // one of a fit's steps
		slope *= model.AssumedNoLoadFixedSigma
	}
	return slope
}

func (t *tracer) pack() {
	c, pack := t.a.Circuit, t.a.Pack
	source, from := Measured, "fit to bench logs"
	switch pack.Basis {
	case BasisTested:
		from = "identified from tested metrics"
	case BasisLabel:
		source, from = Estimated, "label, and tested packs of like size and cells"
	}
	from = "pack " + pack.ID + ", " + from
	t.given(Step{Key: "capacity_ah", Text: "charge of the pack", Value: c.Capacity.AmpHours(), Unit: "Ah", Source: source, From: from}, InputCapacity, pack.ID, c.Capacity.AmpHours())
	t.given(Step{Key: "r0_ohm", Text: "instant resistance at half charge", Value: float64(c.R0), Unit: "ohm", Source: source, From: from}, InputResistance, pack.ID, float64(c.R0))
	t.add(Step{Key: "r1_ohm", Text: "slow resistance at half charge, known as the instant one", Value: float64(c.R1), Unit: "ohm", Source: source, From: from})
	dependence := Step{Key: "charge_dependence", Text: "how resistance grows with discharge", Value: c.K, Source: source, From: from}
	if pack.Basis != BasisLogs {
		dependence.Source = Assumed
	}
	t.given(dependence, InputChargeDep, pack.ID, 1)
	if t.p.UnmeasuredCold(pack) {
		t.given(Step{
			Key: "cold_rise", Text: "rise of resistance below the coldest measurement, over that of the law of Arrhenius", Source: Assumed,
			From: "held flat; one sigma is that the law goes on as between 15 and 5 C",
		}, InputCold, pack.ID, 1)
	}
}

func (t *tracer) flight() {
	a := t.a
	f := t.p.MissionOn(a.Pack.Chemistry).Landing
	t.add(Step{Key: "land_v_per_cell", Text: "landing voltage", Value: float64(f.PerCell), Unit: "V", Source: Stated, From: "[flight], or its default"})
	t.add(Step{Key: "reserve", Text: "charge kept for landing", Value: f.Reserve, Source: Stated, From: "[flight], or its default"})
	used := float64(a.Circuit.Capacity) * (1 - a.ChargeLeft())
	of, power := "hover", float64(a.Flight.Hover.Power)
	if a.Cycle != nil {
		of = "the phases"
	}
	t.add(Step{Key: "charge_left", Text: "charge on landing, which the " + string(a.EndedBy()) + " rule ends", Value: a.ChargeLeft(), Source: Simulated, From: "discharge by " + of})
	t.add(Step{Key: "mean_v", Text: "mean voltage under load", Value: float64(a.Usable()) / used, Unit: "V", Source: Simulated, From: "discharge by " + of})
	t.add(Step{Key: "mean_over_hover", Text: "mean power of the flight over hover_w", Value: float64(a.Usable()) / float64(a.Duration()) / power, Source: Simulated, From: of + "; loss at part duty follows the voltage"})
	t.computed("usable_wh", "energy used", a.Usable().WattHours(), "Wh", "capacity_ah x (1 - charge_left) x mean_v")
	t.computed("flight_s", "flight time", float64(a.Duration()), "s", "3600 x usable_wh / (hover_w x mean_over_hover)")
}

func (t *tracer) punch() {
	p, a := t.p, t.a
	d, q := p.Drive, a.Punch
	r := d.Rotor
	t.add(Step{Key: "punch_charge", Text: "charge at the punch-out", Value: q.Charge, Source: Stated, From: "[flight], or its default"})
	t.add(Step{Key: "open_v", Text: "voltage at rest there", Value: float64(a.Circuit.OpenVoltage(q.Charge)), Unit: "V", Source: Published, From: "measured open-circuit curve of the chemistry, with the pack's shift"})
	t.computed("steady_ohm", "steady resistance there", float64(a.Circuit.Steady(q.Charge)), "ohm", "(r0_ohm + r1_ohm) x factor of charge_dependence at punch_charge")
	t.add(Step{Key: "floor_v", Text: "voltage that a punch-out may not go below", Value: float64(a.Circuit.Cells) * float64(model.PunchPerCell), Unit: "V", Source: Assumed, From: "3.3 V per cell, common practice"})
	t.computed("burst_w", "power that the pack gives at floor_v", float64(q.BurstPower), "W", "floor_v x (open_v - floor_v) / steady_ohm")
	t.add(Step{Key: "demand_w", Text: "what rotors and gear would draw there at full throttle", Value: float64(q.Demand), Unit: "W", Source: Solved, From: "the rotor's chain above, at full duty"})
	t.computed("pack_headroom", "headroom", q.Headroom, "", "burst_w / demand_w")
	t.add(Step{Key: "punch_rev_s", Text: "rotor speed, limited by " + string(q.LimitedBy), Value: q.Rotor.Speed.RevPerSecond(), Unit: "rev/s", Source: Solved, From: "power drawn equals power given"})
	ct, _ := r.Propeller.Coefficients(q.Rotor.Speed, r.Air)
	t.add(Step{Key: "punch_ct", Text: "thrust coefficient at that speed", Value: ct, Source: knowledge(p.Propulsion.Base), From: "prop " + p.Prop.ID})
	t.computed("punch_thrust_n", "thrust of all rotors", float64(q.Thrust), "N", "rotors x (1 - thrust_loss) x punch_ct x air_kg_m3 x punch_rev_s^2 x diameter_m^4")
	t.computed("punch_ratio", "thrust over weight", a.PunchRatio(), "", "punch_thrust_n / (all_up_g/1000 x gravity_m_s2)")
	g := p.Build.Goal
	m := p.Merit(a.Duration(), a.PunchRatio(), a.Pack.Pack)
	t.add(Step{Key: "goal_time", Text: "weight of time", Value: g.Time, Source: Stated, From: "[goal], or its default"})
	t.add(Step{Key: "goal_punch", Text: "weight of punch", Value: g.Punch, Source: Stated, From: "[goal], or its default"})
	formula := "((flight_s/60)^goal_time x punch_ratio^goal_punch)^(1/(goal_time + goal_punch))"
	if m.Priced {
		t.add(Step{Key: "goal_price", Text: "weight of price", Value: g.Price, Source: Stated, From: "[goal]"})
		t.add(Step{Key: "price", Text: "price", Value: *a.Pack.Price, Unit: a.Pack.Currency, Source: Catalogue, From: "pack " + a.Pack.ID})
		formula = "((flight_s/60)^(goal_time + goal_price) x punch_ratio^goal_punch / price^goal_price)^(1/(goal_time + goal_punch + goal_price))"
	}
	t.computed("merit", "merit, by which packs are ranked", m.Value, "", formula)
}
