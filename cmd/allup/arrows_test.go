package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// rooms are the packages and what each may import of ours, and of what tells them apart.
var rooms = map[string][]string{
	"model":         {},
	"model/bench":   {"allup/model", "allup/model/words"},
	"planner":       {"allup/catalog", "allup/model"},
	"cmd/benchlogs": {"allup/model", "os"},
	"cmd/allup":     {"allup/cmd/allup/internal", "allup/planner", "allup/catalog", "allup/model", "github.com/spf13/cobra", "os"},

	"model/words":              {},
	"catalog":                  {"allup/catalog/csvlog", "allup/model", "github.com/BurntSushi/toml", "os"},
	"catalog/csvlog":           {"allup/model"},
	"planner/tested":           {"allup/planner", "allup/catalog", "allup/model"},
	"cmd/allup/internal/draw":  {"allup/planner", "allup/catalog", "allup/model", "gonum.org/v1/plot"},
	"cmd/allup/internal/page":  {"allup/cmd/allup/internal/draw", "allup/cmd/allup/internal/sheet"},
	"cmd/allup/internal/sheet": {"allup/model/words", "github.com/olekukonko/tablewriter", "github.com/clipperhouse/displaywidth"},
}

// watched are imports that not every room may have: the arrows, files, TOML, printing.
func watched(path string) bool {
	for _, prefix := range []string{"allup/", "github.com/BurntSushi/toml", "github.com/spf13/cobra", "github.com/olekukonko/tablewriter", "github.com/clipperhouse/displaywidth", "gonum.org/v1/plot"} {
		if strings.HasPrefix(path, prefix) {
			return true
		}
	}
	return path == "os" || path == "log"
}

// TestArrows holds that imports run one way, cmd -> planner/tested -> planner -> catalog -> catalog/csvlog ->
// model/bench -> model, that only catalog knows TOML, only catalog and cmd know files, only cmd prints, and
// only sheet knows the table library.
func TestArrows(t *testing.T) {
	root := repository(t)
	for room, allowed := range rooms {
		files := 0
		err := filepath.WalkDir(filepath.Join(root, room), func(name string, d fs.DirEntry, err error) error {
			if err == nil && d.IsDir() && name != filepath.Join(root, room) && isRoom(root, name) {
				return filepath.SkipDir // a room of its own
			}
			if err != nil || d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
				return err
			}
			files++
			file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
			if err != nil {
				return err
			}
			for _, i := range file.Imports {
				path, err := strconv.Unquote(i.Path.Value)
				if err != nil {
					return err
				}
				allows := slices.ContainsFunc(allowed, func(a string) bool { return path == a || strings.HasPrefix(path, a+"/") })
				if watched(path) && !allows {
					t.Errorf("%s imports %s: %s may not", name, path, room)
				}
			}
			if !strings.HasPrefix(room, "cmd/allup") {
				refusePrinting(t, name, file)
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		if files == 0 {
			t.Errorf("no files in room %s", room)
		}
	}
}

// isRoom reports whether a folder is a room with a line of its own.
func isRoom(root, folder string) bool {
	room, err := filepath.Rel(root, folder)
	_, has := rooms[filepath.ToSlash(room)]
	return err == nil && has
}

// refusePrinting finds fmt.Print and init outside cmd.
func refusePrinting(t *testing.T, name string, file *ast.File) {
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.SelectorExpr:
			if x, ok := n.X.(*ast.Ident); ok && x.Name == "fmt" && slices.Contains([]string{"Print", "Println", "Printf"}, n.Sel.Name) {
				t.Errorf("%s prints: only cmd may", name)
			}
		case *ast.FuncDecl:
			if n.Name.Name == "init" && n.Recv == nil {
				t.Errorf("%s has an init function", name)
			}
		}
		return true
	})
}

// TestTopLevel holds that the repository has the rooms of its card at the top and nothing else.
func TestTopLevel(t *testing.T) {
	root := repository(t)
	want := []string{"DEVELOPERS.md", "README.md", "catalog", "cmd", "go.mod", "go.sum", "model", "planner", "testdata"}
	entries, err := filepath.Glob(filepath.Join(root, "*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if base := filepath.Base(e); !slices.Contains(want, base) && !strings.HasPrefix(base, ".") {
			t.Errorf("%s is at the top level", base)
		}
	}
	for _, w := range want {
		if !slices.Contains(entries, filepath.Join(root, w)) {
			t.Errorf("%s is not at the top level", w)
		}
	}
}
