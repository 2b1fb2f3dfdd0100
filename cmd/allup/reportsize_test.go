package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"allup/model"
	"allup/model/bench"
)

// largeBench writes a bench of invented packs into a folder, each with a discharge and a burst log of ten rows a
// second, made of circuits and noise from a fixed seed, and gives the name of its file.
func largeBench(tb testing.TB, packs int) string {
	tb.Helper()
	dir := tb.TempDir()
	random := rand.New(rand.NewPCG(30, 10))
	between := func(low, high float64) float64 { return low + (high-low)*random.Float64() }
	var file bytes.Buffer
	file.WriteString("date = 2026-05-31\nambient_c = 22\n")
	write := func(name string, rows []bench.Sample) {
		var b bytes.Buffer
		b.WriteString("time_s,voltage_v,current_a\n")
		for _, s := range rows {
			fmt.Fprintf(&b, "%.1f,%.3f,%.2f\n", float64(s.Time), float64(s.Voltage), float64(s.Current)+0)
		}
		if err := os.WriteFile(filepath.Join(dir, name), b.Bytes(), 0o644); err != nil {
			tb.Fatal(err)
		}
	}
	curve, err := model.CurveOf(model.LiPo)
	if err != nil {
		tb.Fatal(err)
	}
	const cells = 4
	for n := range packs {
		id := fmt.Sprintf("invented-%02d", n+1)
		rated := model.Charge(between(400, 900)) * model.MilliAmpH
		mass := model.Mass(between(0.108, 0.118)) * model.Mass(rated.MilliAmpHours()) * model.Gram
		c := model.NewCircuit(cells, curve, mass)
		c.Capacity = rated * model.Charge(between(0.8, 1.02))
		total := model.Resistance(between(28, 60)) / model.Resistance(rated.MilliAmpHours()) // of both parts, in ohm
		c.R0, c.R1, c.Tau, c.K = 0.65*total, 0.35*total, model.Time(between(16, 26)), between(0.3, 0.8)
		c.Temperature, c.Air = model.Celsius(22), model.Celsius(22)
		protocol := model.UsualProtocol(rated, cells)
		run := bench.Run{VoltageNoise: model.Voltage(between(0.002, 0.015)), CurrentNoise: 0.005, Source: rand.NewPCG(30, uint64(n))}
		write(id+"-discharge.csv", run.Discharge(c, model.ConstantPower(protocol.DischargePower), protocol.DischargeEndPerCell))
		write(id+"-burst.csv", run.Burst(c, protocol))
		fmt.Fprintf(&file, "[pack.%s]\nchemistry = \"lipo\"\ncells = %d\nrated_mah = %.0f\nmass_g = %.1f\ndischarge = \"%s-discharge.csv\"\nburst = \"%s-burst.csv\"\n",
			id, cells, rated.MilliAmpHours(), mass.Grams(), id, id)
	}
	name := filepath.Join(dir, "large.toml")
	if err := os.WriteFile(name, file.Bytes(), 0o644); err != nil {
		tb.Fatal(err)
	}
	return name
}

// page writes a page and gives its size in bytes.
func pageOf(tb testing.TB, args ...string) int {
	tb.Helper()
	var out, err bytes.Buffer
	empty := tb.TempDir()
	s := &streams{in: &bytes.Buffer{}, out: &out, err: &err, configDir: func() (string, error) { return empty, nil }}
	if code := run(s, append([]string{"report"}, args...)); code != exitYes {
		tb.Fatalf("allup report %v ends with %d: %s", args, code, err.String())
	}
	return out.Len()
}

// A page is small enough to send: that of a build, and that of a bench of thirty packs with ten rows a second.
func TestPageSizes(t *testing.T) {
	if testing.Short() {
		t.Skip("thirty packs with 10 Hz logs take a while")
	}
	for _, tt := range []struct {
		what        string
		args        []string
		least, most int
	}{
		{"a build", []string{filepath.Join(repository(t), "testdata", "builds", "stint.toml")}, 50_000, 400_000},
		{"a bench of 30 packs", []string{"--bench", largeBench(t, 30)}, 300_000, 2_000_000},
	} {
		size := pageOf(t, tt.args...)
		t.Logf("the page of %s has %d bytes", tt.what, size)
		if size < tt.least || size > tt.most {
			t.Errorf("the page of %s has %d bytes, want %d to %d", tt.what, size, tt.least, tt.most)
		}
	}
}

func BenchmarkReportBuild(b *testing.B) {
	name := filepath.Join("..", "..", "testdata", "builds", "stint.toml")
	for b.Loop() {
		pageOf(b, name)
	}
}

func BenchmarkReportBench30(b *testing.B) {
	name := largeBench(b, 30)
	for b.Loop() {
		pageOf(b, "--bench", name)
	}
}
