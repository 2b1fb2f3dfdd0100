package catalog

import (
	"bytes"
	"reflect"
	"testing"

	"pgregory.net/rapid"
)

func TestNearest(t *testing.T) {
	fields := []string{"mass_g", "max_current_a", "kv", "rated_mah", "name", "no_load_a"}
	for word, want := range map[string]string{
		"mass_g": "mass_g", "Mass_G": "mass_g", "mass": "mass_g", "rated": "rated_mah", "mas_g": "mass_g", "amss_g": "mass_g",
		"nmae": "name", "no_laod_a": "no_load_a", "vk": "kv", "weight": "", "": "", "x": "",
	} {
		if got := nearest(word, fields); got != want {
			t.Errorf("nearest(%q) = %q, want %q", word, got, want)
		}
	}
}

func TestEditDistance(t *testing.T) {
	for _, test := range []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"a", "", 1}, {"kitten", "sitting", 3}, {"ab", "ba", 1}, {"größe", "grösse", 2}, {"abcd", "acbd", 1},
	} {
		if got := editDistance(test.a, test.b); got != test.want {
			t.Errorf("editDistance(%q, %q) = %d, want %d", test.a, test.b, got, test.want)
		}
	}
}

func TestEditDistanceProperties(t *testing.T) {
	word := rapid.StringMatching(`[abc]{0,8}`)
	rapid.Check(t, func(t *rapid.T) {
		a, b := word.Draw(t, "a"), word.Draw(t, "b")
		d := editDistance(a, b)
		switch {
		case d != editDistance(b, a):
			t.Fatalf("editDistance(%q, %q) is not the same both ways", a, b)
		case (d == 0) != (a == b):
			t.Fatalf("editDistance(%q, %q) = %d", a, b, d)
		case d > max(len(a), len(b)) || d < max(len(a), len(b))-min(len(a), len(b)):
			t.Fatalf("editDistance(%q, %q) = %d, outside what the lengths allow", a, b, d)
		}
	})
}

// TestChunks: pieces cut anywhere that outline allows make the tree of the whole.
func TestChunks(t *testing.T) {
	lines := rapid.SliceOf(rapid.SampledFrom([]string{
		"[gear.a]", "[gear.b]", "[pack.c]", "[pack.c.tested]", `[gear."d.e"]`, "[gear]", "[[gear.x]]", "x = 1", "y = [1,", "2]",
		"z = '''", "'''", `w = """`, `"""`, "# [gear.no]", `s = "[gear.q]"`, "t = { u = 1 }", "",
	}))
	rapid.Check(t, func(t *rapid.T) {
		var text bytes.Buffer
		for _, line := range lines.Draw(t, "lines") {
			text.WriteString(line + "\n")
		}
		data := text.Bytes()
		whole, err := parseWhole(data)
		cuts := outlineEvery(data, 1).cuts
		if len(cuts) == 0 {
			return
		}
		joined := map[string]any{}
		for _, piece := range parsePieces(pieces(data, cuts)) {
			tree := piece.tree
			for kind, value := range tree {
				records, isTable := value.(map[string]any)
				if !isTable {
					t.Fatalf("a piece has %s = %v", kind, value)
				}
				if joined[kind] == nil {
					joined[kind] = map[string]any{}
				}
				for id, record := range records {
					into := joined[kind].(map[string]any)
					if into[id] != nil {
						return // in two pieces: the text is read as a whole
					}
					into[id] = record
				}
			}
			if tree == nil {
				return // a fault: the same
			}
		}
		if err != nil || !reflect.DeepEqual(whole, joined) {
			t.Fatalf("pieces = %v\nwhole = %v, %v", joined, whole, err)
		}
	})
}
