package main

import (
	"os"
	"path/filepath"
	"testing"
)

// TestSameTarget: two names are of one file whatever way they take, and whether it is there or not.
func TestSameTarget(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, folder := range []string{"there", "other"} {
		if err := os.Mkdir(folder, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	for _, file := range []string{"there/a.toml", "other/a.toml"} {
		if err := os.WriteFile(file, nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Symlink("there", "link"); err != nil {
		t.Skip("no symbolic links here:", err)
	}
	whole, err := filepath.Abs("there/new.toml")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		a, b string
		want bool
	}{
		{"there/a.toml", "there/a.toml", true},
		{"there/a.toml", "link/a.toml", true},
		{"there/a.toml", "other/../there/a.toml", true},
		{"there/a.toml", "other/a.toml", false},
		{"there/a.toml", "there/new.toml", false}, // one is there, one is not
		{"there/new.toml", "there/a.toml", false},
		{"there/a.toml", "none/a.toml", false},
		{"none/a.toml", "there/a.toml", false},
		{"there/new.toml", "link/new.toml", true},
		{"there/new.toml", whole, true},
		{"there/new.toml", "there/newer.toml", false},
		{"there/new.toml", "other/new.toml", false},
		{"none/new.toml", "none/new.toml", true},
		{"none/new.toml", "./none/../none/new.toml", true},
		{"none/new.toml", "nowhere/new.toml", false},
		{"none/deep/new.toml", "link/deep/new.toml", false},
		{"there/deep/new.toml", "link/deep/new.toml", true},
	} {
		if got := sameTarget(c.a, c.b); got != c.want {
			t.Errorf("sameTarget(%s, %s) = %v", c.a, c.b, got)
		}
	}
}
