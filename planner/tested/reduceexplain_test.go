package tested_test

import (
	"bytes"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
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

// logOf writes the rows of a log.
func logOf(rows []bench.Sample) *fstest.MapFile {
	var b bytes.Buffer
	fmt.Fprintln(&b, "time_s,voltage_v,current_a")
	for _, s := range rows {
		fmt.Fprintf(&b, "%.3f,%.3f,%.3f\n", float64(s.Time), float64(s.Voltage), float64(s.Current))
	}
	return &fstest.MapFile{Data: b.Bytes()}
}

// reducedOf reduces a bench of one pack.
func reducedOf(t *testing.T, logs fs.FS, file string) tested.ReducedPack {
	t.Helper()
	b, _, err := catalog.ReadBench("bench.toml", strings.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	packs, err := tested.ReduceBench(b, logs, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	return packs[0]
}

const benchOfOne = `date = 2026-05-31
[pack.one]
chemistry = "lipo"
cells = 4
rated_mah = 650
mass_g = 74
`

// packOf650 is a pack of 640 mAh, so many times as old: that many times the resistance, and less charge.
func packOf650(t *testing.T, chemistry model.Chemistry, age float64) model.Circuit {
	t.Helper()
	curve, err := model.CurveOf(chemistry)
	if err != nil {
		t.Fatal(err)
	}
	c := model.NewCircuit(4, curve, 74*model.Gram)
	c.Capacity, c.R0, c.R1, c.Tau = 640*model.MilliAmpH, model.Resistance(0.030*age), model.Resistance(0.016*age), 20
	return c
}

// TestReduceAnyOrder: the order in which a bench file lists its logs changes no figure, no circuit and no word.
func TestReduceAnyOrder(t *testing.T) {
	c := packOf650(t, model.LiPo, 1)
	run := func(seed uint64) bench.Run {
		return bench.Run{VoltageNoise: 0.005, CurrentNoise: 0.003, Source: rand.NewPCG(seed, 5)}
	}
	protocol := model.UsualProtocol(650*model.MilliAmpH, 4)
	logs := fstest.MapFS{"burst.csv": logOf(run(1).Burst(c, protocol))}
	names := []string{"usual.csv", "again.csv", "half.csv", "slow.csv"}
	for k, share := range []float64{1, 1.003, 0.5, 0.25} {
		logs[names[k]] = logOf(run(uint64(k)+2).Discharge(c, model.ConstantPower(protocol.DischargePower*model.Power(share)), 3.1))
	}
	reduce := func(names []string) tested.ReducedPack {
		return reducedOf(t, logs, benchOfOne+"discharge = [\""+strings.Join(names, `", "`)+"\"]\nburst = \"burst.csv\"\n")
	}
	want := reduce(names)
	if want.Fit == nil || want.Metrics.Protocol.DischargePower < 0.99*protocol.DischargePower {
		t.Fatalf("failed %v, metrics of a discharge at %v W; want the protocol's", want.Failed, want.Metrics.Protocol.DischargePower)
	}
	words := func(p tested.ReducedPack) []string {
		var list []string
		for _, r := range slices.Concat(p.Remarks, p.Doubts) {
			list = append(list, fmt.Sprint(r))
		}
		slices.Sort(list)
		return list
	}
	rng := rand.New(rand.NewPCG(6, 7))
	for range 3 {
		rng.Shuffle(len(names), func(i, j int) { names[i], names[j] = names[j], names[i] })
		got := reduce(names)
		if got.Metrics != want.Metrics {
			t.Errorf("%v: metrics %+v, want %+v", names, got.Metrics, want.Metrics)
		}
		a, b := got.Record, want.Record
		if fmt.Sprintf("%v", *a.Circuit) != fmt.Sprintf("%v", *b.Circuit) || a.CircuitSigmaQ != b.CircuitSigmaQ || a.CircuitSigmaR != b.CircuitSigmaR || a.CircuitSigmaK != b.CircuitSigmaK {
			t.Errorf("%v: another circuit:\n%v\n%v", names, *a.Circuit, *b.Circuit)
		}
		if a, b := words(got), words(want); !slices.Equal(a, b) {
			t.Errorf("%v: other words:\n%v\n%v", names, a, b)
		}
	}
}

// TestOldPackIsPlausible: an old pack that gives a third of its label down to a high end voltage is neither
// refused nor doubted; a log in another unit is, with the number that is implausible.
func TestOldPackIsPlausible(t *testing.T) {
	c := packOf650(t, model.LiPo, 3)
	c.Capacity *= 0.75
	protocol := model.UsualProtocol(650*model.MilliAmpH, 4)
	protocol.DischargeEndPerCell = 3.5
	run := bench.Run{VoltageNoise: 0.005, CurrentNoise: 0.003, Source: rand.NewPCG(1, 5)}
	rows := run.Discharge(c, model.ConstantPower(protocol.DischargePower), 3.5)
	logs := fstest.MapFS{"d.csv": logOf(rows), "b.csv": logOf(run.Burst(c, protocol))}
	const file = "[protocol]\ndischarge_end_v_per_cell = 3.5\n"
	got := reducedOf(t, logs, strings.Replace(benchOfOne, "[pack.one]", file+"[pack.one]", 1)+"discharge = \"d.csv\"\nburst = \"b.csv\"\n")
	if len(got.Failed)+len(got.Doubts) > 0 || got.Record == nil {
		t.Fatalf("failed %v, doubts %v", got.Failed, got.Doubts)
	}
	share := float64(got.Metrics.Capacity / got.Bench.Rated)
	t.Logf("delivers %.0f %% of its label, circuit of %.0f mAh", 100*share, got.Record.Circuit.Capacity.MilliAmpHours())
	if share > 0.45 {
		t.Errorf("it delivers %.2f of its label: too much to test this", share)
	}
	if off := math.Abs(float64(got.Record.Circuit.Capacity/c.Capacity) - 1); off > 0.05 {
		t.Errorf("capacity %.0f mAh, want %.0f within 5 %%", got.Record.Circuit.Capacity.MilliAmpHours(), c.Capacity.MilliAmpHours())
	}
	for k := range rows {
		rows[k].Current /= 100
	}
	logs["d.csv"] = logOf(rows)
	got = reducedOf(t, logs, strings.Replace(benchOfOne, "[pack.one]", file+"[pack.one]", 1)+"discharge = \"d.csv\"\nburst = \"b.csv\"\n")
	t.Log(got.Failed)
	if len(got.Failed) == 0 {
		t.Error("a discharge of a hundredth of the current passes")
	}
}

// TestLogsThatNothingExplains: a discharge and a burst of two packs keep their figures, have the nearest
// circuit with errors that cover what it misses, and say that they contradict each other.
func TestLogsThatNothingExplains(t *testing.T) {
	protocol := model.UsualProtocol(650*model.MilliAmpH, 4)
	run := bench.Run{VoltageNoise: 0.005, CurrentNoise: 0.003, Source: rand.NewPCG(1, 5)}
	good, poor := packOf650(t, model.LiPo, 1), packOf650(t, model.LiPo, 2)
	logs := fstest.MapFS{
		"d.csv": logOf(run.Discharge(good, model.ConstantPower(protocol.DischargePower), 3.1)),
		"b.csv": logOf(run.Burst(poor, protocol)),
	}
	got := reducedOf(t, logs, benchOfOne+"discharge = \"d.csv\"\nburst = \"b.csv\"\n")
	if got.Record == nil || got.Record.Tested == nil || got.Record.Circuit == nil {
		t.Fatalf("no figures or no circuit: failed %v, doubts %v", got.Failed, got.Doubts)
	}
	t.Log(got.Doubts)
	codes := map[planner.Code]bool{}
	for _, d := range got.Doubts {
		codes[d.Code] = true
	}
	if !codes[planner.Doubtful] {
		t.Errorf("doubts %v, want that the logs contradict each other", got.Doubts)
	}
	c := got.Record.Circuit
	steady, sigma := float64(c.R0+c.R1), float64(got.Record.CircuitSigmaR)
	for _, truth := range []model.Circuit{good, poor} {
		if r := float64(truth.R0 + truth.R1); math.Abs(r-steady) > 1.645*sigma {
			t.Errorf("resistance %.1f +- %.1f mohm does not cover %.1f", 1e3*steady, 1e3*sigma, 1e3*r)
		}
	}
	m := good.Tests(protocol)
	if off := math.Abs(float64(got.Metrics.Capacity/m.Capacity) - 1); off > 0.01 {
		t.Errorf("capacity %.1f mAh, want the measured %.1f", got.Metrics.Capacity.MilliAmpHours(), m.Capacity.MilliAmpHours())
	}
}

// TestLogsOfAnotherChemistry: the curve that the logs follow is named, and the record has it.
func TestLogsOfAnotherChemistry(t *testing.T) {
	protocol := model.UsualProtocol(650*model.MilliAmpH, 4)
	run := bench.Run{VoltageNoise: 0.005, CurrentNoise: 0.003, Source: rand.NewPCG(1, 5)}
	for other, label := range map[model.Chemistry]string{model.LiIon: "lipo", model.LiHV: "liion"} {
		truth := packOf650(t, other, 1)
		logs := fstest.MapFS{
			"d.csv": logOf(run.Discharge(truth, model.ConstantPower(protocol.DischargePower), 3.1)),
			"b.csv": logOf(run.Burst(truth, protocol)),
		}
		got := reducedOf(t, logs, strings.Replace(benchOfOne, "lipo", label, 1)+"discharge = \"d.csv\"\nburst = \"b.csv\"\n")
		i := slices.IndexFunc(got.Remarks, func(r planner.Remark) bool { return r.Code == planner.Unusual })
		if i < 0 || !strings.Contains(got.Remarks[i].Text, "is that of "+string(other)+", not of "+label) {
			t.Fatalf("remarks %v", got.Remarks)
		}
		cat, _, err := catalog.Load(catalog.Layer{Name: "mine", Files: []catalog.File{
			{Name: "mine.toml", FS: fstest.MapFS{"mine.toml": {Data: catalog.FormatPack(got.Record, nil)}}, Path: "mine.toml"},
		}})
		if err != nil {
			t.Fatal(err)
		}
		back := packSet(t, cat).Pack("one")
		if off := math.Abs(float64(back.Circuit.Capacity/truth.Capacity) - 1); off > 0.03 {
			t.Errorf("capacity %.1f %% off", 100*off)
		}
		for _, s := range []float64{0.2, 0.5, 0.8} {
			if off := math.Abs(float64(back.Circuit.Curve.At(s) + back.Circuit.Shift - truth.Curve.At(s))); off > 0.02 {
				t.Errorf("at charge %g the curve that was read back is %.0f mV off", s, 1e3*off)
			}
		}
	}
}

// TestLogsAreSurerThanMetrics: of the demo packs, those known by their logs are surer in everything than the
// same packs known by the metrics of those logs.
func TestLogsAreSurerThanMetrics(t *testing.T) {
	b, file := demoBench(t)
	packs, err := tested.ReduceBench(b, catalog.BenchFS(file), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	set := func(circuit bool) *planner.PackSet {
		var text []byte
		for i := range packs {
			if p := packs[i].Record; p != nil {
				record := *p
				if !circuit {
					record.Circuit = nil
				}
				text = append(text, catalog.FormatPack(&record, nil)...)
			}
		}
		cat, _, err := catalog.Load(catalog.Layer{Name: "mine", Files: []catalog.File{{Name: "mine.toml", FS: fstest.MapFS{"mine.toml": {Data: text}}, Path: "mine.toml"}}})
		if err != nil {
			t.Fatal(err)
		}
		return packSet(t, cat)
	}
	logs, metrics := set(true), set(false)
	n := 0
	for i := range packs {
		if packs[i].Record == nil {
			continue
		}
		n++
		l, m := logs.Pack(packs[i].Bench.ID), metrics.Pack(packs[i].Bench.ID)
		if l.Basis != planner.BasisLogs || m.Basis != planner.BasisTested {
			t.Fatalf("%s: bases %s and %s", l.ID, l.Basis, m.Basis)
		}
		t.Logf("%s: sigmas of capacity %.3f and %.3f, of resistance %.3f and %.3f, of charge dependence %.2f and %.2f", l.ID, l.SigmaQ, m.SigmaQ, l.SigmaR, m.SigmaR, l.SigmaK, m.SigmaK)
		if l.SigmaQ > m.SigmaQ || l.SigmaR > m.SigmaR || l.SigmaK > m.SigmaK {
			t.Errorf("%s is less sure by its logs", l.ID)
		}
	}
	if n < 6 {
		t.Errorf("%d packs", n)
	}
}
