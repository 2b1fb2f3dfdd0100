package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"allup/catalog"
	"allup/cmd/allup/internal/sheet"
	"allup/model/words"
	"allup/planner"
)

// errStopped is an answer that was stopped before it was whole. What there is of it has been written by then.
var errStopped = errors.New("stopped before everything was looked at: the answer is partial")

// mostTop is how many builds a search lists at the most.
const mostTop = 10000

func newSearch(a *app) *cobra.Command {
	var conditions conditionFlags
	var options planner.SearchOptions
	var open []string
	var sure sureFlag
	cmd := &cobra.Command{
		Use:   "search BUILD",
		Short: "The best whole builds out of the candidates in each slot",
		Long: `search finds the best whole builds out of the candidates that the build lists for each
slot, as if it had tried every combination. It shows the best by the build's goal, and the
front: builds that no other beats in flight time, punch and, where it counts, price. A slot of the build lists
candidates, motor = ["wick-1404-3800", "bobbin-1404-4100"], or "any", alone or at the
end of a list, for every record of your own of its kind, or every demo record
where you have none; a list in the gear list is a choice of one. --any opens slots
for this one call. The packs are those that rank would look at.
Parts that do not go together
are left out, and so are builds that draw more current than board or motor carry. Ctrl-C stops and shows the best so far. BUILD is a file, or - for
standard input.`,
		Example:           "  allup search stint.toml --any motor,prop",
		Args:              arguments(1, 1, "one build file"),
		ValidArgsFunction: completeBuild,
		RunE: func(cmd *cobra.Command, args []string) error {
			if options.Top < 1 || options.Top > mostTop {
				return usagef("--top %d: allowed: 1 to %d", options.Top, mostTop)
			}
			kinds, err := openSlots(open)
			if err != nil {
				return err
			}
			b, err := a.build(args[0])
			if err != nil {
				return err
			}
			ctx, stop := signal.NotifyContext(cmd.Context(), os.Interrupt, syscall.SIGTERM)
			defer stop()
			context.AfterFunc(ctx, stop) // the next signal ends the program
			sure.apply(b)
			return a.search(ctx, b.Open(kinds...), conditions.Conditions, options)
		},
	}
	cmd.Flags().IntVar(&options.Top, "top", 10, "`number` of best builds")
	cmd.Flags().StringSliceVar(&open, "any", nil, "take any record in these `slots`, too: frame,motor,prop,board,pack")
	completeFlag(cmd, "any", openable)
	conditions.register(cmd.Flags())
	sure.register(cmd.Flags())
	return cmd
}

// openable are the slots that --any may name.
func openable() []string {
	return []string{string(catalog.KindFrame), string(catalog.KindMotor), string(catalog.KindProp), string(catalog.KindBoard), string(catalog.KindPack)}
}

// openSlots reads the slots that --any names.
func openSlots(names []string) ([]catalog.Kind, error) {
	known := openable()
	var kinds []catalog.Kind
	for _, n := range names {
		if !slices.Contains(known, n) {
			return nil, usagef("--any %.80q: allowed: %s", n, strings.Join(known, ", "))
		}
		kinds = append(kinds, catalog.Kind(n))
	}
	return kinds, nil
}

func (a *app) search(ctx context.Context, b *catalog.Build, conditions planner.Conditions, options planner.SearchOptions) error {
	packs, err := planner.NewPackSet(b.Parts)
	if err != nil {
		return err
	}
	begun := time.Now()
	m := a.meter("packs", a.quiet)
	space := planner.SpaceOf(b, packs, m.tick)
	m.clear()
	m = a.meter("builds", a.quiet)
	options.Progress = m.tick
	f, err := planner.Search(ctx, b, space, conditions, options)
	m.clear()
	if err != nil {
		return err
	}
	answer := searched{f, space, b}
	if err := a.answer(answer.screen(), answer.json(time.Since(begun))); err != nil {
		return err
	}
	switch {
	case f.Partial:
		return errStopped
	case len(f.Best) == 0:
		return errNo
	}
	return nil
}

// searched is the answer of a search with what it was asked.
type searched struct {
	*planner.Found
	space planner.SearchSpace
	build *catalog.Build
}

func (s *searched) screen() sheet.Screen {
	p := s.Plan
	out := sheet.Screen{Verdict: s.verdict()}
	best, front := s.table(s.Best, "rank"), s.table(s.fewOf(s.Front))
	front.Title = s.frontTitle()
	out.Tables = []*sheet.Table{best, front}
	out.Sheet, out.Warnings = s.sheet(), planWarnings(p)
	out.Notes = append(out.Notes, s.countNotes()...)
	if len(s.Best) > 0 {
		goal := p.Build.Goal
		note := fmt.Sprintf("\"x best\" is the score over that of the best: the geometric mean of time (weight %s) and punch (%s)", words.Trimmed(goal.Time, 3), words.Trimmed(goal.Punch, 3))
		if s.Priced {
			note = fmt.Sprintf("\"x best\" is the score over that of the best: the geometric mean of time (weight %s), punch (%s) and time per price of the whole build (%s)", words.Trimmed(goal.Time, 3), words.Trimmed(goal.Punch, 3), words.Trimmed(goal.Price, 3))
		}
		out.Notes = append(out.Notes, note+".")
		out.Notes = append(out.Notes, s.remarkNotes()...)
		if len(p.Build.Flight.Phases) == 0 {
			out.Notes = append(out.Notes, hoverNote(p, landing(p, s.Best[0].Pack.Chemistry)))
		}
		out.Notes = append(out.Notes, conditionsNote(p))
		out.Notes = append(out.Notes, fmt.Sprintf("The hover power of the first rests on %s: known to +- %.0f %% (one sigma). Among many parts a search also finds those whose figures are too good: look at the bands, and weigh and rank a build file with these parts before you buy.",
			s.Best[0].Plan.Propulsion.Reason, 100*s.Best[0].Plan.PowerSigma()))
	}
	out.Notes = append(out.Notes, scaleNote(p)...)
	out.Notes = append(out.Notes, limitNote(p), packCaution)
	return out
}

func (s *searched) verdict() []string {
	p := s.Plan
	limit := limitName(p.Build.Limit)
	partial := ""
	if s.Partial {
		partial = fmt.Sprintf("PARTIAL: stopped with %s of %s combinations not looked at", grouped(s.Untried), grouped(s.Combinations))
		switch {
		case s.AtMost != nil:
			partial += fmt.Sprintf("; none of them scores more than %s times the best here", words.Fixed(*s.AtMost, 3))
		case s.Untried > 0:
			partial += "; how good the best of them is, is not known yet"
		}
		partial += "."
	}
	if len(s.Best) == 0 {
		lines := []string{fmt.Sprintf("NO combination of %s suits %s under %s.", grouped(s.Combinations), p.Build.Name, limit)}
		if s.Partial {
			lines = []string{partial, "Nothing that suits was found by then."}
		}
		return lines
	}
	x := &s.Best[0]
	verb := "hovers"
	if x.Cycle != nil {
		verb = "flies its phases for"
	}
	first := fmt.Sprintf("Best of %s combinations for %s under %s: %s %s min", grouped(s.Combinations), p.Build.Name, limit, verb, ratio(x.Duration().Minutes()))
	if x.Band != nil {
		first += fmt.Sprintf(" (%s)", figuresOf().figure("flight_s").between(&x.Assessment, " to "))
	}
	first += fmt.Sprintf(", punches %s times its weight, %s all-up", ratio(x.PunchRatio()), words.Grams(x.Mass))
	if x.Price != nil {
		first += fmt.Sprintf(", for %s %s", words.Fixed(*x.Price, 2), words.Clean(x.Currency))
	}
	first += "." + overWarning(&x.Assessment) + coldWarning(p, x.Pack) + basisWarning(&x.Assessment)
	lines := []string{first, "It is " + s.parts(x, true) + "."}
	if x.Pack.Demo() {
		lines[1] += " Its pack is an invented demo record."
	}
	if t := s.Today; t != nil && t.Flies() {
		lines = append(lines, s.today(x, t))
	}
	if s.Partial {
		lines = append([]string{partial}, lines...)
	}
	return lines
}

// today compares the best with the build as it flies today.
func (s *searched) today(x *planner.FoundBuild, t *planner.Assessment) string {
	text := fmt.Sprintf("Today's parts with %s: %s min, punch %s, %s all-up", t.Pack.ID, ratio(t.Duration().Minutes()), ratio(t.PunchRatio()), words.Grams(t.Mass))
	time, punch := figuresOf().figure("flight_s"), figuresOf().figure("punch_ratio")
	text += fmt.Sprintf("; against that the best has %s and punch %s", change(time, float64(x.Duration()-t.Duration())), change(punch, x.PunchRatio()-t.PunchRatio()))
	if len(t.Against()) > 0 {
		text += "; today's do not suit: " + joinReasons(t.Against())
	}
	return text + "."
}

// varies reports whether a slot has more than one candidate.
func (s *searched) varies(slot catalog.Kind) bool {
	switch slot {
	case catalog.KindFrame:
		return len(s.space.Frames) > 1
	case catalog.KindMotor:
		return len(s.space.Motors) > 1
	case catalog.KindProp:
		return len(s.space.Props) > 1
	case catalog.KindBoard:
		return len(s.space.Boards) > 1
	case catalog.KindGear:
		return slices.ContainsFunc(s.space.Gear, func(list []*catalog.Gear) bool { return len(list) > 1 })
	}
	return true
}

// parts names the parts of a build that were chosen, with their slots where asked.
func (s *searched) parts(x *planner.FoundBuild, slotted bool) string {
	var out []string
	add := func(slot catalog.Kind, ids ...string) {
		if !s.varies(slot) {
			return
		}
		text := strings.Join(ids, " + ")
		if slotted {
			text = string(slot) + " " + text
		}
		out = append(out, text)
	}
	add(catalog.KindFrame, x.Parts.Frame.ID)
	add(catalog.KindMotor, x.Parts.Motor.ID)
	add(catalog.KindProp, x.Parts.Prop.ID)
	add(catalog.KindBoard, x.Parts.Board.ID)
	var gear []string
	for i, g := range x.Parts.Gear {
		if len(s.space.Gear[i]) > 1 {
			gear = append(gear, g.ID)
		}
	}
	add(catalog.KindGear, gear...)
	add(catalog.KindPack, x.Parts.Pack.ID)
	return strings.Join(out, ", ")
}

// frontRows is how many builds of a front a screen shows; CSV and JSON have all.
const frontRows = 12

// fewOf are some of a front: both ends and what stands evenly between.
func (s *searched) fewOf(front []planner.FoundBuild) []planner.FoundBuild {
	if len(front) <= frontRows {
		return front
	}
	var few []planner.FoundBuild
	for i := range frontRows {
		few = append(few, front[int(math.Round(float64(i)*float64(len(front)-1)/(frontRows-1)))])
	}
	return few
}

func (s *searched) frontTitle() string {
	of := "flight time and punch"
	if s.Priced {
		of = "flight time, punch and price"
	}
	title := fmt.Sprintf("Front: %s that no other beats in %s", words.Count(len(s.Front), "build", "builds"), of)
	if n := len(s.Front); n > frontRows {
		title += fmt.Sprintf(", %d of them here", frontRows)
	}
	return title
}

// table is builds with what they do and their parts, after some figures that come first.
func (s *searched) table(builds []planner.FoundBuild, first ...string) *sheet.Table {
	all := figuresOf()
	var cols sheet.Columns[*planner.FoundBuild]
	figure := func(key string, keep int) {
		f := all.figure(key)
		if key == "flight_s" {
			f.Head = ""
		}
		head, cell := f.Shown()
		head.Keep = keep
		cols.Add(head, func(x *planner.FoundBuild) sheet.Cell { return cell(&x.Assessment) })
	}
	for _, key := range first {
		figure(key, 0)
	}
	figure("flight_s", 0)
	head, cell := all.figure("flight_s").bandShown(3)
	cols.Add(head, func(x *planner.FoundBuild) sheet.Cell { return cell(&x.Assessment) })
	figure("punch_ratio", 0)
	figure("all_up_g", 1)
	figure("margin_g", 4)
	if s.Priced {
		cols.Add(sheet.Column{Head: "build price", Key: "build_price", Keep: 1}, func(x *planner.FoundBuild) sheet.Cell { return priceCell(x) })
	}
	cols.Add(sheet.Column{Head: "x best", Key: "score", Keep: 2}, func(x *planner.FoundBuild) sheet.Cell { return sheet.Number(x.Score, 3) })
	cols.Add(sheet.Column{Head: "", Key: "marks", Left: true, Keep: 1}, func(x *planner.FoundBuild) sheet.Cell { return sheet.Word(foundMarks(x)) })
	cols.Add(sheet.Column{Head: "parts", Key: "parts", Left: true, Wrap: true}, func(x *planner.FoundBuild) sheet.Cell {
		text := s.parts(x, false)
		if x.Alike > 0 {
			text += fmt.Sprintf(" (and %s more with the same figures)", grouped(x.Alike))
		}
		return sheet.Word(text)
	})
	return cols.Table("", foundPointers(builds))
}

func foundPointers(list []planner.FoundBuild) []*planner.FoundBuild {
	out := make([]*planner.FoundBuild, len(list))
	for i := range list {
		out[i] = &list[i]
	}
	return out
}

func priceCell(x *planner.FoundBuild) sheet.Cell {
	if x.Price == nil {
		return sheet.Unknown()
	}
	return sheet.Number(*x.Price, 2)
}

// foundMarks are the marks of the pack, and of parts that are invented or have no price.
func foundMarks(x *planner.FoundBuild) string {
	m := marks(&x.Assessment)
	if !strings.Contains(m, demoMark) && len(x.Plan.DemoParts()) > 0 {
		m += demoMark
	}
	if len(x.Unpriced) > 0 {
		m += "P"
	}
	return m
}

// sheet is every build for a spreadsheet: the best, then the front.
func (s *searched) sheet() *sheet.Table {
	type row struct {
		list string
		*planner.FoundBuild
	}
	var rows []*row
	for _, x := range foundPointers(s.Best) {
		rows = append(rows, &row{"best", x})
	}
	for _, x := range foundPointers(s.Front) {
		rows = append(rows, &row{"front", x})
	}
	var cols sheet.Columns[*row]
	text := func(key string, of func(*row) string) {
		cols.Add(sheet.Column{Head: key, Key: key, Left: true}, func(r *row) sheet.Cell { return sheet.Word(of(r)) })
	}
	text("list", func(r *row) string { return r.list })
	text("frame", func(r *row) string { return r.Parts.Frame.ID })
	text("motor", func(r *row) string { return r.Parts.Motor.ID })
	text("prop", func(r *row) string { return r.Parts.Prop.ID })
	text("board", func(r *row) string { return r.Parts.Board.ID })
	text("gear", func(r *row) string { return strings.Join(gearIDs(r.FoundBuild), " ") })
	text("pack", func(r *row) string { return r.Parts.Pack.ID })
	all := figuresOf()
	for _, key := range []string{"rank", "all_up_g", "margin_g", "over_limit_chance", "flight_s", "hover_power_w", "hover_current_a", "punch_ratio", "punch_ratio_landing", "pack_headroom"} {
		head, cell := all.figure(key).Exact()
		cols.Add(head, func(r *row) sheet.Cell { return cell(&r.Assessment) })
	}
	cols.Add(sheet.Column{Head: "score", Key: "score"}, func(r *row) sheet.Cell { return sheet.Number(r.Score, 9) })
	cols.Add(sheet.Column{Head: "build_price", Key: "build_price"}, func(r *row) sheet.Cell {
		if r.Price == nil {
			return sheet.Unknown()
		}
		return sheet.Number(*r.Price, 6)
	})
	text("currency", func(r *row) string { return orDash(r.Currency) })
	cols.Add(sheet.Column{Head: "alike", Key: "alike"}, func(r *row) sheet.Cell { return sheet.Number(float64(r.Alike), 0) })
	text("marks", func(r *row) string { return orDash(foundMarks(r.FoundBuild)) })
	text(warningsKey, func(r *row) string { return orDash(joinReasons(r.Warnings())) })
	return cols.Table("", rows)
}

func gearIDs(x *planner.FoundBuild) []string {
	ids := []string{}
	for _, g := range x.Parts.Gear {
		ids = append(ids, g.ID)
	}
	return ids
}

// countNotes say what became of all combinations.
func (s *searched) countNotes() []string {
	var out []string
	for _, code := range planner.ProofsOrder() {
		if n := s.Excluded[code]; n > 0 {
			out = append(out, grouped(n)+" "+proofText(code))
		}
	}
	text := fmt.Sprintf("Of %s combinations %s tried", grouped(s.Combinations), wereTried(s.Tried))
	if len(out) > 0 {
		text += "; left out without a trial: " + strings.Join(out, ", ")
	}
	return []string{text + "."}
}

func wereTried(n int64) string {
	if n == 1 {
		return "1 was"
	}
	return grouped(n) + " were"
}

// proofText is why combinations were left out without a trial.
func proofText(c planner.Code) string {
	switch c {
	case planner.OverPackMass:
		return "with a pack heavier than the build takes"
	case planner.WrongCells:
		return "with cells that the build does not take"
	case planner.PropTooLarge:
		return "with a propeller too large for the frame"
	case planner.MotorMount:
		return "with a motor that the frame has no holes for"
	case planner.PropShaft:
		return "with a propeller that is not bored for the motor's shaft"
	case planner.MotorCells:
		return "with cells that the motor does not take"
	case planner.BoardCells:
		return "with cells that the board does not take"
	case planner.TooBigForBay:
		return "with a pack that does not fit the bay"
	case planner.OverLimit:
		return "over the limit, or with less than the spare kept back"
	case planner.TooMuch:
		return "whose full throttle draws more than board or motor carry"
	case planner.BeatenBound:
		return "whose best possible result is worse than what was found"
	case planner.SameFigures:
		return "of parts with the same figures as one that was tried"
	case planner.WrongChem, planner.WrongPlug:
		return "with a " + planner.ShortOf(c)
	}
	return string(c)
}

// remarkNotes are warnings of the packs, and of the first build's parts.
func (s *searched) remarkNotes() []string {
	x := &s.Best[0]
	notes := remarkNotes(x.Warnings())
	notes = append(notes, remarkNotes(x.Plan.Warnings)...)
	if len(x.Unpriced) > 0 {
		notes = append(notes, fmt.Sprintf("No price in %s is known of %s: each counts as the middle of its slot's candidates.", words.Clean(x.Currency), words.FirstFew(x.Unpriced, 8)))
	}
	notes = append(notes, marksNote("FLDIPW"))
	if len(s.build.Flown) > 0 && s.Plan.Propulsion.Calibration == nil {
		notes = append(notes, "The hovers that were flown are of other rotors than most of these: all are predicted without them.")
	}
	return notes
}

// grouped writes a whole number with commas.
func grouped(n int64) string {
	text := fmt.Sprint(n)
	for i := len(text) - 3; i > 0; i -= 3 {
		text = text[:i] + "," + text[i:]
	}
	return text
}

type jsonSearch struct {
	Build        string           `json:"build"`
	Limit        jsonLimit        `json:"limit"`
	Combinations int64            `json:"combinations"`
	Tried        int64            `json:"tried"`
	Excluded     map[string]int64 `json:"excluded"`
	Untried      int64            `json:"untried"`
	Partial      bool             `json:"partial"`
	AtMost       *float64         `json:"untried_score_at_most"`
	Seconds      float64          `json:"seconds"`
	Priced       bool             `json:"priced"`
	Today        any              `json:"today"`
	TodayScore   *float64         `json:"today_score"`
	Best         []sheet.Object   `json:"best"`
	Front        []sheet.Object   `json:"front"`
	Warnings     []jsonRemark     `json:"warnings"`
}

func (s *searched) json(took time.Duration) any {
	out := jsonSearch{
		Build: s.Plan.Build.Name, Limit: limitJSON(s.Plan.Build.Limit), Combinations: s.Combinations, Tried: s.Tried, Excluded: map[string]int64{},
		Untried: s.Untried, Partial: s.Partial, AtMost: s.AtMost, Seconds: took.Seconds(), Priced: s.Priced, TodayScore: s.TodayScore,
		Best: []sheet.Object{}, Front: []sheet.Object{}, Warnings: remarksJSON(s.Plan.Warnings),
	}
	for code, n := range s.Excluded {
		out.Excluded[string(code)] = n
	}
	all := figuresOf()
	if s.Today != nil {
		out.Today = packJSON(all, s.Today)
	}
	for i := range s.Best {
		out.Best = append(out.Best, foundJSON(all, &s.Best[i]))
	}
	for i := range s.Front {
		out.Front = append(out.Front, foundJSON(all, &s.Front[i]))
	}
	return out
}

// foundJSON is a whole build: its parts, and everything that a ranking says of it on its pack.
func foundJSON(all figures, x *planner.FoundBuild) sheet.Object {
	var out sheet.Object
	out = out.With("frame", x.Parts.Frame.ID).With("motor", x.Parts.Motor.ID).With("prop", x.Parts.Prop.ID).With("board", x.Parts.Board.ID).With("gear", gearIDs(x))
	for _, m := range packJSON(all, &x.Assessment) {
		switch m.Key {
		case "score":
			m.Value = x.Score
		case "front":
			m.Value = x.Front
		}
		out = append(out, m)
	}
	var price, currency any
	if x.Price != nil {
		price, currency = *x.Price, x.Currency
	}
	unpriced := x.Unpriced
	if unpriced == nil {
		unpriced = []string{}
	}
	return out.With("build_price", price).With("build_currency", currency).With("unpriced", unpriced).With("alike", x.Alike).With("demo_parts", demoPartsJSON(x.Plan))
}
