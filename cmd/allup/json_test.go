package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The keys that the program's interface promises. Any of them may be null, none may be missing.
const (
	packKeys  = "rank pack name tested all_up_g spare_g over_limit_chance hover_power_w hover_current_a hover_c usable_wh flight_s ended_by punch_ratio punch_ratio_landing burst_power_w power_density_w_per_g energy_density_wh_per_g pack_headroom limited_by price score front best_chance band warnings"
	rankKeys  = "build limit dry_mass_g hover ranked excluded"
	weighKeys = "build items all_up_g dry_mass_g limit spare_g expanded_uncertainty_g over_limit_chance verdict"
	itemKeys  = "slot id name count each_g total_g weighed share"
	swapKeys  = "before after delta changes under_limit"
	deltaKeys = "all_up_g flight_s hover_current_a punch_ratio"
	limitKeys = "mass_g inclusive rule spare_g"
	foundKeys = "combinations tried excluded partial seconds best front"
	bandKeys  = "all_up_g flight_s hover_current_a punch_ratio"
)

func TestJSONKeys(t *testing.T) {
	root := repository(t)
	t.Chdir(root)
	const nothing = "name = \"No pack\"\nrotors = 4\n[limit]\nmass_g = 250\n[slots]\nframe = \"lark-35\"\nmotor = \"wick-1404-3800\"\nprop = \"fen-35x25-3\"\nboard = \"loam-20\"\ngear = [\"mote-rx\"]\n"
	noPack := filepath.Join(t.TempDir(), "nopack.toml")
	if err := os.WriteFile(noPack, []byte(nothing), 0o644); err != nil {
		t.Fatal(err)
	}
	ask := func(args ...string) map[string]any {
		got := tell(t, 0, "", append(args, "--format", "json")...)
		var v map[string]any
		if err := json.Unmarshal([]byte(got.Out), &v); err != nil {
			t.Fatalf("%v: %v\n%s%s", args, err, got.Err, got.Out)
		}
		return v
	}
	has := func(what string, v any, keys string) {
		t.Helper()
		m, ok := v.(map[string]any)
		if !ok {
			t.Errorf("%s is not an object: %v", what, v)
			return
		}
		for key := range strings.FieldsSeq(keys) {
			if _, ok := m[key]; !ok {
				t.Errorf("%s has no key %q", what, key)
			}
		}
	}
	first := func(v any) any { return v.([]any)[0] }

	r := ask("rank", "testdata/builds/stint.toml")
	has("rank", r, rankKeys)
	has("rank's limit", r["limit"], limitKeys)
	has("rank's pack", first(r["ranked"]), packKeys)
	has("rank's band", first(r["ranked"]).(map[string]any)["band"], bandKeys)
	has("rank's excluded", first(r["excluded"]), "pack reasons")
	has("a reason", first(first(r["excluded"]).(map[string]any)["reasons"]), "code text")

	f := ask("search", "testdata/builds/stint.toml", "--any", "prop")
	has("search", f, foundKeys)
	has("search's best", first(f["best"]), packKeys+" frame motor prop board gear pack")
	has("search's front", first(f["front"]), packKeys+" frame motor prop board gear pack")

	w := ask("weigh", "testdata/builds/stint.toml")
	has("weigh", w, weighKeys)
	has("weigh's limit", w["limit"], limitKeys)
	has("weigh's item", first(w["items"]), itemKeys)

	for _, build := range []string{"testdata/builds/stint.toml", noPack} {
		s := ask("swap", build, "without=mote-rx")
		has("swap", s, swapKeys)
		has("swap's delta", s["delta"], deltaKeys)
		has("swap's before", s["before"], packKeys)
		has("swap's after", s["after"], packKeys)
	}
	s := ask("swap", noPack, "without=mote-rx")
	if s["after"].(map[string]any)["flight_s"] != nil || s["delta"].(map[string]any)["flight_s"] != nil || s["after"].(map[string]any)["pack"] != nil {
		t.Errorf("a build without a pack flies: %v", s["after"])
	}
}
