package main

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "rewrite golden files with what the program says now")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"allup": main})
}

// TestScripts runs whole commands through the real binary: exit codes, files, pipes.
func TestScripts(t *testing.T) {
	root := repository(t)
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join(root, "testdata", "scripts"),
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("BUILDS", filepath.Join(root, "testdata", "builds"))
			e.Setenv("BENCH", filepath.Join(root, "testdata", "bench"))
			e.Setenv("XDG_CONFIG_HOME", filepath.Join(e.WorkDir, "config"))
			e.Setenv("HOME", e.WorkDir)
			return nil
		},
	})
}

func repository(t *testing.T) string {
	t.Helper()
	root, err := filepath.Abs(filepath.Join("..", ".."))
	if err != nil {
		t.Fatal(err)
	}
	return root
}

// said is what the program wrote and how it ended.
type said struct {
	Out, Err string
	Code     exitCode
}

// tell runs the program in this process, as on a terminal of a width or, for 0, in a pipe.
func tell(t *testing.T, width int, stdin string, args ...string) said {
	t.Helper()
	var out, err bytes.Buffer
	empty := t.TempDir()
	s := &streams{
		in: strings.NewReader(stdin), out: &out, err: &err,
		outTerminal: width > 0, width: width,
		configDir: func() (string, error) { return empty, nil },
	}
	code := run(s, args)
	return said{out.String(), err.String(), code}
}

// golden compares text with a file, or rewrites the file.
func golden(t *testing.T, file, got string) {
	t.Helper()
	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s (-want +got), run with -update if it is meant:\n%s", file, diff)
	}
}
