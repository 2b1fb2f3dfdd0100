package main

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"allup/catalog"
	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/model/words"
	"allup/planner"
)

func newParts(a *app) *cobra.Command {
	var kind string
	cmd := &cobra.Command{
		Use:   "parts [ID]",
		Short: "List, show and check the catalogue",
		Long: `parts reads and checks every record, built-in and your own, and lists them; with
an ID it shows one record and which file it came from. A record of yours with a
known id replaces the built-in one. What is odd is a warning, what is wrong an
error. "allup new --kind parts" writes records to start from, and
"allup help records" explains every field.`,
		Args:              arguments(0, 1, "at most one id"),
		ValidArgsFunction: a.completeID,
		RunE: func(_ *cobra.Command, args []string) error {
			if err := knownKind(kind); err != nil {
				return err
			}
			cat, err := a.catalogue()
			if err != nil {
				return err
			}
			if len(args) == 0 {
				s, list := partsScreen(cat, catalog.Kind(kind))
				return a.answer(s, list)
			}
			if _, ok := cat.Lookup(args[0]); !ok {
				return unknownPart(cat, args[0])
			}
			p, err := showPart(cat, args[0])
			if err != nil {
				return err
			}
			return a.answer(p.screen(), p.json())
		},
	}
	cmd.Flags().StringVar(&kind, "kind", "", "list one `kind` only: "+strings.Join(kindNames(), ", "))
	completeFlag(cmd, "kind", kindNames)
	return cmd
}

func kindNames() []string {
	var names []string
	for _, k := range catalog.Kinds() {
		names = append(names, string(k))
	}
	return names
}

func knownKind(kind string) error {
	for _, k := range kindNames() {
		if kind == "" || k == kind {
			return nil
		}
	}
	return usagef("--kind %.80q is not a kind; allowed: %s", kind, strings.Join(kindNames(), ", "))
}

func unknownPart(cat *catalog.Catalogue, id string) error {
	for _, k := range catalog.Kinds() {
		if near := cat.Nearest(k, id); near != "" {
			return usagef("no part %.80q in the catalogue; did you mean %s (%s)?", id, near, k)
		}
	}
	return usagef("no part %.80q in the catalogue; \"allup parts\" lists them", id)
}

type jsonListedPart struct {
	Kind  string   `json:"kind"`
	ID    string   `json:"id"`
	Name  string   `json:"name"`
	MassG *float64 `json:"mass_g"`
	Facts string   `json:"facts"`
	Layer string   `json:"layer"`
	Demo  bool     `json:"demo"`
	File  string   `json:"file"`
}

func partsScreen(cat *catalog.Catalogue, only catalog.Kind) (sheet.Screen, any) {
	t := &sheet.Table{Columns: []sheet.Column{
		{Head: "kind", Key: "kind", Left: true},
		{Head: "id", Key: "id", Left: true},
		{Head: "name", Key: "name", Left: true, Keep: 3},
		{Head: "g", Key: "mass_g"},
		{Head: "what it is", Key: "facts", Left: true, Wrap: true, Least: 16},
		{Head: "read from", Key: "layer", Left: true, Keep: 1},
		{Head: "file", Key: "file", Left: true, Keep: 2},
		{Head: "", Key: "marks", Left: true},
	}}
	list := []jsonListedPart{}
	total, demo := 0, false
	var counts []string
	for _, kind := range catalog.Kinds() {
		ids := cat.IDs(kind)
		if only != "" && kind != only {
			continue
		}
		total += len(ids)
		if len(ids) > 0 {
			counts = append(counts, fmt.Sprintf("%d %s", len(ids), kind))
		}
		for _, id := range ids {
			c, _, _ := cat.Record(id)
			demo = demo || c.Demo()
			facts := summary(cat, kind, id)
			mass := sheet.Unknown()
			j := jsonListedPart{Kind: string(kind), ID: id, Name: c.Name, Facts: facts, Layer: c.Source.Layer, Demo: c.Demo(), File: c.Source.File}
			if kind != catalog.KindThrustTest {
				g := c.Mass.Grams()
				mass, j.MassG = sheet.Number(g, 1), &g
			}
			t.Add(sheet.Word(string(kind)), sheet.Word(id), sheet.Word(c.Name), mass, sheet.Word(facts), sheet.Word(c.Source.Layer), sheet.Word(c.Source.File), demoMarkOf(c.Demo()))
			list = append(list, j)
		}
	}
	s := sheet.Screen{Tables: []*sheet.Table{t}}
	s.Verdict = []string{fmt.Sprintf("The catalogue reads without a fault; listed: %s (%s).", words.Count(total, "record", "records"), strings.Join(counts, ", "))}
	if total == 0 {
		s.Verdict = []string{"No records."}
	}
	if demo {
		s.Notes = append(s.Notes, demoMarkNote)
	}
	return s, struct {
		Parts []jsonListedPart `json:"parts"`
	}{list}
}

// summary is what a record is in a few words.
func summary(cat *catalog.Catalogue, kind catalog.Kind, id string) string {
	switch kind {
	case catalog.KindFrame:
		r := cat.Frames[id]
		text := fmt.Sprintf("%d rotors", r.Rotors)
		if r.MaxProp > 0 {
			text += fmt.Sprintf(", propellers up to %s in", words.Trimmed(r.MaxProp.Inches(), 3))
		}
		return text
	case catalog.KindMotor:
		r := cat.Motors[id]
		text := fmt.Sprintf("%.0f rpm/V", r.Kv.RPMPerVolt())
		if r.R == nil || r.NoLoadCurrent == nil {
			text += ", no constants"
		}
		return text
	case catalog.KindProp:
		r := cat.Props[id]
		text := fmt.Sprintf("%s x %s in, %d blades", words.Trimmed(r.Diameter.Inches(), 3), words.Trimmed(r.Pitch.Inches(), 3), r.Blades)
		switch {
		case len(r.Static) > 0:
			text += ", static table"
		case r.CT != nil:
			text += ", coefficients"
		default:
			text += ", size only"
		}
		return text
	case catalog.KindBoard:
		r := cat.Boards[id]
		if r.MaxCurrent != nil {
			return fmt.Sprintf("%s A an output", words.Trimmed(float64(*r.MaxCurrent), 3))
		}
		return "no current stated"
	case catalog.KindGear:
		return fmt.Sprintf("%s W", words.Trimmed(float64(cat.Gear[id].Power), 3))
	case catalog.KindPack:
		r := cat.Packs[id]
		text := fmt.Sprintf("%d cells, %s, %.0f mAh", r.Cells, r.Chemistry, r.Rated.MilliAmpHours())
		switch {
		case r.Circuit != nil:
			text += ", circuit from logs"
		case r.Tested != nil:
			text += ", tested"
		default:
			text += ", label only"
		}
		return text
	case catalog.KindThrustTest:
		r := cat.ThrustTests[id]
		return fmt.Sprintf("%s with %s, %d rows", r.Motor, r.Prop, len(r.Rows))
	}
	return ""
}

// part is one record as fields with values, in the order of the record's format.
type part struct {
	kind   catalog.Kind
	common *catalog.Common
	source catalog.Source
	facts  []fact
	tables []*sheet.Table
	lost   []jsonStandLoss // nil of what was on no stand
	notes  []string
}

// fact is one field: its key in a file, its value for people, and for programs where it is a number.
type fact struct {
	key   string
	text  string
	value any
}

func (p *part) text(key, v string) {
	if v != "" {
		p.facts = append(p.facts, fact{key, v, v})
	}
}

func (p *part) number(key string, v float64) {
	p.facts = append(p.facts, fact{key, words.Trimmed(v, 3), v})
}

// computed is a number that no file gives: four digits say all that is known.
func (p *part) computed(key string, v float64) {
	p.facts = append(p.facts, fact{key, strconv.FormatFloat(v, 'g', 4, 64), v})
}

func (p *part) flag(key string, v bool) { p.facts = append(p.facts, fact{key, fmt.Sprint(v), v}) }

// optional adds a number that may be missing; unit is what one of the file's unit is in SI.
func optional[T ~float64](p *part, key string, v *T, unit T) {
	if v != nil {
		p.number(key, float64(*v/unit))
	}
}

func (p *part) cells(r *catalog.CellRange) {
	if r != nil {
		p.facts = append(p.facts, fact{"cells", fmt.Sprintf("%d to %d", r.Min, r.Max), []int{r.Min, r.Max}})
	}
}

func (p *part) box(key string, b *catalog.Box) {
	if b != nil {
		sides := []float64{b.L.Millimetres(), b.W.Millimetres(), b.H.Millimetres()}
		p.facts = append(p.facts, fact{key, fmt.Sprintf("%s x %s x %s", words.Trimmed(sides[0], 3), words.Trimmed(sides[1], 3), words.Trimmed(sides[2], 3)), sides})
	}
}

func showPart(cat *catalog.Catalogue, id string) (*part, error) {
	common, kind, _ := cat.Record(id)
	p := &part{kind: kind, common: common}
	p.source = cat.Locate(id)[id]
	p.text("name", common.Name)
	if kind != catalog.KindThrustTest {
		p.number("mass_g", common.Mass.Grams())
	}
	if common.Weighed {
		p.flag("weighed", true)
	}
	optional(p, "tolerance_g", common.Tolerance, model.Gram)
	var err error
	switch kind {
	case catalog.KindFrame:
		p.frame(cat.Frames[id])
	case catalog.KindMotor:
		p.motor(cat.Motors[id])
	case catalog.KindProp:
		p.prop(cat.Props[id])
	case catalog.KindBoard:
		r := cat.Boards[id]
		optional(p, "max_current_a", r.MaxCurrent, 1)
		p.cells(r.Cells)
		optional(p, "efficiency", r.Efficiency, 1)
		p.number("power_w", float64(r.Power))
	case catalog.KindGear:
		p.number("power_w", float64(cat.Gear[id].Power))
	case catalog.KindPack:
		err = p.pack(cat, id)
	case catalog.KindThrustTest:
		p.thrustTest(cat.ThrustTests[id])
		p.fit(cat, id)
	}
	optional(p, "price", common.Price, 1)
	p.text("currency", common.Currency)
	p.text("url", common.URL)
	p.text("note", common.Note)
	p.text("date", common.Date)
	return p, err
}

func (p *part) frame(r *catalog.Frame) {
	p.number("rotors", float64(r.Rotors))
	if r.MaxProp > 0 {
		p.number("max_prop_in", r.MaxProp.Inches())
	}
	p.box("bay_mm", r.Bay)
	optional(p, "mount_mm", r.MotorMount, model.Millimetre)
	if r.ThrustLossOK {
		p.number("thrust_loss", r.ThrustLoss)
	}
}

func (p *part) motor(r *catalog.Motor) {
	p.number("kv", r.Kv.RPMPerVolt())
	optional(p, "r_mohm", r.R, model.MilliOhm)
	optional(p, "no_load_a", r.NoLoadCurrent, 1)
	optional(p, "no_load_v", r.NoLoadVoltage, 1)
	optional(p, "max_current_a", r.MaxCurrent, 1)
	p.cells(r.Cells)
	optional(p, "mount_mm", r.Mount, model.Millimetre)
	optional(p, "shaft_mm", r.Shaft, model.Millimetre)
	if r.R == nil || r.NoLoadCurrent == nil {
		p.notes = append(p.notes, fmt.Sprintf("What of r_mohm and no_load_a is not stated is made in a build from its propeller and pack: a loaded speed of %.2f +- %.2f of kv x V at full throttle, a no-load current of %.2f of the current then, times or over %.1f.",
			model.EstimatedLoadedSpeed, model.EstimatedLoadedSpeedSigma, model.EstimatedNoLoadShare, model.EstimatedNoLoadFactor))
	}
}

func (p *part) prop(r *catalog.Prop) {
	p.number("diameter_in", r.Diameter.Inches())
	p.number("pitch_in", r.Pitch.Inches())
	p.number("blades", float64(r.Blades))
	optional(p, "ct", r.CT, 1)
	optional(p, "cp", r.CP, 1)
	for _, s := range r.Static {
		p.facts = append(p.facts, fact{
			"static", fmt.Sprintf("%.0f rpm: ct %.4f, cp %.4f, figure of merit %.3f", s.Speed.RPM(), s.CT, s.CP, model.FigureOfMerit(s.CT, s.CP)),
			map[string]float64{"rpm": s.Speed.RPM(), "ct": s.CT, "cp": s.CP},
		})
	}
	optional(p, "shaft_mm", r.Shaft, model.Millimetre)
	switch {
	case r.CT != nil && r.CP != nil:
		p.notes = append(p.notes, fmt.Sprintf("Figure of merit %.3f.", model.FigureOfMerit(*r.CT, *r.CP)))
	case len(r.Static) == 0:
		e, err := planner.EstimateBySize(r)
		if err != nil {
			p.notes = append(p.notes, "No measured coefficients, and none from its size: "+err.Error()+".")
			return
		}
		p.notes = append(p.notes, fmt.Sprintf("No measured coefficients. From its size: ct %.3f (+- %.0f %%), cp %.3f, figure of merit %.2f +- %.2f, one sigma, at a thrust of %.0f g, with which it grows.",
			e.CT, 100*e.SigmaCT, e.CP, e.Merit, e.SigmaMerit, e.Thrust.GramsForce()))
	}
}

func (p *part) thrustTest(r *catalog.ThrustTest) {
	p.text("motor", r.Motor)
	p.text("prop", r.Prop)
	p.text("source", r.Origin)
	p.number("air_kg_m3", float64(r.Air))
	for _, row := range r.Rows {
		text := fmt.Sprintf("%.0f %%: %.2f V, %.2f A, %.1f g", 100*row.Throttle, float64(row.Voltage), float64(row.Current), row.Thrust.GramsForce())
		values := map[string]float64{
			"throttle": row.Throttle, "voltage_v": float64(row.Voltage), "current_a": float64(row.Current),
			"thrust_g": row.Thrust.GramsForce(),
		}
		if row.Speed > 0 {
			text += fmt.Sprintf(", %.0f rpm", row.Speed.RPM())
			values["rpm"] = row.Speed.RPM()
		}
		p.facts = append(p.facts, fact{"rows", text, values})
	}
}

func (p *part) pack(cat *catalog.Catalogue, id string) error {
	r := cat.Packs[id]
	p.text("chemistry", string(r.Chemistry))
	p.number("cells", float64(r.Cells))
	p.number("rated_mah", r.Rated.MilliAmpHours())
	p.box("size_mm", r.Size)
	p.text("plug", r.Plug)
	optional(p, "max_current_a", r.MaxCurrent, 1)
	if r.LabelC > 0 {
		p.number("label_c", r.LabelC)
	}
	if t := r.Tested; t != nil {
		p.tested(r, t)
	}
	packs, err := planner.NewPackSet(cat)
	if err != nil {
		return err
	}
	pack := packs.Pack(id)
	c := pack.Circuit
	p.text("basis", string(pack.Basis))
	p.computed("circuit.capacity_mah", c.Capacity.MilliAmpHours())
	p.computed("circuit.r0_mohm", c.R0.MilliOhms())
	p.computed("circuit.r1_mohm", c.R1.MilliOhms())
	p.computed("circuit.tau_s", float64(c.Tau))
	p.computed("circuit.shift_mv", c.Shift.MilliVolts())
	p.computed("circuit.charge_dependence", c.K)
	if pack.Tested != nil {
		p.computed("circuit.test_c_max", pack.TestTemperature().Celsius())
	}
	if residuals := packs.Residuals(id); len(residuals) > 0 {
		var texts []string
		for _, x := range residuals {
			texts = append(texts, x.Metric+" "+words.Signed(x.Sigma, 1))
		}
		p.notes = append(p.notes, "Circuit from the tested metrics; what its simulated tests miss them by, in sigmas: "+strings.Join(texts, ", ")+".")
	}
	p.notes = append(p.notes, remarkNotes(pack.Remarks)...)
	p.notes = append(p.notes, packCaution)
	return nil
}

func (p *part) tested(r *catalog.Pack, t *model.TestedMetrics) {
	measured := func(key string, v float64) {
		if v > 0 {
			p.number("tested."+key, v)
		}
	}
	measured("capacity_mah", t.Capacity.MilliAmpHours())
	measured("energy_wh", t.Energy.WattHours())
	measured("mid_voltage_v", float64(t.MidVoltage))
	measured("burst_power_w", float64(t.BurstPower))
	measured("burst_current_a", float64(t.BurstCurrent))
	measured("discharge_power_w", float64(t.Protocol.DischargePower))
	measured("discharge_end_v_per_cell", float64(t.Protocol.DischargeEndPerCell))
	measured("discharge_current_a", float64(t.Protocol.DischargeCurrent))
	measured("burst_end_v_per_cell", float64(t.Protocol.BurstEndPerCell))
	p.number("tested.conditioning.current_a", float64(t.Protocol.ConditioningCurrent))
	p.number("tested.conditioning.seconds", float64(t.Protocol.ConditioningTime))
	p.number("tested.ramp_a_per_s", t.Protocol.Ramp)
	if t.Ambient > 0 {
		p.number("tested.ambient_c", t.Ambient.Celsius())
	} else {
		p.notes = append(p.notes, "The test states no ambient_c: it is taken as 25 C.")
	}
	p.text("tested.date", r.TestDate)
	if r.TestCycles != nil {
		p.number("tested.cycles", float64(*r.TestCycles))
	}
	p.text("tested.source", r.TestSource)
	ratios := planner.RatiosOf(r, *t)
	for _, c := range []struct {
		key   string
		value float64
	}{{"Wh per g", ratios.WhPerGram}, {"W per g", ratios.WPerGram}, {"delivered over rated", ratios.DeliveredOverRated}} {
		if c.value > 0 {
			p.computed(c.key, c.value)
		}
	}
}

func (p *part) screen() sheet.Screen {
	t := &sheet.Table{Columns: []sheet.Column{{Head: "field", Key: "field", Left: true}, {Head: "value", Key: "value", Left: true, Wrap: true}}}
	for _, f := range p.facts {
		value := sheet.Word(f.text)
		if v, isNumber := f.value.(float64); isNumber {
			value.Value = &v
		}
		t.Add(sheet.Word(f.key), value)
	}
	where, layer := p.source.File, p.source.Layer
	if p.common.Demo() {
		layer += ", an invented demo record"
	}
	if p.source.Line > 0 {
		where = fmt.Sprintf("%s, line %d", where, p.source.Line)
	}
	return sheet.Screen{
		Verdict: []string{fmt.Sprintf("%s %s: %s (%s, from %s).", p.kind, p.common.ID, p.common.Name, layer, where)},
		Tables:  append([]*sheet.Table{t}, p.tables...), Notes: p.notes,
	}
}

type jsonFact struct {
	Field string `json:"field"`
	Value any    `json:"value"`
}

func (p *part) json() any {
	fields := []jsonFact{}
	for _, f := range p.facts {
		fields = append(fields, jsonFact{f.key, f.value})
	}
	notes := p.notes
	if notes == nil {
		notes = []string{}
	}
	return struct {
		Kind   string          `json:"kind"`
		ID     string          `json:"id"`
		Layer  string          `json:"layer"`
		Demo   bool            `json:"demo"`
		File   string          `json:"file"`
		Line   int             `json:"line"`
		Fields []jsonFact      `json:"fields"`
		Losses []jsonStandLoss `json:"losses"`
		Notes  []string        `json:"notes"`
	}{string(p.kind), p.common.ID, p.source.Layer, p.common.Demo(), p.source.File, p.source.Line, fields, p.lost, notes}
}
