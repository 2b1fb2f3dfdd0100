package catalog_test

import (
	"bytes"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
)

var update = flag.Bool("update", false, "rewrite the golden files of testdata/broken")

const brokenDir = "../testdata/broken"

// brokenBase is the catalogue under the broken files.
func brokenBase() catalog.Layer {
	return catalog.Layer{Name: "built-in", Files: []catalog.File{
		{Name: "base.toml", FS: os.DirFS(brokenDir), Path: "base.toml"},
	}}
}

// TestBrokenRecords and TestBrokenBuilds are golden tests: the texts are right
// because people have read them, and must not change unseen.
func TestBrokenRecords(t *testing.T) {
	brokenFiles(t, "records", func(name string, data []byte) error {
		_, _, err := catalog.Load(brokenBase(), memoryLayer("parts", map[string][]byte{name: data}))
		return err
	})
}

func TestBrokenBuilds(t *testing.T) {
	parts, _, err := catalog.Load(brokenBase())
	if err != nil {
		t.Fatal(err)
	}
	brokenFiles(t, "builds", func(name string, data []byte) error {
		_, _, err := catalog.ReadBuild(name, bytes.NewReader(data), parts)
		return err
	})
}

func brokenFiles(t *testing.T, folder string, read func(name string, data []byte) error) {
	files, err := filepath.Glob(filepath.Join(brokenDir, folder, "*.toml"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no files in %s: %v", folder, err)
	}
	for _, file := range files {
		name := filepath.Base(file)
		t.Run(strings.TrimSuffix(name, ".toml"), func(t *testing.T) {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			err = read(name, data)
			checkFaults(t, name, err)
			if t.Failed() {
				return
			}
			golden := strings.TrimSuffix(file, ".toml") + ".golden"
			got := err.Error() + "\n"
			if *update {
				if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(want), got); diff != "" {
				t.Errorf("error text differs (-want +got):\n%s", diff)
			}
		})
	}
}

// checkFaults checks what holds for every fault of a file: its type, its file, its
// order, and that its text is safe to print.
func checkFaults(t *testing.T, file string, err error) {
	t.Helper()
	faults, ok := errors.AsType[catalog.InputErrors](err)
	if !ok || len(faults) == 0 {
		t.Errorf("error is %T %v, want InputErrors", err, err)
		return
	}
	last := 0
	for _, f := range faults {
		if f.File != file {
			t.Errorf("fault has file %q, want %q", f.File, file)
		}
		if f.Line < last && f.Line != 0 {
			t.Errorf("line %d comes after line %d", f.Line, last)
		}
		last = f.Line
	}
	if i := strings.IndexFunc(strings.ReplaceAll(err.Error(), "\n", ""), func(r rune) bool { return r < ' ' || r == 0x7f || r == '\u202e' }); i >= 0 {
		t.Errorf("error text has a raw control character at %d: %q", i, err.Error())
	}
}
