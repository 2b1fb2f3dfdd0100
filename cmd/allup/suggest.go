package main

import (
	"context"
	"fmt"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"

	"allup/catalog"
	"allup/cmd/allup/internal/sheet"
	"allup/model/words"
	"allup/planner"
)

// suggest answers swap --suggest for a build after changes that were asked for; command is the words that ask for them.
func (a *app) suggest(ctx context.Context, b *catalog.Build, packs *planner.PackSet, c planner.Conditions, command []string) error {
	ctx, stop := signal.NotifyContext(ctx, os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop)
	m := a.meter("packs", a.quiet)
	s, err := planner.Suggest(ctx, b, packs, c, m.tick)
	m.clear()
	if err != nil {
		return err
	}
	g := suggested{s, command}
	if err := a.answer(g.screen(), g.json()); err != nil {
		return err
	}
	if len(s.Singles) == 0 && s.Pair == nil {
		return errNo
	}
	return nil
}

// suggested are suggestions with the command that asked for them, without the words that ask how they are shown.
type suggested struct {
	*planner.Suggestions
	command []string
}

// changeWords are a suggestion as the command line takes it.
func changeWords(g *planner.Suggestion) []string {
	var out []string
	for _, c := range g.Changes {
		if c.Slot == catalog.KindGear {
			out = append(out, "without="+c.Was, "with="+c.Now)
			continue
		}
		out = append(out, string(c.Slot)+"="+c.Now)
	}
	return out
}

func (s *suggested) screen() sheet.Screen {
	out := sheet.Screen{Verdict: s.verdict(), Closer: s.closer()}
	t := &sheet.Table{Columns: []sheet.Column{
		{Head: "change", Key: "change", Left: true, Wrap: true, Least: 20},
		{Head: "all-up g", Key: "all_up_g"},
		{Head: "min", Key: "flight_min"},
		{Head: "min 5-95 %", Key: "flight_min_5_95"},
		{Head: "min change", Key: "flight_min_change", Keep: 1},
		{Head: "punch", Key: "punch_ratio"},
		{Head: "punch change", Key: "punch_ratio_change", Keep: 1},
		{Head: "x today", Key: "score_ratio"},
		{Head: "", Key: "marks", Left: true},
	}}
	time, punch, mass := figuresOf().figure("flight_s"), figuresOf().figure("punch_ratio"), figuresOf().figure("all_up_g")
	row := func(what string, x *planner.Assessment, times *float64, marks string) {
		cells := []sheet.Cell{sheet.Word(what), mass.Show(x), time.Show(x), sheet.Unknown(), sheet.Unknown(), punch.Show(x), sheet.Unknown(), sheet.Unknown(), sheet.Word(marks)}
		if x.Band != nil {
			cells[3] = time.bandCell(x, "-")
		}
		if x != s.Today && x.Flies() && s.Today.Flies() {
			cells[4] = time.Difference(float64(x.Duration() - s.Today.Duration()))
			cells[6] = punch.Difference(x.PunchRatio() - s.Today.PunchRatio())
		}
		if times != nil {
			cells[7] = sheet.Number(*times, 3)
		}
		t.Add(cells...)
	}
	row("(today)", s.Today, nil, marks(s.Today))
	for i := range s.Singles {
		g := &s.Singles[i]
		row(strings.Join(changeWords(g), " "), &g.Build.Assessment, g.Times, foundMarks(&g.Build))
	}
	if s.Pair != nil {
		row(strings.Join(changeWords(s.Pair), " "), &s.Pair.Build.Assessment, s.Pair.Times, foundMarks(&s.Pair.Build))
	}
	out.Tables = []*sheet.Table{t}
	p := s.Plan
	out.Warnings = []string{}
	out.Notes = append(out.Notes,
		fmt.Sprintf("The best change of each slot, then the best pair, out of %s combinations, of which %s tried: the others are proven to be worse, or not to suit.", grouped(s.Looked), wereTried(s.Tried)),
		"\"x today\" is the score over today's, by the build's goal. Taking something off is not looked at, nor other gear than the build lists as a choice.")
	if best := s.best(); best != nil {
		out.Warnings = remarkNotes(slices.Concat(best.Build.Warnings(), best.Build.Plan.Warnings))
		out.Notes = append(out.Notes, out.Warnings...)
	}
	out.Notes = append(out.Notes, marksNote("FLDIPW"))
	if len(p.Build.Flown) > 0 {
		out.Notes = append(out.Notes, "The hovers that were flown are left out of account on both sides: other rotors did not fly them.")
	}
	if len(p.Build.Flight.Phases) == 0 {
		out.Notes = append(out.Notes, hoverNote(p, landing(p, s.Today.Pack.Chemistry)))
	}
	out.Notes = append(out.Notes, conditionsNote(p))
	out.Notes = append(out.Notes, scaleNote(p)...)
	out.Notes = append(out.Notes, limitNote(p), packCaution)
	return out
}

// best is the best single change, or the pair where no single one suits.
func (s *suggested) best() *planner.Suggestion {
	if len(s.Singles) > 0 {
		return &s.Singles[0]
	}
	return s.Pair
}

func (s *suggested) verdict() []string {
	p := s.Plan
	limit := limitName(p.Build.Limit)
	var lines []string
	if !s.Suits {
		lines = append(lines, fmt.Sprintf("As it is, %s does not suit: %s.", p.Build.Name, joinBroken(s.Broken)))
	}
	best := s.best()
	switch {
	case best == nil:
		return append(lines, fmt.Sprintf("NO change of one part, nor of two, makes %s suit under %s.", p.Build.Name, limit))
	case len(s.Singles) == 0:
		lines = append(lines, fmt.Sprintf("NO change of one part makes %s suit under %s; two do: %s.", p.Build.Name, limit, s.outcome(s.Pair)))
	case !s.Suits:
		lines = append(lines, fmt.Sprintf("The one change that makes it suit under %s at the least loss: %s.", limit, s.outcome(best)))
	case best.Times != nil && *best.Times <= 1:
		lines = append(lines, fmt.Sprintf("No change of one part makes %s better by its goal. The nearest: %s.", p.Build.Name, s.outcome(best)))
	default:
		lines = append(lines, fmt.Sprintf("The one change that helps %s most under %s: %s.", p.Build.Name, limit, s.outcome(best)))
	}
	lines[0] += coldWarning(p, best.Build.Pack)
	switch {
	case len(s.Singles) == 0:
	case s.Pair == nil:
		lines = append(lines, "No pair of changes suits.")
	case s.Pair.Build.Score <= s.Singles[0].Build.Score:
		lines = append(lines, fmt.Sprintf("No pair of changes does better than that. The best pair: %s.", s.outcome(s.Pair)))
	default:
		lines = append(lines, fmt.Sprintf("The best pair: %s.", s.outcome(s.Pair)))
	}
	return lines
}

// closer is the command that looks closer at the best of all, nil where there is none.
func (s *suggested) closer() []string {
	best := s.best()
	if best == nil {
		return nil
	}
	if s.Pair != nil && s.Pair.Build.Score > best.Build.Score {
		best = s.Pair
	}
	look := slices.Clone(s.command)
	for _, w := range changeWords(best) {
		look = append(look, shellWord(w))
	}
	return look
}

// joinBroken is what speaks against a build, with the parts that it is about.
func joinBroken(remarks []planner.Remark) string {
	return strings.Join(remarkNotes(remarks), "; ")
}

// outcome is a suggestion in words.
func (s *suggested) outcome(g *planner.Suggestion) string {
	x := &g.Build
	text := fmt.Sprintf("%s, %s min", strings.Join(changeWords(g), " "), ratio(x.Duration().Minutes()))
	if x.Band != nil {
		text += fmt.Sprintf(" (%s)", figuresOf().figure("flight_s").between(&x.Assessment, " to "))
	}
	if s.Today.Flies() {
		time, punch := figuresOf().figure("flight_s"), figuresOf().figure("punch_ratio")
		text += fmt.Sprintf(", %s, punch %s (%s)", change(time, float64(x.Duration()-s.Today.Duration())), ratio(x.PunchRatio()), change(punch, x.PunchRatio()-s.Today.PunchRatio()))
	} else {
		text += ", punch " + ratio(x.PunchRatio())
	}
	text += ", " + words.Grams(x.Mass) + " all-up"
	if x.Warns(planner.MaybeOver) {
		text += fmt.Sprintf(" with a chance of %s of BREAKING the limit", words.Chance(x.OverChance))
	}
	if g.Times != nil {
		text += fmt.Sprintf(", %s times the score", words.Fixed(*g.Times, 3))
	}
	return text
}

type jsonSuggestion struct {
	Changes    []jsonChange `json:"changes"`
	ScoreRatio *float64     `json:"score_ratio"`
	Build      sheet.Object `json:"build"`
}

type jsonSuggestions struct {
	Build        string           `json:"build"`
	Limit        jsonLimit        `json:"limit"`
	Suits        bool             `json:"suits"`
	Broken       []jsonRemark     `json:"broken"`
	Today        sheet.Object     `json:"today"`
	Singles      []jsonSuggestion `json:"singles"`
	Pair         *jsonSuggestion  `json:"pair"`
	Combinations int64            `json:"combinations"`
	Tried        int64            `json:"tried"`
	Priced       bool             `json:"priced"`
}

func (s *suggested) json() any {
	all := figuresOf()
	of := func(g *planner.Suggestion) jsonSuggestion {
		out := jsonSuggestion{Changes: []jsonChange{}, ScoreRatio: g.Times, Build: foundJSON(all, &g.Build)}
		for _, c := range g.Changes {
			text := string(c.Slot) + "=" + c.Now
			if c.Slot == catalog.KindGear {
				text = "without=" + c.Was + " with=" + c.Now
			}
			out.Changes = append(out.Changes, jsonChange{text, c.Was, c.Now})
		}
		return out
	}
	out := jsonSuggestions{
		Build: s.Plan.Build.Name, Limit: limitJSON(s.Plan.Build.Limit), Suits: s.Suits, Broken: remarksJSON(s.Broken), Today: packJSON(all, s.Today),
		Singles: []jsonSuggestion{}, Combinations: s.Looked, Tried: s.Tried, Priced: s.Priced,
	}
	for i := range s.Singles {
		out.Singles = append(out.Singles, of(&s.Singles[i]))
	}
	if s.Pair != nil {
		out.Pair = present(of(s.Pair))
	}
	return out
}
