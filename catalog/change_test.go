package catalog_test

import (
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"allup/catalog"
	"allup/model"
)

func TestParseChange(t *testing.T) {
	for _, test := range []struct {
		text string
		want catalog.Change
	}{
		{"pack=sedge-850", catalog.Change{Op: catalog.OpReplace, Slot: catalog.KindPack, ID: "sedge-850"}},
		{" motor = wick-1303-5500 ", catalog.Change{Op: catalog.OpReplace, Slot: catalog.KindMotor, ID: "wick-1303-5500"}},
		{"with=mote-rx", catalog.Change{Op: catalog.OpAdd, ID: "mote-rx"}},
		{"with=camera:12.5g", catalog.Change{Op: catalog.OpAdd, Name: "camera", Mass: 12.5 * model.Gram}},
		{"with=a: b :0.5 oz", catalog.Change{Op: catalog.OpAdd, Name: "a: b", Mass: 0.5 * model.Ounce}},
		{"without=eyrie-cam", catalog.Change{Op: catalog.OpRemove, ID: "eyrie-cam"}},
	} {
		got, err := catalog.ParseChange(test.text)
		test.want.Text = test.text
		if diff := cmp.Diff(test.want, got, sameValues()); err != nil || diff != "" {
			t.Errorf("ParseChange(%q): %v, differs (-want +got):\n%s", test.text, err, diff)
		}
	}
}

func TestParseChangeRefused(t *testing.T) {
	const grammar = `allowed: slot=ID (frame, motor, prop, board or pack), with=ID of gear, with="camera:12.5g", without=ID`
	for text, want := range map[string]string{
		"":                    `change "": has no =; ` + grammar,
		"sedge-850":           `change "sedge-850": has no =; ` + grammar,
		"moter=wick":          `change "moter=wick": "moter" is not a slot; ` + grammar + `; did you mean "motor"?`,
		"pack=":               `change "pack=": has no id behind the =; ` + grammar,
		"gear=mote-rx":        `change "gear=mote-rx": gear is added and removed one by one; allowed: with=ID, without=ID`,
		"with=camera:12.5":    `change "with=camera:12.5": mass "12.5" has no unit: write 12.5g, kg, oz or lb; allowed: a mass with its unit, with="camera:12.5g"`,
		"with=camera:0g":      `change "with=camera:0g": "0g" is out of range; allowed: above 0, up to 5 kg`,
		"with=camera:9kg":     `change "with=camera:9kg": "9kg" is out of range; allowed: above 0, up to 5 kg`,
		"with=:9g":            `change "with=:9g": "" cannot be a name; allowed: with="camera:12.5g", a name on one line and a mass`,
		"pack=\x1b[31m":       `change "pack=\x1b[31m": "\x1b[31m" cannot be an id; ` + grammar,
		"with=\x1b[2Jcam:2g":  `change "with=\x1b[2Jcam:2g": "\x1b[2Jcam" cannot be a name; allowed: with="camera:12.5g", a name on one line and a mass`,
		"pack=sedge-850=more": `change "pack=sedge-850=more": "sedge-850=more" cannot be an id; ` + grammar,
	} {
		_, err := catalog.ParseChange(text)
		if _, ok := errors.AsType[catalog.InputErrors](err); !ok || err.Error() != want {
			t.Errorf("ParseChange(%q) error:\n%v\nwant\n%s", text, err, want)
		}
	}
}

func changes(t *testing.T, texts ...string) []catalog.Change {
	t.Helper()
	var all []catalog.Change
	for _, text := range texts {
		c, err := catalog.ParseChange(text)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, c)
	}
	return all
}

func TestApply(t *testing.T) {
	parts := base(t)
	before, _ := readBuild(t, fullBuild, parts)
	untouched, _ := readBuild(t, fullBuild, parts)
	after, applied, err := before.Apply(changes(t,
		"motor=wick-1303-5500", "pack=sedge-850", "with=mote-rx", "without=mote-rx", "without=eyrie-cam", "with=Big camera:12.5g",
		"with=big camera:1g", "without=strap"))
	if err != nil {
		t.Fatal(err)
	}
	want, _ := readBuild(t, fullBuild, parts)
	want.Slots.Motor, want.Slots.Pack, want.Slots.Gear = []string{"wick-1303-5500"}, []string{"sedge-850"}, []string{"eyrie-tx", "mote-rx"}
	want.Extras = []catalog.Extra{
		{ID: "big-camera", Name: "Big camera", Mass: 12.5 * model.Gram},
		{ID: "big-camera-2", Name: "big camera", Mass: 1 * model.Gram},
	}
	if diff := cmp.Diff(want, after, sameValues()); diff != "" {
		t.Errorf("changed build differs (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(untouched, before, sameValues()); diff != "" {
		t.Errorf("Apply changed the build that it was given (-want +got):\n%s", diff)
	}
	var moves [][2]string
	for _, a := range applied {
		moves = append(moves, [2]string{a.Was, a.Now})
	}
	wantMoves := [][2]string{
		{"wick-1404-3800", "wick-1303-5500"},
		{"sedge-650", "sedge-850"},
		{"", "mote-rx"},
		{"mote-rx", ""},
		{"eyrie-cam", ""},
		{"", "big-camera"},
		{"", "big-camera-2"},
		{"strap", ""},
	}
	if diff := cmp.Diff(wantMoves, moves); diff != "" {
		t.Errorf("applied changes differ (-want +got):\n%s", diff)
	}
}

func TestApplyRefused(t *testing.T) {
	b, _ := readBuild(t, fullBuild, base(t))
	_, _, err := b.Apply(changes(t,
		"pack=sedge-8500", "pack=mote-rx", "pack=wick-1404-3800", "frame=lark-hex", "with=mote-rxx", "with=sedge-850",
		"with=marsh", "without=eyrie-camera", "without=sedge-650", "without=marsh"))
	want := `change "pack=sedge-8500": "sedge-8500" is no known pack; did you mean "sedge-850"?
change "pack=mote-rx": "mote-rx" is a piece of gear, not a pack
change "pack=wick-1404-3800": "wick-1404-3800" is a motor, not a pack; did you mean motor=wick-1404-3800?
change "frame=lark-hex": "lark-hex" has 6 rotors, the build has 4
change "with=mote-rxx": "mote-rxx" is no known gear; did you mean "mote-rx"?; what is not in the catalogue is added by mass, with="camera:12.5g"
change "with=sedge-850": "sedge-850" is a pack, not a piece of gear; did you mean pack=sedge-850?
change "with=marsh": "marsh" is no known gear; known: eyrie-cam, eyrie-tx, mote-rx; what is not in the catalogue is added by mass, with="camera:12.5g"
change "without=eyrie-camera": "eyrie-camera" is not among the gear and extras on board; allowed: eyrie-cam, eyrie-tx, mote-rx, strap; did you mean "eyrie-cam"?
change "without=sedge-650": "sedge-650" is the pack, which the build needs; replace it with pack=ID
change "without=marsh": "marsh" is not among the gear and extras on board; allowed: eyrie-cam, eyrie-tx, mote-rx, strap`
	if err == nil || err.Error() != want {
		t.Errorf("Apply error:\n%v\nwant\n%s", err, want)
	}
}

// TestAnyChange: any text is a change or an error, and a change that is read can be
// applied or is refused, with no harm to the build.
func TestAnyChange(t *testing.T) {
	b, _ := readBuild(t, fullBuild, base(t))
	rapid.Check(t, func(t *rapid.T) {
		slot := rapid.SampledFrom([]string{"frame", "pack", "with", "without", "gear", ""}).Draw(t, "slot")
		text := slot + "=" + rapid.String().Draw(t, "rest")
		c, err := catalog.ParseChange(text)
		if err != nil {
			return
		}
		if _, _, err := b.Apply([]catalog.Change{c}); err != nil {
			if _, ok := errors.AsType[catalog.InputErrors](err); !ok {
				t.Fatalf("Apply(%q) error is %T", text, err)
			}
		}
	})
}

// TestAddAndRemove: what is added by name can be taken off by its id, which leaves
// the build as it was.
func TestAddAndRemove(t *testing.T) {
	before, _ := readBuild(t, fullBuild, base(t))
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.StringMatching(`[a-zA-Zäß0-9][ a-zA-Zäß0-9.-]{0,60}`).Draw(t, "name")
		c, err := catalog.ParseChange("with=" + name + ":12.5g")
		if err != nil {
			t.Fatal(err)
		}
		added, applied, err := before.Apply([]catalog.Change{c})
		if err != nil {
			t.Fatal(err)
		}
		after, _, err := added.Apply([]catalog.Change{{Op: catalog.OpRemove, ID: applied[0].Now}})
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(before, after, sameValues()); diff != "" {
			t.Fatalf("build differs (-want +got):\n%s", diff)
		}
	})
}
