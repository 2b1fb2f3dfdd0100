package catalog_test

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"allup/catalog"
)

// seeds adds good and broken files to start from.
func seeds(f *testing.F, folder string, more ...string) {
	for _, text := range more {
		f.Add([]byte(text))
	}
	files, err := filepath.Glob(filepath.Join(brokenDir, folder, "*.toml"))
	if err != nil {
		f.Fatal(err)
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		if len(data) < 2000 {
			f.Add(data)
		}
	}
}

// FuzzCatalogue: any file is a catalogue or has faults with its name and a safe text,
// and reads the same twice.
func FuzzCatalogue(f *testing.F) {
	seeds(f, "records", everyKind)
	f.Fuzz(func(t *testing.T, data []byte) {
		layer := memoryLayer("parts", map[string][]byte{"x.toml": data})
		c, _, err := catalog.Load(layer)
		_, _, again := catalog.Load(layer)
		if (err == nil) != (again == nil) || err != nil && err.Error() != again.Error() {
			t.Errorf("first %v\nthen %v", err, again)
		}
		if err != nil {
			checkFaults(t, "x.toml", err)
			return
		}
		for _, kind := range catalog.Kinds() {
			for _, id := range c.IDs(kind) {
				if source, ok := c.Locate(id)[id]; !ok || source.Line < 1 {
					t.Errorf("Locate(%q) = %v, %v", id, source, ok)
				}
			}
		}
	})
}

func FuzzBuild(f *testing.F) {
	seeds(f, "builds", fullBuild, leastBuild, starter("build"))
	parts := base(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		b, _, err := catalog.ReadBuild("x.toml", bytes.NewReader(data), parts)
		if err != nil {
			checkFaults(t, "x.toml", err)
			return
		}
		if b.Limit.Mass <= b.Limit.Spare || len(b.Slots.Frame) == 0 || b.Parts.Frames[b.Slots.Frame[0]].Rotors != b.Rotors {
			t.Errorf("a build that contradicts itself was read: %+v", b)
		}
	})
}

func FuzzChange(f *testing.F) {
	for _, text := range []string{"pack=sedge-650", "with=camera:12.5g", "without=eyrie-cam", "with=:1e400kg", "x", "=\x00"} {
		f.Add(text)
	}
	parts := base(f)
	b, _, err := catalog.ReadBuild("x.toml", bytes.NewReader([]byte(fullBuild)), parts)
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, text string) {
		c, err := catalog.ParseChange(text)
		if err == nil {
			_, _, err = b.Apply([]catalog.Change{c})
		}
		if err == nil {
			return
		}
		if _, ok := errors.AsType[catalog.InputErrors](err); !ok {
			t.Errorf("error is %T, want InputErrors", err)
		}
		checkFaults(t, "", err)
	})
}

// FuzzBench: any file is a bench file or has faults with its name and a safe text; what is read names its packs.
func FuzzBench(f *testing.F) {
	seeds(f, "benches", starter("bench"))
	f.Fuzz(func(t *testing.T, data []byte) {
		b, _, err := catalog.ReadBench("x.toml", bytes.NewReader(data))
		if err != nil {
			checkFaults(t, "x.toml", err)
			return
		}
		for _, p := range b.Packs {
			if p.ID == "" || p.Cells < 1 || !(p.Mass > 0) || len(p.Discharge) == 0 && p.Burst == "" {
				t.Errorf("a pack that cannot be reduced was read: %+v", p)
			}
		}
	})
}
