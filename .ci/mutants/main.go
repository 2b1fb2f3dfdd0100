// Command mutants changes one token of the program at a time, at random but the same ones for the same seed, and
// runs the tests of its package: what no test notices is a change that nobody would notice. From this folder,
//
//	go run . -n 40 -seed 7
//
// lists each change with what became of it. It writes nothing into the project: the compiler reads the changed file
// in place of the true one.
package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
)

// A room is files that are changed and the tests that should notice, the quickest first: the others run where those
// before them do not notice.
type room struct {
	name    string
	folders []string
	tests   [][]string
}

var rooms = []room{
	{"planner", []string{"planner"}, [][]string{{"-short", "./planner"}, {"-short", "./cmd/allup"}, {"./planner"}}},
	{"cmd", []string{"cmd/allup", "cmd/allup/internal/sheet", "cmd/allup/internal/draw", "cmd/allup/internal/page"}, [][]string{
		{"-short", "./cmd/allup/internal/..."}, {"-short", "-run", "Values|Screens|Pages|Readme|Pictures|Drawings", "./cmd/allup"}, {"./cmd/allup"},
	}},
	{"tested", []string{"planner/tested"}, [][]string{{"-short", "./planner/tested"}, {"-short", "./cmd/allup"}, {"./planner/tested"}}},
	{"model", []string{"model", "model/bench", "model/words"}, [][]string{{"-short", "./model/..."}, {"-short", "./planner/tested"}, {"-short", "./planner"}, {"-short", "./cmd/allup"}}},
}

// A change is one token of a file and what takes its place.
type change struct {
	file     string
	at       int // offset
	line     int
	old, new string
	tests    [][]string
}

func main() {
	root := flag.String("root", "../..", "the project's folder")
	n := flag.Int("n", 40, "number of changes, shared by the rooms")
	seed := flag.Uint64("seed", 1, "which changes")
	limit := flag.Duration("timeout", 5*time.Minute, "for the tests of one change; more is a change that was noticed")
	only := flag.String("rooms", "planner,cmd", "what is changed: "+roomNames()+", separated by commas")
	list := flag.Bool("list", false, "list the changes and run nothing")
	skip := flag.Int("skip", 0, "leave out the first changes, of a run that was broken off")
	files := flag.String("files", "", "change only files whose path holds this, such as planner/rules")
	tests := flag.String("tests", "", "run only these in place of a room's tests, such as \"-short -run Rules ./planner\"")
	flag.Parse()
	o := options{*n, *seed, *limit, *list, *skip, strings.Split(*only, ","), *files, strings.Fields(*tests)}
	if err := run(*root, o); err != nil {
		fmt.Fprintln(os.Stderr, "mutants:", err)
		os.Exit(1)
	}
}

// options are the flags.
type options struct {
	n     int
	seed  uint64
	limit time.Duration
	list  bool
	skip  int
	rooms []string
	files string
	tests []string
}

func run(root string, o options) error {
	for _, name := range o.rooms {
		if !slices.ContainsFunc(rooms, func(r room) bool { return r.name == name }) {
			return fmt.Errorf("there is no room %q; there are %s", name, roomNames())
		}
	}
	root, err := filepath.Abs(root)
	if err != nil {
		return err
	}
	temp, err := os.MkdirTemp("", "mutants")
	if err != nil {
		return err
	}
	defer os.RemoveAll(temp)
	caught, survived := 0, 0
	for i, r := range rooms {
		if !slices.Contains(o.rooms, r.name) {
			continue
		}
		changes, err := changesOf(root, r)
		if err != nil {
			return err
		}
		changes = slices.DeleteFunc(changes, func(c change) bool { return !strings.Contains(c.file, o.files) })
		random := rand.New(rand.NewPCG(o.seed, uint64(i)))
		random.Shuffle(len(changes), func(a, b int) { changes[a], changes[b] = changes[b], changes[a] })
		done := 0
		for _, c := range changes {
			if done == o.n/len(o.rooms) {
				break
			}
			if len(o.tests) > 0 {
				c.tests = [][]string{o.tests}
			}
			if o.skip > 0 {
				o.skip--
				done++
				continue
			}
			what := fmt.Sprintf("%s:%d: %s -> %s", c.file, c.line, c.old, c.new)
			if o.list {
				fmt.Println(what)
				done++
				continue
			}
			begun := time.Now()
			result, err := try(root, temp, c, o.limit)
			if err != nil {
				return err
			}
			if result == "" {
				continue // it does not compile: no program, and none of the number
			}
			done++
			if result == "SURVIVED" {
				survived++
			} else {
				caught++
			}
			fmt.Printf("%s: %s (%.0f s)\n", what, result, time.Since(begun).Seconds())
		}
	}
	if !o.list {
		fmt.Printf("%d of %d caught\n", caught, caught+survived)
	}
	return nil
}

func roomNames() string {
	var names []string
	for _, r := range rooms {
		names = append(names, r.name)
	}
	return strings.Join(names, ", ")
}

// try runs the tests on one change: which caught it, "SURVIVED", or "" where it does not compile.
func try(root, temp string, c change, limit time.Duration) (string, error) {
	whole, err := os.ReadFile(filepath.Join(root, c.file))
	if err != nil {
		return "", err
	}
	changed := filepath.Join(temp, "changed.go")
	text := string(whole[:c.at]) + c.new + string(whole[c.at+len(c.old):])
	if err := os.WriteFile(changed, []byte(text), 0o600); err != nil {
		return "", err
	}
	overlay := filepath.Join(temp, "overlay.json")
	data, err := json.Marshal(map[string]map[string]string{"Replace": {filepath.Join(root, c.file): changed}})
	if err != nil {
		return "", err
	}
	if err := os.WriteFile(overlay, data, 0o600); err != nil {
		return "", err
	}
	goTool := func(args ...string) error {
		ctx, cancel := context.WithTimeout(context.Background(), limit)
		defer cancel()
		cmd := exec.CommandContext(ctx, "go", args...)
		cmd.Dir = root
		return cmd.Run()
	}
	if goTool("build", "-overlay", overlay, "-o", os.DevNull, "./"+filepath.Dir(c.file)) != nil {
		return "", nil
	}
	for _, tests := range c.tests {
		err := goTool(append([]string{"test", "-overlay", overlay, "-vet=off", "-failfast"}, tests...)...)
		if failed := (*exec.ExitError)(nil); errors.As(err, &failed) {
			return "caught by " + strings.Join(tests, " "), nil
		}
		if err != nil {
			return "", err
		}
	}
	return "SURVIVED", nil
}

// changesOf lists every change that can be made in a room, in the order of its files.
func changesOf(root string, r room) ([]change, error) {
	var all []change
	for _, folder := range r.folders {
		names, err := filepath.Glob(filepath.Join(root, folder, "*.go"))
		if err != nil {
			return nil, err
		}
		for _, name := range names {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			files := token.NewFileSet()
			file, err := parser.ParseFile(files, name, nil, 0)
			if err != nil {
				return nil, err
			}
			short, err := filepath.Rel(root, name)
			if err != nil {
				return nil, err
			}
			add := func(at token.Pos, old, new string) {
				p := files.Position(at)
				all = append(all, change{short, p.Offset, p.Line, old, new, r.tests})
			}
			ast.Inspect(file, func(n ast.Node) bool { return look(n, add) })
		}
	}
	return all, nil
}

// swapped are tokens that take each other's place.
var swapped = map[string]string{
	"+": "-", "-": "+", "*": "/", "/": "*", "<": "<=", "<=": "<", ">": ">=", ">=": ">", "==": "!=", "!=": "==", "&&": "||", "||": "&&",
	"+=": "-=", "-=": "+=", "*=": "/=", "++": "--",
	"true": "false", "false": "true", "min": "max", "max": "min",
	"Low": "High", "High": "Low", "Before": "After", "After": "Before", "Ranked": "Excluded", "Excluded": "Ranked", "Mass": "Margin", "Margin": "Mass",
	"R0": "R1", "R1": "R0", "Punch": "PunchLanding", "Current": "EndCurrent", "BurstPower": "Demand",
}

// look offers the changes of a node's own token. Declarations of types and imports have none.
func look(n ast.Node, add func(at token.Pos, old, new string)) bool {
	swap := func(at token.Pos, old string) {
		if new, ok := swapped[old]; ok {
			add(at, old, new)
		}
	}
	switch n := n.(type) {
	case *ast.ImportSpec, *ast.TypeSpec:
		return false
	case *ast.BinaryExpr:
		if lit, ok := n.Y.(*ast.BasicLit); ok && lit.Kind == token.STRING && n.Op == token.ADD {
			break // texts are joined, not added
		}
		swap(n.OpPos, n.Op.String())
	case *ast.AssignStmt:
		swap(n.TokPos, n.Tok.String())
	case *ast.IncDecStmt:
		swap(n.TokPos, n.Tok.String())
	case *ast.UnaryExpr:
		if n.Op == token.NOT {
			add(n.OpPos, "!", "")
		}
	case *ast.Ident:
		swap(n.Pos(), n.Name)
	case *ast.BasicLit:
		switch n.Kind {
		case token.INT:
			if v, err := strconv.Atoi(n.Value); err == nil {
				add(n.Pos(), n.Value, strconv.Itoa(v+1))
			}
		case token.FLOAT:
			add(n.Pos(), n.Value, "(2*"+n.Value+")")
		}
	}
	return true
}
