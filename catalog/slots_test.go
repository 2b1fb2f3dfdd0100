package catalog_test

import (
	"slices"
	"strings"
	"testing"

	"allup/catalog"
)

// TestOpenSlots: "any" is every record of a kind behind those named, of one's own where there is one, and
// frames of the build's rotors; a list in the gear is a choice.
func TestOpenSlots(t *testing.T) {
	const records = `
[motor.mine]
mass_g = 9
kv = 3600
[frame.six]
mass_g = 40
rotors = 6
[frame.four]
mass_g = 30
rotors = 4
[frame.another]
mass_g = 33
rotors = 4
`
	own, _, err := catalog.Load(catalog.Builtin(), memoryLayer("parts", map[string][]byte{"own.toml": []byte(records)}))
	if err != nil {
		t.Fatal(err)
	}
	read := func(slots string) *catalog.Build {
		t.Helper()
		b, _, err := catalog.ReadBuild("b.toml", strings.NewReader("rotors = 4\n[limit]\nmass_g = 250\n[slots]\nprop = \"fen-35x25-3\"\nboard = [\"loam-20\", \"any\"]\n"+slots), own)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	b := read("frame = [\"lark-35\", \"any\"]\nmotor = \"any\"\ngear = [[\"eyrie-cam\", \"eyrie-lite\"], \"mote-rx\", [\"eyrie-tx\"]]\n")
	for _, c := range []struct {
		what      string
		got, want []string
	}{
		{"frames: the named one, then one's own with four rotors", b.Slots.Frame, []string{"lark-35", "another", "four"}},
		{"motors: one's own", b.Slots.Motor, []string{"mine"}},
		{"gear: the first of each choice", b.Slots.Gear, []string{"eyrie-cam", "mote-rx", "eyrie-tx"}},
		{"the choice", b.Slots.GearChoice(0), []string{"eyrie-cam", "eyrie-lite"}},
		{"no choice", b.Slots.GearChoice(1), []string{"mote-rx"}},
	} {
		if !slices.Equal(c.got, c.want) {
			t.Errorf("%s: %v, want %v", c.what, c.got, c.want)
		}
	}
	if boards := own.IDs(catalog.KindBoard); len(b.Slots.Board) != len(boards) || b.Slots.Board[0] != "loam-20" {
		t.Errorf("boards are %v, want all %d, loam-20 first", b.Slots.Board, len(boards))
	}
	if !slices.Equal(b.Slots.Unnamed, []catalog.Kind{catalog.KindMotor}) {
		t.Errorf("%v name nothing that flies, want the motor", b.Slots.Unnamed)
	}

	// Changes leave the choices with their pieces.
	apply := func(text string) *catalog.Build {
		t.Helper()
		c, err := catalog.ParseChange(text)
		if err != nil {
			t.Fatal(err)
		}
		after, _, err := b.Apply([]catalog.Change{c})
		if err != nil {
			t.Fatal(err)
		}
		return after
	}
	b = read("frame = \"lark-35\"\nmotor = \"any\"\ngear = [\"mote-rx\", [\"eyrie-cam\", \"eyrie-lite\"]]\n")
	if after := apply("without=mote-rx"); !slices.Equal(after.Slots.GearChoice(0), []string{"eyrie-cam", "eyrie-lite"}) {
		t.Errorf("without the first piece the choice is %v", after.Slots.GearChoice(0))
	}
	if after := apply("without=eyrie-cam"); after.Slots.GearElse != nil {
		t.Errorf("without the piece there is still a choice: %v", after.Slots.GearElse)
	}
	if after := apply("motor=mine"); len(after.Slots.Unnamed) != 0 || len(b.Slots.Unnamed) != 1 {
		t.Errorf("with a motor named, %v are not; before, %v", after.Slots.Unnamed, b.Slots.Unnamed)
	}
	if open := b.Open(catalog.KindFrame); len(b.Slots.Frame) != 1 || !slices.Equal(open.Slots.Frame, []string{"lark-35", "another", "four"}) {
		t.Errorf("opened, frames are %v; before, %v", open.Slots.Frame, b.Slots.Frame)
	}
}
