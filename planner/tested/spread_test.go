package tested_test

import (
	"math"
	"testing"

	"allup/catalog"
	"allup/model"
	"allup/planner/tested"
)

// reduced is a pack of a bench of which only its power density counts: 10 g with a burst of some watts.
func reduced(id string, watts float64) tested.ReducedPack {
	record := &catalog.Pack{Common: catalog.Common{ID: id, Mass: 10 * model.Gram}, Cells: 1, Rated: model.AmpHour}
	return tested.ReducedPack{Bench: &catalog.BenchPack{Pack: *record}, Record: record, Metrics: model.TestedMetrics{BurstPower: model.Power(watts)}}
}

func TestPowerSpread(t *testing.T) {
	refused := reduced("refused", 1000)
	refused.Record = nil
	for _, c := range []struct {
		packs       []tested.ReducedPack
		least, most tested.PowerOf
		ok          bool
	}{
		{nil, tested.PowerOf{}, tested.PowerOf{}, false},
		{[]tested.ReducedPack{reduced("a", 50)}, tested.PowerOf{}, tested.PowerOf{}, false},
		{[]tested.ReducedPack{reduced("a", 50), refused, reduced("unknown", 0)}, tested.PowerOf{}, tested.PowerOf{}, false},
		{[]tested.ReducedPack{reduced("a", 50), reduced("b", 40)}, tested.PowerOf{ID: "b", WPerGram: 4}, tested.PowerOf{ID: "a", WPerGram: 5}, true},
		{[]tested.ReducedPack{reduced("a", 50), reduced("b", 80), reduced("c", 40)}, tested.PowerOf{ID: "c", WPerGram: 4}, tested.PowerOf{ID: "b", WPerGram: 8}, true},
	} {
		least, most, ok := tested.PowerSpread(c.packs)
		if ok != c.ok || least.ID != c.least.ID || most.ID != c.most.ID || math.Abs(least.WPerGram-c.least.WPerGram) > 1e-9 || math.Abs(most.WPerGram-c.most.WPerGram) > 1e-9 {
			t.Errorf("PowerSpread = %v, %v, %v, want %v, %v, %v", least, most, ok, c.least, c.most, c.ok)
		}
	}
	if least, most, ok := tested.PowerSpread([]tested.ReducedPack{reduced("a", 50), reduced("b", 50)}); ok {
		t.Errorf("two equal packs differ: %v, %v", least, most)
	}
}
