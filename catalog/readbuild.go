package catalog

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"allup/model"
)

// ReadBuild reads a build file against a catalogue, which is not changed. file is
// the name that errors carry. Faults of the file come together as [InputErrors]; an
// error of another type is the reader's.
func ReadBuild(file string, r io.Reader, parts *Catalogue) (*Build, []Warning, error) {
	data, err := readAll(file, r)
	if _, tooLarge := errors.AsType[InputErrors](err); tooLarge {
		return nil, nil, err
	}
	if err != nil {
		return nil, nil, fmt.Errorf("reading build %s: %w", printable(file), err)
	}
	d, root, err := parse(file, data)
	if err != nil {
		return nil, nil, err
	}
	if len(root.values) == 0 {
		return nil, nil, InputErrors{{File: file, Line: 1, Msg: "the build is empty", Hint: "`allup new` writes one to start from"}}
	}
	if !root.has("slots") && slices.ContainsFunc(kindNames(), root.has) {
		return nil, nil, InputErrors{{File: file, Line: 1, Msg: "these are records of parts, not a build", Hint: "give the file with --parts"}}
	}
	if parts == nil {
		parts = New()
	}
	b := builder{parts: parts, records: records{curves: map[model.Chemistry]model.Curve{}}}
	build := b.read(root, file)
	root.done()
	warnings, err := d.result()
	if err != nil {
		return nil, warnings, err
	}
	build.doc = d
	return build, warnings, nil
}

// builder reads one build file.
type builder struct {
	parts   *Catalogue // grows by the inline records
	cloned  map[Kind]bool
	records records
}

func (b *builder) read(root *table, file string) *Build {
	build := &Build{
		Name:    root.text("name"),
		File:    file,
		Rotors:  root.count("rotors", rotorCount().must()),
		Weighed: map[string]model.Mass{},
		Flight:  Flight{Reserve: 0.2, PunchCharge: 0.8},
		Goal:    Goal{Time: 2, Punch: 1},
	}
	if build.Name == "" {
		build.Name = baseName(file)
	}
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
	readWeighed(root, build)
	if air := root.child("air"); air != nil {
		build.Air = readAir(air)
		air.done()
	}
	if flight := root.child("flight"); flight != nil {
		readFlight(flight, &build.Flight)
		flight.done()
	}
	if hover := root.child("hover"); hover != nil {
		build.Flown = readFlown(hover)
		hover.done()
	}
	if packs := root.child("packs"); packs != nil {
		build.Packs = readPackFilter(packs)
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
	if base == "" || base == "-" || base == "." || strings.ContainsFunc(base, unprintable) {
		return "build"
	}
	return base
}

func readLimit(t *table) BuildLimit {
	var limit BuildLimit
	limit.Spare = scaled(t, "spare_g", model.Gram, span(0, 25000, "g"))
	limit.Rules = t.texts("rule")
	mass, hasMass := t.number("mass_g", positive(25000, "g").usually(20, 5000))
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
		e.done()
		extras = append(extras, extra)
	}
	t.done()
	return extras
}

func extraMass() want { return span(0, 5000, "g").usually(0, 150).must() }

// readWeighed reads masses from the pilot's own scale. Any part of the catalogue may
// be weighed, not only what flies now: candidates are, too.
func readWeighed(root *table, build *Build) {
	t := root.child("weighed")
	if t == nil {
		return
	}
	for _, id := range slices.Sorted(maps.Keys(t.values)) {
		grams, ok := t.number(id, positive(5000, "g"))
		i := slices.IndexFunc(build.Extras, func(e Extra) bool { return e.ID == id })
		common, kind, known := build.Parts.Record(id)
		var paper model.Mass
		switch {
		case known && kind != KindThrustTest:
			paper = common.Mass
		case i >= 0:
			paper = build.Extras[i].Mass
		default:
			t.fault(id, InputError{Msg: "is not the id of a part or an extra", Hint: t.doc.didYouMean(id, func() []string {
				ids := build.Parts.allIDs()
				for _, e := range build.Extras {
					ids = append(ids, e.ID)
				}
				return ids
			})})
			continue
		}
		if !ok {
			continue
		}
		build.Weighed[id] = model.Mass(grams) * model.Gram
		if ratio := grams / paper.Grams(); paper > 0 && (ratio > 2 || ratio < 0.5) {
			t.odd("odd-weighed", id, 0, showNumber(grams)+" g on the scale is far from the "+showRounded(paper.Grams())+" g on paper")
		}
	}
	t.done()
}

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
	override(&f.Reserve, t, "reserve", fraction(0, 0.9, "the charge").usually(0, 0.5))
	override(&f.PunchCharge, t, "punch_charge", want{max: 1, above: true, share: "the charge"})
	if f.PunchCharge <= f.Reserve {
		t.fault("punch_charge", InputError{
			Value: showNumber(f.PunchCharge), Msg: "is not above reserve " + showNumber(f.Reserve) + ": the pack has landed by then",
			Allowed: "above reserve, up to 1",
		})
	}
	const what = "{ seconds = 20, thrust = 1.25 } or { seconds = 2, full = true }"
	if !t.has("phases") {
		t.take("phases")
		return
	}
	for _, p := range t.children("phases", what) {
		phase := Phase{
			Duration: scaled(p, "seconds", model.Time(1), positive(3600, "s").must()),
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

func readFlown(t *table) []FlownHover {
	const what = "{ mass_g = 243, power_w = 62 } or { mass_g = 243, current_a = 4.1, voltage_v = 15.2 }"
	if !t.has("flown") {
		t.take("flown")
		return nil
	}
	var flown []FlownHover
	for _, h := range t.children("flown", what) {
		hover := FlownHover{
			Mass:  scaled(h, "mass_g", model.Gram, positive(25000, "g").usually(20, 5000).must()),
			Power: scaled(h, "power_w", model.Power(1), positive(5000, "W")),
		}
		current, hasCurrent := h.number("current_a", positive(500, "A"))
		voltage, hasVoltage := h.number("voltage_v", span(1, 60, "V"))
		switch {
		case h.has("power_w") && (h.has("current_a") || h.has("voltage_v")):
			h.fault("power_w", InputError{Msg: "stands beside current_a or voltage_v", Allowed: "one of " + what})
		case !h.has("power_w") && !(h.has("current_a") && h.has("voltage_v")):
			h.fault("", InputError{Msg: "does not say what the hover took", Allowed: what})
		case hasCurrent && hasVoltage:
			hover.Power, hover.Bus = model.Power(current*voltage), model.Voltage(voltage)
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

// checkPlugs warns of a plug that no pack of the catalogue has: it would leave none.
func (b *builder) checkPlugs(t *table, plugs []string) {
	has := map[string]bool{}
	for _, p := range b.parts.Packs {
		if p.Plug != "" {
			has[p.Plug] = true
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

func readPackFilter(t *table) PackFilter {
	f := PackFilter{MaxMass: optional(t, "max_mass_g", model.Gram, positive(5000, "g"))}
	for _, plug := range t.texts("plug") {
		f.Plugs = append(f.Plugs, strings.ToLower(plug))
	}
	single := func(key string) bool { _, isText := t.values[key].(string); return isText }
	for i, name := range t.texts("chemistry") {
		index := i + 1
		if single("chemistry") {
			index = 0
		}
		if c := t.chemistry("chemistry", index, name); c != "" {
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
	weight := span(0, 1000, "")
	override(&g.Time, t, "time", weight)
	override(&g.Punch, t, "punch", weight)
	override(&g.Price, t, "price", weight)
	if *g == (Goal{}) {
		t.fault("", InputError{Msg: "wants nothing: time, punch and price are all 0", Allowed: "at least one above 0"})
	}
}
