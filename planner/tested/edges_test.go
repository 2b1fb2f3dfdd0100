package tested_test

import (
	"bytes"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"allup/catalog"
	"allup/model"
	"allup/planner/tested"
)

// TestFieldOfOneOtherProtocol: packs of two sizes, tested alike but not by the usual protocol, are compared by
// their own tests: alike is meant of loads for their size.
func TestFieldOfOneOtherProtocol(t *testing.T) {
	curve, err := model.CurveOf(model.LiPo)
	if err != nil {
		t.Fatal(err)
	}
	var records bytes.Buffer
	metrics := map[string]model.TestedMetrics{}
	for id, mah := range map[string]float64{"small": 450, "large": 850} {
		rated := model.Charge(mah) * model.MilliAmpH
		ampHours := mah / 1000
		p := model.UsualProtocol(rated, 4)
		p.DischargePower, p.DischargeEndPerCell = model.Power(10*3.7*4*ampHours), 3.2 // 10 C instead of 15
		p.ConditioningCurrent, p.ConditioningTime, p.Ramp = model.Current(10*ampHours), 30, 3*ampHours
		c := model.Circuit{
			Cells: 4, Curve: curve, Capacity: rated, Tau: 20,
			R0: model.Resistance(25.0/ampHours) * model.MilliOhm, R1: model.Resistance(13.0/ampHours) * model.MilliOhm,
		}
		m := c.Tests(p)
		metrics[id] = m
		records.Write(catalog.FormatPack(&catalog.Pack{
			Common:    catalog.Common{ID: id, Name: id, Mass: model.Mass(mah/8.5) * model.Gram},
			Chemistry: model.LiPo, Cells: 4, Rated: rated, Tested: &m,
		}, nil))
	}
	g := fieldOf(t, records.String(), tested.FieldOptions{}).Groups[0]
	if len(g.Converted) > 0 {
		t.Errorf("converted: %v", g.Converted)
	}
	for _, p := range g.Packs {
		want := float64(metrics[p.ID].MidVoltage) / 4
		if got := p.Standings[tested.MidPerCell].Value; math.Abs(got/want-1) > 1e-4 || p.ByCircuit {
			t.Errorf("%s has a mid voltage of %v per cell, want its own test's %v", p.ID, got, want)
		}
	}
}

// benchOf is a bench of one pack of the demo logs.
func benchOf(t *testing.T, id, fields string) (*catalog.Bench, string) {
	t.Helper()
	file := filepath.Join("..", "..", "testdata", "bench", "one.toml") // where the logs are found from; no such file
	text := "date = 2026-05-31\n[pack." + id + "]\nchemistry = \"lipo\"\ncells = 4\nmass_g = 65\n" + fields +
		"discharge = \"logs/" + id + "-discharge.csv\"\nburst = \"logs/" + id + "-burst.csv\"\n"
	b, _, err := catalog.ReadBench(file, strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return b, file
}

// TestFieldsFromTheCatalogue: what a bench file leaves out is taken from the record of the same label, and each
// field is named; of another label it is not.
func TestFieldsFromTheCatalogue(t *testing.T) {
	const label = "[pack.oxbow-550]\nchemistry = \"lipo\"\ncells = 4\nmass_g = 65\n"
	for _, c := range []struct {
		known, bench, want string
	}{
		{label + "rated_mah = 550\nplug = \"xt30\"\n", "rated_mah = 550\n", "takes plug from the catalogue's record of that id"},
		{
			label + "rated_mah = 550\nname = \"Oxbow\"\nplug = \"xt30\"\nsize_mm = [60, 30, 20]\nmax_current_a = 40\nprice = 12\ncurrency = \"EUR\"\nurl = \"https://example.org\"\n",
			"rated_mah = 550\n", "takes name, size_mm, plug, max_current_a, price and url from the catalogue's record of that id",
		},
		{label + "rated_mah = 550\nplug = \"xt30\"\n", "rated_mah = 550\nplug = \"xt60\"\n", ""},
		{label + "rated_mah = 560\nplug = \"xt30\"\n", "rated_mah = 550\n", ""},
	} {
		b, file := benchOf(t, "oxbow-550", c.bench)
		packs, err := tested.ReduceBench(b, catalog.BenchFS(file), parts(t, c.known), nil)
		if err != nil {
			t.Fatal(err)
		}
		got := ""
		for _, r := range packs[0].Remarks {
			if r.Code == tested.FromCatalogue {
				got = r.Text
			}
		}
		if got != c.want {
			t.Errorf("with %q beside %q: %q, want %q", c.bench, c.known, got, c.want)
		}
	}
}

// TestOwnCurveIsSaidWhereItIs: a fit says that a pack has a curve of its own where it is off the usual one by more than
// 10 mV per cell, and not else.
func TestOwnCurveIsSaidWhereItIs(t *testing.T) {
	b, file := demoBench(t)
	packs, err := tested.ReduceBench(b, catalog.BenchFS(file), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	fitted := 0
	for i := range packs {
		p := &packs[i]
		if p.Fit == nil || p.Fit.Fallback != "" {
			continue
		}
		fitted++
		said := false
		for _, r := range p.Remarks {
			said = said || r.Code == tested.OwnCurve
		}
		if own := p.Fit.CurveOff > 0.010; said != own {
			t.Errorf("%s: a curve %v V off the usual one is told: %v", p.Bench.ID, p.Fit.CurveOff, said)
		}
	}
	if fitted < 4 {
		t.Errorf("only %d packs of the demo bench have a fitted circuit", fitted)
	}
}
