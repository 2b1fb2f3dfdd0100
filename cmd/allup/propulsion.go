package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// propulsionNote says what hover power rests on and how sure it is.
func propulsionNote(p *planner.Plan) string {
	return fmt.Sprintf("Hover power rests on %s: known to +- %.0f %% (one sigma).", p.Propulsion.Reason, 100*p.Propulsion.Sigma)
}

// speedNote is the bound on speed that a full pack sets, and what it means to thresholds that ask for more than a mass.
func speedNote(p *planner.Plan, a *planner.Assessment) string {
	v := a.Full.PitchSpeed
	note := fmt.Sprintf("With %s full throttle turns the propellers for a pitch speed of %.0f m/s (%.0f km/h): rpm times pitch at rest on a full pack, about what the build cannot outfly; drag stops it well before.",
		a.Pack.ID, float64(v), 3.6*float64(v))
	for _, rule := range p.Build.Limit.Rules {
		if t, ok := catalog.LookupThreshold(rule); ok && t.Speed != nil {
			c := t.Speed
			note += fmt.Sprintf(" %s also asks for a greatest speed under %.0f m/s, and for registration where an impact can transfer more than %.0f J (%.1f g at %.1f m/s): no mass answers that; see \"allup limits\".",
				rule, float64(c.Below), float64(c.Transfer), a.Mass.Grams(), float64(model.SpeedOf(a.Mass, c.Transfer)))
		}
	}
	return note
}

// phaseWord is a phase in words.
func phaseWord(f model.Phase) string {
	if f.Full {
		return fmt.Sprintf("%g s at full throttle", float64(f.Duration))
	}
	return fmt.Sprintf("%g s at %g times the weight", float64(f.Duration), f.Thrust)
}

// phaseTable is what each phase asks of one pack.
func phaseTable(a *planner.Assessment) *table {
	t := &table{
		title: "Phases on " + a.Pack.ID,
		columns: []column{
			{head: "phase", key: "phase", left: true},
			{head: "least V", key: "min_voltage_v"},
			{head: "a cell", key: "min_v_per_cell"},
			{head: "at min", key: "min_at_min", keep: 2},
			{head: "greatest A", key: "max_current_a"},
			{head: "took s", key: "longest_s", keep: 2},
			{head: "thrust first", key: "first_ratio", keep: 1},
			{head: "last", key: "last_ratio", keep: 1},
			{head: "", key: "marks", left: true},
		},
	}
	for i, u := range a.Cycle.Phases {
		mark := ""
		if i == a.Cycle.EndedIn {
			mark = "ends it"
		}
		if u.Runs == 0 {
			none := word("-")
			t.add(word(phaseWord(u.Phase)), none, none, none, none, none, none, none, word("never begins"))
			continue
		}
		took := word("-")
		if u.Full {
			took = number(float64(u.Longest), 1)
		}
		t.add(word(phaseWord(u.Phase)), number(float64(u.MinVoltage), 2), number(float64(u.MinVoltage)/float64(a.Pack.Cells), 2), number(u.MinAt.Minutes(), 1),
			number(float64(u.MaxCurrent), 1), took, number(u.FirstRatio, 2), number(u.LastRatio, 2), word(mark))
	}
	return t
}

// phaseNotes say what is flown and when full throttle breaks the landing rule.
func phaseNotes(p *planner.Plan, best *planner.Assessment) []string {
	var words []string
	for _, f := range best.Cycle.Phases {
		words = append(words, phaseWord(f.Phase))
	}
	rule := p.Build.Flight
	notes := []string{fmt.Sprintf("Flown from full, over and over: %s; until a cycle would take a held phase to %.2f V per cell, or the charge to %.0f %%; the last cycle counts in part. Wind and turns are not in it.",
		strings.Join(words, ", "), float64(best.LandPerCell), 100*rule.Reserve)}
	dip := fmt.Sprintf("On %s full throttle does not fall below %.2f V per cell.", best.Pack.ID, float64(best.LandPerCell))
	if best.Cycle.Dipped {
		dip = fmt.Sprintf("On %s full throttle falls below %.2f V per cell from %.1f min on; that does not end the flight, since the voltage comes back. Whoever lands on it flies %.1f min.",
			best.Pack.ID, float64(best.LandPerCell), best.Cycle.FirstDip.Minutes(), best.Cycle.Strict().Minutes())
	}
	for _, f := range best.Cycle.Phases {
		if f.Full {
			return append(notes, dip, fmt.Sprintf("A punch is an impulse: its seconds are those of full throttle at %.1f V per cell, and a pack that gives less thrust takes longer for it (\"took\", the longest). Minutes are the cycle's: each punch counts as long as it is stated.",
				float64(model.PunchPerCell)))
		}
	}
	return notes
}

// jsonPhase is one phase of the cycle over a whole flight; what a phase that never begins cannot have is null.
type jsonPhase struct {
	Seconds     float64  `json:"seconds"`
	Thrust      *float64 `json:"thrust"`
	Full        bool     `json:"full"`
	MinVoltageV *float64 `json:"min_voltage_v"`
	MinAtS      *float64 `json:"min_at_s"`
	MaxCurrentA *float64 `json:"max_current_a"`
	FirstRatio  *float64 `json:"first_ratio"`
	LastRatio   *float64 `json:"last_ratio"`
	LongestS    *float64 `json:"longest_s"`
	EndsFlight  bool     `json:"ends_flight"`
}

// jsonFlown is what flying adds to hovering: phases, and full throttle on a full pack.
type jsonFlown struct {
	HoverFlightS  float64     `json:"hover_flight_s"`
	FirstMetS     *float64    `json:"first_met_s"`
	StrictFlightS *float64    `json:"strict_flight_s"`
	FirstDipS     *float64    `json:"first_dip_s"`
	Phases        []jsonPhase `json:"phases"`
	FullThrottleA float64     `json:"full_throttle_motor_a"`
	PitchSpeed    float64     `json:"pitch_speed_m_s"`
	TipMach       float64     `json:"tip_mach"`
}

func flownJSON(a *planner.Assessment) jsonFlown {
	out := jsonFlown{
		HoverFlightS: float64(a.Flight.Duration), Phases: []jsonPhase{},
		FullThrottleA: float64(a.Full.Current), PitchSpeed: float64(a.Full.PitchSpeed), TipMach: a.Full.TipMach,
	}
	c := a.Cycle
	if c == nil {
		return out
	}
	strict := float64(c.Strict())
	out.FirstMetS, out.StrictFlightS = (*float64)(&c.FirstMet), &strict
	if c.Dipped {
		out.FirstDipS = (*float64)(&c.FirstDip)
	}
	for i, u := range c.Phases {
		j := jsonPhase{
			Seconds: float64(u.Duration), Full: u.Full, EndsFlight: i == c.EndedIn,
		}
		if u.Runs > 0 {
			j.MinVoltageV, j.MinAtS, j.MaxCurrentA = present(float64(u.MinVoltage)), present(float64(u.MinAt)), present(float64(u.MaxCurrent))
			j.FirstRatio, j.LastRatio = &c.Phases[i].FirstRatio, &c.Phases[i].LastRatio
			if u.Full {
				j.LongestS = present(float64(u.Longest))
			}
		}
		if !u.Full {
			j.Thrust = &c.Phases[i].Thrust
		}
		out.Phases = append(out.Phases, j)
	}
	return out
}

// jsonPropulsion is what hover power rests on.
type jsonPropulsion struct {
	Source          string   `json:"source"`
	Base            string   `json:"base"`
	Reason          string   `json:"reason"`
	PowerSigma      float64  `json:"power_sigma"`
	ThrustTest      *string  `json:"thrust_test"`
	FitRMS          *float64 `json:"fit_rms"`
	Calibration     *float64 `json:"calibration"`
	FlownHovers     int      `json:"flown_hovers"`
	MotorEstimated  bool     `json:"motor_estimated"`
	ControllerGuess bool     `json:"controller_assumed"`
}

func propulsionJSON(p *planner.Plan) jsonPropulsion {
	is := p.Propulsion
	out := jsonPropulsion{
		Source: string(is.Source), Base: string(is.Base), Reason: is.Reason, PowerSigma: is.Sigma,
		MotorEstimated: p.Drive.Rotor.Motor.Estimated(), ControllerGuess: p.Drive.Rotor.Controller.Assumed,
	}
	if is.Fit != nil {
		out.ThrustTest, out.FitRMS = &is.Test.ID, &is.Fit.RMS
	}
	if k := is.Calibration; k != nil {
		out.Calibration, out.FlownHovers = &k.Factor, len(k.Hovers)
	}
	return out
}

// fit shows a thrust test against what was fitted to it.
func (p *part) fit(cat *catalog.Catalogue, id string) {
	fit, err := planner.ReadThrustTest(cat, id)
	if err != nil {
		p.notes = append(p.notes, "Not used by any build: "+err.Error()+".", standCaution)
		return
	}
	ct, cp := fit.Propeller.Coefficients(0, model.SeaLevelDensity)
	p.number("fit.ct", ct)
	p.number("fit.cp", cp)
	p.number("fit.r_mohm", fit.Motor.R.MilliOhms())
	p.number("fit.part_duty_v", float64(fit.PartDuty))
	p.number("fit.rms_percent", 100*fit.RMS)
	for i, row := range fit.Rows {
		text := fmt.Sprintf("%.0f %%: power %+.1f %%", 100*row.Row.Throttle, 100*row.PowerError)
		values := map[string]float64{"throttle": row.Row.Throttle, "power_error": row.PowerError}
		if row.Row.Speed > 0 {
			text += fmt.Sprintf(", speed %+.1f %%", 100*row.SpeedError)
			values["speed_error"] = row.SpeedError
		}
		if row.Row.Throttle >= model.FullThrottle {
			text += fmt.Sprintf(", thrust %+.1f %%, current %+.1f %%", 100*row.ThrustError, 100*row.CurrentError)
			values["thrust_error"], values["current_error"] = row.ThrustError, row.CurrentError
		}
		if i == fit.Worst {
			text += " (worst)"
		}
		p.facts = append(p.facts, fact{"fit.rows", text, values})
	}
	p.losses(cat.ThrustTests[id], &fit)
	sure := func(u float64) string {
		if math.IsInf(u, 1) {
			return "unknown"
		}
		return fmt.Sprintf("%.0f %%", 100*u)
	}
	p.notes = append(p.notes, fmt.Sprintf("Fitted constants, figure of merit %.2f; one sigma: ct %s, cp %s, resistance %s, loss at part duty %.1f V. Errors are fit over row; a fit beyond %.0f %% RMS is refused. They count for this motor with this propeller only.",
		model.FigureOfMerit(ct, cp), sure(fit.UncertaintyCT), sure(fit.UncertaintyCP), sure(fit.UncertaintyR), float64(fit.SigmaPart), 100*model.MaxFitRMS))
	if !fit.WithSpeed {
		p.notes = append(p.notes, "No rpm was measured: full throttle alone ties speed to voltage, so ct and resistance lean on the propeller's size and the motor's data sheet.")
	}
	for _, g := range fit.Glitches {
		p.notes = append(p.notes, fmt.Sprintf("The speed of row %d is left out as a glitch: %.0f rpm, where its thrust and the other rows give %.0f rpm.",
			g.Row+1, g.Speed.RPM(), g.Expected.RPM()))
	}
	if fit.AssumedNoLoad {
		p.notes = append(p.notes, fmt.Sprintf("The motor states no no-load current: %.2f A comes out of the fit, held near a share of the full-throttle current.", float64(fit.Motor.I0)))
	}
	if stated := cat.Motors[cat.ThrustTests[id].Motor].R; stated != nil {
		if r := float64(fit.Motor.R / *stated); r > 1.6 || r < 1/1.6 {
			p.notes = append(p.notes, fmt.Sprintf("The data sheet states %.0f mOhm, the fit needs %.0f: the kv may differ from the stated one, or the voltage was not measured at the controller.", stated.MilliOhms(), fit.Motor.R.MilliOhms()))
		}
	}
	p.notes = append(p.notes, standCaution)
}

// losses are where the power goes at each row's thrust, by the fit.
func (p *part) losses(test *catalog.ThrustTest, fit *model.ThrustFit) {
	d := model.Drive{Rotors: 1, Rotor: fit.Apply(model.Rotor{Controller: model.AssumedController(), Air: test.Air})}
	t := &table{
		title:   "Where the power goes, by the fit, % of it",
		columns: []column{{head: "thrust g", key: "thrust_g"}, {head: "V", key: "voltage_v", keep: 2}, {head: "W", key: "power_w"}},
	}
	places := []model.Place{model.PlaceLift, model.PlaceInduced, model.PlaceProfile, model.PlaceCopper, model.PlaceNoLoad, model.PlacePartDuty, model.PlaceController}
	for _, place := range places {
		t.columns = append(t.columns, column{head: string(place), key: string(place) + "_percent"})
	}
	for _, row := range fit.Rows {
		mass := model.Mass(float64(row.Row.Thrust) / model.StandardGravity)
		h := d.Hover(mass, row.Row.Voltage)
		cells := []cell{number(mass.Grams(), 0), number(float64(row.Row.Voltage), 2), number(float64(h.Power), 2)}
		for _, l := range d.Losses(h) {
			if slices.Contains(places, l.Place) {
				cells = append(cells, number(100*float64(l.Power/h.Power), 1))
			}
		}
		t.add(cells...)
		p.lost = append(p.lost, jsonStandLoss{mass.Grams(), float64(row.Row.Voltage), float64(h.Power), lossesJSON(d, h)})
	}
	p.tables = append(p.tables, t)
}

// jsonStandLoss is where the power goes at the thrust of a stand's row.
type jsonStandLoss struct {
	ThrustG  float64    `json:"thrust_g"`
	VoltageV float64    `json:"voltage_v"`
	PowerW   float64    `json:"power_w"`
	Losses   []jsonLoss `json:"losses"`
}

const standCaution = "Thrust stands hurt: a propeller at speed cuts. Guard it, wear eye protection, stand out of its plane, and limit the current of the supply."
