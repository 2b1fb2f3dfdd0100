package bench_test

import (
	"testing"

	"allup/model"
	"allup/model/bench"
)

// benchPack is a circuit with what a bench file would say of it.
type benchPack struct {
	name    string
	circuit model.Circuit
	pack    bench.TestedPack
}

// benchPacks are a good and a poor pack, a lihv one and a small one, invented.
func benchPacks(t testing.TB) []benchPack {
	t.Helper()
	curve := func(c model.Chemistry) model.Curve {
		u, err := model.CurveOf(c)
		if err != nil {
			t.Fatal(err)
		}
		return u
	}
	lipo, lihv := curve(model.LiPo), curve(model.LiHV)
	const mAh, mOhm = model.MilliAmpH, model.MilliOhm
	return []benchPack{
		{"good", model.Circuit{Cells: 4, Curve: lipo, Capacity: 650 * mAh, R0: 30 * mOhm, R1: 16 * mOhm, Tau: 20, Shift: 0.004}, bench.TestedPack{Cells: 4, Chemistry: model.LiPo, Rated: 650 * mAh}},
		{"poor", model.Circuit{Cells: 4, Curve: lipo, Capacity: 452 * mAh, R0: 80 * mOhm, R1: 45 * mOhm, Tau: 27, Shift: -0.012}, bench.TestedPack{Cells: 4, Chemistry: model.LiPo, Rated: 550 * mAh}},
		{"lihv", model.Circuit{Cells: 4, Curve: lihv, Capacity: 660 * mAh, R0: 34 * mOhm, R1: 18 * mOhm, Tau: 13, Shift: 0.005}, bench.TestedPack{Cells: 4, Chemistry: model.LiHV, Rated: 660 * mAh}},
		{"small", model.Circuit{Cells: 1, Curve: lipo, Capacity: 290 * mAh, R0: 19 * mOhm, R1: 11 * mOhm, Tau: 16}, bench.TestedPack{Cells: 1, Chemistry: model.LiPo, Rated: 300 * mAh}},
	}
}
