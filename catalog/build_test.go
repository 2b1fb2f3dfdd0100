package catalog_test

import (
	"errors"
	"os"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
	"allup/model"
)

// fullBuild has every section of a build file.
const fullBuild = `
name   = "Stint 3.5"
rotors = 4

[limit]
rule    = "eu-a1-built"
spare_g = 1.0

[slots]
frame = "lark-35"
motor = "wick-1404-3800"
prop  = "fen-35x25-3"
board = "loam-20"
gear  = ["eyrie-cam", "eyrie-tx", "mote-rx"]
pack  = "sedge-650"

[extra.strap]
name = "strap and pad"
mass_g = 2.4
weighed = true
with_pack = true

[weighed]
lark-35 = 31.9

[air]
altitude_m    = 150
temperature_c = 12
pack_temperature_c = 20

[flight]
land_v_per_cell = 3.4
reserve         = 0.25
punch_charge    = 0.7
phases = [{seconds = 20, thrust = 1.25}, {seconds = 2, full = true}]

[hover]
flown = [{mass_g = 243, current_a = 4, voltage_v = 15.5}, {mass_g = 240, power_w = 61}]

[packs]
cells = [4]
chemistry = ["lipo", "lihv"]
plug = "xt30"
max_mass_g = 90

[goal]
time = 3
punch = 1
price = 0.5
`

func TestFullBuild(t *testing.T) {
	parts := base(t)
	got, warnings := readBuild(t, fullBuild, parts)
	if len(warnings) > 0 {
		t.Errorf("warnings = %v, want none", warnings)
	}
	want := &catalog.Build{
		Name: "Stint 3.5", File: "stint.toml", Rotors: 4,
		Limit: catalog.BuildLimit{
			Limit: model.Limit{Mass: 250 * model.Gram}, Rules: []string{"eu-a1-built"}, Rule: "eu-a1-built", Spare: 1 * model.Gram,
			Named: []catalog.NamedLimit{{Limit: model.Limit{Mass: 250 * model.Gram}, Rule: "eu-a1-built"}},
		},
		Slots: catalog.Slots{
			Frame: []string{"lark-35"}, Motor: []string{"wick-1404-3800"}, Prop: []string{"fen-35x25-3"}, Board: []string{"loam-20"},
			Gear: []string{"eyrie-cam", "eyrie-tx", "mote-rx"}, Pack: []string{"sedge-650"},
		},
		Extras:  []catalog.Extra{{ID: "strap", Name: "strap and pad", Mass: 2.4 * model.Gram, Weighed: true, WithPack: true}},
		Weighed: map[string]catalog.Weight{"lark-35": {Each: 31.9 * model.Gram, Together: 1}},
		Air:     catalog.AirConditions{Altitude: 150, Temperature: ptr(model.Celsius(12)), PackTemperature: ptr(model.Celsius(20))},
		Flight: catalog.Flight{
			LandPerCell: 3.4, Reserve: 0.25, PunchCharge: 0.7,
			Phases: []catalog.Phase{{Duration: 20, Thrust: 1.25}, {Duration: 2, Full: true}},
		},
		Flown: []catalog.FlownHover{{Mass: 243 * model.Gram, Power: 62, Bus: 15.5}, {Mass: 240 * model.Gram, Power: 61}},
		Packs: catalog.PackFilter{
			Cells: []int{4}, Chemistries: []model.Chemistry{model.LiPo, model.LiHV}, Plugs: []string{"xt30"}, MaxMass: ptr(90 * model.Gram),
		},
		Goal:  catalog.Goal{Time: 3, Punch: 1, Price: 0.5},
		Parts: parts,
	}
	if diff := cmp.Diff(want, got, sameValues()); diff != "" {
		t.Errorf("build differs (-want +got):\n%s", diff)
	}
}

const leastBuild = `
rotors = 4
limit = { mass_g = 250, inclusive = true }
[slots]
frame = "lark-35"
motor = ["wick-1404-3800", "wick-1303-5500"]
prop  = "fen-35x25-3"
board = "loam-20"
`

func TestLeastBuild(t *testing.T) {
	parts := base(t)
	got, warnings := readBuild(t, leastBuild, parts)
	if len(warnings) > 0 {
		t.Errorf("warnings = %v, want none", warnings)
	}
	want := &catalog.Build{
		Name: "stint", File: "stint.toml", Rotors: 4,
		Limit: catalog.BuildLimit{Limit: model.Limit{Mass: 250 * model.Gram, Inclusive: true}},
		Slots: catalog.Slots{
			Frame: []string{"lark-35"}, Motor: []string{"wick-1404-3800", "wick-1303-5500"},
			Prop: []string{"fen-35x25-3"}, Board: []string{"loam-20"},
		},
		Weighed: map[string]catalog.Weight{},
		Flight:  catalog.Flight{Reserve: 0.2, PunchCharge: 0.8},
		Goal:    catalog.Goal{Time: 2, Punch: 1},
		Parts:   parts,
	}
	if diff := cmp.Diff(want, got, sameValues()); diff != "" {
		t.Errorf("build differs (-want +got):\n%s", diff)
	}
}

func TestStrictestRule(t *testing.T) {
	text := strings.Replace(fullBuild, `"eu-a1-built"`, `["us-recreational", "hk-a1", "eu-a1-built"]`, 1)
	b, _ := readBuild(t, text, base(t))
	want := catalog.BuildLimit{
		Limit: model.Limit{Mass: 0.55 * model.Pound, Inclusive: true},
		Rules: []string{"us-recreational", "hk-a1", "eu-a1-built"}, Rule: "us-recreational", Spare: 1 * model.Gram,
		Named: []catalog.NamedLimit{
			{Limit: model.Limit{Mass: 0.55 * model.Pound, Inclusive: true}, Rule: "us-recreational"},
			{Limit: model.Limit{Mass: 250 * model.Gram, Inclusive: true}, Rule: "hk-a1"},
			{Limit: model.Limit{Mass: 250 * model.Gram}, Rule: "eu-a1-built"},
		},
	}
	if diff := cmp.Diff(want, b.Limit, sameValues()); diff != "" {
		t.Errorf("limit differs (-want +got):\n%s", diff)
	}
}

func TestInlineRecords(t *testing.T) {
	parts := base(t)
	text := strings.NewReplacer(
		`"lark-35"`, `{ name = "own frame", mass_g = 29, rotors = 4 }`,
		`["eyrie-cam", "eyrie-tx", "mote-rx"]`, `["mote-rx", { name = "buzzer", mass_g = 0.7 }, "mote-rx"]`,
		"lark-35 = 31.9", "inline-frame = 29.3\nstrap = 2.2\nwick-1303-5500 = 6.0",
	).Replace(fullBuild)
	b, _ := readBuild(t, text, parts)
	wantSlots := catalog.Slots{
		Frame: []string{"inline-frame"}, Motor: []string{"wick-1404-3800"}, Prop: []string{"fen-35x25-3"}, Board: []string{"loam-20"},
		Gear: []string{"mote-rx", "inline-gear-2", "mote-rx"}, Pack: []string{"sedge-650"},
	}
	if diff := cmp.Diff(wantSlots, b.Slots); diff != "" {
		t.Errorf("slots differ (-want +got):\n%s", diff)
	}
	source := catalog.Source{Layer: "build", File: "stint.toml"}
	wantFrame := &catalog.Frame{
		Common: catalog.Common{ID: "inline-frame", Name: "own frame", Mass: 29 * model.Gram, Source: source}, Rotors: 4,
	}
	if diff := cmp.Diff(wantFrame, b.Parts.Frames["inline-frame"], sameValues()); diff != "" {
		t.Errorf("frame differs (-want +got):\n%s", diff)
	}
	wantGear := &catalog.Gear{Common: catalog.Common{ID: "inline-gear-2", Name: "buzzer", Mass: 0.7 * model.Gram, Source: source}}
	if diff := cmp.Diff(wantGear, b.Parts.Gear["inline-gear-2"], sameValues()); diff != "" {
		t.Errorf("gear differs (-want +got):\n%s", diff)
	}
	wantWeighed := map[string]catalog.Weight{"inline-frame": {29.3 * model.Gram, 1}, "strap": {2.2 * model.Gram, 1}, "wick-1303-5500": {6 * model.Gram, 1}}
	if diff := cmp.Diff(wantWeighed, b.Weighed, sameValues()); diff != "" {
		t.Errorf("weighed differs (-want +got):\n%s", diff)
	}
	if len(parts.Frames) != 2 || len(parts.Gear) != 3 {
		t.Error("the catalogue was changed by reading a build")
	}
}

func TestBuildWarnings(t *testing.T) {
	text := strings.NewReplacer(
		"lark-35 = 31.9", "lark-35 = 319",
		`rule    = "eu-a1-built"`, "mass_g = 2.5",
		"mass_g = 240, power_w = 61", "mass_g = 240, power_w = 610",
	).Replace(fullBuild)
	_, warnings := readBuild(t, text, base(t))
	if diff := cmp.Diff([]string{"odd-value", "odd-weighed", "odd-hover"}, codes(warnings)); diff != "" {
		t.Errorf("warnings differ (-want +got):\n%s", diff)
	}
}

func TestStarter(t *testing.T) {
	parts, _, err := catalog.Load(catalog.Builtin())
	if err != nil {
		t.Fatal(err)
	}
	b, warnings := readBuild(t, starter("build"), parts)
	if len(warnings) > 0 || b.Name != "Starter 3.5" {
		t.Errorf("the starter reads as %q with warnings %v", b.Name, warnings)
	}
	// What is commented out must be right, too.
	text := starter("build")
	for _, line := range []string{"phases = ", "land_v_per_cell = ", "[hover]", "flown = "} {
		if !strings.Contains(text, "\n# "+line) {
			t.Errorf("the starter has no comment %q", line)
		}
		text = strings.Replace(text, "\n# "+line, "\n"+line, 1)
	}
	if b, _ = readBuild(t, text, parts); len(b.Flight.Phases) != 2 || len(b.Flown) != 1 {
		t.Errorf("the starter's comments read as %v and %v", b.Flight.Phases, b.Flown)
	}
}

func TestBuildNames(t *testing.T) {
	for file, want := range map[string]string{"-": "build", "some/dir/wren.toml": "wren", "": "build", "a\x1bb.toml": "build", "swift": "swift"} {
		b, _, err := catalog.ReadBuild(file, strings.NewReader(leastBuild), base(t))
		if err != nil || b.Name != want {
			t.Errorf("name of a build in %q = %v, %v, want %q", file, b, err, want)
		}
	}
}

// TestUnreadableBuild has failures of the disk, which are no faults of the input.
func TestUnreadableBuild(t *testing.T) {
	dir, err := os.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer dir.Close()
	if _, _, err = catalog.ReadBuild("dir", dir, base(t)); err == nil || !strings.HasPrefix(err.Error(), "reading build dir: ") {
		t.Errorf("ReadBuild of a folder = %v", err)
	}
	broken := errors.New("unplugged")
	_, _, err = catalog.ReadBuild("x.toml", iotest.ErrReader(broken), base(t))
	if _, isInput := errors.AsType[catalog.InputErrors](err); isInput || !errors.Is(err, broken) {
		t.Errorf("ReadBuild of a failing reader = %v", err)
	}
}

// TestFileNames: what a file is called never reaches a terminal raw.
func TestFileNames(t *testing.T) {
	_, _, err := catalog.ReadBuild("a\x1b[31m.toml", strings.NewReader("rotors = 1"), nil)
	if err == nil || strings.Contains(err.Error(), "\x1b") {
		t.Errorf("error text = %q, want the name escaped", err)
	}
}
