package catalog

import (
	"math"

	"allup/model"
)

// What numbers of records may be. Outside the range a number is impossible for an
// aircraft of this class; outside the usual range it is more likely a slip of unit.
// The ranges are the program's own judgement, from parts of 20 g to 2 kg aircraft.

// massOf is the mass of one part of a kind, g.
func massOf(kind Kind) want {
	w := span(0.01, 5000, "g")
	switch kind {
	case KindFrame:
		return w.usually(2, 500)
	case KindMotor:
		return w.usually(0.8, 80)
	case KindProp:
		return w.usually(0.1, 20)
	case KindBoard:
		return w.usually(0.8, 80)
	case KindGear:
		return w.usually(0.02, 150)
	}
	return w // a pack's mass is judged by its energy
}

func mountSize() want      { return span(1, 60, "mm") }
func shaftSize() want      { return span(0.3, 10, "mm") }
func propDiameter() want   { return span(0.8, 16, "in").usually(1, 11) }
func cellsOf() want        { return span(1, 6, "cells") }
func cellsAllowed() want   { return span(1, 14, "cells") }
func speed() want          { return span(100, 250000, "rpm") }
func ratedCharge() want    { return span(20, 20000, "mAh").usually(60, 6000) }
func burstVoltage() want   { return span(2, 4.1, "V per cell").usually(2.8, 3.7) }
func endVoltage() want     { return span(2, 4.1, "V per cell").usually(2.5, 3.6) }
func priceRange() want     { return span(0, 100000, "").from(0.01) }
func tolerance() want      { return span(0, 100, "g").from(0.001) }
func coefficient() want    { return span(0.001, 1, "") }
func packCurrent() want    { return span(0.05, 1000, "A").usually(0.5, 300) }
func steadyPower() want    { return span(0, 200, "W").from(0.001) }
func deliveredMAh() want   { return span(10, 25000, "mAh") }
func packResistance() want { return span(0.1, 5000, "mohm").usually(1, 2000) }
func throttle() want       { return fraction(0, 1, "full throttle") }
func standVoltage() want   { return span(1, 60, "V") }
func standCurrent() want   { return span(0, 200, "A") }
func standThrust() want    { return span(0, 10000, "g") }

// minFigureOfMerit is less than any propeller has that was measured (0.3 to 0.7 is usual), and far above the
// uncertainty of a measured one.
const minFigureOfMerit = 0.1

// checkMerit refuses coefficients that promise more thrust than the power can lift, and those of a
// propeller that lifts next to nothing for its power.
func checkMerit(t *table, key string, ct, cp float64) {
	fm, than := model.FigureOfMerit(ct, cp), "more"
	if fm < minFigureOfMerit {
		than = "less"
	}
	if fm > model.MaxFigureOfMerit || fm < minFigureOfMerit {
		t.fault(key, InputError{
			Msg:     "ct " + showNumber(ct) + " with cp " + showNumber(cp) + " is a figure of merit of " + showRounded(fm) + ", " + than + " than a propeller can have",
			Allowed: showNumber(minFigureOfMerit) + " to " + showNumber(model.MaxFigureOfMerit),
			Hint:    "ct and cp are those of T = ct rho n^2 D^4 and P = cp rho n^3 D^5, n in revolutions per second",
		})
	}
}

// checkStatic refuses a static table whose rows are out of order or whose thrust
// falls as the propeller turns faster.
func checkStatic(rows []*table, points []model.StaticPoint) {
	for i := range points {
		p := points[i]
		if p.Speed == 0 || p.CT == 0 || p.CP == 0 {
			continue // reported already
		}
		checkMerit(rows[i], "", p.CT, p.CP)
		if i == 0 || points[i-1].Speed == 0 {
			continue
		}
		before := points[i-1]
		rpm := showRounded(p.Speed.RPM())
		switch {
		case p.Speed == before.Speed:
			rows[i].fault("rpm", InputError{Value: rpm, Msg: "is in the row before, too", Allowed: "each speed once"})
		case p.Speed < before.Speed:
			rows[i].fault("rpm", InputError{Value: rpm, Msg: "is less than in the row before, " + showRounded(before.Speed.RPM()), Allowed: "rows in order of rising rpm"})
		case before.CT > 0 && p.CT*float64(p.Speed*p.Speed) <= before.CT*float64(before.Speed*before.Speed):
			rows[i].fault("ct", InputError{Value: showNumber(p.CT), Msg: "makes the thrust fall from the row before: ct times rpm squared must rise"})
		case p.CP*float64(p.Speed*p.Speed) <= before.CP*float64(before.Speed*before.Speed):
			rows[i].fault("cp", InputError{Value: showNumber(p.CP), Msg: "makes the torque fall from the row before: cp times rpm squared must rise"})
		default:
			// What stands between the rows is for the physics to judge.
			if _, err := model.NewPropeller(model.Inch, model.Inch, 2, model.FromStaticTable, points[i-1:i+1]); err != nil {
				rows[i].fault("", InputError{Msg: err.Error(), Allowed: "a row in between"})
			}
		}
	}
}

// Label energy per gram of packs with leads and plug: small high-current packs have
// 0.08 to 0.16 Wh/g, packs of round lithium-ion cells up to 0.26 Wh/g.
const (
	minLabelEnergy = 0.05
	maxLabelEnergy = 0.30
	maxCellEnergy  = 0.60 // no rechargeable cell has more
	labelVoltage   = 3.7  // V per cell, as labels have it
)

// checkPackMass warns of a pack whose label energy does not go with its mass, and
// guesses which of the two is off by a power of ten.
func checkPackMass(t *table, p *Pack) {
	if p.Mass <= 0 || p.Rated <= 0 || p.Cells == 0 {
		return
	}
	grams, mah := p.Mass.Grams(), p.Rated.MilliAmpHours()
	perGram := mah / 1000 * labelVoltage * float64(p.Cells) / grams
	if perGram >= minLabelEnergy && perGram <= maxLabelEnergy {
		return
	}
	fits := func(v float64) bool { return v >= minLabelEnergy && v <= maxLabelEnergy }
	cells := "cells"
	if p.Cells == 1 {
		cells = "cell"
	}
	guess := ""
	for _, f := range []float64{10, 100, 0.1, 0.01} {
		if fits(perGram*f) && t.has("mass_g") {
			guess = ": did you mean " + showFixed(grams/f) + " g?"
			break
		}
	}
	text := showNumber(grams) + " g for " + showNumber(mah) + " mAh and " + showNumber(float64(p.Cells)) + " " + cells + " is " + showRounded(perGram) + " Wh/g"
	usual := showNumber(minLabelEnergy) + " to " + showNumber(maxLabelEnergy)
	if perGram > maxCellEnergy && t.has("mass_g") {
		t.fault("mass_g", InputError{Msg: text + guess, Allowed: "up to " + showNumber(maxCellEnergy) + " Wh/g; " + usual + " is usual"})
		return
	}
	t.odd("odd-energy", "mass_g", 0, text+" ("+usual+" is usual)"+guess)
}

// checkTested refuses tested figures that contradict each other, and warns of those
// that only disagree.
func checkTested(t *table, m *model.TestedMetrics, p *Pack) {
	cells := float64(p.Cells)
	if cells == 0 {
		return
	}
	if m.Energy > 0 && m.Capacity > 0 {
		mean := float64(m.Energy) / float64(m.Capacity) / cells
		if mean < 2.5 || mean > 4.4 {
			t.fault("energy_wh", InputError{
				Value: showRounded(m.Energy.WattHours()),
				Msg: "over capacity_mah " + showRounded(m.Capacity.MilliAmpHours()) + " is a mean of " + showRounded(mean) +
					" V per cell",
				Allowed: "2.5 to 4.4 V per cell", Hint: "one of the two, or the pack's cells, is wrong",
			})
		}
	}
	if m.MidVoltage > 0 {
		mid := float64(m.MidVoltage) / cells
		if mid < 2.5 || mid > 4.35 {
			hint := ""
			if v := float64(m.MidVoltage); v >= 2.5 && v <= 4.35 {
				hint = "it is the voltage of the whole pack: did you mean " + showRounded(v*cells) + " V?"
			}
			t.fault("mid_voltage_v", InputError{
				Value: showNumber(float64(m.MidVoltage)), Msg: "is " + showRounded(mid) + " V per cell",
				Allowed: showNumber(2.5*cells) + " to " + showRounded(4.35*cells) + " V for " + showNumber(cells) + " cells", Hint: hint,
			})
		}
	}
	if m.BurstPower > 0 && m.BurstCurrent > 0 {
		product := float64(m.BurstCurrent) * float64(m.Protocol.BurstEndPerCell) * cells
		switch off := math.Abs(float64(m.BurstPower) - product); {
		case off > 0.5*product:
			t.fault("burst_power_w", InputError{
				Value: showNumber(float64(m.BurstPower)), Msg: "contradicts burst_current_a " + showNumber(float64(m.BurstCurrent)) + ", which is " +
					showRounded(product) + " W at " + showRounded(float64(m.Protocol.BurstEndPerCell)*cells) + " V",
				Allowed: "power and current of the same moment, at the burst's end voltage",
			})
		case off > 0.1*product:
			t.odd("burst-disagrees", "burst_power_w", 0, showNumber(float64(m.BurstPower))+" W is not burst_current_a "+
				showNumber(float64(m.BurstCurrent))+" A at "+showRounded(float64(m.Protocol.BurstEndPerCell)*cells)+" V, which is "+showRounded(product)+" W")
		}
	}
	if end := float64(m.Protocol.DischargeEndPerCell) * cells; m.MidVoltage >= model.Voltage(2.5*cells) && end >= float64(m.MidVoltage) {
		t.fault("mid_voltage_v", InputError{
			Value: showNumber(float64(m.MidVoltage)), Msg: "is not above the voltage at which the discharge ends, " + showRounded(end) + " V",
			Allowed: "a mid voltage above discharge_end_v_per_cell times the cells",
		})
	}
	if m.Capacity > 0 && p.Rated > 0 {
		if share := float64(m.Capacity / p.Rated); share < 0.4 || share > 1.3 {
			t.odd("odd-capacity", "capacity_mah", 0, showRounded(m.Capacity.MilliAmpHours())+" mAh is "+showRounded(100*share)+
				" % of the rated "+showRounded(p.Rated.MilliAmpHours())+" mAh (40 to 130 % is usual)")
		}
	}
	if m.Protocol.BurstEndPerCell > 0 && m.MidVoltage > 0 && float64(m.Protocol.BurstEndPerCell)*cells >= float64(m.MidVoltage)*1.2 {
		t.odd("odd-burst-end", "burst_end_v_per_cell", 0, "the burst ends at a voltage above the mid voltage of the discharge")
	}
}

// showFixed writes a mass with one decimal, as a scale does.
func showFixed(v float64) string {
	if v == math.Trunc(v) {
		return showNumber(v) + ".0"
	}
	return showRounded(v)
}
