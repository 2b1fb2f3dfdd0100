package tested_test

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"allup/catalog"
	"allup/model"
	"allup/model/bench"
	"allup/planner"
	"allup/planner/tested"
)

// fieldOf compares records that stand in a text.
func fieldOf(t *testing.T, records string, options tested.FieldOptions) *tested.Field {
	t.Helper()
	cat, _, err := catalog.Load(catalog.Layer{Name: "parts", Files: []catalog.File{
		{Name: "parts.toml", FS: fstest.MapFS{"parts.toml": {Data: []byte(records)}}, Path: "parts.toml"},
	}})
	if err != nil {
		t.Fatal(err)
	}
	return tested.CompareField(packSet(t, cat), options)
}

// threePacks differ in everything that a field compares; figures by hand below.
const threePacks = `
[pack.a]
chemistry = "lipo"
cells = 4
rated_mah = 600
mass_g = 70
price = 20
currency = "EUR"
[pack.a.tested]
capacity_mah = 588
energy_wh = 8.75
mid_voltage_v = 14.68
burst_power_w = 560
[pack.b]
chemistry = "lipo"
cells = 4
rated_mah = 600
mass_g = 70
price = 10
currency = "EUR"
[pack.b.tested]
capacity_mah = 570
energy_wh = 8.4
mid_voltage_v = 14.52
burst_power_w = 455
[pack.c]
chemistry = "lipo"
cells = 4
rated_mah = 600
mass_g = 70
price = 9
currency = "USD"
[pack.c.tested]
capacity_mah = 480
energy_wh = 6.9
mid_voltage_v = 14.2
burst_power_w = 315
[pack.label]
chemistry = "lipo"
cells = 4
rated_mah = 600
mass_g = 70
`

func TestCompareField(t *testing.T) {
	f := fieldOf(t, threePacks, tested.FieldOptions{})
	if len(f.Groups) != 1 || len(f.Groups[0].Packs) != 3 || !slices.Equal(f.Untested, []string{"label"}) {
		t.Fatalf("%d groups, untested %v", len(f.Groups), f.Untested)
	}
	g := f.Groups[0]
	// By hand: power over 70 g is 8, 6.5 and 4.5 W/g, median 6.5; delivered 0.98, 0.95, 0.80;
	// burst current 560/13.2 A over 0.6 Ah is 70.7 C; price per Wh 20/8.75 and 10/8.4, c's is in another currency.
	for _, c := range []struct {
		pack    int
		measure tested.Measure
		want    tested.Standing
	}{
		{0, tested.WPerGram, tested.Standing{Value: 8, Rank: 1, Ratio: 8 / 6.5}},
		{2, tested.WPerGram, tested.Standing{Value: 4.5, Rank: 3, Ratio: 4.5 / 6.5}},
		{1, tested.Delivered, tested.Standing{Value: 0.95, Rank: 2, Ratio: 1}},
		{0, tested.TestedC, tested.Standing{Value: 70.70707, Rank: 1, Ratio: 560. / 455}},
		{0, tested.MidPerCell, tested.Standing{Value: 3.67, Rank: 1, Ratio: 14.68 / 14.52}},
		{0, tested.PricePerWh, tested.Standing{Value: 2.285714, Rank: 2, Ratio: 2.285714 / 1.738095}},
		{1, tested.PricePerWh, tested.Standing{Value: 1.190476, Rank: 1, Ratio: 1.190476 / 1.738095}},
		{1, tested.WhPerGram, tested.Standing{Value: 0.12, Rank: 2, Ratio: 1}},
	} {
		got := g.Packs[c.pack].Standings[c.measure]
		if got.Rank != c.want.Rank || math.Abs(got.Value/c.want.Value-1) > 1e-6 || math.Abs(got.Ratio/c.want.Ratio-1) > 1e-6 {
			t.Errorf("%s of %s = %+v, want %+v", c.measure, g.Packs[c.pack].ID, got, c.want)
		}
	}
	if _, ok := g.Packs[2].Standings[tested.PricePerWh]; ok {
		t.Error("a price in another currency is compared")
	}
	var codes []planner.Code
	for _, r := range f.Remarks {
		codes = append(codes, r.Code)
	}
	for _, want := range []planner.Code{tested.FarAhead, tested.OverLabelled} {
		if !slices.Contains(codes, want) {
			t.Errorf("remarks %v, want %s among them", f.Remarks, want)
		}
	}
	// Ranks by resistance go with those by power and voltage.
	for i, p := range g.Packs {
		if p.Standings[tested.R0TimesQ].Rank != i+1 {
			t.Errorf("%s is number %d by resistance, want %d", p.ID, p.Standings[tested.R0TimesQ].Rank, i+1)
		}
	}
}

func TestFieldSortAndGroups(t *testing.T) {
	f := fieldOf(t, threePacks+strings.NewReplacer("pack.a", "pack.d", "cells = 4", "cells = 3", "8.75", "6.6", "14.68", "11.0", "560", "420").Replace(threePacks[:strings.Index(threePacks, "[pack.b]")]),
		tested.FieldOptions{Sort: tested.PricePerWh})
	if len(f.Groups) != 2 || f.Groups[0].Cells != 4 || f.Groups[1].Cells != 3 {
		t.Fatalf("groups %+v", f.Groups)
	}
	var ids []string
	for _, p := range f.Groups[0].Packs {
		ids = append(ids, p.ID)
	}
	if !slices.Equal(ids, []string{"b", "a", "c"}) {
		t.Errorf("by price per Wh: %v, want b, a and then c, whose price does not compare", ids)
	}
	if all := fieldOf(t, threePacks, tested.FieldOptions{AnyCells: true, AnyChemistry: true}); len(all.Groups) != 1 || all.Groups[0].Name() != "all packs" {
		t.Errorf("one group of all: %+v", all.Groups)
	}
}

// TestFieldOfTwoProtocols: the same circuit tested in two ways must stand the same once the one with the rarer
// test goes through its circuit. The others keep what was measured, to the last digit.
func TestFieldOfTwoProtocols(t *testing.T) {
	curve, err := model.CurveOf(model.LiPo)
	if err != nil {
		t.Fatal(err)
	}
	const mOhm = model.MilliOhm
	c := model.Circuit{Cells: 4, Curve: curve, Capacity: 640 * model.MilliAmpH, R0: 39 * mOhm, R1: 21 * mOhm, Tau: 20}
	usual := model.UsualProtocol(650*model.MilliAmpH, 4)
	gentle := usual
	gentle.DischargePower, gentle.DischargeCurrent, gentle.DischargeEndPerCell = 0, 6.5, 3.2
	gentle.ConditioningCurrent, gentle.ConditioningTime = 6.5, 60
	var records bytes.Buffer
	for id, p := range map[string]model.Protocol{"usual": usual, "gentle": gentle} {
		m := c.Tests(p)
		records.Write(catalog.FormatPack(&catalog.Pack{
			Common:    catalog.Common{ID: id, Name: id, Mass: 74 * model.Gram},
			Chemistry: model.LiPo, Cells: 4, Rated: 650 * model.MilliAmpH, Tested: &m,
		}, nil))
	}
	f := fieldOf(t, records.String(), tested.FieldOptions{})
	g := f.Groups[0]
	if !slices.Equal(g.Converted, []string{"gentle"}) {
		t.Fatalf("converted %v", g.Converted)
	}
	want := c.Tests(usual)
	for _, p := range g.Packs {
		if p.ByCircuit != (p.ID == "gentle") {
			t.Errorf("%s: converted %v", p.ID, p.ByCircuit)
		}
		if got := p.Standings[tested.WPerGram].Value; p.ID == "usual" && math.Abs(got/(float64(want.BurstPower)/74)-1) > 1e-6 {
			t.Errorf("usual: %.9g W/g, measured %.9g", got, float64(want.BurstPower)/74)
		}
		for m, v := range map[tested.Measure]float64{
			tested.WPerGram: float64(want.BurstPower) / 74, tested.Delivered: float64(want.Capacity / (650 * model.MilliAmpH)),
			tested.MidPerCell: float64(want.MidVoltage) / 4,
		} {
			if got := p.Standings[m].Value; math.Abs(got/v-1) > 0.01 {
				t.Errorf("%s: %s = %.4g, want %.4g as in the usual test", p.ID, m, got, v)
			}
		}
	}
}

// TestFieldKeepsTheCommonerTest: two packs by a gentle test and one by the usual: the one is converted.
func TestFieldKeepsTheCommonerTest(t *testing.T) {
	const gentle = "discharge_current_a = 6\ndischarge_end_v_per_cell = 3.3\n"
	records := strings.NewReplacer("[pack.a.tested]\n", "[pack.a.tested]\n"+gentle, "[pack.c.tested]\n", "[pack.c.tested]\n"+gentle).Replace(threePacks)
	g := fieldOf(t, records, tested.FieldOptions{}).Groups[0]
	if !slices.Equal(g.Converted, []string{"b"}) {
		t.Errorf("converted %v, want b, whose test is the rarer", g.Converted)
	}
	if text := g.LoadWords(); text != "10 C of steady current down to 3.3 V per cell" {
		t.Errorf("the load is %q", text)
	}
}

// TestLabels: what is said of a label names load, end, date and cycles, and is not said of a worn pack; a rated
// C stands beside the tested one.
func TestLabels(t *testing.T) {
	said := func(more string) string {
		f := fieldOf(t, strings.Replace(threePacks, "[pack.c.tested]\n", "label_c = 120\n[pack.c.tested]\n"+more, 1), tested.FieldOptions{})
		for _, p := range f.Groups[0].Packs {
			if p.ID != "c" {
				continue
			}
			// 315 W at 13.2 V over 0.6 Ah is 39.8 C.
			if s := p.Standings[tested.OfLabelC]; math.Abs(s.Value-315/13.2/0.6/120) > 1e-9 || s.Rank != 1 {
				t.Errorf("tested over label C: %+v", s)
			}
			for _, r := range p.Noteworthy {
				if r.Code == tested.OverLabelled {
					return r.Text
				}
			}
		}
		return ""
	}
	for more, want := range map[string]string{
		"":                                "480 of the 600 mAh on its label, 80 %, at 15 C x 3.7 V per cell down to 3.1 V per cell, tested on a day that its record does not state, cycles not stated",
		"date = 2026-03-01\ncycles = 4\n": "480 of the 600 mAh on its label, 80 %, at 15 C x 3.7 V per cell down to 3.1 V per cell, tested 2026-03-01 after 4 cycles",
		"cycles = 80\n":                   "",
	} {
		if got := said(more); !strings.HasSuffix(got, want) || want == "" && got != "" {
			t.Errorf("%q: said %q, want %q", more, got, want)
		}
	}
}

func demoBench(t testing.TB) (*catalog.Bench, string) {
	t.Helper()
	file := filepath.Join("..", "..", "testdata", "bench", "bench.toml")
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	b, _, err := catalog.ReadBench(file, f)
	if err != nil {
		t.Fatal(err)
	}
	return b, file
}

// TestDemoField: from the demo logs to records to a field, in which the best and the worst pack
// are nearly a factor of two apart, and the poor one stays poor (trade figures: 4 to 5.5 W/g,
// 14.2 to 14.4 V are poor, 8 to 9 W/g the best).
func TestDemoField(t *testing.T) {
	b, file := demoBench(t)
	packs, err := tested.ReduceBench(b, catalog.BenchFS(file), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	var records bytes.Buffer
	refused := 0
	for i := range packs {
		if p := &packs[i]; p.Record != nil {
			records.Write(catalog.FormatPack(p.Record, p.Comments()))
			if p.Fit == nil || p.Fit.Fallback != "" {
				t.Errorf("%s: no fit to its logs", p.Bench.ID)
			}
			if share := p.Burst.ConditioningShare; math.Abs(share-0.20) > 0.002 {
				t.Errorf("%s: conditioning removed %.4f of the rated charge, want 0.20: 15 x 48/3600", p.Bench.ID, share)
			}
		} else {
			refused++
			if p.Bench.ID != "oxbow-650" || len(p.Failed) != 1 || p.Failed[0].Code != planner.Code(bench.LogNoEnd) {
				t.Errorf("%s refused: %v", p.Bench.ID, p.Failed)
			}
		}
	}
	if refused != 1 {
		t.Errorf("%d packs refused, want 1", refused)
	}
	f := fieldOf(t, records.String(), tested.FieldOptions{AnyChemistry: true})
	if len(f.Groups) != 1 || len(f.Groups[0].Converted) > 0 {
		t.Fatalf("groups %+v", f.Groups)
	}
	ranked := f.Groups[0].Packs
	best, worst := ranked[0], ranked[len(ranked)-1]
	ratio := best.Standings[tested.WPerGram].Value / worst.Standings[tested.WPerGram].Value
	if best.ID != "sedge-650" || worst.ID != "marl-550" || ratio < 1.7 || ratio > 2.1 {
		t.Errorf("from %s to %s a factor of %.2f, want sedge-650 to marl-550 and nearly two", best.ID, worst.ID, ratio)
	}
	if w, v := worst.Standings[tested.WPerGram].Value, 4*worst.Standings[tested.MidPerCell].Value; w > 5.5 || v > 14.4 {
		t.Errorf("the poor pack has %.2f W/g and %.2f V", w, v)
	}
	for _, p := range ranked {
		for _, r := range p.Noteworthy {
			if r.Code == planner.Doubtful {
				t.Errorf("%s: %s", p.ID, r.Text)
			}
		}
	}
}

// TestRecordsAgreeWithReduction: the numbers in a written record are those that were shown.
func TestRecordsAgreeWithReduction(t *testing.T) {
	b, file := demoBench(t)
	packs, err := tested.ReduceBench(b, catalog.BenchFS(file), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	same := func(a, b float64) bool { return math.Abs(a-b) <= 1e-12*math.Abs(a) }
	for i := range packs {
		p := &packs[i]
		if p.Record == nil {
			continue
		}
		cat, _, err := catalog.Load(catalog.Layer{Name: "parts", Files: []catalog.File{
			{Name: "r.toml", FS: fstest.MapFS{"r.toml": {Data: catalog.FormatPack(p.Record, p.Comments())}}, Path: "r.toml"},
		}})
		if err != nil {
			t.Fatal(err)
		}
		read := cat.Packs[p.Bench.ID]
		m, c := p.Metrics, p.Fit.Circuit
		for _, v := range [][2]float64{
			{float64(m.Capacity), float64(read.Tested.Capacity)},
			{float64(m.Energy), float64(read.Tested.Energy)},
			{float64(m.MidVoltage), float64(read.Tested.MidVoltage)},
			{float64(m.BurstPower), float64(read.Tested.BurstPower)},
			{float64(m.Protocol.DischargePower), float64(read.Tested.Protocol.DischargePower)},
			{m.Protocol.Ramp, read.Tested.Protocol.Ramp},
			{float64(c.Capacity), float64(read.Circuit.Capacity)},
			{float64(c.R0), float64(read.Circuit.R0)},
			{float64(c.R1), float64(read.Circuit.R1)},
			{float64(c.Tau), float64(read.Circuit.Tau)},
			{float64(c.Shift), float64(read.Circuit.Shift)},
		} {
			if !same(v[0], v[1]) {
				t.Errorf("%s: %.17g was shown, %.17g is read", p.Bench.ID, v[0], v[1])
			}
		}
		if read.TestDate != "2026-05-31" || strings.Count(read.TestSource, "sha256") != 2 {
			t.Errorf("%s: date %q, source %q", p.Bench.ID, read.TestDate, read.TestSource)
		}
	}
}

// BenchmarkReduceBench is seven packs, logs of 4 minutes and of 80 s at 10 Hz each, from files.
func BenchmarkReduceBench(b *testing.B) {
	bench, file := demoBench(b)
	for b.Loop() {
		if _, err := tested.ReduceBench(bench, catalog.BenchFS(file), nil, nil); err != nil {
			b.Fatal(err)
		}
	}
}

// TestStandingsShareRanks: equal values share the better rank, in figures where more is
// better and where less is; the ranks are counted here by definition.
func TestStandingsShareRanks(t *testing.T) {
	var records strings.Builder
	for i, price := range []int{20, 10, 20, 30, 10, 10, 40} {
		fmt.Fprintf(&records, "[pack.p%d]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 600\nmass_g = 70\nprice = %d\ncurrency = \"EUR\"\n", i, price)
		fmt.Fprintf(&records, "[pack.p%d.tested]\ncapacity_mah = 588\nenergy_wh = 8.75\nmid_voltage_v = 14.68\nburst_power_w = %d\n", i, 500+price)
	}
	packs := fieldOf(t, records.String(), tested.FieldOptions{}).Groups[0].Packs
	for _, m := range []tested.Measure{tested.WPerGram, tested.PricePerWh, tested.Delivered} {
		for _, p := range packs {
			want := 1
			for _, q := range packs {
				a, b := q.Standings[m].Value, p.Standings[m].Value
				if m.LessIsBetter() && a < b || !m.LessIsBetter() && a > b {
					want++
				}
			}
			if got := p.Standings[m].Rank; got != want {
				t.Errorf("%s of %s ranks %d, want %d", m, p.ID, got, want)
			}
		}
	}
}

// BenchmarkField holds work that must not grow with the square of a catalogue: ranks of
// tested packs, and the resistance of those known by a label only.
func BenchmarkField(b *testing.B) {
	for _, n := range []int{1000, 10000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			cat := parts(b, strings.Join(field(n, 1), "\n"))
			b.ReportAllocs()
			for b.Loop() {
				tested.CompareField(packSet(b, cat), tested.FieldOptions{})
			}
		})
	}
}
