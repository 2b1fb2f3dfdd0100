package main

import (
	"bytes"
	"encoding/json"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// encode writes an answer as indented JSON. Names may hold <, > and &; they stay readable.
func encode(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// The types below are the program's JSON: trade units in the key, numbers unrounded, null
// where nothing is known. They are part of the interface.

type jsonLimit struct {
	MassG     float64  `json:"mass_g"`
	Inclusive bool     `json:"inclusive"`
	Rule      *string  `json:"rule"`
	Rules     []string `json:"rules"`
	SpareG    float64  `json:"spare_g"`
}

type jsonRemark struct {
	Code    string `json:"code"`
	Subject string `json:"subject,omitempty"`
	Text    string `json:"text"`
}

type jsonBand struct {
	AllUpG  [2]float64 `json:"all_up_g"`
	FlightS [2]float64 `json:"flight_s"`
	HoverA  [2]float64 `json:"hover_current_a"`
	Punch   [2]float64 `json:"punch_ratio"`
}

// jsonPack is a build on one pack. What a pack that does not fly, or no pack, cannot have is null.
type jsonPack struct {
	Rank           *int         `json:"rank"`
	Pack           *string      `json:"pack"`
	Name           *string      `json:"name"`
	Tested         *bool        `json:"tested"`
	Basis          *string      `json:"basis"`
	AllUpG         float64      `json:"all_up_g"`
	MarginG        float64      `json:"margin_g"`
	SpareG         float64      `json:"spare_g"`
	OverChance     float64      `json:"over_limit_chance"`
	HoverPowerW    *float64     `json:"hover_power_w"`
	HoverA         *float64     `json:"hover_current_a"`
	HoverStartA    *float64     `json:"hover_current_start_a"`
	HoverLandingA  *float64     `json:"hover_current_landing_a"`
	HoverC         *float64     `json:"hover_c"`
	HoverThrottle  *float64     `json:"hover_throttle"`
	UsableWh       *float64     `json:"usable_wh"`
	FlightS        *float64     `json:"flight_s"`
	LandPerCell    *float64     `json:"land_v_per_cell"`
	EndedBy        *string      `json:"ended_by"`
	ChargeLeft     *float64     `json:"charge_left"`
	Punch          *float64     `json:"punch_ratio"`
	PunchLanding   *float64     `json:"punch_ratio_landing"`
	PunchA         *float64     `json:"punch_current_a"`
	PunchThrottle  *float64     `json:"punch_throttle"`
	BurstW         *float64     `json:"burst_power_w"`
	TestedBurstW   *float64     `json:"tested_burst_power_w"`
	PowerDensity   *float64     `json:"power_density_w_per_g"`
	EnergyDensity  *float64     `json:"energy_density_wh_per_g"`
	Headroom       *float64     `json:"pack_headroom"`
	LimitedBy      *string      `json:"limited_by"`
	LandingLimited *string      `json:"limited_by_landing"`
	Price          *float64     `json:"price"`
	Currency       *string      `json:"currency"`
	Score          *float64     `json:"score"`
	Front          *bool        `json:"front"`
	BestChance     *float64     `json:"best_chance"`
	Band           *jsonBand    `json:"band"`
	Circuit        *jsonCircuit `json:"circuit"`
	jsonFlown
	Reasons  []jsonRemark `json:"reasons"`
	Warnings []jsonRemark `json:"warnings"`
}

type jsonCircuit struct {
	CapacityMAh float64 `json:"capacity_mah"`
	R0MOhm      float64 `json:"r0_mohm"`
	R1MOhm      float64 `json:"r1_mohm"`
	TauS        float64 `json:"tau_s"`
	ShiftMV     float64 `json:"shift_mv"`
}

// jsonHover is the build in hover with the best pack, or with today's where none
// suits: what the figures rest on.
type jsonHover struct {
	Pack          *string  `json:"pack"`
	MassG         *float64 `json:"mass_g"`
	PowerW        *float64 `json:"power_w"`
	CurrentA      *float64 `json:"current_a"`
	RPM           *float64 `json:"rpm"`
	Throttle      *float64 `json:"throttle"`
	FigureOfMerit *float64 `json:"figure_of_merit"`
	jsonPropulsion
	GearPowerW       float64  `json:"gear_power_w"`
	AirKgM3          float64  `json:"air_kg_m3"`
	PackTemperatureC *float64 `json:"pack_temperature_c"`
	ThrustLoss       float64  `json:"thrust_loss"`
}

type jsonExcluded struct {
	Pack    string       `json:"pack"`
	Name    string       `json:"name"`
	AllUpG  float64      `json:"all_up_g"`
	Reasons []jsonRemark `json:"reasons"`
}

type jsonRanking struct {
	Build     string         `json:"build"`
	Limit     jsonLimit      `json:"limit"`
	DryMassG  float64        `json:"dry_mass_g"`
	Hover     jsonHover      `json:"hover"`
	Ranked    []jsonPack     `json:"ranked"`
	Excluded  []jsonExcluded `json:"excluded"`
	Conflicts []jsonRemark   `json:"conflicts"`
	Warnings  []jsonRemark   `json:"warnings"`
}

func rankJSON(r *planner.Ranking) any {
	p := r.Plan
	out := jsonRanking{
		Build: p.Build.Name, Limit: limitJSON(p.Build.Limit), DryMassG: p.Dry.Grams(), Hover: hoverJSON(r),
		Ranked: []jsonPack{}, Excluded: []jsonExcluded{}, Conflicts: remarksJSON(p.Conflicts), Warnings: remarksJSON(p.Warnings),
	}
	for i := range r.Ranked {
		out.Ranked = append(out.Ranked, packJSON(&r.Ranked[i]))
	}
	for _, a := range r.Excluded {
		out.Excluded = append(out.Excluded, jsonExcluded{a.Pack.ID, a.Pack.Name, a.Mass.Grams(), remarksJSON(a.Against)})
	}
	return out
}

func limitJSON(l catalog.BuildLimit) jsonLimit {
	out := jsonLimit{MassG: l.Mass.Grams(), Inclusive: l.Inclusive, Rules: l.Rules, SpareG: l.Spare.Grams()}
	if out.Rules == nil {
		out.Rules = []string{}
	}
	if l.Rule != "" {
		out.Rule = &l.Rule
	}
	return out
}

func remarksJSON(remarks []planner.Remark) []jsonRemark {
	out := []jsonRemark{}
	for _, r := range remarks {
		out = append(out, jsonRemark{string(r.Code), r.Subject, r.Text})
	}
	return out
}

func hoverJSON(r *planner.Ranking) jsonHover {
	p := r.Plan
	rotor := p.Drive.Rotor
	out := jsonHover{
		jsonPropulsion: propulsionJSON(p),
		GearPowerW:     float64(p.Drive.GearPower), AirKgM3: float64(rotor.Air), ThrustLoss: p.Drive.ThrustLoss,
	}
	if t := p.Build.Air.PackTemperature; t != nil {
		c := t.Celsius()
		out.PackTemperatureC = &c
	}
	var of *planner.Assessment
	if len(r.Ranked) > 0 {
		of = &r.Ranked[0]
	} else if p.Pack != nil {
		for i := range r.Excluded {
			if r.Excluded[i].Pack.ID == p.Pack.ID {
				of = &r.Excluded[i]
			}
		}
	}
	if of == nil {
		return out
	}
	h := of.Flight.Hover
	number := func(v float64) *float64 { return &v }
	ct, cp := rotor.Propeller.Coefficients(h.Rotor.Speed, rotor.Air)
	out.Pack = &of.Pack.ID
	out.MassG, out.PowerW, out.CurrentA = number(of.Mass.Grams()), number(float64(h.Power)), number(float64(of.Flight.Current))
	out.RPM, out.Throttle, out.FigureOfMerit = number(h.Rotor.Speed.RPM()), number(of.Flight.Throttle), number(model.FigureOfMerit(ct, cp))
	return out
}

func present[T any](v T) *T { return &v }

func packJSON(a *planner.Assessment) jsonPack {
	c := a.Circuit
	out := jsonPack{
		Pack: &a.Pack.ID, Name: &a.Pack.Name, Tested: present(a.Pack.Basis != planner.BasisLabel), Basis: present(string(a.Pack.Basis)),
		AllUpG: a.Mass.Grams(), MarginG: a.Margin.Grams(), SpareG: a.Spare.Grams(), OverChance: a.OverChance,
		TestedBurstW: (*float64)(a.BurstPower), PowerDensity: perGram(a.PowerDensity), EnergyDensity: wattHoursPerGram(a.EnergyDensity),
		Price: a.Pack.Price,
		Circuit: &jsonCircuit{
			CapacityMAh: c.Capacity.MilliAmpHours(), R0MOhm: c.R0.MilliOhms(), R1MOhm: c.R1.MilliOhms(), TauS: float64(c.Tau), ShiftMV: 1000 * float64(c.Shift),
		},
		Reasons: remarksJSON(a.Against), Warnings: remarksJSON(a.Warnings),
	}
	if flies(a) {
		out.flight(a)
	}
	if a.Pack.Price != nil {
		out.Currency = &a.Pack.Currency
	}
	if a.Rank > 0 {
		out.Rank, out.Score, out.Front = &a.Rank, &a.Score, &a.Front
	}
	if b := a.Band; b != nil {
		scaled := func(i planner.Interval, by float64) [2]float64 { return [2]float64{i.Low * by, i.High * by} }
		out.Band = &jsonBand{
			AllUpG: scaled(b.Mass, 1/float64(model.Gram)), FlightS: scaled(b.Time, 1),
			HoverA: scaled(b.Current, 1), Punch: scaled(b.Punch, 1),
		}
	}
	return out
}

// flight fills in what only a build that flies has.
func (p *jsonPack) flight(a *planner.Assessment) {
	p.HoverPowerW, p.HoverA = present(float64(a.Flight.Hover.Power)), present(float64(a.Flight.Current))
	p.HoverStartA, p.HoverLandingA = present(float64(a.Flight.StartCurrent)), present(float64(a.Flight.EndCurrent))
	p.HoverC, p.HoverThrottle = &a.HoverC, &a.Flight.Throttle
	p.UsableWh, p.FlightS = present(a.Usable().WattHours()), present(float64(a.Duration()))
	p.LandPerCell = present(float64(a.LandPerCell))
	p.EndedBy, p.ChargeLeft = present(string(a.EndedBy())), present(a.ChargeLeft())
	p.Punch, p.PunchLanding = present(a.PunchRatio()), present(a.LandingRatio())
	p.PunchA, p.PunchThrottle = present(float64(a.Punch.Current)), &a.Punch.Throttle
	p.BurstW, p.Headroom = present(float64(a.Punch.BurstPower)), &a.Punch.Headroom
	p.LimitedBy, p.LandingLimited = present(string(a.Punch.LimitedBy)), present(string(a.PunchLanding.LimitedBy))
	p.jsonFlown = flownJSON(a)
}

type jsonItem struct {
	Slot       string  `json:"slot"`
	ID         string  `json:"id"`
	Name       string  `json:"name"`
	Count      int     `json:"count"`
	EachG      float64 `json:"each_g"`
	TotalG     float64 `json:"total_g"`
	HalfWidthG float64 `json:"half_width_g"`
	Weighed    bool    `json:"weighed"`
	WithPack   bool    `json:"with_pack"`
	Share      float64 `json:"share"`
}

type jsonWeighing struct {
	Build       string       `json:"build"`
	Items       []jsonItem   `json:"items"`
	AllUpG      float64      `json:"all_up_g"`
	DryMassG    float64      `json:"dry_mass_g"`
	Limit       jsonLimit    `json:"limit"`
	MarginG     float64      `json:"margin_g"`
	SpareG      float64      `json:"spare_g"`
	UncertainG  float64      `json:"expanded_uncertainty_g"`
	OverChance  float64      `json:"over_limit_chance"`
	Verdict     string       `json:"verdict"`
	CarriesPack bool         `json:"carries_pack"`
	Hover       jsonWeighed  `json:"hover"`
	Conflicts   []jsonRemark `json:"conflicts"`
	Warnings    []jsonRemark `json:"warnings"`
}

// jsonWeighed is what hovering costs at the mass that was weighed.
type jsonWeighed struct {
	PowerW float64    `json:"power_w"`
	BusV   float64    `json:"bus_v"`
	Losses []jsonLoss `json:"losses"`
	jsonPropulsion
}

// jsonLoss is where a part of the hover power goes.
type jsonLoss struct {
	Place  string  `json:"place"`
	PowerW float64 `json:"power_w"`
	Share  float64 `json:"share"`
}

func lossesJSON(d model.Drive, h model.Hover) []jsonLoss {
	out := []jsonLoss{}
	for _, l := range d.Losses(h) {
		out = append(out, jsonLoss{string(l.Place), float64(l.Power), float64(l.Power / h.Power)})
	}
	return out
}

func weighJSON(w planner.Weighing) any {
	p := w.Plan
	h := p.Drive.Hover(w.Mass, p.Bus)
	out := jsonWeighing{
		Build: p.Build.Name, Items: []jsonItem{}, AllUpG: w.Mass.Grams(), DryMassG: w.Dry.Grams(), Limit: limitJSON(p.Build.Limit),
		MarginG: w.Margin.Grams(), SpareG: w.Spare.Grams(), UncertainG: w.Expanded.Grams(), OverChance: w.OverChance,
		Verdict: string(w.Verdict), CarriesPack: p.Pack != nil, Hover: jsonWeighed{float64(h.Power), float64(h.Bus), lossesJSON(p.Drive, h), propulsionJSON(p)},
		Conflicts: remarksJSON(p.Conflicts), Warnings: remarksJSON(p.Warnings),
	}
	for _, i := range w.Items {
		out.Items = append(out.Items, jsonItem{
			i.Slot, i.ID, i.Name, i.Count, i.Each.Grams(), i.Total().Grams(), float64(i.Count) * i.HalfWidth().Grams(),
			i.Weighed, i.WithPack, float64(i.Total() / w.Mass),
		})
	}
	return out
}

// jsonOutcome is a build at one side of a swap: its mass, and what it does on its pack.
type jsonOutcome struct {
	jsonPack
	DryMassG float64      `json:"dry_mass_g"`
	Verdict  string       `json:"verdict"`
	Broken   []jsonRemark `json:"broken"`
}

type jsonDelta struct {
	AllUpG  float64  `json:"all_up_g"`
	FlightS *float64 `json:"flight_s"`
	HoverA  *float64 `json:"hover_current_a"`
	Punch   *float64 `json:"punch_ratio"`
}

type jsonChange struct {
	Change string `json:"change"`
	Was    string `json:"was"`
	Now    string `json:"now"`
}

type jsonSwap struct {
	Before jsonOutcome  `json:"before"`
	After  jsonOutcome  `json:"after"`
	Delta  jsonDelta    `json:"delta"`
	Change []jsonChange `json:"changes"`
	Under  bool         `json:"under_limit"`
	Newly  []jsonRemark `json:"newly_broken"`
	Still  []jsonRemark `json:"still_broken"`
	Mended []jsonRemark `json:"mended"`
	Limit  jsonLimit    `json:"limit"`
}

func swapJSON(s *planner.Swap, applied []catalog.AppliedChange) any {
	out := jsonSwap{
		Before: outcomeJSON(s.Before), After: outcomeJSON(s.After),
		Delta:  jsonDelta{AllUpG: s.After.Weighing.Mass.Grams() - s.Before.Weighing.Mass.Grams()},
		Change: []jsonChange{}, Under: s.Under(), Newly: remarksJSON(s.Newly), Still: remarksJSON(s.Still), Mended: remarksJSON(s.Mended),
		Limit: limitJSON(s.After.Plan.Build.Limit),
	}
	if b, a := s.Before.Flown, s.After.Flown; flies(a) && flies(b) {
		diff := func(after, before float64) *float64 { d := after - before; return &d }
		out.Delta.FlightS = diff(float64(a.Duration()), float64(b.Duration()))
		out.Delta.HoverA = diff(float64(a.Flight.Current), float64(b.Flight.Current))
		out.Delta.Punch = diff(a.PunchRatio(), b.PunchRatio())
	}
	for _, c := range applied {
		out.Change = append(out.Change, jsonChange{c.Text, c.Was, c.Now})
	}
	return out
}

func outcomeJSON(o planner.Outcome) jsonOutcome {
	w := o.Weighing
	out := jsonOutcome{DryMassG: w.Dry.Grams(), Verdict: string(w.Verdict), Broken: remarksJSON(o.Broken)}
	if o.Flown != nil {
		out.jsonPack = packJSON(o.Flown)
		return out
	}
	out.AllUpG, out.MarginG, out.SpareG, out.OverChance = w.Mass.Grams(), w.Margin.Grams(), w.Spare.Grams(), w.OverChance
	out.Reasons, out.Warnings = []jsonRemark{}, []jsonRemark{}
	return out
}
