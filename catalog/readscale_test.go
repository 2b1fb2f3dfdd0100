package catalog_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
	"allup/model"
)

const craft = "rotors = 4\n[limit]\nmass_g = 250\n[slots]\nframe = \"lark-35\"\nmotor = \"wick-1404-3800\"\nprop = \"fen-35x25-3\"\nboard = \"loam-20\"\npack = \"sedge-650\"\n"

func TestWeights(t *testing.T) {
	b, warnings := readBuild(t, craft+"[weighed]\nwick-1404-3800 = { together_g = 39.3, count = 4 }\nlark-35 = 31.9\n", base(t))
	want := map[string]catalog.Weight{
		"wick-1404-3800": {Each: 9.825 * model.Gram, Together: 4},
		"lark-35":        {Each: 31.9 * model.Gram, Together: 1},
	}
	if diff := cmp.Diff(want, b.Weighed, sameValues()); diff != "" || len(warnings) > 0 {
		t.Errorf("weighed (-want +got):\n%s%v", diff, warnings)
	}
	// 36.1 g where one motor is 9.8 g: the four of them were on the scale.
	_, warnings = readBuild(t, craft+"[weighed]\nwick-1404-3800 = 36.1\nloam-20 = 96\n", base(t))
	texts := map[string]string{}
	for _, w := range warnings {
		texts[w.Field] = w.Text
	}
	wantTexts := map[string]string{
		"weighed.wick-1404-3800": "36.1 g is taken for one piece; 36.1/4 = 9.03 g would be near the 10.4 g on paper: for 4 together write { together_g = 36.1, count = 4 }",
		"weighed.loam-20":        "96 g on the scale is far from the 8.6 g on paper",
	}
	if diff := cmp.Diff(wantTexts, texts); diff != "" {
		t.Errorf("warnings (-want +got):\n%s", diff)
	}
}

func TestScale(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		want *catalog.Scale
	}{
		"none":           {"", nil},
		"today's pack":   {"[scale]\nall_up_g = 238.1\n", &catalog.Scale{Mass: 238.1 * model.Gram, Tolerance: 0.1 * model.Gram, Pack: "sedge-650"}},
		"another pack":   {"[scale]\nall_up_g = 251\npack = \"sedge-850\"\ntolerance_g = 0.5\n", &catalog.Scale{Mass: 251 * model.Gram, Tolerance: 0.5 * model.Gram, Pack: "sedge-850"}},
		"without a pack": {"[scale]\ndry_g = 164.2\n", &catalog.Scale{Mass: 164.2 * model.Gram, Tolerance: 0.1 * model.Gram}},
	} {
		b, warnings := readBuild(t, craft+c.text, base(t))
		if diff := cmp.Diff(c.want, b.Scale, sameValues()); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
		var texts []string
		for _, w := range warnings {
			texts = append(texts, w.Code+" "+w.Field+": "+w.Text)
		}
		var want []string
		if name == "today's pack" {
			want = []string{`scale-pack-unnamed scale.all_up_g: 238.1 g was weighed with a pack that is not named: it is taken for today's, sedge-650; ` +
				`add pack = "sedge-650"`}
		}
		if diff := cmp.Diff(want, texts); diff != "" {
			t.Errorf("%s: warnings (-want +got):\n%s", name, diff)
		}
	}
	// A change of the build does not change what was on the scale.
	b, _ := readBuild(t, craft+"[scale]\nall_up_g = 238.1\n", base(t))
	changed, _, err := b.Apply([]catalog.Change{{Op: catalog.OpReplace, Text: "pack=sedge-850", Slot: catalog.KindPack, ID: "sedge-850"}})
	if err != nil {
		t.Fatal(err)
	}
	if changed.Scale == nil || changed.Scale.Of != b || changed.Scale.Pack != "sedge-650" || b.Scale.Of != nil {
		t.Errorf("after a swap the scale is %+v of %p, want that of the build before, %p", changed.Scale, changed.Scale.Of, b)
	}
}
