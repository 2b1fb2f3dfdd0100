package catalog

import (
	"math"
	"strings"

	"allup/model"
)

func (r *records) readPack(t *table, c Common) *Pack {
	p := &Pack{
		Common:     c,
		Chemistry:  readChemistry(t),
		Cells:      t.count("cells", cellsOf().must()),
		Rated:      scaled(t, "rated_mah", model.MilliAmpH, ratedCharge().must()),
		Size:       readBox(t, "size_mm"),
		Plug:       readPlug(t),
		MaxCurrent: optional(t, "max_current_a", model.Current(1), packCurrent()),
		LabelC:     scaled(t, "label_c", 1.0, labelC()),
	}
	checkPackMass(t, p)
	if tested := t.child("tested"); tested != nil {
		p.Tested = readTested(tested, p, t.has("circuit"))
		tested.done()
	}
	if circuit := t.child("circuit"); circuit != nil {
		p.Circuit = r.readCircuit(circuit, p)
		circuit.done()
	}
	return p
}

// labelC is what a label may say of C.
func labelC() want { return span(1, 1000, "C").usually(5, 250) }

// readCycles reads how often a pack was charged before a test.
func readCycles(t *table) *int {
	if !t.has("cycles") {
		t.lookUp("cycles")
		return nil
	}
	n := t.count("cycles", span(0, 5000, "cycles"))
	return &n
}

// readPlug reads a plug in lower case: people write XT30 and xt30.
func readPlug(t *table) string { return strings.ToLower(t.text("plug")) }

func chemistryNames() []string {
	var names []string
	for _, c := range model.Chemistries() {
		names = append(names, string(c))
	}
	return names
}

func readChemistry(t *table) model.Chemistry {
	if !t.has("chemistry") {
		t.lack("chemistry", "one of "+quotedList(chemistryNames()))
	}
	return t.chemistry("chemistry", 0, t.text("chemistry"))
}

// chemistry checks the name of a chemistry; "" stands for one reported already.
func (t *table) chemistry(key string, index int, name string) model.Chemistry {
	if name == "" {
		return ""
	}
	for _, c := range model.Chemistries() {
		if string(c) == name {
			return c
		}
	}
	t.faultAt(key, index, InputError{
		Value: quote(name), Msg: "is not a chemistry", Allowed: quotedList(chemistryNames()),
		Hint: t.doc.didYouMean(name, chemistryNames),
	})
	return ""
}

// quotedList writes words as TOML texts, with commas.
func quotedList(words []string) string {
	return `"` + strings.Join(words, `", "`) + `"`
}

// override replaces a value by the file's, if it has a good one.
func override[T ~float64](value *T, t *table, key string, w want) bool {
	v, ok := t.number(key, w)
	if ok {
		*value = T(v)
	}
	return ok
}

// MostCircuitSigma is the largest sigma of a circuit's capacity or resistance, relative, that a record may state.
const MostCircuitSigma = 0.5

// readCircuit reads a circuit that was fitted to a bench log.
func (r *records) readCircuit(t *table, p *Pack) *model.Circuit {
	c := &model.Circuit{
		Cells:    p.Cells,
		Capacity: scaled(t, "capacity_mah", model.MilliAmpH, deliveredMAh().must()),
		R0:       scaled(t, "r0_mohm", model.MilliOhm, packResistance().must()),
		R1:       scaled(t, "r1_mohm", model.MilliOhm, span(0, 5000, "mohm").from(0.01).must()),
		Tau:      scaled(t, "tau_s", model.Time(1), span(0.1, 3600, "s").must()),
		Shift:    scaled(t, "shift_mv", model.Voltage(1e-3), span(-600, 600, "mV per cell")),
	}
	known := model.NewCircuit(p.Cells, c.Curve, p.Mass)
	c.K, c.HeatCapacity, c.CoolingTime = known.K, known.HeatCapacity, known.CoolingTime
	if k, ok := t.number("charge_dependence", span(model.LeastK, model.MostK, "")); ok {
		c.K = k
	}
	if s, ok := t.number("charge_dependence_sigma", span(0.001, model.MostK, "")); ok {
		p.CircuitSigmaK = s
	}
	if p.Tested != nil {
		c.Temperature = p.Tested.Ambient
	}
	const what = "two or more voltages per cell at even steps of charge, empty first, [3.0, ..., 4.2]"
	// Sigmas are those of the fit; a record by hand may leave them out.
	p.CircuitSigmaQ = scaled(t, "capacity_sigma_mah", model.MilliAmpH, sigmaOf(c.Capacity.MilliAmpHours(), "mAh"))
	p.CircuitSigmaR = scaled(t, "r_sigma_mohm", model.MilliOhm, sigmaOf((c.R0+c.R1).MilliOhms(), "mohm"))
	if t.has("curve_v") && t.has("shift_mv") {
		t.fault("curve_v", InputError{Msg: "contradicts shift_mv beside it", Hint: "keep curve_v, which is the pack's own curve, or shift_mv, which moves the usual one"})
	}
	if !t.has("curve_v") {
		t.lookUp("curve_v")
		c.Curve = r.curve(p.Chemistry)
		return c
	}
	values := t.numbers("curve_v", span(1.5, 4.6, "V per cell"), what)
	if values == nil {
		return c
	}
	volts := make([]model.Voltage, len(values))
	for i, v := range values {
		volts[i] = model.Voltage(v)
	}
	curve, err := model.EvenCurve(volts)
	if err != nil {
		t.fault("curve_v", InputError{Msg: err.Error(), Allowed: what})
		return c
	}
	c.Curve = curve
	return c
}

// leastCircuitSigma is far below what any fit knows of a value: less of it is a slip.
const leastCircuitSigma = 1e-9

// sigmaOf is what one sigma of a value may be: half of it, beyond which nothing is known. Where
// the value was refused any sigma will do.
func sigmaOf(value float64, unit string) want {
	if value <= 0 {
		return span(math.SmallestNonzeroFloat64, math.MaxFloat64, unit)
	}
	return span(RoundForRecord(leastCircuitSigma*value), RoundForRecord(MostCircuitSigma*value), unit)
}

// curve is the open-circuit curve of a chemistry; empty for one that was refused.
func (r *records) curve(chemistry model.Chemistry) model.Curve {
	if curve, ok := r.curves[chemistry]; ok {
		return curve
	}
	curve, err := model.CurveOf(chemistry)
	if err != nil {
		return model.Curve{}
	}
	r.curves[chemistry] = curve
	return curve
}
