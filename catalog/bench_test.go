package catalog_test

import (
	"fmt"
	"runtime"
	"strings"
	"testing"
	"testing/fstest"

	"allup/catalog"
)

// manyPacks is a file of n packs, each with a tested block.
func manyPacks(n int) []byte {
	var b strings.Builder
	for i := range n {
		rated := 450 + i%800
		fmt.Fprintf(&b, `[pack.sedge-%05d]
name = "Sedge 4S %d, number %d"
chemistry = "lipo"
cells = 4
rated_mah = %d
mass_g = %.1f
size_mm = [60.0, 30.0, 26.0]
plug = "xt30"
max_current_a = 49
price = 19.5
currency = "EUR"
note = "invented for the benchmark"

[pack.sedge-%05d.tested]
discharge_power_w = %.1f
discharge_end_v_per_cell = 3.1
capacity_mah = %.1f
energy_wh = %.3f
mid_voltage_v = 14.72
burst_power_w = 690.4
burst_current_a = 52.3
burst_end_v_per_cell = 3.3
conditioning = { current_a = 9.75, seconds = 48 }
ramp_a_per_s = 1.3
ambient_c = 21
date = 2026-05-01
source = "invented bench log"

`, i, rated, i, rated, 0.115*float64(rated), i, 0.222*float64(rated), 0.94*float64(rated), 0.94*float64(rated)*0.0147)
	}
	return []byte(b.String())
}

func memoryLayer(name string, files map[string][]byte) catalog.Layer {
	fsys := fstest.MapFS{}
	layer := catalog.Layer{Name: name}
	for file, data := range files {
		fsys[file] = &fstest.MapFile{Data: data}
	}
	for _, file := range sortedKeys(files) {
		layer.Files = append(layer.Files, catalog.File{Name: file, FS: fsys, Path: file})
	}
	return layer
}

func BenchmarkLoad10k(b *testing.B) {
	data := manyPacks(10000)
	layer := memoryLayer("parts", map[string][]byte{"packs.toml": data})
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	var peak uint64
	for b.Loop() {
		c, warnings, err := catalog.Load(layer)
		if err != nil || len(warnings) > 0 || len(c.Packs) != 10000 {
			b.Fatalf("Load = %d packs, %v, %v", len(c.Packs), warnings, err)
		}
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		peak = max(peak, m.HeapInuse)
	}
	b.ReportMetric(float64(peak)/1e6, "heap-MB")
}

func BenchmarkReadBuild(b *testing.B) {
	layer := memoryLayer("parts", map[string][]byte{"packs.toml": manyPacks(10000)})
	c, _, err := catalog.Load(catalog.Builtin(), layer)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := catalog.ReadBuild("stint.toml", strings.NewReader(starter("build")), c); err != nil {
			b.Fatal(err)
		}
	}
}
