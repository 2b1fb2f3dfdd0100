package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"allup/cmd/allup/internal/draw"
	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/model/words"
	"allup/planner"
)

func newSize(a *app) *cobra.Command {
	var options planner.SizeOptions
	var conditions conditionFlags
	cmd := &cobra.Command{
		Use:   "size BUILD",
		Short: "The pack size that this build wants; what a gram is worth",
		Long: `size learns from the tested packs of one kind how capacity and resistance change with mass, and finds the pack mass at which the build flies longest: without a limit, and under its own. It says what keeps the pack from being larger, which tested
packs come near, and what one gram of dead mass and one gram of pack are worth
in seconds. The kind is that of today's pack, or --cells.
BUILD is a file, or - for standard input.`,
		Args:              arguments(1, 1, "one build file"),
		ValidArgsFunction: completeBuild,
		RunE: func(_ *cobra.Command, args []string) error {
			if options.Cells < 0 || options.Cells > 6 {
				return usagef("--cells %d: allowed: 1 to 6", options.Cells)
			}
			if !(options.LeastPunch >= 0 && options.LeastPunch <= 100) {
				return usagef("--punch %g: allowed: 0 to 100 times the weight", options.LeastPunch)
			}
			p, err := a.plan(args[0])
			if err != nil {
				return err
			}
			if p, err = p.In(conditions.Conditions); err != nil {
				return err
			}
			packs, err := planner.NewPackSet(p.Build.Parts)
			if err != nil {
				return err
			}
			m := a.meter("packs", a.quiet)
			options.Progress = m.tick
			s, err := p.Size(packs, options)
			m.clear()
			if err != nil {
				return err
			}
			if err := a.answer(a.pictured(sizeScreen(s), func() *draw.Drawing { return draw.PackSize(s, nil) }), sizeJSON(s)); err != nil {
				return err
			}
			if s.Families[0].Limited == nil {
				return errNo
			}
			return nil
		},
	}
	cmd.Flags().IntVar(&options.Cells, "cells", 0, "`number` of cells; 0 takes those of today's pack")
	cmd.Flags().Float64Var(&options.LeastPunch, "punch", 0, "smallest `ratio` of punch-out thrust to weight")
	conditions.register(cmd.Flags())
	return cmd
}

func sizeScreen(s *planner.Sizing) sheet.Screen {
	p, median := s.Plan, &s.Families[0]
	out := sheet.Screen{Verdict: sizeVerdict(s)}
	out.Tables = []*sheet.Table{sizeFamilies(s), sizeNearest(s), sizeCurve(s, median)}
	out.Sheet = sizeSheet(s)
	said := slices.Concat(s.Remarks, p.Conflicts, p.Warnings)
	out.Warnings = append([]string{}, remarkNotes(said)...)
	out.Notes = append(out.Notes,
		fmt.Sprintf("Sizes are of %s packs of %d cells: mass = bare mass + energy / energy density, with the medians of the tested packs, and of their best fifth by energy for their mass. A real pack comes in steps, and differs.",
			s.Chemistry, s.Cells))
	out.Notes = append(out.Notes, out.Warnings...)
	if median.AtBound {
		out.Notes = append(out.Notes, "The best size without a limit is at the largest that was looked at: it may be larger still.")
	}
	if s.MostBinds == planner.BindsBay || median.Binds == planner.BindsBay {
		out.Notes = append(out.Notes, "The bay's greatest pack is worked out from its volume, and from how dense the tested packs are: a pack of another shape may not go in.")
	}
	out.Notes = append(out.Notes, propulsionNote(p), conditionsNote(p))
	out.Notes = append(out.Notes, scaleNote(p)...)
	if len(p.Build.Flight.Phases) == 0 {
		out.Notes = append(out.Notes, hoverNote(p, landing(p, s.Chemistry)))
	}
	out.Notes = append(out.Notes, "Times and punches in the tables are middle values; those of real packs have their band in rank. The time of the first line and a gram's worth have a 5 to 95 % band, from masses, propulsion and how far packs are off their family at one mass.", limitNote(p), packCaution)
	out.Notes = append(out.Notes, demoPartsNote(p)...)
	if slices.ContainsFunc(s.Nearest, func(a planner.Assessment) bool { return a.Pack.Demo() }) {
		out.Notes = append(out.Notes, demoMarkNote)
	}
	out.Notes = append(out.Notes, leftOutNotes(s.LeftOut)...)
	return out
}

func sizeVerdict(s *planner.Sizing) []string {
	p, f := s.Plan, &s.Families[0]
	limit := limitName(p.Build.Limit)
	free := fmt.Sprintf("Without a limit a pack of about %.0f g would fly longest: %.1f min", f.Free.Pack.Grams(), f.Free.Time.Minutes())
	if f.Free.Pack > 1.5*s.Heaviest {
		free += fmt.Sprintf(", far beyond the tested packs (%.0f to %.0f g): that says in which direction it goes, not which pack to buy", s.Lightest.Grams(), s.Heaviest.Grams())
	}
	free += "."
	if f.Limited == nil {
		why := "none flies"
		for _, r := range s.Remarks {
			if r.Code == planner.NoSize {
				why = r.Text
				break
			}
		}
		return []string{fmt.Sprintf("NO size of pack suits %s under %s: %s.", p.Build.Name, limit, why), free}
	}
	first := fmt.Sprintf("%s flies longest under %s with a pack of about %.0f g: %.1f min (%s), punch %s times its weight; %s.",
		p.Build.Name, limit, f.Limited.Pack.Grams(), f.Limited.Time.Minutes(), minutesBand(f.Worth.TimeBand), ratio(f.Limited.Punch), bindWords(s, f.Binds))
	first += coldWarning(p, nil)
	dead, pack := worthWords(f.Worth.Dead, f.Worth.DeadBand), worthWords(f.Worth.Pack, f.Worth.PackBand)
	if f.Hover != nil {
		dead += ", in hover " + worthWords(f.Hover.Dead, f.Hover.DeadBand)
		pack += ", in hover " + worthWords(f.Hover.Pack, f.Hover.PackBand)
	}
	return []string{first, free, fmt.Sprintf("One gram more of dead mass: %s. One gram more of pack: %s.", dead, pack)}
}

// worthWords is what a gram is worth, with its band.
func worthWords(v model.Time, band planner.Interval) string {
	return fmt.Sprintf("%s s (%s)", words.Signed(float64(v), 1), bandWords(band))
}

// minutesBand is a band of seconds in minutes.
func minutesBand(i planner.Interval) string {
	return words.Fixed(i.Low/60, 1) + " to " + words.Fixed(i.High/60, 1)
}

func bandWords(i planner.Interval) string {
	return words.Signed(i.Low, 1) + " to " + words.Signed(i.High, 1)
}

// bindWords says what keeps the pack from another size.
func bindWords(s *planner.Sizing, b planner.Bind) string {
	switch b {
	case planner.BindsLimit:
		return "the limit keeps it from a larger one"
	case planner.BindsPackMass:
		return "the build's greatest pack mass keeps it from a larger one"
	case planner.BindsBay:
		return "the bay keeps it from a larger one"
	case planner.BindsPunch:
		return fmt.Sprintf("the smallest punch asked for (%s) decides its size", ratio(s.LeastPunch))
	}
	return "a larger one would fly shorter"
}

func sizeFamilies(s *planner.Sizing) *sheet.Table {
	t := &sheet.Table{Columns: []sheet.Column{
		{Head: "family", Key: "family", Left: true},
		{Head: "packs", Key: "members"},
		{Head: "bare g", Key: "m0_g", Keep: 4},
		{Head: "Wh/g beyond", Key: "wh_per_g", Keep: 3},
		{Head: "best pack g", Key: "pack_g"},
		{Head: "min", Key: "flight_min"},
		{Head: "punch", Key: "punch_ratio", Keep: 1},
		{Head: "no limit g", Key: "free_pack_g", Keep: 2},
		{Head: "no limit min", Key: "free_flight_min", Keep: 2},
		{Head: "dead gram s", Key: "dead_gram_s", Keep: 1},
		{Head: "dead gram 5-95 %", Key: "dead_gram_s_5_95", Keep: 5},
		{Head: "pack gram s", Key: "pack_gram_s", Keep: 1},
		{Head: "pack gram 5-95 %", Key: "pack_gram_s_5_95", Keep: 5},
	}}
	for i := range s.Families {
		f := &s.Families[i]
		pack, minutes, punch := sheet.Unknown(), sheet.Unknown(), sheet.Unknown()
		if l := f.Limited; l != nil {
			pack, minutes, punch = gramsCell(l.Pack), minutesCell(l.Time), sheet.Number(l.Punch, 1)
		}
		t.Add(sheet.Word(f.Name), sheet.Integer(f.Members), gramsCell(f.Family.Bare), sheet.Number(f.Family.EnergyPerMass/3.6e6, 3), pack, minutes, punch,
			gramsCell(f.Free.Pack), minutesCell(f.Free.Time), sheet.Number(float64(f.Worth.Dead), 1), sheet.Word(bandWords(f.Worth.DeadBand)),
			sheet.Number(float64(f.Worth.Pack), 1), sheet.Word(bandWords(f.Worth.PackBand)))
	}
	return t
}

func sizeNearest(s *planner.Sizing) *sheet.Table {
	t := &sheet.Table{Title: "Tested packs nearest to the best size, of those that suit", Columns: []sheet.Column{
		{Head: "pack", Key: "pack", Left: true},
		{Head: "pack g", Key: "pack_g"},
		{Head: "all-up g", Key: "all_up_g", Keep: 1},
		{Head: "min", Key: "flight_min"},
		{Head: "punch", Key: "punch_ratio", Keep: 1},
		{Head: "", Key: "marks", Left: true},
	}}
	for i := range s.Nearest {
		a := &s.Nearest[i]
		t.Add(sheet.Word(a.Pack.ID), gramsCell(a.Mass-s.Plan.Dry), gramsCell(a.Mass), minutesCell(a.Duration()), sheet.Number(a.PunchRatio(), 1), demoMarkOf(a.Pack.Demo()))
	}
	return t
}

// curveRows is how many points of the curve a screen shows; CSV and JSON have all.
const curveRows = 14

// sizeCurve is flight time against pack mass, each point with a bar as long as its time.
func sizeCurve(s *planner.Sizing, f *planner.SizedFamily) *sheet.Table {
	t := &sheet.Table{Title: "Flight time against pack mass, " + f.Name + " of the packs", Columns: []sheet.Column{
		{Head: "pack g", Key: "pack_g"},
		{Head: "all-up g", Key: "all_up_g", Keep: 1},
		{Head: "min", Key: "flight_min"},
		{Head: "punch", Key: "punch_ratio", Keep: 1},
		{Head: "", Key: "bar", Left: true, Keep: 2},
	}}
	if len(f.Curve) == 0 {
		return t
	}
	const longest = 32
	step := max(1, int(math.Ceil(float64(len(f.Curve))/curveRows)))
	for i := 0; i < len(f.Curve); i += step {
		x := f.Curve[i]
		mark := "="
		if x.Pack > s.Most {
			mark = "-" // over what the rules leave
		}
		bar := strings.Repeat(mark, max(1, int(math.Round(longest*float64(x.Time/f.Free.Time)))))
		t.Add(gramsCell(x.Pack), gramsCell(x.Mass), minutesCell(x.Time), sheet.Number(x.Punch, 1), sheet.Word(bar))
	}
	return t
}

// sizeSheet is the whole curve of both families for a spreadsheet.
func sizeSheet(s *planner.Sizing) *sheet.Table {
	t := &sheet.Table{}
	for _, key := range []string{"family", "pack_g", "all_up_g", "flight_min", "punch_ratio"} {
		t.Columns = append(t.Columns, sheet.Column{Head: key, Key: key})
	}
	for i := range s.Families {
		for _, x := range s.Families[i].Curve {
			t.Add(sheet.Word(s.Families[i].Name), sheet.Number(x.Pack.Grams(), 6), sheet.Number(x.Mass.Grams(), 6), sheet.Number(x.Time.Minutes(), 6), sheet.Number(x.Punch, 6))
		}
	}
	return t
}

type jsonSized struct {
	PackG   float64 `json:"pack_g"`
	AllUpG  float64 `json:"all_up_g"`
	FlightS float64 `json:"flight_s"`
	Punch   float64 `json:"punch_ratio"`
}

type jsonFamily struct {
	Name        string      `json:"name"`
	Members     int         `json:"members"`
	M0G         float64     `json:"m0_g"`
	WhPerG      float64     `json:"wh_per_g"`
	SteadyR     float64     `json:"steady_r_ohm_ah"`
	Free        jsonSized   `json:"free"`
	FreeAtBound bool        `json:"free_at_bound"`
	UnderLimit  *jsonSized  `json:"under_limit"`
	Binds       *string     `json:"binds"`
	DeadGramS   float64     `json:"dead_gram_s"`
	PackGramS   float64     `json:"pack_gram_s"`
	HoverDead   *float64    `json:"hover_dead_gram_s"`
	HoverPack   *float64    `json:"hover_pack_gram_s"`
	Band        jsonWorth   `json:"band"`
	Curve       []jsonSized `json:"curve"`
}

// jsonWorth are the bands of what a gram is worth, each from its 5th to its 95th percentile.
type jsonWorth struct {
	DeadGramS [2]float64  `json:"dead_gram_s"`
	PackGramS [2]float64  `json:"pack_gram_s"`
	HoverDead *[2]float64 `json:"hover_dead_gram_s"`
	HoverPack *[2]float64 `json:"hover_pack_gram_s"`
	TimeS     [2]float64  `json:"flight_s"` // of the time itself
}

type jsonSizing struct {
	Build      string         `json:"build"`
	Limit      jsonLimit      `json:"limit"`
	DryMassG   float64        `json:"dry_mass_g"`
	Cells      int            `json:"cells"`
	Chemistry  string         `json:"chemistry"`
	LeastPunch float64        `json:"least_punch_ratio"`
	Free       jsonSized      `json:"free"`
	UnderLimit *jsonSized     `json:"under_limit"`
	Binds      *string        `json:"binds"`
	DeadGramS  float64        `json:"dead_gram_s"`
	PackGramS  float64        `json:"pack_gram_s"`
	Band       jsonWorth      `json:"band"`
	Family     jsonFamily     `json:"family"`
	BestFifth  jsonFamily     `json:"best_fifth"`
	Nearest    []sheet.Object `json:"nearest"`
	LeftOut    jsonLeftOut    `json:"left_out"`
	DemoParts  []string       `json:"demo_parts"`
	Scale      *jsonScale     `json:"scale"`
	Warnings   []jsonRemark   `json:"warnings"`
}

func sizedJSON(s planner.Sized) jsonSized {
	return jsonSized{s.Pack.Grams(), s.Mass.Grams(), float64(s.Time), s.Punch}
}

func familyJSON(f *planner.SizedFamily) jsonFamily {
	out := jsonFamily{
		Name: f.Name, Members: f.Members, M0G: f.Family.Bare.Grams(), SteadyR: f.Family.SteadyR,
		WhPerG: model.Energy(f.Family.EnergyPerMass).WattHours() / model.Mass(1).Grams(),
		Free:   sizedJSON(f.Free), FreeAtBound: f.AtBound, DeadGramS: float64(f.Worth.Dead), PackGramS: float64(f.Worth.Pack), Curve: []jsonSized{},
	}
	if f.Limited != nil {
		out.UnderLimit, out.Binds = present(sizedJSON(*f.Limited)), present(string(f.Binds))
	}
	ends := func(i planner.Interval) [2]float64 { return [2]float64{i.Low, i.High} }
	out.Band = jsonWorth{DeadGramS: ends(f.Worth.DeadBand), PackGramS: ends(f.Worth.PackBand), TimeS: ends(f.Worth.TimeBand)}
	if f.Hover != nil {
		out.Band.HoverDead, out.Band.HoverPack = present(ends(f.Hover.DeadBand)), present(ends(f.Hover.PackBand))
		out.HoverDead, out.HoverPack = present(float64(f.Hover.Dead)), present(float64(f.Hover.Pack))
	}
	for _, x := range f.Curve {
		out.Curve = append(out.Curve, sizedJSON(x))
	}
	return out
}

func sizeJSON(s *planner.Sizing) any {
	median := familyJSON(&s.Families[0])
	out := jsonSizing{
		Build: s.Plan.Build.Name, Limit: limitJSON(s.Plan.Build.Limit), DryMassG: s.Plan.Dry.Grams(),
		Cells: s.Cells, Chemistry: string(s.Chemistry), LeastPunch: s.LeastPunch,
		Free: median.Free, UnderLimit: median.UnderLimit, Binds: median.Binds, DeadGramS: median.DeadGramS, PackGramS: median.PackGramS, Band: median.Band,
		Family: median, BestFifth: familyJSON(&s.Families[1]), Nearest: []sheet.Object{}, LeftOut: leftOutJSON(s.LeftOut), DemoParts: demoPartsJSON(s.Plan), Scale: scaleJSON(s.Plan), Warnings: remarksJSON(slices.Concat(s.Remarks, s.Plan.Conflicts, s.Plan.Warnings)),
	}
	all := figuresOf()
	for i := range s.Nearest {
		out.Nearest = append(out.Nearest, packJSON(all, &s.Nearest[i]))
	}
	return out
}
