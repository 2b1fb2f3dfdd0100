package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"
	"unicode"
)

// TestDocComments holds that every exported name has a doc comment, and that a doc comment begins with its own
// name, which a name that was changed would otherwise leave behind.
func TestDocComments(t *testing.T) {
	root := repository(t)
	checked := 0
	err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && strings.HasPrefix(d.Name(), ".") && name != root {
			return filepath.SkipDir
		}
		if !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
			return nil
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, name, nil, parser.ParseComments)
		if err != nil {
			return err
		}
		check := func(id *ast.Ident, doc *ast.CommentGroup, needed bool) {
			checked++
			if text := doc.Text(); doc == nil && needed && id.IsExported() {
				t.Errorf("%s: %s has no doc comment", set.Position(id.Pos()), id.Name)
			} else if text != "" && !beginsWith(text, id.Name) {
				t.Errorf("%s: the doc comment of %s begins otherwise: %.60q", set.Position(id.Pos()), id.Name, text)
			}
		}
		for _, decl := range file.Decls {
			switch d := decl.(type) {
			case *ast.FuncDecl:
				check(d.Name, d.Doc, d.Recv == nil)
			case *ast.GenDecl:
				checkSpecs(d, check)
			}
		}
		return nil
	})
	if err != nil || checked == 0 {
		t.Error(err, checked)
	}
}

// checkSpecs checks types, constants and variables; of a group of constants one comment may stand above all.
func checkSpecs(d *ast.GenDecl, check func(*ast.Ident, *ast.CommentGroup, bool)) {
	for _, s := range d.Specs {
		switch s := s.(type) {
		case *ast.TypeSpec:
			doc := s.Doc
			if doc == nil && len(d.Specs) == 1 {
				doc = d.Doc
			}
			check(s.Name, doc, true)
		case *ast.ValueSpec:
			doc := s.Doc
			if doc == nil && !d.Lparen.IsValid() {
				doc = d.Doc
			}
			if len(s.Names) == 1 {
				check(s.Names[0], doc, false)
			}
		}
	}
}

// beginsWith reports whether a doc comment begins with a name, after an article perhaps.
func beginsWith(text, name string) bool {
	for _, article := range []string{"", "A ", "An ", "The "} {
		if rest, ok := strings.CutPrefix(text, article+name); ok {
			next := []rune(rest + " ")[0]
			return !unicode.IsLetter(next) && !unicode.IsDigit(next)
		}
	}
	return false
}
