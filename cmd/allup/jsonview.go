package main

import (
	"allup/catalog"
	"allup/cmd/allup/internal/sheet"
	"allup/planner"
)

// The types below are the program's JSON: trade units in the key, numbers unrounded, null
// where nothing is known. They are part of the interface.

type jsonLimit struct {
	MassG     float64  `json:"mass_g"`
	Inclusive bool     `json:"inclusive"`
	Rule      *string  `json:"rule"`
	Rules     []string `json:"rules"`
	SpareG    float64  `json:"spare_g"`
	Sure      *float64 `json:"sure"`
}

type jsonRemark struct {
	Code    string `json:"code"`
	Subject string `json:"subject,omitempty"`
	Text    string `json:"text"`
}

type jsonCircuit struct {
	CapacityMAh float64 `json:"capacity_mah"`
	R0MOhm      float64 `json:"r0_mohm"`
	R1MOhm      float64 `json:"r1_mohm"`
	TauS        float64 `json:"tau_s"`
	ShiftMV     float64 `json:"shift_mv"`
	K           float64 `json:"charge_dependence"`
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
	Demo    bool         `json:"demo"`
	AllUpG  float64      `json:"all_up_g"`
	Reasons []jsonRemark `json:"reasons"`
}

type jsonRanking struct {
	Build     string       `json:"build"`
	Limit     jsonLimit    `json:"limit"`
	DryMassG  float64      `json:"dry_mass_g"`
	Scale     *jsonScale   `json:"scale"`
	Hover     jsonHover    `json:"hover"`
	DemoParts []string     `json:"demo_parts"`
	Ranked    sheet.List   `json:"ranked"`
	Excluded  sheet.List   `json:"excluded"`
	LeftOut   jsonLeftOut  `json:"left_out"`
	Conflicts []jsonRemark `json:"conflicts"`
	Warnings  []jsonRemark `json:"warnings"`
}

func rankJSON(r *planner.Ranking) any {
	p := r.Plan
	out := jsonRanking{
		Build: p.Build.Name, Limit: limitJSON(p.Build.Limit), DryMassG: p.Dry.Grams(), Scale: scaleJSON(p), Hover: hoverJSON(r),
		DemoParts: demoPartsJSON(p), LeftOut: leftOutJSON(r.LeftOut),
		Conflicts: remarksJSON(p.Conflicts), Warnings: remarksJSON(p.Warnings),
	}
	all := figuresOf()
	out.Ranked = sheet.List{Len: len(r.Ranked), At: func(i int) any { return packJSON(all, &r.Ranked[i]) }}
	out.Excluded = sheet.List{Len: len(r.Excluded), At: func(i int) any {
		a := &r.Excluded[i]
		return jsonExcluded{a.Pack.ID, a.Pack.Name, a.Pack.Demo(), a.Mass.Grams(), remarksJSON(a.Against())}
	}}
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
	if l.Sure > 0 {
		out.Sure = &l.Sure
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
	of := r.Reference()
	if of == nil {
		return out
	}
	h := of.Flight.Hover
	number := func(v float64) *float64 { return &v }
	out.Pack = &of.Pack.ID
	out.MassG, out.PowerW, out.CurrentA = number(of.Mass.Grams()), number(float64(h.Power)), number(float64(of.Flight.Current))
	out.RPM, out.Throttle, out.FigureOfMerit = number(h.Rotor.Speed.RPM()), number(of.Flight.Throttle), number(p.FigureOfMerit(of))
	return out
}

func present[T any](v T) *T { return &v }

// packJSON is a build on one pack: every figure, and what is said in words. What a pack that does not fly, or no pack,
// cannot have is null.
func packJSON(all figures, a *planner.Assessment) sheet.Object {
	var out sheet.Object
	var currency, circuit any
	if p := a.Pack; p != nil {
		out = out.With("pack", p.ID).With("name", p.Name).With("tested", p.Basis != planner.BasisLabel).With("basis", p.Basis).With("demo", p.Demo())
		circuit = circuitJSON(a.Circuit)
		if p.Price != nil {
			currency = p.Currency
		}
	} else {
		out = out.With("pack", nil).With("name", nil).With("tested", nil).With("basis", nil).With("demo", nil)
	}
	out = append(out.With("currency", currency), sheet.Members(all.plain(), a)...)
	if a.Flies() {
		out = out.With("ended_by", a.EndedBy()).With("limited_by", a.Punch.LimitedBy).With("limited_by_landing", a.PunchLanding.LimitedBy).With("phases", phasesJSON(a))
	} else {
		out = out.With("ended_by", nil).With("limited_by", nil).With("limited_by_landing", nil).With("phases", nil)
	}
	var front, drawn any
	if a.Rank > 0 {
		front, drawn = a.Front, a.Drawn
	}
	return out.With("front", front).With("drawn", drawn).With("band", bandJSON(all, a.Band)).With("quick_band", bandJSON(all, a.Quick)).With("change", changeJSON(all, a)).With("circuit", circuit).
		With("reasons", remarksJSON(a.Against())).With("warnings", remarksJSON(a.Warnings()))
}

// changeJSON is how far figures are from those under the build's own conditions; nil where no others were asked for.
func changeJSON(all figures, a *planner.Assessment) sheet.Object {
	if a.Home == nil {
		return nil
	}
	var out sheet.Object
	for _, key := range []string{"flight_s", "hover_power_w", "hover_current_a", "punch_ratio", "punch_ratio_landing"} {
		var change any
		if d, ok := a.ChangeOf(all.figure(key).Of); ok {
			change = d
		}
		out = out.With(key, change)
	}
	return out
}

// bandJSON has both ends of each figure's band, in the figure's unit; nil without a band.
func bandJSON(all figures, b *planner.Band) sheet.Object {
	if b == nil {
		return nil
	}
	var out sheet.Object
	for _, f := range all {
		if f.Band != nil {
			low, high := f.Band(b)
			out = out.With(f.Key, [2]float64{low, high})
		}
	}
	return out
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
	Demo       bool    `json:"demo"`
	Share      float64 `json:"share"`
}

type jsonWeighing struct {
	Build       string        `json:"build"`
	Items       []jsonItem    `json:"items"`
	SumG        float64       `json:"sum_g"`
	AllUpG      float64       `json:"all_up_g"`
	DryMassG    float64       `json:"dry_mass_g"`
	Limit       jsonLimit     `json:"limit"`
	MarginG     float64       `json:"margin_g"`
	SpareG      float64       `json:"spare_g"`
	DryUncertG  float64       `json:"dry_expanded_uncertainty_g"`
	UncertainG  float64       `json:"expanded_uncertainty_g"`
	OverChance  float64       `json:"over_limit_chance"`
	Verdict     string        `json:"verdict"`
	DemoParts   []string      `json:"demo_parts"`
	CarriesPack bool          `json:"carries_pack"`
	Scale       *jsonScale    `json:"scale"`
	WeighFirst  []jsonToWeigh `json:"weigh_first"`
	AllLimits   []jsonAgainst `json:"all_limits"` // null unless asked for
	Hover       jsonWeighed   `json:"hover"`
	Conflicts   []jsonRemark  `json:"conflicts"`
	Warnings    []jsonRemark  `json:"warnings"`
}

// jsonWeighed is what hovering costs at the mass that was weighed.
type jsonWeighed struct {
	PowerW float64    `json:"power_w"`
	Change *float64   `json:"power_change_w"` // against the build's own conditions; null where no others were asked for
	BusV   float64    `json:"bus_v"`
	Losses []jsonLoss `json:"losses"`
	jsonPropulsion
}

func weighJSON(w planner.Weighing) jsonWeighing {
	p := w.Plan
	out := jsonWeighing{
		Build: p.Build.Name, Items: []jsonItem{}, SumG: w.Sum.Grams(), AllUpG: w.Mass.Grams(), DryMassG: w.Dry.Grams(), Limit: limitJSON(p.Build.Limit),
		MarginG: w.Margin.Grams(), SpareG: w.Spare.Grams(), DryUncertG: w.DryExpanded.Grams(), UncertainG: w.Expanded.Grams(), OverChance: w.OverChance,
		Verdict: string(w.Verdict), DemoParts: demoPartsJSON(p), CarriesPack: p.Pack != nil,
		Hover: jsonWeighed{float64(w.HoverPower()), nil, float64(p.Bus), lossesJSON(p.Drive.Losses(w.Hover())), propulsionJSON(p)},
		Scale: scaleJSON(p), WeighFirst: weighFirstJSON(&w),
		Conflicts: remarksJSON(p.Conflicts), Warnings: remarksJSON(weighWarnings(p)),
	}
	if d, ok := w.PowerChange(); ok {
		out.Hover.Change = (*float64)(&d)
	}
	for _, i := range w.Items {
		out.Items = append(out.Items, jsonItem{
			i.Slot, i.ID, i.Name, i.Count, i.Each.Grams(), i.Total().Grams(), i.TotalHalfWidth().Grams(),
			i.Weighed, i.WithPack, i.Demo, w.Share(i),
		})
	}
	return out
}

type jsonChange struct {
	Change string `json:"change"`
	Was    string `json:"was"`
	Now    string `json:"now"`
}

type jsonSwap struct {
	Before sheet.Object `json:"before"`
	After  sheet.Object `json:"after"`
	Delta  sheet.Object `json:"delta"`
	Band   sheet.Object `json:"delta_band"`
	Settle []jsonSettle `json:"would_settle"`
	Change []jsonChange `json:"changes"`
	Under  bool         `json:"under_limit"`
	Newly  []jsonRemark `json:"newly_broken"`
	Still  []jsonRemark `json:"still_broken"`
	Mended []jsonRemark `json:"mended"`
	Limit  jsonLimit    `json:"limit"`
	Scale  *jsonScale   `json:"scale"`
	Demo   []string     `json:"demo_parts"`
}

// jsonSettle is what would settle a difference that the data cannot tell from none.
type jsonSettle struct {
	Figure string         `json:"figure"`
	Codes  []planner.Code `json:"codes"`
	Text   string         `json:"text"`
	Enough bool           `json:"enough"`
	Leaves [2]float64     `json:"leaves"`
}

func swapJSON(s *planner.Swap, applied []catalog.AppliedChange) any {
	out := jsonSwap{
		Before: outcomeJSON(&s.Before), After: outcomeJSON(&s.After),
		Settle: []jsonSettle{}, Change: []jsonChange{}, Under: s.Under(), Newly: remarksJSON(s.Newly), Still: remarksJSON(s.Still), Mended: remarksJSON(s.Mended),
		Limit: limitJSON(s.After.Plan.Build.Limit), Scale: scaleJSON(s.After.Plan), Demo: demoPartsJSON(s.After.Plan),
	}
	for _, key := range []string{"all_up_g", "flight_s", "hover_current_a", "punch_ratio"} {
		out.Delta = out.Delta.With(key, s.Compare(figuresOf().figure(key).Of).Difference)
	}
	out.Band = bandJSON(figuresOf(), s.Difference)
	for _, r := range s.Remedies {
		out.Settle = append(out.Settle, jsonSettle{string(r.Figure), r.Codes, r.Text, r.Leaves.Tells(), [2]float64{r.Leaves.Low, r.Leaves.High}})
	}
	for _, c := range applied {
		out.Change = append(out.Change, jsonChange{c.Text, c.Was, c.Now})
	}
	return out
}

// outcomeJSON is a build at one side of a swap: its mass, what it does on its pack, and what that rests on: in
// hover what is known of both sides, in best what is known of this one.
func outcomeJSON(o *planner.Outcome) sheet.Object {
	var hover, best any
	if o.Flown != nil {
		hover, best = propulsionJSON(o.Plan), propulsionJSON(o.Best)
	}
	return packJSON(figuresOf(), o.Assessed()).With("dry_mass_g", o.Weighing.Dry.Grams()).With("verdict", o.Weighing.Verdict).
		With("broken", remarksJSON(o.Broken)).With("hover", hover).With("best", best)
}
