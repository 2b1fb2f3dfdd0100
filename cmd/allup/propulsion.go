package main

import (
	"fmt"
	"math"
	"strings"

	"allup/catalog"
	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/planner"
)

// propulsionNote says what hover power rests on and how sure it is.
func propulsionNote(p *planner.Plan) string {
	return fmt.Sprintf("Hover power rests on %s: known to +- %.0f %% (one sigma).", p.Propulsion.Reason, 100*p.PowerSigma())
}

// speedNote is the bound on speed that a full pack sets, and what it means to thresholds that ask for more than a mass.
func speedNote(p *planner.Plan, a *planner.Assessment) string {
	v := a.Full.PitchSpeed
	note := fmt.Sprintf("With %s full throttle turns the propellers for a pitch speed of %.0f m/s (%.0f km/h): rpm times pitch at rest on a full pack, an upper bound on airspeed; drag stops the build well before.",
		a.Pack.ID, float64(v), v.KilometresPerHour())
	for _, c := range p.SpeedsAsked(a) {
		note += fmt.Sprintf(" %s also asks for a greatest speed under %.0f m/s, and for registration where an impact can transfer more than %.0f J (%.1f g at %.1f m/s): the mass does not answer that; see \"allup limits\".",
			c.Rule, float64(c.Below), float64(c.Transfer), a.Mass.Grams(), float64(c.Transferring))
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
func phaseTable(a *planner.Assessment) *sheet.Table {
	t := &sheet.Table{
		Title: "Phases on " + a.Pack.ID,
		Columns: []sheet.Column{
			{Head: "phase", Key: "phase", Left: true},
			{Head: "least V", Key: "min_voltage_v"},
			{Head: "least V/cell", Key: "min_v_per_cell"},
			{Head: "at min", Key: "min_at_min", Keep: 2},
			{Head: "greatest A", Key: "max_current_a"},
			{Head: "took s", Key: "longest_s", Keep: 2},
			{Head: "thrust first", Key: "first_ratio", Keep: 1},
			{Head: "thrust last", Key: "last_ratio", Keep: 1},
			{Head: "", Key: "marks", Left: true},
		},
	}
	for i, u := range a.Cycle.Phases {
		mark := ""
		if i == a.Cycle.EndedIn {
			mark = "ends it"
		}
		none := sheet.Word("-")
		if u.Runs == 0 {
			t.Add(sheet.Word(phaseWord(u.Phase)), none, none, none, none, none, none, none, sheet.Word("never begins"))
			continue
		}
		took := none
		if u.Full {
			took = sheet.Number(float64(u.Longest), 1)
		}
		t.Add(sheet.Word(phaseWord(u.Phase)), sheet.Number(float64(u.MinVoltage), 2), sheet.Number(float64(a.LeastPerCell(u)), 2), sheet.Number(u.MinAt.Minutes(), 1),
			sheet.Number(float64(u.MaxCurrent), 1), took, sheet.Number(u.FirstRatio, 2), sheet.Number(u.LastRatio, 2), sheet.Word(mark))
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
		dip = fmt.Sprintf("On %s full throttle falls below %.2f V per cell from %.1f min on; that does not end the flight, since the voltage comes back. If you land the first time that it happens, the flight is %.1f min.",
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

// phasesJSON are the phases of the cycle over a whole flight; none where the build hovers.
func phasesJSON(a *planner.Assessment) []jsonPhase {
	out := []jsonPhase{}
	c := a.Cycle
	if c == nil {
		return out
	}
	for i, u := range c.Phases {
		j := jsonPhase{
			Seconds: float64(u.Duration), Full: u.Full, EndsFlight: i == c.EndedIn,
		}
		if u.Runs > 0 {
			u := &c.Phases[i]
			j.MinVoltageV, j.MinAtS, j.MaxCurrentA = (*float64)(&u.MinVoltage), (*float64)(&u.MinAt), (*float64)(&u.MaxCurrent)
			j.FirstRatio, j.LastRatio = &u.FirstRatio, &u.LastRatio
			if u.Full {
				j.LongestS = (*float64)(&u.Longest)
			}
		}
		if !u.Full {
			j.Thrust = &c.Phases[i].Thrust
		}
		out = append(out, j)
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
		Source: string(is.Source), Base: string(is.Base), Reason: is.Reason, PowerSigma: p.PowerSigma(),
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
	p.losses(planner.StandLosses(cat, id, &fit))
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
	if stated, far := planner.StatedResistance(cat, id, &fit); far {
		p.notes = append(p.notes, fmt.Sprintf("The data sheet states %.0f mOhm, the fit needs %.0f: the kv may differ from the stated one, or the voltage was not measured at the controller.", stated.MilliOhms(), fit.Motor.R.MilliOhms()))
	}
	p.notes = append(p.notes, standCaution)
}

const standCaution = "Thrust stands hurt: a propeller at speed cuts. Guard it, wear eye protection, stand out of its plane, and limit the current of the supply."
