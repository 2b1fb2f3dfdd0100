package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"allup/model"
	"allup/planner"
)

// Numbers and words of flags are refused before a file is opened, at their bounds and not inside: what is allowed goes
// on to the file, which is not there.
func TestFlagsAreCheckedFirst(t *testing.T) {
	missing := filepath.Join(t.TempDir(), "none.toml")
	for _, c := range []struct {
		args  string
		fault string // "" where it is allowed
	}{
		{"size none --cells -1", "--cells -1: allowed: 1 to 6"},
		{"size none --cells 7", "--cells 7: allowed: 1 to 6"},
		{"size none --cells 0", ""},
		{"size none --cells 1", ""},
		{"size none --cells 6", ""},
		{"size none --punch -0.1", "--punch -0.1: allowed: 0 to 100 times the weight"},
		{"size none --punch 100.1", "--punch 100.1: allowed: 0 to 100 times the weight"},
		{"size none --punch NaN", "--punch NaN: allowed: 0 to 100 times the weight"},
		{"size none --punch 0", ""},
		{"size none --punch 100", ""},
		{"search none --top 0", "--top 0: allowed: 1 to 10000"},
		{"search none --top 10001", "--top 10001: allowed: 1 to 10000"},
		{"search none --top 1", ""},
		{"search none --top 10000", ""},
		{"search none --any wing", `--any "wing": allowed: frame, motor, prop, board, pack`},
		{"search none --any frame,motor,prop,board,pack", ""},
		{"search none --any gear", `--any "gear": allowed: `},
		{"field --sort wing", `--sort "wing" is not a column; allowed: pack, `},
		{"parts --kind wing", `--kind "wing" is not a kind; allowed: `},
		{"weigh none --sure 20%", "allowed: 50% to 99.99%"},
		{"weigh none --scale 0g", "it is what a scale shows, such as 238.1g"},
		{"rank none --altitude 9000m", "allowed: -500 m to 6000 m"},
		{"swap none pack=a wing=b", `"wing=b"`},
		{"swap none", ""},
		{"swap", "allup swap takes a build file, and changes or --suggest, got 0"},
		{"weigh", "allup weigh takes one build file, got 0"},
		{"weigh none none", "allup weigh takes one build file, got 2"},
		{"limits none", "allup limits takes no argument, got 1"},
		{"rank none --format yaml", "it is one of table, json, csv, markdown"},
		{"rank none --out", "flag needs an argument"},
	} {
		args := strings.Fields(strings.ReplaceAll(c.args, "none", missing))
		got := tell(t, 80, "", args...)
		want := exitInput
		if c.fault == "" {
			want = exitFail
			c.fault = "none.toml: no such file"
		}
		if got.Code != want || !strings.Contains(got.Err, c.fault) || got.Out != "" {
			t.Errorf("%s: exit %d, %q, want %d and %q", c.args, got.Code, got.Err, want, c.fault)
		}
	}
}

// Every error of the input is told, with their number, and nothing is done.
func TestFaultsAreCounted(t *testing.T) {
	for n, want := range map[int]string{
		1: "allup: 1 error in the input; nothing was done", 2: "allup: 2 errors in the input; nothing was done",
	} {
		args := []string{"swap", "-"}
		for i := range n {
			args = append(args, fmt.Sprintf("wing=%d", i))
		}
		got := tell(t, 80, builds(t)["stint"], args...)
		if got.Code != exitInput || !strings.HasSuffix(strings.TrimSpace(got.Err), want) || strings.Count(got.Err, "wing=") != n {
			t.Errorf("%d: exit %d, %q", n, got.Code, got.Err)
		}
	}
}

// An answer that cannot be written is a failure, help among them.
func TestAnswersThatCannotBeWritten(t *testing.T) {
	full := errors.New("the disk is full")
	for _, args := range [][]string{{"--help"}, {"limits"}, {"limits", "--format", "json"}, {"parts", "--format", "csv"}} {
		var errs strings.Builder
		empty := t.TempDir()
		s := &streams{
			in: strings.NewReader(""), out: writerFunc(func([]byte) (int, error) { return 0, full }), err: &errs,
			configDir: func() (string, error) { return empty, nil },
		}
		if code := run(s, args); code != exitFail || !strings.Contains(errs.String(), "allup: error: the disk is full") {
			t.Errorf("%v: exit %d, %q", args, code, errs.String())
		}
	}
}

// The form of an answer is that of its file's name, unless another is asked for.
func TestFormOfAFile(t *testing.T) {
	for file, want := range map[string]format{
		"": formatTable, "x": formatTable, "x.txt": formatTable, "x.json": formatJSON, "x.JSON": formatJSON, "x.csv": formatCSV, "x.md": formatMarkdown, "in/x.markdown": formatMarkdown,
		"x.json.txt": formatTable,
	} {
		if got := formatOf(file); got != want {
			t.Errorf("%q: %s, want %s", file, got, want)
		}
	}
	for _, args := range [][]string{{"limits", "--columns", "id", "--format", "json"}, {"limits", "--columns", "wing"}, {"limits", "--columns", "wing", "--format", "csv"}} {
		if got := tell(t, 80, "", args...); got.Code != exitInput || !strings.Contains(got.Err, "--columns") || got.Out != "" {
			t.Errorf("%v: exit %d, %q", args, got.Code, got.Err)
		}
	}
}

// Arguments are counted up to a most, or without one.
func TestArguments(t *testing.T) {
	root := newRoot(&streams{out: io.Discard, err: io.Discard})
	for _, c := range []struct {
		least, most, n int
		want           bool
	}{{1, 1, 0, false}, {1, 1, 1, true}, {1, 1, 2, false}, {0, 0, 0, true}, {0, 0, 1, false}, {1, -1, 0, false}, {1, -1, 1, true}, {1, -1, 9, true}} {
		if err := arguments(c.least, c.most, "words")(root, make([]string, c.n)); (err == nil) != c.want {
			t.Errorf("%d of %d to %d: %v", c.n, c.least, c.most, err)
		}
	}
}

// Why a build flies as it does begins with what it does, or that it does not fly, and with what to measure next.
func TestWhyInWords(t *testing.T) {
	p := planOf(t, builds(t)["stint"])
	a := p.Assess(packSetOf(t, p.Build.Parts).Pack("sedge-650"))
	a.Flight.Duration, a.Punch.Thrust = 480, model.Force(5.04*float64(a.Mass)*9.80665)
	w := &planner.Why{Answer: &a}
	if got, want := whyVerdict(w), "Why Stint 3.5 on sedge-650: 239.0 g all-up, 8.0 min, punch 5.0."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	w.Next = []planner.Measure{{Text: "weigh it", Time: 0.244, Punch: 0.001}, {Text: "fly it"}}
	if got, want := whyVerdict(w), "Why Stint 3.5 on sedge-650: 239.0 g all-up, 8.0 min, punch 5.0. Measure next: weigh it; the band of time shrinks by 24 %, that of punch by < 1 %."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	a.Flight.Duration = 0
	if got, want := whyVerdict(w), "Why Stint 3.5 on sedge-650: 239.0 g all-up; it does not fly."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	w.Steps = []planner.Step{
		{Key: "a", Value: 1234.5678, Unit: "V", Source: "stated", From: "x", Known: true, Sigma: 0.01234, OfMass: 0.124, OfTime: 0.5, OfPunch: 1},
		{Key: "b", Value: 0.000012345678, Known: true, Times: true, Sigma: 1.26},
		{Key: "c", Value: 2},
	}
	table := stepTable("", w)
	for first, want := range map[string][]string{
		"a": {"1234.57", "V", "0.012", "stated", "12", "50", "100", "x", ""},
		"b": {"1.23457e-05", "", "x/ 1.3", "", "0", "0", "0", "", ""},
		"c": {"2", "", "", "", "", "", "", "", ""},
	} {
		if diff := cmp.Diff(want, rowOf(t, table, first)[1:]); diff != "" {
			t.Errorf("%s: %s", first, diff)
		}
	}
	j := whyJSON(w)
	if s := j.Steps[2]; s.Sigma != nil || s.OfMass != nil || s.OfTime != nil || s.OfPunch != nil || s.Factor {
		t.Errorf("%+v", s)
	}
	if s := j.Steps[1]; *s.Sigma != 1.26 || !s.Factor || *s.OfTime != 0 {
		t.Errorf("%+v", s)
	}
	both := bothSides(table, stepTable("", &planner.Why{Answer: &a, Steps: w.Steps[2:]}))
	if diff := cmp.Diff([]string{"before", "before", "before", "after"}, column(t, both, "side")); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]string{"a", "b", "c", "c"}, column(t, both, "key")); diff != "" {
		t.Error(diff)
	}
}

// Without a pack there is no flight to trace, on either side of a swap.
func TestWhyNeedsAPack(t *testing.T) {
	bare := builds(t)["no pack"]
	for _, args := range [][]string{{"weigh", "-", "--why"}, {"swap", "-", "without=mote-rx", "--why"}, {"swap", "-", "pack=sedge-650", "--why"}} {
		if got := tell(t, 80, bare, args...); got.Code != exitInput || !strings.Contains(got.Err, "--why: the build names no pack, so there is no flight to trace") || got.Out != "" {
			t.Errorf("%v: exit %d, %q", args, got.Code, got.Err)
		}
	}
}

// A figure is shown where it is known, with its band and its change where it has them, and with nothing where not.
func TestFiguresOfAPack(t *testing.T) {
	p := planOf(t, builds(t)["stint"])
	a := p.Assess(packSetOf(t, p.Build.Parts).Pack("sedge-650"))
	all := figuresOf()
	time, chance, score, price, rank, group := all.figure("flight_s"), all.figure("best_chance"), all.figure("score"), all.figure("price"), all.figure("rank"), all.figure("group")
	if got := time.between(&a, " to "); got != "" {
		t.Errorf("without a band: %q", got)
	}
	a.Band = &planner.Band{Time: planner.Interval{Low: 450, High: 540}}
	if got := time.between(&a, " to "); got != "7.5 to 9.0" {
		t.Errorf("%q", got)
	}
	if got := all.figure("margin_g").between(&a, " to "); got != "" {
		t.Errorf("a figure without a band: %q", got)
	}
	_, shown := time.changeShown(0)
	_, exact := time.changeExact()
	if got := []string{shown(&a).Text, exact(&a).Text}; got[0] != "-" || got[1] != "-" {
		t.Errorf("without a change: %q", got)
	}
	home := a
	a.Home = &home
	a.Flight.Duration, home.Flight.Duration = 420, 480
	if got := shown(&a); got.Text != "-1.0" || *exact(&a).Value != -1 {
		t.Errorf("%q, %v", got.Text, *exact(&a).Value)
	}
	head, _ := time.changeShown(3)
	if head.Head != "min change" || head.Key != "flight_min_change" || head.Keep != 3 {
		t.Errorf("%+v", head)
	}
	if head, _ := all.figure("punch_ratio").changeShown(0); head.Head != "punch change" {
		t.Errorf("%+v", head)
	}
	if head, cell := time.bandShown(2); head.Head != "min 5-95 %" || head.Key != "flight_min_5_95" || head.Keep != 2 || cell(&a).Text != "7.5-9.0" || cell(&home).Text != "7.5-9.0" {
		t.Errorf("%+v", head)
	}
	if head, _ := all.figure("punch_ratio").bandShown(0); head.Head != "punch 5-95 %" {
		t.Errorf("%+v", head)
	}

	// What is of a ranking is not known of what was not ranked; a score does not compare without a price where price
	// counts.
	known := func(f figure) bool { _, ok := f.Of(&a); return ok }
	if known(rank) || known(group) || known(score) || known(chance) {
		t.Error("of a pack that was not ranked")
	}
	best := 0.834
	a.Rank, a.Group, a.Best = 1, 1, &best
	if !known(rank) || !known(group) || !known(score) || !known(chance) {
		t.Error("of a pack that was ranked")
	}
	if got := chance.Show(&a); got.Text != "83" {
		t.Errorf("%q", got.Text)
	}
	build := *p.Build
	priced := *p
	priced.Build, a.Plan = &build, &priced
	build.Goal.Price, build.Goal.Currency = 1, "EUR"
	if known(score) {
		t.Error("a score without a price that compares")
	}
	if a.Merit.Priced = true; !known(score) {
		t.Error("no score with a price")
	}
	if a.Pack = nil; known(price) {
		t.Error("a price of no pack")
	}
	// 8.5 kW/kg are 8.5 W/g, and 450 kJ/kg are 0.125 Wh/g.
	power, energy := 8500.0, 450e3
	if got := []float64{*perGram(&power, 1), *perGram(&energy, 3600)}; !cmp.Equal(got, []float64{8.5, 0.125}) {
		t.Errorf("%v", got)
	}
	if perGram(nil, 1) != nil {
		t.Error("a density of nothing")
	}
	seen := map[string]bool{}
	for _, f := range all {
		if seen[f.Key] {
			t.Errorf("%s is there twice", f.Key)
		}
		seen[f.Key] = true
		if f.name() == "" {
			t.Errorf("%s has no name", f.Key)
		}
	}
	if got := []string{time.name(), all.figure("margin_g").name()}; got[0] != "time min" || got[1] != "under limit g" {
		t.Errorf("%q", got)
	}
	defer func() {
		if recover() == nil {
			t.Error("a figure that is not there")
		}
	}()
	all.figure("wing")
}

// What follows a new file is told by its kind.
func TestNextSteps(t *testing.T) {
	for kind, want := range map[string]string{
		"build": "allup rank x.toml", "parts": `allup parts --parts x.toml, and in a build parts = ["x.toml"]`, "bench": "allup reduce x.toml --records tested.toml",
		"thrust-test": `allup parts my-stand --parts x.toml, and in a build parts = ["x.toml"]`,
	} {
		if got := nextStep(kind, "x.toml"); got != want {
			t.Errorf("%s: %q, want %q", kind, got, want)
		}
	}
}

// A line of a manual page is no request, and its hyphens can be typed.
func TestRoff(t *testing.T) {
	for text, want := range map[string]string{
		"plain": "plain", ".SH": `\&.SH`, "'x": `\&'x`, "a.b": "a.b", "--out": `\-\-out`, `a\b "c"`: `a\eb \(dqc\(dq`, "it's": "it's",
	} {
		if got := roff(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}
