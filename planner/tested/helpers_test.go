package tested_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"testing/fstest"

	"allup/catalog"
	"allup/planner"
)

// parts loads records, one text a file, later texts over earlier ones.
func parts(t testing.TB, texts ...string) *catalog.Catalogue {
	t.Helper()
	var layers []catalog.Layer
	for i, text := range texts {
		fsys := fstest.MapFS{"p.toml": {Data: []byte(text)}}
		layers = append(layers, catalog.Layer{Name: fmt.Sprint("layer", i), Files: []catalog.File{{Name: "p.toml", FS: fsys, Path: "p.toml"}}})
	}
	cat, _, err := catalog.Load(layers...)
	if err != nil {
		t.Fatal(err)
	}
	return cat
}

func packSet(t testing.TB, cat *catalog.Catalogue) *planner.PackSet {
	t.Helper()
	packs, err := planner.NewPackSet(cat)
	if err != nil {
		t.Fatal(err)
	}
	return packs
}

// field is a catalogue of packs around the example's, some of them equal in a figure.
func field(n int, seed uint64) []string {
	rng := rand.New(rand.NewPCG(seed, 1))
	var packs []string
	for i := range n {
		rated := 400 + 50*float64(rng.IntN(8))
		mass := rated * (0.105 + 0.02*rng.Float64())
		price := ""
		if rng.IntN(3) > 0 {
			price = fmt.Sprintf("price = %.2f\ncurrency = \"EUR\"\n", 8+15*rng.Float64())
		}
		tested := fmt.Sprintf("[pack.t%05d.tested]\ncapacity_mah = %.0f\nmid_voltage_v = %.2f\nburst_power_w = %.0f\n",
			i, rated*(0.9+0.1*rng.Float64()), 14.2+0.5*rng.Float64(), mass*(4.5+4*rng.Float64()))
		if i%7 == 3 {
			tested = "" // label only
		}
		packs = append(packs, fmt.Sprintf("[pack.t%05d]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = %.0f\nmass_g = %.1f\nplug = \"xt30\"\n%s%s", i, rated, mass, price, tested))
	}
	return packs
}
