package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"allup/catalog"
	"allup/cmd/allup/internal/draw"
	"allup/cmd/allup/internal/page"
	"allup/cmd/allup/internal/sheet"
	"allup/model/words"
	"allup/planner"
)

func newReport(a *app) *cobra.Command {
	var r reportCommand
	cmd := &cobra.Command{
		Use:   "report (BUILD | --bench BENCH | --field) [--out FILE.html]",
		Short: "One page to look at and to share: the same answers, drawn",
		Long: `report writes one HTML file: the verdict, drawings, the ranking, what does not suit and
why, the build as it was given, what the figures rest on. It needs no network, prints on A4,
and sorts by its headings; a row and its marks in the drawings highlight each other. BUILD is a file, or - for
standard input. It exits with 3 where no pack suits.

With --bench it is the page of a bench instead: every pack's curves, metrics and circuit, and
how the tests were run. With --field it is the page of the tested packs of the catalogue.

--drawings also writes each drawing into a folder, as SVG and as PNG. --live serves the page
to this machine alone, and follows the files: save, and the open page changes.`,
		Example:           "  allup report stint.toml --out stint.html\n  allup report --bench bench.toml --out bench.html --drawings pictures",
		Args:              arguments(0, 1, "one build file, or none with --bench or --field"),
		ValidArgsFunction: completeBuild,
		RunE:              func(cmd *cobra.Command, args []string) error { return r.run(a, cmd, args) },
	}
	cmd.Flags().StringVar(&r.bench, "bench", "", "the page of a `BENCH` file: its packs' logs, reduced")
	cmd.Flags().BoolVar(&r.field, "field", false, "the page of the tested packs of the catalogue")
	cmd.Flags().BoolVar(&r.live, "live", false, "serve the page on this machine only, and follow the files as they are saved; Ctrl-C ends it")
	r.drawings.register(cmd.Flags())
	r.conditions.register(cmd.Flags())
	return cmd
}

// reportCommand is a call of report.
type reportCommand struct {
	bench      string
	field      bool
	live       bool
	drawings   drawingFlags
	conditions conditionFlags
}

// check refuses calls that cannot be meant.
func (r *reportCommand) check(a *app, cmd *cobra.Command, args []string) error {
	subjects := len(args)
	for _, name := range []string{"bench", "field"} {
		if cmd.Flags().Changed(name) {
			subjects++
		}
	}
	switch {
	case subjects != 1:
		return usagef("report is of one thing: a build file, --bench with a bench file, or --field")
	case a.format != formatTable:
		return usagef("report writes HTML and takes no --format")
	case r.live && (a.outFile != "" || r.drawings.folder != ""):
		return usagef("--live serves the page and writes nothing: leave --out and --drawings out")
	case r.live && (slices.Contains(args, "-") || r.bench == "-"):
		return usagef("--live follows files: give a file instead of standard input")
	case a.outFile == "" && a.outTerminal && !r.live:
		return usagef("report writes a page: name a file with --out")
	case len(args) == 0 && r.conditions.Conditions != (planner.Conditions{}):
		return usagef("conditions of a flight go with a build, not with --bench or --field")
	}
	return nil
}

func (r *reportCommand) run(a *app, cmd *cobra.Command, args []string) error {
	if err := r.check(a, cmd, args); err != nil {
		return err
	}
	if r.live {
		return a.live(cmd.Context(), func() (*page.Page, error) {
			answer, err := r.answer(a, args)
			if err != nil {
				return nil, err
			}
			answer.page.Made = a.made(cmd, args)
			return answer.page, nil
		})
	}
	answer, err := r.answer(a, args)
	if err != nil {
		return err
	}
	answer.page.Made = a.made(cmd, args)
	if a.outFile != "" { // before drawings are written
		if err := a.keep("--out", a.outFile); err != nil {
			return err
		}
		if err := catalog.CheckWrite(a.outFile, a.force); err != nil {
			return err
		}
	}
	pictures, err := a.draw(r.drawings, answer.drawings)
	if err != nil {
		return err
	}
	if err := a.beside(pictures); err != nil {
		return err
	}
	if err := a.writePage(answer.page); err != nil {
		return err
	}
	return answer.ends
}

// pageAnswer is a page with its drawings, and how the command ends.
type pageAnswer struct {
	page     *page.Page
	drawings []*draw.Drawing
	ends     error
}

// answer works out the page that was asked for.
func (r *reportCommand) answer(a *app, args []string) (pageAnswer, error) {
	a.odd, a.moreOdd = nil, 0 // a page that follows its files says what is odd in them now
	answer, err := r.answerOf(a, args)
	if err == nil {
		answer.page.Add("sources", a.oddNotes())
	}
	return answer, err
}

func (r *reportCommand) answerOf(a *app, args []string) (pageAnswer, error) {
	switch {
	case r.field:
		f, err := a.reportField()
		if err != nil {
			return pageAnswer{}, err
		}
		return pageAnswer{fieldPage(f), fieldDrawings(f), nil}, nil
	case r.bench != "" || len(args) == 0:
		b, err := a.reportBench(r.bench)
		if err != nil {
			return pageAnswer{}, err
		}
		return pageAnswer{benchPage(b), b.drawings(), refusals(b.packs)}, nil
	}
	b, err := a.reportBuild(args[0], r.conditions.Conditions)
	if err != nil {
		return pageAnswer{}, err
	}
	out := pageAnswer{page: buildPage(b), drawings: b.drawings()}
	if len(b.ranking.Ranked) == 0 {
		out.ends = errNo
	}
	return out, nil
}

// buildReport is everything that a build's page tells.
type buildReport struct {
	ranking *planner.Ranking
	sizing  *planner.Sizing // nil where no size can be told
	noSize  string          // why
	source  string          // the build file
}

// reportBuild works out what a build's page tells.
func (a *app) reportBuild(name string, conditions planner.Conditions) (*buildReport, error) {
	// The page shows the file as it was read for the answer.
	var source bytes.Buffer
	if name == "-" {
		kept := a.inputs.in
		a.inputs.in = io.TeeReader(kept, &source)
		defer func() { a.inputs.in = kept }()
	}
	p, err := a.plan(name)
	if err != nil {
		return nil, err
	}
	if name != "-" {
		text, err := os.ReadFile(name)
		if err != nil {
			return nil, err
		}
		source.Write(text)
	}
	if p, err = p.In(conditions); err != nil {
		return nil, err
	}
	packs, err := planner.NewPackSet(p.Build.Parts)
	if err != nil {
		return nil, err
	}
	m := a.meter("packs", a.quiet)
	out := &buildReport{ranking: p.Rank(packs, planner.RankOptions{Progress: m.tick}), source: source.String()}
	m.clear()
	// A catalogue without tested packs says nothing of sizes; the rest of the page stands.
	if out.sizing, err = p.Size(packs, planner.SizeOptions{}); err != nil {
		out.noSize = err.Error()
	}
	return out, nil
}

// flown is how many packs' voltages are drawn over each other; with phases, whose curves go up and down, fewer.
const (
	flown       = 4
	flownPhases = 2
)

// chosen are the packs whose flights are drawn: the best, and today's where it suits.
func chosen(r *planner.Ranking) []planner.Assessment {
	most := flown
	if len(r.Plan.Build.Flight.Phases) > 0 {
		most = flownPhases
	}
	list := append([]planner.Assessment(nil), r.Ranked[:min(most, len(r.Ranked))]...)
	if today := r.Plan.Pack; today != nil {
		for _, a := range r.Ranked[len(list):] {
			if a.Pack.ID == today.ID {
				list[len(list)-1] = a
			}
		}
	}
	return list
}

// drawings of a build, those that there is something to draw for.
func (r *buildReport) drawings() []*draw.Drawing {
	p := r.ranking.Plan
	all := []*draw.Drawing{draw.Mass(p.Weigh()), draw.Packs(r.ranking), draw.Flight(p, chosen(r.ranking))}
	if r.sizing != nil {
		all = append(all, draw.PackSize(r.sizing, r.ranking))
	}
	var list []*draw.Drawing
	for _, d := range all {
		if d != nil {
			list = append(list, d)
		}
	}
	return list
}

func buildPage(r *buildReport) *page.Page {
	plan := r.ranking.Plan
	rank, weigh := rankScreen(r.ranking, false), weighScreen(plan.Weigh())
	p := &page.Page{Title: plan.Build.Name, Verdict: rank.Verdict}
	p.Sections = append(p.Sections, page.Section{ID: "drawings", Title: "At a glance", Drawings: r.drawings()})
	var ranked, others []page.Table
	for _, t := range rank.Tables {
		if len(t.Rows) == 0 {
			continue
		}
		switch t.Columns[0].Key {
		case "rank":
			ranked = append(ranked, page.Table{ID: "ranking", Caption: "Packs that suit, best first", Table: t, Subject: "pack"})
		case "pack":
			others = append(others, page.Table{ID: "excluded", Caption: "Packs that do not suit, and why", Table: t, Subject: "pack"})
		default:
			ranked = append(ranked, page.Table{ID: "phases", Caption: t.Title, Table: t})
		}
	}
	if len(ranked) > 0 {
		p.Sections = append(p.Sections, page.Section{ID: "packs", Title: "The ranking", Tables: ranked})
	}
	if len(others) > 0 {
		p.Sections = append(p.Sections, page.Section{ID: "others", Title: "What does not suit", Tables: others})
	}
	p.Sections = append(p.Sections,
		page.Section{
			ID: "build", Title: "The build", Lead: weigh.Verdict, Source: r.source,
			Tables: []page.Table{{ID: "masses", Caption: "What weighs what", Table: weigh.Tables[0]}},
		},
		page.Section{ID: "sources", Title: "What the figures rest on", Notes: sourceNotes(rank, r)},
		page.Section{
			ID: "records", Title: "Where the records stand", Part: true,
			Tables: []page.Table{{ID: "record", Caption: "The build's parts, then the packs that suit", Table: recordsTable(r.ranking), Subject: "id"}},
		},
		page.Section{ID: "cautions", Title: "Cautions", Notes: []string{limitNote(plan), packCaution}})
	return p
}

// sourceNotes are the ranking's notes without those that stand under the cautions.
func sourceNotes(rank sheet.Screen, r *buildReport) []string {
	var notes []string
	for _, n := range rank.Notes {
		if n != "" && n != packCaution && n != limitNote(r.ranking.Plan) {
			notes = append(notes, n)
		}
	}
	if r.noSize != "" {
		notes = append(notes, "No drawing of flight time against pack mass: "+r.noSize+".")
	}
	return notes
}

// made says when, by what and from what a page was made.
func (a *app) made(cmd *cobra.Command, args []string) []string {
	return []string{
		fmt.Sprintf("Made on %s by allup %s.", time.Now().Format("2006-01-02 15:04"), version()),
		"Command: " + words.Printable(strings.Join(commandLine(cmd, args), " ")),
	}
}

// writePage writes a page to --out or to standard output, whole.
func (a *app) writePage(p *page.Page) error {
	var b bytes.Buffer
	if err := p.HTML(&b); err != nil {
		return err
	}
	return a.write(b.Bytes())
}

// commandLine is the words of the command as it was given, as a shell takes them, for somebody who wants the same
// again, without some of its flags.
func commandLine(cmd *cobra.Command, args []string, without ...string) []string {
	said := append([]string{cmd.CommandPath()}, args...)
	cmd.Flags().Visit(func(f *pflag.Flag) {
		switch list, ok := f.Value.(pflag.SliceValue); {
		case slices.Contains(without, f.Name):
		case ok:
			for _, v := range list.GetSlice() {
				said = append(said, "--"+f.Name, v)
			}
		case f.Value.Type() == "bool" && f.Value.String() == "true":
			said = append(said, "--"+f.Name)
		case f.Value.Type() == "bool":
			said = append(said, "--"+f.Name+"=false")
		default:
			said = append(said, "--"+f.Name, f.Value.String())
		}
	})
	for i, w := range said[1:] {
		said[1+i] = shellWord(w)
	}
	return said
}

// shellWord is a word as a shell takes it, whatever is in it. What steers a terminal is in the form of $'...',
// which most shells know.
func shellWord(w string) string {
	plain := func(r rune) bool {
		return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("_@%+=:,./-", r)
	}
	switch {
	case w != "" && !strings.ContainsFunc(w, func(r rune) bool { return !plain(r) }):
		return w
	case words.Printable(w) == w:
		return "'" + strings.ReplaceAll(w, "'", `'\''`) + "'"
	}
	return "$'" + words.Printable(strings.NewReplacer(`\`, `\\`, "'", `\'`).Replace(w)) + "'"
}
