package catalog_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
)

func packRecord(id string) string {
	return "[pack." + id + "]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 500\nmass_g = 58\n"
}

// TestPackChoice holds that invented packs give way to the user's own, and that nothing else does.
func TestPackChoice(t *testing.T) {
	demo := memoryLayer("built-in", map[string][]byte{"packs.toml": []byte(packRecord("demo-a") + packRecord("demo-b") + gear("cam", "9.8"))})
	read := func(layers ...catalog.Layer) *catalog.Catalogue {
		t.Helper()
		c, _, err := catalog.Load(layers...)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	user := func(text string) catalog.Layer {
		return memoryLayer("user", map[string][]byte{"mine.toml": []byte(text)})
	}
	type choice struct{ Chosen, LeftOut []string }
	of := func(c *catalog.Catalogue) choice {
		chosen, left := c.PackChoice()
		return choice{chosen, left}
	}
	for name, c := range map[string]struct {
		cat  *catalog.Catalogue
		want choice
	}{
		"demo only":           {read(demo), choice{Chosen: []string{"demo-a", "demo-b"}}},
		"own gear only":       {read(demo, user(gear("rx", "1.4"))), choice{Chosen: []string{"demo-a", "demo-b"}}},
		"own pack":            {read(demo, user(packRecord("mine"))), choice{[]string{"mine"}, []string{"demo-a", "demo-b"}}},
		"own pack, demo kept": {read(demo, user(packRecord("mine"))).WithDemoPacks(), choice{Chosen: []string{"demo-a", "demo-b", "mine"}}},
		"own record of a demo id": {
			read(demo, memoryLayer("parts", map[string][]byte{"p.toml": []byte(packRecord("demo-b"))})),
			choice{[]string{"demo-b"}, []string{"demo-a"}},
		},
		"nothing": {read(), choice{}},
	} {
		if diff := cmp.Diff(c.want, of(c.cat)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
	// A demo pack that is left out can still be named, and says what it is.
	cat := read(demo, user(packRecord("mine")))
	for id, want := range map[string]bool{"demo-a": true, "mine": false, "cam": true} {
		if common, _, ok := cat.Record(id); !ok || common.Demo() != want {
			t.Errorf("Record(%s) = %v, Demo() = %v, want %v", id, ok, common.Demo(), want)
		}
	}
}

func TestPacksAsked(t *testing.T) {
	const head = "rotors = 4\n[limit]\nmass_g = 250\n[slots]\nframe = \"lark-35\"\nmotor = \"wick-1404-3800\"\nprop = \"fen-35x25-3\"\nboard = \"loam-20\"\n"
	for name, c := range map[string]struct {
		text string
		want []string
	}{
		"no pack":         {"", nil},
		"today's alone":   {"pack = \"sedge-650\"\n", nil},
		"one in a list":   {"pack = [\"sedge-650\"]\n", nil},
		"candidates":      {"pack = [\"sedge-850\", \"sedge-650\"]\n", []string{"sedge-850", "sedge-650"}},
		"only":            {"[packs]\nonly = [\"sedge-650\"]\n", []string{"sedge-650"}},
		"only as a text":  {"[packs]\nonly = \"sedge-650\"\n", []string{"sedge-650"}},
		"only goes first": {"pack = [\"sedge-850\", \"sedge-650\"]\n[packs]\nonly = [\"sedge-850\"]\n", []string{"sedge-850"}},
	} {
		b, _ := readBuild(t, head+c.text, base(t))
		if diff := cmp.Diff(c.want, b.PacksAsked()); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
}
