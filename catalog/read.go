package catalog

import (
	"strings"

	"allup/model"
)

// records reads records of every kind into a catalogue. One serves a whole load.
type records struct {
	curves map[model.Chemistry]model.Curve // one copy of each for all packs
	file   File                            // that is being read
	unread *Pack                           // stands for the packs of a text of which nothing but the ids will be used
}

// read reads one record from its table and puts it into the catalogue.
func (r *records) read(c *Catalogue, kind Kind, id string, t *table, source Source) {
	common := readCommon(t, kind, id)
	common.Source = source
	switch kind {
	case KindFrame:
		c.Frames[id] = readFrame(t, common)
	case KindMotor:
		c.Motors[id] = readMotor(t, common)
	case KindProp:
		c.Props[id] = readProp(t, common)
	case KindBoard:
		c.Boards[id] = readBoard(t, common)
	case KindGear:
		c.Gear[id] = readGear(t, common)
	case KindPack:
		c.Packs[id] = r.orUnread(t, r.readPack(t, common))
	case KindThrustTest:
		c.ThrustTests[id] = r.readThrustTest(t, common)
	}
	t.done()
}

// orUnread is a pack that was read, or, where its text has more faults than are reported, one that takes the place of
// all packs there: the catalogue will not be used, and packs by the ten thousand would take many times the file's size.
func (r *records) orUnread(t *table, p *Pack) *Pack {
	if t.doc.more == 0 {
		return p
	}
	if r.unread == nil || r.unread.Source != p.Source {
		r.unread = &Pack{Common: Common{Source: p.Source}}
	}
	return r.unread
}

func readCommon(t *table, kind Kind, id string) Common {
	c := Common{
		ID:        id,
		Name:      t.text("name"),
		Weighed:   t.flag("weighed"),
		Tolerance: optional(t, "tolerance_g", model.Gram, tolerance()),
		Currency:  t.text("currency"),
		URL:       t.text("url"),
		Note:      t.text("note"),
		Date:      t.date("date"),
	}
	if c.Name == "" {
		c.Name = id
	}
	if kind != KindThrustTest {
		c.Mass = scaled(t, "mass_g", model.Gram, massOf(kind).must())
	}
	checkTolerance(t, c.Tolerance, c.Mass)
	if price, ok := t.number("price", priceRange()); ok {
		c.Price = &price
	}
	const currencies = "three capital letters, \"EUR\""
	switch {
	case t.has("price") && !t.has("currency"):
		t.fault("price", InputError{Msg: "has no currency beside it", Allowed: "currency = " + currencies})
	case c.Currency != "" && !isCurrency(c.Currency):
		t.fault("currency", InputError{Value: quote(c.Currency), Msg: "is not a currency", Allowed: currencies})
	}
	return c
}

// checkTolerance refuses a tolerance that would let a mass be nothing.
func checkTolerance(t *table, tolerance *model.Mass, mass model.Mass) {
	if tolerance != nil && mass > 0 && *tolerance >= mass {
		t.fault("tolerance_g", InputError{
			Value: showNumber(tolerance.Grams()), Msg: "is not below the mass, " + showRounded(mass.Grams()) + " g",
			Allowed: "the half-width of the mass, less than it",
		})
	}
}

func isCurrency(s string) bool {
	return len(s) == 3 && !strings.ContainsFunc(s, func(r rune) bool { return r < 'A' || r > 'Z' })
}

func readFrame(t *table, c Common) *Frame {
	f := &Frame{
		Common:     c,
		Rotors:     t.count("rotors", rotorCount().must()),
		MaxProp:    scaled(t, "max_prop_in", model.Inch, propDiameter()),
		Bay:        readBox(t, "bay_mm"),
		MotorMount: optional(t, "mount_mm", model.Millimetre, mountSize()),
	}
	f.ThrustLoss, f.ThrustLossOK = t.number("thrust_loss", fraction(0, 0.6, "the thrust").from(0.001).usually(0, 0.3))
	return f
}

func rotorCount() want { return span(3, 8, "rotors") }

func readMotor(t *table, c Common) *Motor {
	m := &Motor{
		Common:        c,
		Kv:            scaled(t, "kv", model.RPMPerVolt, span(200, 60000, "rpm/V").usually(700, 40000).must()),
		R:             optional(t, "r_mohm", model.MilliOhm, span(0.05, 10000, "mohm").usually(5, 3000)),
		NoLoadCurrent: optional(t, "no_load_a", model.Current(1), span(0.001, 20, "A").usually(0.03, 4)),
		NoLoadVoltage: optional(t, "no_load_v", model.Voltage(1), span(0.5, 60, "V")),
		MaxCurrent:    optional(t, "max_current_a", model.Current(1), span(0.1, 200, "A").usually(0.5, 80)),
		Cells:         readCellRange(t),
		Mount:         optional(t, "mount_mm", model.Millimetre, mountSize()),
		Shaft:         optional(t, "shaft_mm", model.Millimetre, shaftSize()),
	}
	if t.has("no_load_v") && !t.has("no_load_a") {
		t.odd("no-load-current-missing", "no_load_v", 0, "a no-load voltage says nothing without no_load_a")
	}
	if m.NoLoadCurrent != nil && m.MaxCurrent != nil && *m.NoLoadCurrent >= *m.MaxCurrent {
		t.fault("no_load_a", InputError{
			Value: showNumber(float64(*m.NoLoadCurrent)), Msg: "is not below max_current_a " + showNumber(float64(*m.MaxCurrent)),
			Allowed: "a no-load current below the greatest current",
		})
	}
	return m
}

func readProp(t *table, c Common) *Prop {
	p := &Prop{
		Common:   c,
		Diameter: scaled(t, "diameter_in", model.Inch, propDiameter().must()),
		Pitch:    scaled(t, "pitch_in", model.Inch, span(0.2, 16, "in").usually(0.5, 9).must()),
		Blades:   t.count("blades", span(2, 6, "blades").must()),
		Shaft:    optional(t, "shaft_mm", model.Millimetre, shaftSize()),
	}
	if p.Diameter > 0 && p.Pitch > 0 {
		if ratio := float64(p.Pitch / p.Diameter); ratio > 1.6 || ratio < 0.2 {
			t.odd("odd-pitch", "pitch_in", 0, "pitch over diameter is "+showRounded(ratio)+" (0.2 to 1.6 is usual): are the two swapped?")
		}
	}
	if ct, ok := t.number("ct", coefficient().usually(0.02, 0.5)); ok {
		p.CT = &ct
	}
	if cp, ok := t.number("cp", coefficient().usually(0.005, 0.5)); ok {
		p.CP = &cp
	}
	readStatic(t, p)
	switch {
	case t.has("static") && (t.has("ct") || t.has("cp")):
		t.fault("static", InputError{Msg: "contradicts ct and cp beside it", Hint: "keep the static table and remove ct and cp: the table says how they change with speed"})
	case t.has("ct") && !t.has("cp"):
		t.fault("ct", InputError{Msg: "needs cp beside it", Allowed: "both ct and cp, or neither"})
	case t.has("cp") && !t.has("ct"):
		t.fault("cp", InputError{Msg: "needs ct beside it", Allowed: "both ct and cp, or neither"})
	case p.CT != nil && p.CP != nil:
		checkMerit(t, "ct", *p.CT, *p.CP)
	}
	return p
}

func readStatic(t *table, p *Prop) {
	const what = "{ rpm = 12000, ct = 0.12, cp = 0.06 }"
	if !t.has("static") {
		t.lookUp("static")
		return
	}
	rows := t.children("static", what)
	for _, row := range rows {
		p.Static = append(p.Static, model.StaticPoint{
			Speed: scaled(row, "rpm", model.RPM, speed().must()),
			CT:    scaled(row, "ct", 1.0, coefficient().must()),
			CP:    scaled(row, "cp", 1.0, coefficient().must()),
		})
		row.done()
	}
	if items, ok := asList(t.values["static"]); ok && len(items) == 0 {
		t.fault("static", InputError{Value: "[]", Msg: "has no rows", Allowed: "a list of " + what})
	}
	checkStatic(rows, p.Static)
}

func readBoard(t *table, c Common) *Board {
	b := &Board{
		Common:     c,
		MaxCurrent: optional(t, "max_current_a", model.Current(1), span(0.5, 200, "A").usually(2, 80)),
		Cells:      readCellRange(t),
		Power:      scaled(t, "power_w", model.Power(1), steadyPower().usually(0, 20)),
	}
	if eff, ok := t.number("efficiency", fraction(0.5, 1, "the power that it takes").usually(0.85, 0.99)); ok {
		b.Efficiency = &eff
	}
	return b
}

func readGear(t *table, c Common) *Gear {
	return &Gear{Common: c, Power: scaled(t, "power_w", model.Power(1), steadyPower().usually(0, 40))}
}

// readCellRange reads cells = [min, max]; nil where the record has none.
func readCellRange(t *table) *CellRange {
	const what = "a list of two whole numbers, [min, max]"
	w := cellsAllowed()
	w.whole = true
	if !t.has("cells") {
		t.lookUp("cells")
		return nil
	}
	values := t.numbers("cells", w, what)
	switch {
	case values == nil:
		return nil
	case len(values) != 2:
		t.fault("cells", InputError{Msg: "does not have two numbers", Allowed: what})
		return nil
	case values[0] > values[1]:
		t.fault("cells", InputError{
			Value: "[" + showNumber(values[0]) + ", " + showNumber(values[1]) + "]", Msg: "has more cells at least than at most",
			Allowed: what, Hint: "did you mean [" + showNumber(values[1]) + ", " + showNumber(values[0]) + "]?",
		})
		return nil
	}
	return &CellRange{Min: int(values[0]), Max: int(values[1])}
}

// readBox reads a length, a width and a height in mm; nil where the record has none.
func readBox(t *table, key string) *Box {
	const what = "a list of three numbers in mm, [length, width, height]"
	values := t.numbers(key, span(0.1, 1000, "mm").usually(3, 400), what)
	switch {
	case values == nil:
		return nil
	case len(values) != 3:
		t.fault(key, InputError{Msg: "does not have three numbers", Allowed: what})
		return nil
	}
	mm := func(v float64) model.Length { return model.Length(v) * model.Millimetre }
	return &Box{L: mm(values[0]), W: mm(values[1]), H: mm(values[2])}
}

// readThrustTest reads a thrust test. Whether its motor and propeller exist is
// checked when all layers are there.
func (r *records) readThrustTest(t *table, c Common) *ThrustTest {
	test := &ThrustTest{
		Common: c,
		Motor:  t.mustText("motor", "the id of a motor"),
		Prop:   t.mustText("prop", "the id of a propeller"),
		Origin: t.text("source"),
		Air:    readTestAir(t),
	}
	const what = "{ throttle = 0.5, voltage_v = 15.2, current_a = 4.1, thrust_g = 160 }"
	if t.has("csv") {
		r.readStand(t, test)
	} else if !t.has("rows") {
		t.lack("rows", "a list of "+what+", or csv = \"table.csv\", a file beside this one")
	}
	rows := []*table(nil)
	if t.has("rows") {
		rows = t.children("rows", what)
	} else {
		t.lookUp("rows")
	}
	for _, row := range rows {
		grams := scaled(row, "thrust_g", model.Gram, standThrust().must())
		test.Rows = append(test.Rows, model.ThrustRow{
			Throttle: scaled(row, "throttle", 1.0, throttle().must()),
			Voltage:  scaled(row, "voltage_v", model.Voltage(1), standVoltage().must()),
			Current:  scaled(row, "current_a", model.Current(1), standCurrent().must()),
			Thrust:   grams.Weight(),
			Speed:    scaled(row, "rpm", model.RPM, speed()),
		})
		row.done()
		checkThrustRow(row, test.Rows[len(test.Rows)-1])
	}
	if items, ok := asList(t.values["rows"]); ok && len(items) == 0 {
		t.fault("rows", InputError{Value: "[]", Msg: "has no rows", Allowed: "a list of " + what})
	}
	return test
}

// checkThrustRow warns of a thrust that does not go with the power of its row.
func checkThrustRow(row *table, r model.ThrustRow) {
	watts := float64(r.Voltage) * float64(r.Current)
	grams := float64(r.Thrust) / model.StandardGravity * 1000
	if watts < 1 || grams <= 0 {
		return
	}
	if perWatt := grams / watts; perWatt < 0.3 || perWatt > 30 {
		row.odd("odd-thrust", "thrust_g", 0, showRounded(grams)+" g of thrust for "+showRounded(watts)+" W is "+showRounded(perWatt)+" g/W (0.3 to 30 is usual)")
	}
}

// readTestAir is the air that a test was made in; standard at sea level where it does not say.
func readTestAir(t *table) model.Density {
	altitude, hasAltitude := t.number("altitude_m", span(float64(model.MinAltitude), float64(model.MaxAltitude), "m"))
	density, hasDensity := t.number("air_kg_m3", span(0.5, 1.7, "kg/m3"))
	switch {
	case t.has("altitude_m") && t.has("air_kg_m3"):
		t.fault("air_kg_m3", InputError{Msg: "contradicts altitude_m beside it", Hint: "keep air_kg_m3 if it was measured, else altitude_m"})
	case hasDensity:
		return model.Density(density)
	case hasAltitude:
		air, err := model.StandardAir(model.Length(altitude))
		if err != nil {
			t.fault("altitude_m", InputError{Msg: err.Error()})
		}
		return air
	}
	return defaultTestAir
}

// defaultTestAir is the density of a test that does not state its air: standard at sea level, rounded.
const defaultTestAir model.Density = 1.225
