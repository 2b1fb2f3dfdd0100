package catalog

import (
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"allup/model"
	"allup/model/words"
)

// builder reads one build file.
type builder struct {
	parts   *Catalogue // grows by the inline records
	cloned  map[Kind]bool
	records records
	unnamed []Kind          // slots that name no record
	rotors  int             // of the build; 0 where they are not known
	unknown map[string]bool // fields with an id that no record has, and none is near
}

// noSuch notes that a field names an id that no record has.
func (b *builder) noSuch(field string) {
	if b.unknown == nil {
		b.unknown = map[string]bool{}
	}
	b.unknown[field] = true
}

func (b *builder) read(root *table, file string) *Build {
	build := &Build{
		Name:    root.text("name"),
		File:    file,
		Rotors:  root.count("rotors", rotorCount().must()),
		Weighed: map[string]Weight{},
		Flight:  Flight{Reserve: 0.2, PunchCharge: 0.8},
		Goal:    Goal{Time: 2, Punch: 1},
	}
	if build.Name == "" {
		build.Name = baseName(file)
	}
	b.rotors = build.Rotors
	if limit := root.child("limit"); limit != nil {
		build.Limit = readLimit(limit)
		limit.done()
	} else if !root.has("limit") {
		root.lack("limit", `a [limit] table with rule = "eu-a1-built" or another id of allup limits, or with mass_g`)
	}
	if slots := root.child("slots"); slots != nil {
		build.Slots = b.readSlots(slots, file)
		b.checkRotors(root, slots, build)
		slots.done()
	} else if !root.has("slots") {
		root.lack("slots", "a [slots] table with frame, motor, prop and board")
	}
	build.Extras = b.readExtras(root)
	build.Parts = b.parts
	b.readWeighed(root, build)
	if scale := root.child("scale"); scale != nil {
		build.Scale = b.readScale(scale, build)
		scale.done()
	}
	if air := root.child("air"); air != nil {
		build.Air = readAir(air)
		air.done()
	}
	if flight := root.child("flight"); flight != nil {
		readFlight(flight, &build.Flight)
		flight.done()
	}
	if hover := root.child("hover"); hover != nil {
		build.Flown = readFlown(hover, b.packCells(build))
		hover.done()
	}
	if packs := root.child("packs"); packs != nil {
		build.Packs = readPackFilter(packs)
		build.Packs.Only = b.readOnly(packs)
		b.checkPlugs(packs, build.Packs.Plugs)
		packs.done()
	}
	if goal := root.child("goal"); goal != nil {
		readGoal(goal, &build.Goal)
		goal.done()
	}
	return build
}

// baseName is the name of a build that has none in its file.
func baseName(file string) string {
	base := filepath.Base(file)
	base = strings.TrimSuffix(base, filepath.Ext(base))
	if base == "" || base == "-" || base == "." || strings.ContainsFunc(base, words.Steers) {
		return "build"
	}
	return base
}

func readLimit(t *table) BuildLimit {
	var limit BuildLimit
	limit.Spare = scaled(t, "spare_g", model.Gram, span(0, 25000, "g").from(0.001))
	limit.Sure = scaled(t, "sure", 1.0, fraction(LeastSure, MostSure, "chances"))
	limit.Rules = t.texts("rule")
	mass, hasMass := t.number("mass_g", span(1, 25000, "g").usually(20, 5000))
	limit.Inclusive = t.flag("inclusive")
	const either = `either rule = "eu-a1-built" or another id of allup limits, or mass_g = 250 with inclusive = true or false`
	switch {
	case t.has("rule") && t.has("mass_g"):
		t.fault("mass_g", InputError{Msg: "stands beside rule, which has its own mass", Allowed: either})
	case t.has("rule") && t.has("inclusive"):
		t.fault("inclusive", InputError{Msg: "stands beside rule, which says itself whether its mass is still allowed", Hint: "remove inclusive"})
	case t.has("rule"):
		readRules(t, &limit)
	case hasMass:
		limit.Mass = model.Mass(mass) * model.Gram
	case !t.has("mass_g"):
		t.fault("", InputError{Msg: "has neither rule nor mass_g", Allowed: either})
	}
	if limit.Mass > 0 && limit.Spare >= limit.Mass {
		t.fault("spare_g", InputError{
			Value: showNumber(limit.Spare.Grams()), Msg: "leaves nothing of the limit of " + showRounded(limit.Mass.Grams()) + " g",
			Allowed: "less than the limit",
		})
	}
	return limit
}

// How sure of keeping its limit a build may ask to be. A coin's half is no demand, and beyond the greatest the tails of
// masses are not known.
const (
	LeastSure = 0.5
	MostSure  = 0.9999
)

// readRules finds the thresholds that a limit names and takes the strictest.
func readRules(t *table, limit *BuildLimit) {
	known := Thresholds()
	names := make([]string, len(known))
	for i, k := range known {
		names[i] = k.ID
	}
	var named []Threshold
	for i, rule := range limit.Rules {
		index := i + 1
		if _, isText := t.values["rule"].(string); isText {
			index = 0
		}
		at := slices.Index(names, rule)
		switch {
		case at < 0:
			fault := InputError{Value: quote(rule), Msg: "is not a known limit", Hint: t.doc.didYouMean(rule, func() []string { return names })}
			if fault.Hint == "" {
				fault.Allowed = strings.Join(names, ", ")
			}
			t.faultAt("rule", index, fault)
		case known[at].Limit == nil:
			t.faultAt("rule", index, InputError{
				Value: quote(rule), Msg: "has no limit: in " + known[at].Where + " the rules apply at any mass",
				Hint: "choose another rule, or give mass_g",
			})
		case slices.Contains(limit.Rules[:i], rule):
			t.faultAt("rule", index, InputError{Value: quote(rule), Msg: "is listed twice"})
		default:
			named = append(named, known[at])
			limit.Named = append(limit.Named, NamedLimit{*known[at].Limit, rule})
		}
	}
	if strictest, ok := StrictestOf(named); ok {
		limit.Limit, limit.Rule = *strictest.Limit, strictest.ID
	}
}

// readExtras reads what else is on board, sorted by id.
func (b *builder) readExtras(root *table) []Extra {
	t := root.child("extra")
	if t == nil {
		return nil
	}
	var extras []Extra
	for _, id := range slices.Sorted(maps.Keys(t.values)) {
		e := t.child(id)
		if e == nil {
			continue
		}
		if fault, bad := checkID(id); bad {
			e.fault("", fault)
		} else if kind, taken := b.parts.Lookup(id); taken {
			t.fault(id, InputError{Msg: "is also the id of " + kind.noun() + " of the catalogue", Hint: "choose another id for the extra"})
		}
		extra := Extra{
			ID:        id,
			Name:      e.text("name"),
			Mass:      scaled(e, "mass_g", model.Gram, extraMass()),
			Weighed:   e.flag("weighed"),
			Tolerance: optional(e, "tolerance_g", model.Gram, tolerance()),
			WithPack:  e.flag("with_pack"),
		}
		if extra.Name == "" {
			extra.Name = id
		}
		checkTolerance(e, extra.Tolerance, extra.Mass)
		e.done()
		extras = append(extras, extra)
	}
	t.done()
	return extras
}

func extraMass() want { return span(0, 5000, "g").from(0.001).usually(0, 150).must() }

func readAir(t *table) AirConditions {
	air := AirConditions{
		Altitude: scaled(t, "altitude_m", model.Length(1), span(float64(model.MinAltitude), float64(model.MaxAltitude), "m")),
	}
	celsius := func(key string, w want) *model.Temperature {
		v, ok := t.number(key, w)
		if !ok {
			return nil
		}
		c := model.Celsius(v)
		return &c
	}
	air.Temperature = celsius("temperature_c", span(-30, 50, "degrees Celsius"))
	air.PackTemperature = celsius("pack_temperature_c", span(-30, 60, "degrees Celsius"))
	return air
}

func readFlight(t *table, f *Flight) {
	override(&f.LandPerCell, t, "land_v_per_cell", span(2.5, 4.1, "V per cell").usually(3, 3.9))
	override(&f.Reserve, t, "reserve", fraction(0, 0.9, "the charge").from(0.001).usually(0, 0.5))
	override(&f.PunchCharge, t, "punch_charge", fraction(0.01, 1, "the charge"))
	if f.PunchCharge <= f.Reserve {
		t.fault("punch_charge", InputError{
			Value: showNumber(f.PunchCharge), Msg: "is not above reserve " + showNumber(f.Reserve) + ": the pack has landed by then",
			Allowed: "above reserve, up to 1",
		})
	}
	const what = "{ seconds = 20, thrust = 1.25 } or { seconds = 2, full = true }"
	if !t.has("phases") {
		t.lookUp("phases")
		return
	}
	for _, p := range t.children("phases", what) {
		phase := Phase{
			Duration: scaled(p, "seconds", model.Time(1), span(0.1, 3600, "s").must()),
			Thrust:   scaled(p, "thrust", 1.0, span(0.1, 10, "times the weight").usually(0.2, 6)),
			Full:     p.flag("full"),
		}
		switch {
		case phase.Full && p.has("thrust"):
			p.fault("thrust", InputError{Msg: "contradicts full = true beside it", Allowed: what})
		case !phase.Full && !p.has("thrust"):
			p.fault("", InputError{Msg: "has neither thrust nor full = true", Allowed: what})
		}
		p.done()
		f.Phases = append(f.Phases, phase)
	}
	if items, ok := asList(t.values["phases"]); ok && len(items) == 0 {
		t.fault("phases", InputError{Value: "[]", Msg: "is an empty list", Hint: "leave phases out for a hover"})
	}
}

func readFlown(t *table, cells int) []FlownHover {
	const what = "{ mass_g = 243, power_w = 62 } or { mass_g = 243, current_a = 4.1, voltage_v = 15.2 }"
	if !t.has("flown") {
		t.lookUp("flown")
		return nil
	}
	var flown []FlownHover
	for _, h := range t.children("flown", what) {
		hover := FlownHover{
			Mass:  scaled(h, "mass_g", model.Gram, span(1, 25000, "g").usually(20, 5000).must()),
			Power: scaled(h, "power_w", model.Power(1), span(0.1, 5000, "W")),
		}
		current, hasCurrent := h.number("current_a", span(0.01, 500, "A"))
		voltage, hasVoltage := h.number("voltage_v", span(1, 60, "V"))
		switch {
		case h.has("power_w") && (h.has("current_a") || h.has("voltage_v")):
			h.fault("power_w", InputError{Msg: "stands beside current_a or voltage_v", Allowed: "one of " + what})
		case !h.has("power_w") && !(h.has("current_a") && h.has("voltage_v")):
			h.fault("", InputError{Msg: "does not say what the hover took", Allowed: what})
		case hasCurrent && hasVoltage:
			hover.Power, hover.Bus = model.Power(current*voltage), model.Voltage(voltage)
			if cells > 1 && voltage < leastHoverPerCell*float64(cells) {
				h.fault("voltage_v", InputError{
					Value: showNumber(voltage), Msg: fmt.Sprintf("is %s V for each of %d cells: is it of one cell?", showRounded(voltage/float64(cells)), cells),
					Allowed: "the voltage of the whole pack", Hint: "write voltage_v = " + showRounded(voltage*float64(cells)),
				})
			}
		}
		if hover.Mass > 0 && hover.Power > 0 {
			if perGram := float64(hover.Power) / hover.Mass.Grams(); perGram < 0.03 || perGram > 1.5 {
				h.odd("odd-hover", "", 0, showRounded(float64(hover.Power))+" W for "+showRounded(hover.Mass.Grams())+" g is "+showRounded(perGram)+" W/g (0.03 to 1.5 is usual)")
			}
		}
		h.done()
		flown = append(flown, hover)
	}
	return flown
}

// leastHoverPerCell is the voltage of a cell under which no pack hovers (own judgement: packs land at 3.2 V and more).
const leastHoverPerCell = 2.0

// packCells is the number of cells of the pack that the build carries; 0 where it is not known.
func (b *builder) packCells(build *Build) int {
	if len(build.Slots.Pack) > 0 && b.parts != nil {
		if p := b.parts.Packs[build.Slots.Pack[0]]; p != nil {
			return p.Cells
		}
	}
	return 0
}

// checkPlugs warns of a plug that no pack of the catalogue has: it would leave none.
func (b *builder) checkPlugs(t *table, plugs []string) {
	has := map[string]bool{}
	choice, _ := b.parts.PackChoice()
	for _, id := range choice {
		if plug := b.parts.Packs[id].Plug; plug != "" {
			has[plug] = true
		}
	}
	for _, plug := range plugs {
		if !has[plug] && len(has) > 0 {
			known := slices.Sorted(maps.Keys(has))
			text := "no pack of the catalogue has a plug " + quote(plug) + " (there are " + join(known) + ")"
			if near := didYouMean(plug, known); near != "" {
				text += "; " + near
			}
			t.odd("unknown-plug", "plug", 0, text)
		}
	}
}

// readOnly reads the packs that a ranking is restricted to.
func (b *builder) readOnly(t *table) []string {
	var only []string
	for _, p := range t.placedTexts("only") {
		switch {
		case b.parts.Packs[p.text] == nil:
			b.faultUnknown(t, "only", p.place, KindPack, p.text)
		case slices.Contains(only, p.text):
			t.faultAt("only", p.place, InputError{Value: quote(p.text), Msg: "is listed twice", Allowed: "each pack once"})
		default:
			only = append(only, p.text)
		}
	}
	return only
}

func readPackFilter(t *table) PackFilter {
	f := PackFilter{MaxMass: optional(t, "max_mass_g", model.Gram, span(0.01, 5000, "g"))}
	for _, plug := range t.texts("plug") {
		f.Plugs = append(f.Plugs, strings.ToLower(plug))
	}
	for _, name := range t.placedTexts("chemistry") {
		if c := t.chemistry("chemistry", name.place, name.text); c != "" {
			f.Chemistries = append(f.Chemistries, c)
		}
	}
	w := cellsOf()
	w.whole = true
	if _, isList := asList(t.values["cells"]); !isList && t.has("cells") {
		if v, ok := t.number("cells", w); ok {
			f.Cells = []int{int(v)}
		}
		return f
	}
	const what = "a list of numbers of cells, [3, 4]"
	items, ok := t.list("cells", what)
	if ok && len(items) == 0 {
		t.fault("cells", InputError{Value: "[]", Msg: "is an empty list", Hint: "leave the field out to allow every number"})
	}
	for i, item := range items {
		if v, ok := t.checkNumber("cells", i+1, item, w); ok {
			f.Cells = append(f.Cells, int(v))
		}
	}
	return f
}

func readGoal(t *table, g *Goal) {
	weight := span(0, 1000, "").from(0.001)
	override(&g.Time, t, "time", weight)
	override(&g.Punch, t, "punch", weight)
	override(&g.Price, t, "price", weight)
	g.Currency = t.text("currency")
	if g.Currency != "" && !isCurrency(g.Currency) {
		t.fault("currency", InputError{Value: quote(g.Currency), Msg: "is not a currency", Allowed: "three capital letters, \"EUR\""})
	}
	if g.Time == 0 && g.Punch == 0 && g.Price == 0 {
		t.fault("", InputError{Msg: "time, punch and price are all 0", Allowed: "at least one above 0"})
	}
}
