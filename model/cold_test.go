package model_test

import (
	"math"
	"testing"

	"allup/model"
)

// Below 5 C the law of Arrhenius through the two coldest points of ResistanceAt's source, 1.55 at 5 C and 1.15 at 15 C:
// ln R = E/T + constant. Above, and without a rise, nothing changes.
func TestColdRise(t *testing.T) {
	c := steadyCircuit(curveOf(t, model.LiPo), 4, 650, 0.01)
	at := func(rise, celsius float64) float64 {
		c.Cold.Rise = rise
		r0, _ := c.Resistances(0.5, model.Celsius(celsius))
		return float64(r0)
	}
	for _, rise := range []float64{0, -1} {
		near(t, "resistance at -20 C without a rise", at(rise, -20), at(0, 5), 1e-12)
	}
	for _, celsius := range []float64{5, 12, 40} {
		near(t, "resistance where it was measured", at(2, celsius), at(0, celsius), 1e-12)
	}
	e := math.Log(1.55/1.15) / (1/278.15 - 1/288.15)
	for _, celsius := range []float64{4, 0, -10, -20} {
		law := math.Exp(e * (1/(celsius+273.15) - 1/278.15))
		near(t, "rise below it", at(1, celsius)/at(0, 5), law, 1e-3)
		near(t, "twice the rise below it", at(2, celsius)/at(0, 5), law*law, 2e-3)
	}
	// What its own test measured at is known.
	c.Cold.From = model.Celsius(-3)
	near(t, "resistance where its own test was", at(1, -3), at(0, 5), 1e-12)
	if at(1, -10) <= at(0, 5) {
		t.Error("no rise below the pack's own test")
	}
}

// A flight feels the rise, held or in a cycle, with heat or without: what it costs is what the same resistance costs
// that a circuit has from the beginning.
func TestColdRiseFlies(t *testing.T) {
	plain := steadyCircuit(curveOf(t, model.LiPo), 4, 650, 0.03)
	plain = plain.At(model.Celsius(-10), model.Celsius(-10))
	cold, more := plain, plain
	cold.Cold.Rise = 1
	r0, r1 := cold.Resistances(0.5, model.Celsius(-10))
	more.R0, more.R1 = r0, r1
	load, stop := model.ConstantPower(60), model.Stop{PerCell: 3.5}
	near(t, "duration", float64(cold.Discharge(load, stop).Duration), float64(more.Discharge(load, stop).Duration), 1e-9)
	if cold.Discharge(load, stop).Duration >= plain.Discharge(load, stop).Duration {
		t.Error("the cold costs no time")
	}
	near(t, "steady resistance", float64(cold.Steady(0.8)), float64(more.Steady(0.8)), 1e-12)

	warm := warmCircuit(steadyCircuit(curveOf(t, model.LiPo), 4, 650, 0.03), 0.5)
	warm = warm.At(model.Celsius(8), model.Celsius(-25)) // it cools below 5 C on the way
	load = model.ConstantPower(25)                       // what warms itself less than the air cools it
	flown := warm.Discharge(load, stop)
	warm.Cold.Rise = 1
	if colder := warm.Discharge(load, stop); flown.EndTemperature >= model.ColdestMeasured || colder.Duration >= flown.Duration {
		t.Errorf("cools to %.1f C and flies %.1f s, with a rise %.1f s", flown.EndTemperature.Celsius(), float64(flown.Duration), float64(colder.Duration))
	}
}
