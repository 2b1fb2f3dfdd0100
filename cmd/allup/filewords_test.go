package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/spf13/cobra"
	"golang.org/x/term"

	"allup/catalog"
	"allup/cmd/allup/internal/draw"
	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/model/bench"
	"allup/planner"
	"allup/planner/tested"
)

// oddOf is that much that is odd in a file, each about a pack of its own.
func oddOf(n int) []catalog.Warning {
	var list []catalog.Warning
	for i := range n {
		list = append(list, catalog.Warning{Code: "odd-value", File: "my.toml", Line: i + 1, Field: fmt.Sprintf("pack.p%d.mass_g", i), Text: "is odd"})
	}
	return list
}

// Of what is odd in the files twenty are told, each once, and how many more there are; a thousand are kept.
func TestOddInFiles(t *testing.T) {
	for n, want := range map[int]string{0: "", 1: "", 20: "", 21: "1 more odd value in the files.", 22: "2 more odd values in the files.", 1001: "981 more odd values in the files.", 1500: "1480 more odd values in the files."} {
		a := &app{}
		a.keepOdd(oddOf(n))
		a.keepOdd(oddOf(min(n, 1000))) // read again
		notes := a.oddNotes()
		if len(a.odd) != min(n, 1000) || a.moreOdd != max(0, n-1000) {
			t.Errorf("%d: %d are kept, %d counted", n, len(a.odd), a.moreOdd)
		}
		if n > 0 && notes[0] != "Odd in a file: my.toml:1: pack.p0.mass_g: is odd" {
			t.Errorf("%d: %q", n, notes[0])
		}
		if want == "" && len(notes) != n || want != "" && (len(notes) != 21 || notes[20] != want) {
			t.Errorf("%d: %d notes, want %q: %q", n, len(notes), want, notes)
		}
	}
	// One that stands for several counts for them.
	a := &app{}
	many := oddOf(1000)
	many[999].Count = 7
	a.keepOdd(append(many, catalog.Warning{Field: "x", Count: 5}, catalog.Warning{Field: "y"}))
	if want := "992 more odd values in the files."; a.moreOdd != 6 || a.oddNotes()[20] != want {
		t.Errorf("%d more, %q, want %q", a.moreOdd, a.oddNotes()[20], want)
	}
}

// Whoever sees the answer with its notes on a terminal is not told twice.
func TestShownInAnswer(t *testing.T) {
	for _, c := range []struct {
		a    app
		want bool
	}{
		{app{streams: &streams{outTerminal: true}, format: formatTable}, true},
		{app{streams: &streams{}, format: formatTable}, false},
		{app{streams: &streams{outTerminal: true}, format: formatMarkdown}, false},
		{app{streams: &streams{outTerminal: true}, format: formatTable, outFile: "x"}, false},
	} {
		if got := c.a.shownInAnswer(); got != c.want {
			t.Errorf("%q to %q: %v", c.a.format, c.a.outFile, got)
		}
	}
}

// In CSV what there is to warn of stands on the first row, and what is odd in a file on the row of the part that it is
// about.
func TestWarningsInCSV(t *testing.T) {
	table := func(rows ...[2]string) *sheet.Table {
		out := &sheet.Table{Title: "t", Columns: []sheet.Column{{Head: "pack", Key: "pack"}, {Head: "warnings", Key: warningsKey}}}
		for _, r := range rows {
			out.Add(sheet.Word(r[0]), sheet.Word(r[1]))
		}
		return out
	}
	two := table([2]string{"p1", "own"}, [2]string{"p3 p2", "-"})
	screen := func(t *sheet.Table) sheet.Screen {
		return sheet.Screen{Tables: []*sheet.Table{t}, Warnings: []string{"a", "b"}}
	}

	a := &app{}
	s := a.withWarnings(screen(two))
	if diff := cmp.Diff([]string{"a; b; own", "-"}, column(t, s.Sheet, warningsKey)); diff != "" {
		t.Error(diff)
	}
	if len(s.Sheet.Columns) != 2 || len(s.Tables[0].Rows[0]) != 2 || s.Tables[0].Rows[0][1].Text != "own" {
		t.Errorf("%+v", s.Tables[0])
	}
	a.odd = append(oddOf(4), catalog.Warning{File: "my.toml", Field: "pack.p10.x", Text: "is far"}, catalog.Warning{File: "my.toml", Field: "p", Text: "is of none"})
	s = a.withWarnings(screen(two))
	want := []string{
		"my.toml:1: pack.p0.mass_g: is odd; my.toml:2: pack.p1.mass_g: is odd; my.toml: pack.p10.x: is far; my.toml: p: is of none",
		"my.toml:3: pack.p2.mass_g: is odd; my.toml:4: pack.p3.mass_g: is odd",
	}
	if diff := cmp.Diff(want, column(t, s.Sheet, "file_notes")); diff != "" {
		t.Error(diff)
	}
	if head := s.Sheet.Columns[2]; head.Head != "file notes" || s.Sheet.Title != "t" {
		t.Errorf("%+v of %q", head, s.Sheet.Title)
	}
	// The table of all is the screen's own for CSV, where it has one; one without rows says nothing.
	own := screen(two)
	own.Sheet = table([2]string{"p9", ""})
	if s := a.withWarnings(own); len(s.Sheet.Rows) != 1 {
		t.Errorf("%d rows", len(s.Sheet.Rows))
	}
	if s := a.withWarnings(screen(table())); s.Sheet != nil {
		t.Errorf("%+v", s.Sheet)
	}
	if s := a.withWarnings(sheet.Screen{Warnings: []string{"a"}}); s.Sheet != nil {
		t.Errorf("%+v", s.Sheet)
	}
	// Without a list of warnings there is no column of them.
	bare := &sheet.Table{Columns: []sheet.Column{{Head: "pack", Key: "pack"}}}
	bare.Add(sheet.Word("p1"))
	if s := (&app{}).withWarnings(sheet.Screen{Tables: []*sheet.Table{bare}}); len(s.Sheet.Columns) != 1 {
		t.Errorf("%+v", s.Sheet.Columns)
	}
	if s := (&app{}).withWarnings(sheet.Screen{Tables: []*sheet.Table{bare}, Warnings: []string{}}); len(s.Sheet.Columns) != 2 {
		t.Errorf("%+v", s.Sheet.Columns)
	}

	// Of more than twenty the first are told, and the others counted.
	a = &app{odd: oddOf(23)}
	got := column(t, a.withWarnings(screen(two)).Sheet, "file_notes")
	if !strings.HasSuffix(got[0], "pack.p19.mass_g: is odd; 3 more odd values in the files") || strings.Contains(strings.Join(got, " "), "p20") {
		t.Errorf("%q", got)
	}
}

// An answer in JSON that is an object gets what is odd in the files at its end; others stay as they are.
func TestEndOfJSON(t *testing.T) {
	said := func(a *app, answer string) string {
		var out bytes.Buffer
		w := tail{over: &out}
		for i := range answer { // one byte after another
			if n, err := w.Write([]byte(answer[i : i+1])); n != 1 || err != nil {
				t.Fatalf("%d, %v", n, err)
			}
		}
		if err := a.endJSON(&w); err != nil {
			t.Fatal(err)
		}
		return out.String()
	}
	odd := &app{odd: oddOf(1)}
	const one = "{\n  \"a\": 1\n}\n"
	const list = ",\n  \"file_warnings\": [\n    {\n      \"code\": \"odd-value\",\n      \"file\": \"my.toml\",\n      \"line\": 1,\n      \"field\": \"pack.p0.mass_g\",\n      \"text\": \"is odd\"\n    }"
	if got := said(&app{}, one); got != one {
		t.Errorf("%q", got)
	}
	if got := said(odd, "[1]\n"); got != "[1]\n" {
		t.Errorf("%q", got)
	}
	if got, want := said(odd, one), "{\n  \"a\": 1"+list+"\n  ]\n}\n"; got != want {
		t.Errorf("%q\nwant %q", got, want)
	}
	if got, want := said(odd, strings.Replace(one, "1", "12", 1)), "{\n  \"a\": 12"+list+"\n  ]\n}\n"; got != want { // one byte longer
		t.Errorf("%q\nwant %q", got, want)
	}
	odd.moreOdd = 1
	if got := said(odd, one); !strings.Contains(got, `"code": "more-odd"`) || !strings.Contains(got, `"text": "1 more odd value"`) {
		t.Errorf("%q", got)
	}
	broken := tail{over: writerFunc(func([]byte) (int, error) { return 0, io.ErrClosedPipe })}
	if _, err := broken.Write([]byte("more than the end of an object")); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("%v", err)
	}
}

// Progress is drawn on a terminal alone, of work that lasts, from time to time, and taken away.
func TestMeter(t *testing.T) {
	var out bytes.Buffer
	for _, c := range []struct{ terminal, quiet, want bool }{{true, false, true}, {true, true, false}, {false, false, false}} {
		m := (&streams{err: &out, errTerminal: c.terminal}).meter("packs", c.quiet)
		if (m.w != nil) != c.want || m.what != "packs" {
			t.Errorf("%+v: %v", c, m.w)
		}
	}
	long, soon := time.Now().Add(-time.Hour), time.Now().Add(time.Hour)
	for _, c := range []struct {
		name        string
		begun, last time.Time
		done, total int
		want        string
	}{
		{"at work", long, long, 1, 4, "\rpacks 25 %\x1b[K"},
		{"the first", long, time.Time{}, 2, 3, "\rpacks 66 %\x1b[K"},
		{"of nothing", long, long, 0, 0, "\rpacks 0 %\x1b[K"},
		{"all", long, long, 7, 7, "\rpacks 100 %\x1b[K"},
		{"just begun", soon, long, 1, 4, ""},
		{"just drawn", long, soon, 1, 4, ""},
	} {
		out.Reset()
		m := meter{w: &out, what: "packs", begun: c.begun, last: c.last}
		m.tick(c.done, c.total)
		drawn := out.String()
		m.clear()
		m.clear()
		cleared := ""
		if c.want != "" {
			cleared = "\r\x1b[K"
		}
		if drawn != c.want || out.String() != c.want+cleared {
			t.Errorf("%s: %q, then %q", c.name, drawn, out.String())
		}
	}
	out.Reset()
	idle := meter{what: "packs", begun: long}
	idle.tick(1, 2)
	if idle.clear(); out.Len() > 0 || idle.shown {
		t.Errorf("%q", out.String())
	}
}

// The first error of a writer is kept, and none that comes after it.
func TestCheckedWriter(t *testing.T) {
	errs := []error{nil, io.ErrShortWrite, io.ErrClosedPipe, nil}
	at := 0
	w := checkedWriter{w: writerFunc(func(p []byte) (int, error) { at++; return len(p), errs[at-1] })}
	for i, want := range []error{nil, io.ErrShortWrite, io.ErrShortWrite, io.ErrShortWrite} {
		if _, err := w.Write([]byte("x")); err != errs[i] || w.err != want {
			t.Errorf("write %d: %v, kept %v", i, err, w.err)
		}
	}
}

// A width is what is asked for, if it is one; a pipe has none, and a terminal that does not tell has 80.
func TestWidths(t *testing.T) {
	for text, want := range map[string]int{"": 0, "80": 80, "1": 1, "0": 0, "-80": 0, "wide": 0} {
		if got := columns(text); got != want {
			t.Errorf("columns(%q) = %d", text, got)
		}
	}
	if term.IsTerminal(int(os.Stdout.Fd())) {
		t.Skip("standard output is a terminal")
	}
	for asked, want := range map[int]int{0: 80, 1: 1, 132: 132} {
		if got := terminalWidth(asked); got != want {
			t.Errorf("terminalWidth(%d) = %d", asked, got)
		}
	}
}

// The user's records stand in the program's own folder, if there is one.
func TestUserParts(t *testing.T) {
	s := streams{configDir: func() (string, error) { return "home", nil }}
	if got, err := s.userParts(); err != nil || got != filepath.Join("home", "allup", "parts") {
		t.Errorf("%q, %v", got, err)
	}
	s.configDir = func() (string, error) { return "home", os.ErrNotExist }
	if got, err := s.userParts(); !errors.Is(err, os.ErrNotExist) || got != "" {
		t.Errorf("%q, %v", got, err)
	}
}

// A file without a name is not opened; one that is not there is followed.
func TestOpenInputs(t *testing.T) {
	i := inputs{in: strings.NewReader("text")}
	var usage usageError
	if _, _, err := i.open("build", ""); !errors.As(err, &usage) || err.Error() != "the name of the build file is empty" || len(i.seen) != 0 {
		t.Errorf("%v, %d", err, len(i.seen))
	}
	in, shown, err := i.open("build", "-")
	if err != nil || shown != "standard input" || len(i.seen) != 0 || len(i.opened) != 0 {
		t.Fatalf("%q, %v, %d, %d", shown, err, len(i.seen), len(i.opened))
	}
	if text, err := io.ReadAll(in); string(text) != "text" || err != nil {
		t.Errorf("%q, %v", text, err)
	}
	name := filepath.Join(t.TempDir(), "b.toml")
	if _, _, err := i.open("build", name); err == nil || len(i.seen) != 1 || len(i.opened) != 0 {
		t.Errorf("%v, %d, %d", err, len(i.seen), len(i.opened))
	}
	if err := os.WriteFile(name, []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	if in, shown, err := i.open("build", name); err != nil || shown != name || len(i.seen) != 2 || len(i.opened) != 1 {
		t.Errorf("%q, %v, %d, %d", shown, err, len(i.seen), len(i.opened))
	} else {
		in.Close()
	}
	if err := i.keep("--out", name); err == nil || !strings.Contains(err.Error(), "--out "+name+" is a file that this answer was made from") {
		t.Errorf("%v", err)
	}
}

// Of a bench's curves on a terminal there are the highest and the lowest mid voltage per cell, whatever the number of
// cells, and all of two.
func TestHighAndLow(t *testing.T) {
	pack := func(id string, cells int, mid model.Voltage, discharged bool) tested.ReducedPack {
		p := reducedOf(id, 0)
		p.Bench.Cells, p.Metrics.MidVoltage = cells, mid
		if discharged {
			p.Discharge = &bench.DischargeReduction{}
		}
		return p
	}
	a, b, c, burst := pack("a", 4, 14.8, true), pack("b", 6, 21, true), pack("c", 2, 7.5, true), pack("burst", 4, 17, false)
	for _, x := range []struct {
		packs []tested.ReducedPack
		want  []string
	}{
		{nil, nil},
		{[]tested.ReducedPack{burst}, nil},
		{[]tested.ReducedPack{a, burst, b}, []string{"a", "b"}},
		{[]tested.ReducedPack{a, burst, b, c}, []string{"c", "b"}}, // 3.75 and 3.5 V per cell
	} {
		var got []string
		for _, p := range highAndLow(x.packs) {
			got = append(got, p.Bench.ID)
		}
		if diff := cmp.Diff(x.want, got); diff != "" {
			t.Error(diff)
		}
	}
}

// A drawing stands in an answer on a terminal that is wide enough for it, of the answer's whole table.
func TestPictured(t *testing.T) {
	drawing := draw.Mass(planOf(t, builds(t)["stint"]).Weigh())
	whole := app{streams: &streams{outTerminal: true, width: pictureLeast}, format: formatTable}
	narrow, pipe, csv, file, chosen := whole, whole, whole, whole, whole
	narrow.streams = &streams{outTerminal: true, width: pictureLeast - 1}
	pipe.streams = &streams{width: 200}
	csv.format, file.outFile, chosen.columns = formatCSV, "x", []string{"pack"}
	for name, c := range map[string]struct {
		a    app
		want bool
	}{"whole": {whole, true}, "narrow": {narrow, false}, "pipe": {pipe, false}, "CSV": {csv, false}, "file": {file, false}, "some columns": {chosen, false}} {
		asked := false
		s := c.a.pictured(sheet.Screen{}, func() *draw.Drawing { asked = true; return drawing })
		if (len(s.Picture) > 0) != c.want || asked != c.want {
			t.Errorf("%s: a picture of %d, asked for: %v", name, len(s.Picture), asked)
		}
	}
	if s := whole.pictured(sheet.Screen{}, func() *draw.Drawing { return nil }); len(s.Picture) > 0 {
		t.Errorf("%q", s.Picture)
	}
	// No wider than it has to be on a very wide one.
	wide := whole
	wide.streams = &streams{outTerminal: true, width: 500}
	exact := whole
	exact.streams = &streams{outTerminal: true, width: pictureMost}
	of := func(a app) any { return a.pictured(sheet.Screen{}, func() *draw.Drawing { return drawing }).Picture }
	if diff := cmp.Diff(of(exact), of(wide)); diff != "" {
		t.Error(diff)
	}
}

// Drawings of one name are told apart in their files, and none is written over what it may not be.
func TestDrawingFiles(t *testing.T) {
	drawing := draw.Mass(planOf(t, builds(t)["stint"]).Weigh())
	folder := filepath.Join(t.TempDir(), "pictures")
	a := &app{streams: &streams{}}
	if _, err := a.draw(drawingFlags{dark: true}, nil); err == nil || err.Error() != "--dark goes with --drawings" {
		t.Errorf("%v", err)
	}
	if w, err := a.draw(drawingFlags{}, []*draw.Drawing{drawing}); err != nil || len(w.files) != 0 {
		t.Errorf("%d files, %v", len(w.files), err)
	}
	some, err := inFolder(folder, []catalog.NewFile{{Name: "a.svg", Data: []byte("a")}, {Name: "b.svg", Data: []byte("b")}})
	if err != nil {
		t.Fatal(err)
	}
	if err := a.beside(artefacts{}, some); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"a", "b"} {
		if text, err := os.ReadFile(filepath.Join(folder, name+".svg")); string(text) != name || err != nil {
			t.Errorf("%q, %v", text, err)
		}
	}
	if err := a.checkFolder("--drawings", some); err == nil || !strings.Contains(err.Error(), "exists already") {
		t.Errorf("%v", err)
	}
	// The third of a name is refused by its own, before anything is drawn.
	if err := os.WriteFile(filepath.Join(folder, "mass-stint-3.5-3-video.png"), []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := a.draw(drawingFlags{folder: folder}, []*draw.Drawing{drawing, drawing, drawing}); err == nil || !strings.Contains(err.Error(), "mass-stint-3.5-3-video.png exists already") {
		t.Errorf("%v", err)
	}
	a.force = true
	if err := a.checkFolder("--drawings", some); err != nil {
		t.Error(err)
	}
	a.outFile = filepath.Join(folder, "b.svg")
	if err := a.checkFolder("--drawings", some); err == nil || !strings.HasPrefix(err.Error(), "--out and --drawings are both ") {
		t.Errorf("%v", err)
	}
	a.name(filepath.Join(folder, "a.svg"))
	if err := a.checkFolder("--drawings", some); err == nil || !strings.Contains(err.Error(), "made from") {
		t.Errorf("%v", err)
	}
	if err := a.checkFolder("--drawings", artefacts{filepath.Join(folder, "a.svg"), some.files}); err == nil || !strings.HasSuffix(err.Error(), "is a file: give a folder") {
		t.Errorf("%v", err)
	}
	for _, name := range []string{"../c.svg", "in/c.svg", ".c.svg", ".."} {
		if _, err := inFolder(folder, []catalog.NewFile{{Name: name}}); err == nil || !strings.HasSuffix(err.Error(), "is not the name of a file in a folder") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if !testing.Short() { // painting takes its time
		w, err := a.draw(drawingFlags{folder: filepath.Join(folder, "painted")}, []*draw.Drawing{drawing, nil, drawing})
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, f := range w.files {
			names = append(names, filepath.Base(f.Name))
			if len(f.Data) < 1000 {
				t.Errorf("%s has %d bytes", f.Name, len(f.Data))
			}
		}
		want := []string{
			"mass-stint-3.5.svg", "mass-stint-3.5-page.png", "mass-stint-3.5-phone.png", "mass-stint-3.5-video.png",
			"mass-stint-3.5-2.svg", "mass-stint-3.5-2-page.png", "mass-stint-3.5-2-phone.png", "mass-stint-3.5-2-video.png",
		}
		if diff := cmp.Diff(want, names); diff != "" {
			t.Error(diff)
		}
		for i, f := range w.files[4:] {
			if !bytes.Equal(f.Data, w.files[i%4].Data) {
				t.Errorf("%s is another picture than %s", f.Name, w.files[i%4].Name)
			}
		}
	}
}

// The flights that are drawn are those of the best four packs, two where phases are flown, and today's.
func TestChosenFlights(t *testing.T) {
	p := planOf(t, builds(t)["stint"])
	phases := planOf(t, builds(t)["curlew"])
	ranked := func(n int) (list []planner.Assessment) {
		for i := range n {
			list = append(list, planner.Assessment{Candidate: planner.Candidate{Pack: &planner.Pack{Pack: &catalog.Pack{Common: catalog.Common{ID: fmt.Sprintf("p%d", i)}}}}})
		}
		return list
	}
	for _, c := range []struct {
		of    *planner.Plan
		n     int
		today string
		want  []string
	}{
		{p, 6, "", []string{"p0", "p1", "p2", "p3"}},
		{p, 3, "p1", []string{"p0", "p1", "p2"}},
		{p, 6, "p3", []string{"p0", "p1", "p2", "p3"}},
		{p, 6, "p5", []string{"p0", "p1", "p2", "p5"}},
		{p, 6, "q", []string{"p0", "p1", "p2", "p3"}},
		{phases, 6, "p5", []string{"p0", "p5"}},
		{phases, 1, "p0", []string{"p0"}},
		{phases, 0, "p0", nil},
	} {
		of := *c.of
		of.Pack = nil
		if c.today != "" {
			of.Pack = &catalog.Pack{Common: catalog.Common{ID: c.today}}
		}
		var got []string
		for _, a := range chosen(&planner.Ranking{Plan: &of, Ranked: ranked(c.n)}) {
			got = append(got, a.Pack.ID)
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%d and %q: %s", c.n, c.today, diff)
		}
	}
}

// A report is of one thing, writes to a file or serves, and takes conditions with a build alone.
func TestReportsThatCannotBeMeant(t *testing.T) {
	for _, c := range []struct {
		args     []string
		terminal bool
		want     string
	}{
		{[]string{}, false, "report is of one thing"},
		{[]string{"b.toml", "--field"}, false, "report is of one thing"},
		{[]string{"--field", "--bench", "x"}, false, "report is of one thing"},
		{[]string{"b.toml", "--format", "table"}, true, "report writes a page: name a file with --out"},
		{[]string{"b.toml", "--format", "csv"}, false, "report writes HTML and takes no --format"},
		{[]string{"b.toml", "--live", "--out", "x.html"}, false, "--live serves the page and writes nothing"},
		{[]string{"b.toml", "--live", "--drawings", "x"}, false, "--live serves the page and writes nothing"},
		{[]string{"-", "--live"}, true, "--live follows files"},
		{[]string{"--bench", "-", "--live"}, true, "--live follows files"},
		{[]string{"--field", "--altitude", "2000m"}, false, "conditions of a flight go with a build"},
		{[]string{"--bench", "x", "--pack-temperature", "5C"}, false, "conditions of a flight go with a build"},
		{[]string{"b.toml", "--altitude", "2000m"}, false, ""},
		{[]string{"b.toml"}, false, ""},
		{[]string{"b.toml", "--out", "x.html"}, true, ""},
		{[]string{"b.toml", "--live"}, true, ""},
		{[]string{"--field"}, false, ""},
		{[]string{"--bench", "x"}, false, ""},
	} {
		a := &app{streams: &streams{outTerminal: c.terminal}, format: formatTable}
		var r reportCommand
		cmd := &cobra.Command{Use: "report"}
		cmd.Flags().StringVar(&r.bench, "bench", "", "")
		cmd.Flags().BoolVar(&r.field, "field", false, "")
		cmd.Flags().BoolVar(&r.live, "live", false, "")
		cmd.Flags().StringVar(&a.outFile, "out", "", "")
		cmd.Flags().Var(&a.format, "format", "")
		r.drawings.register(cmd.Flags())
		r.conditions.register(cmd.Flags())
		if err := cmd.ParseFlags(c.args); err != nil {
			t.Fatal(err)
		}
		got := ""
		if err := r.check(a, cmd, cmd.Flags().Args()); err != nil {
			got = err.Error()
		}
		if c.want == "" && got != "" || !strings.HasPrefix(got, c.want) {
			t.Errorf("%q: %q, want %q", c.args, got, c.want)
		}
	}
}

// Every record that a ranking rests on stands once in the table of them: what is known of it, when and by whom.
func TestRecordsOfARanking(t *testing.T) {
	r := rankedOf(t, builds(t)["curlew"])
	first := ownPack(&r.Ranked[0])
	first.TestDate, first.TestSource = "2026-05-31", "a bench"
	second := ownPack(&r.Ranked[1])
	second.TestDate, second.TestSource, second.Basis = "", "", planner.BasisLabel
	third := ownPack(&r.Ranked[2])
	third.Basis = planner.BasisLogs
	table := recordsTable(r)
	ids := column(t, table, "id")
	want := []string{"lark-35", "wick-1404-3800", "reed-35x22-2", "loam-20", "eyrie-cam", "eyrie-tx", "mote-rx", "wick-reed"}
	if diff := cmp.Diff(want, ids[:len(want)]); diff != "" || len(ids) != len(want)+len(r.Ranked) {
		t.Errorf("%d rows: %s", len(ids), diff)
	}
	for id, want := range map[string][2]string{"lark-35": {"mass: catalogue", "-"}, "wick-reed": {"thrust stand", rowOf(t, table, "wick-reed")[3]}, first.ID: {"bench figures", "2026-05-31"}, third.ID: {"bench logs", rowOf(t, table, third.ID)[3]}} {
		if row := rowOf(t, table, id); row[2] != want[0] || row[3] != want[1] {
			t.Errorf("%s: %q", id, row)
		}
	}
	if row := rowOf(t, table, second.ID); row[2] != "its label only" || row[3] != "-" || row[4] != "-" {
		t.Errorf("%q", row)
	}
	if row := rowOf(t, table, first.ID); row[4] != "a bench" {
		t.Errorf("%q", row)
	}
	for s, want := range map[catalog.Source]string{{File: "a.toml", Line: 1}: "a.toml:1", {File: "a.toml"}: "a.toml", {File: "a.toml", Line: 12}: "a.toml:12"} {
		if got := place(s); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// A bench's drawings are called by its file; its page names the ambient where that was stated.
func TestBenchNames(t *testing.T) {
	for file, want := range map[string]string{"-": "bench", "in/mine.toml": "mine", "mine": "mine", "a.b.toml": "a.b"} {
		if got := benchName(file); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	p := reducedOf("a", 0)
	p.Bench.Name, p.Bench.Cells, p.Bench.Chemistry, p.Bench.Rated, p.Bench.Mass = "Pack A", 4, model.LiPo, 2340, 0.0742
	if got, want := packLead(&p), "Pack A: 4 cells, lipo, 650 mAh by its label, 74.2 g."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	p.Bench.Ambient = model.Celsius(21.6)
	if got, want := packLead(&p), "Pack A: 4 cells, lipo, 650 mAh by its label, 74.2 g. Tested at 22 C."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// Help offers its topics for the first word alone, and refuses more kinds than one.
func TestHelpTopics(t *testing.T) {
	root := newRoot(&streams{})
	if got := helpTopics(root, []string{"rank"}); got != nil {
		t.Errorf("%q", got)
	}
	if got := helpTopics(root, nil); !slices.Contains(got, "records") || !slices.Contains(got, "man") || !slices.Contains(got, "rank") || slices.Contains(got, "__complete") {
		t.Errorf("%q", got)
	}
	for _, c := range []struct {
		args []string
		code exitCode
		want string
	}{
		{[]string{"help", "records", "pack", "motor"}, exitInput, "help records takes at most one kind, such as pack or build, got 2"},
		{[]string{"help", "records", "wing"}, exitInput, `help records has nothing on "wing"`},
		{[]string{"help", "wing"}, exitInput, `no help on "wing"`},
		{[]string{"help", "man", "rank"}, exitInput, `no help on "man rank"`},
		{[]string{"help", "records", "pack"}, exitYes, ""},
	} {
		if got := tell(t, 80, "", c.args...); got.Code != c.code || !strings.Contains(got.Err, c.want) || (got.Out != "") != (c.code == exitYes) {
			t.Errorf("%q: exit %d, %q", c.args, got.Code, got.Err)
		}
	}
	for _, c := range []struct {
		head, word string
		want       bool
	}{{"[pack.ID.tested]", "pack", true}, {"[pack.ID.tested]", "tested", true}, {"[pack.ID.tested]", "pac", false}, {"[thrust_test.ID]", "thrust_test", true}, {"[thrust_test.ID]", "thrust", false}} {
		if got := named(c.head, c.word); got != c.want {
			t.Errorf("%s, %s: %v", c.head, c.word, got)
		}
	}
}

// What follows on the command line is completed by what stands before it.
func TestCompletions(t *testing.T) {
	empty := t.TempDir()
	a := &app{streams: &streams{in: strings.NewReader(""), err: io.Discard, configDir: func() (string, error) { return empty, nil }}, inputs: inputs{in: strings.NewReader("")}}
	build := filepath.Join(repository(t), "testdata", "builds", "stint.toml")
	for _, c := range []struct {
		args  []string
		typed string
		want  []string // all, or where it ends with "..." among others
		how   cobra.ShellCompDirective
	}{
		{nil, "", []string{"toml"}, cobra.ShellCompDirectiveFilterFileExt},
		{[]string{build}, "", []string{"frame=", "motor=", "prop=", "board=", "pack=", "with=", "without="}, cobra.ShellCompDirectiveNoSpace | cobra.ShellCompDirectiveNoFileComp},
		{[]string{build}, "without=", []string{"without=eyrie-cam", "without=eyrie-tx", "without=lead", "without=mote-rx", "without=prints", "without=strap"}, cobra.ShellCompDirectiveNoFileComp},
		{[]string{"-"}, "without=", nil, cobra.ShellCompDirectiveNoFileComp},
		{[]string{"-"}, "prop=", []string{"prop=fen-35x25-3", "..."}, cobra.ShellCompDirectiveNoFileComp},
		{[]string{build}, "with=", []string{"with=mote-rx", "..."}, cobra.ShellCompDirectiveNoFileComp},
		{[]string{build + ".none"}, "without=", nil, cobra.ShellCompDirectiveNoFileComp},
	} {
		got, how := a.completeChange(nil, c.args, c.typed)
		if n := len(c.want); n > 0 && c.want[n-1] == "..." {
			if !slices.Contains(got, c.want[0]) || !slices.IsSorted(got) || len(slices.Compact(slices.Clone(got))) != len(got) {
				t.Errorf("%q %q: %q", c.args, c.typed, got)
			}
		} else if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%q %q: %s", c.args, c.typed, diff)
		}
		if how != c.how {
			t.Errorf("%q %q: how %d, want %d", c.args, c.typed, how, c.how)
		}
	}
	if got, how := completeBuild(nil, []string{"b.toml"}, ""); got != nil || how != cobra.ShellCompDirectiveNoFileComp {
		t.Errorf("%q, %d", got, how)
	}
	if got, _ := a.completeID(nil, []string{"sedge-650"}, ""); got != nil {
		t.Errorf("%q", got)
	}
	if got, how := a.completeID(nil, nil, ""); !slices.Contains(got, "sedge-650") || !slices.Contains(got, "lark-35") || how != cobra.ShellCompDirectiveNoFileComp {
		t.Errorf("%q, %d", got, how)
	}
	if got := a.packIDs(); !slices.Contains(got, "sedge-650") || slices.Contains(got, "lark-35") {
		t.Errorf("%q", got)
	}
	a.noBuiltin, a.parts = true, []string{filepath.Join(empty, "none.toml")}
	if got := a.packIDs(); got != nil {
		t.Errorf("%q", got)
	}
	if got, how := a.completeID(nil, nil, ""); got != nil || how != cobra.ShellCompDirectiveNoFileComp {
		t.Errorf("%q, %d", got, how)
	}
}
