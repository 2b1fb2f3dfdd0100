package planner

import (
	"cmp"
	"context"
	"errors"
	"math"
	"slices"

	"allup/catalog"
)

// SlotChange is another part in a slot.
type SlotChange struct {
	Slot     catalog.Kind
	Was, Now string // ids
}

// Suggestion is a change of a build, or a pair of changes, with what comes of it.
type Suggestion struct {
	Changes []SlotChange
	Build   FoundBuild
	Times   *float64 // its score over that of today's build; nil where that does not fly

	raw float64
}

// Suggestions are the changes that help a build most.
type Suggestions struct {
	Plan    *Plan
	Today   *Assessment
	Suits   bool // today's build does: its parts go together, and nothing speaks against its pack
	Broken  []Remark
	Priced  bool
	Singles []Suggestion // the best of every slot that has one that suits, best first
	Pair    *Suggestion  // the best of two changes at once; nil where none suits
	Tried   int64
	Looked  int64 // combinations that were looked at
}

// Suggest finds the single change out of a catalogue that helps a build most by its goal, for each slot, and
// the best pair of changes: among those that suit, as [Search] has it, so that where the build is over its
// limit it is the change that brings it under at the least loss. A current that a part does not carry today
// either is not held against a change of others, as in [CompareSwap]. Other gear counts where the build lists a
// choice of it. Hovers that were flown are left out of account, since other rotors did not fly them. The answer
// is exact.
func Suggest(ctx context.Context, b *catalog.Build, set *PackSet, c Conditions, progress Progress) (*Suggestions, error) {
	if len(b.Slots.Pack) == 0 || len(b.Slots.Unnamed) > 0 {
		return nil, catalog.InputError{File: b.File, Msg: "a change is of the parts that fly today: name one in every slot, and a pack"}
	}
	first, err := SelectionOf(b)
	if err != nil {
		return nil, err
	}
	open := b.Open(catalog.KindFrame, catalog.KindMotor, catalog.KindProp, catalog.KindBoard)
	from := SpaceOf(open, set, progress)
	if !slices.ContainsFunc(from.Packs, func(p *Pack) bool { return p.ID == first.Pack.ID }) {
		from.Packs = append(slices.Clone(from.Packs), set.Pack(first.Pack.ID))
		slices.SortFunc(from.Packs, func(a, b *Pack) int { return cmp.Compare(a.ID, b.ID) })
	}
	s, err := newSpace(request{build: b, selection: first, conditions: c, rotors: NewRotorCache(b.Parts), hovers: hoversLeftOut}, from)
	if err != nil {
		return nil, err
	}
	return s.suggest(ctx, s.placesToday(first))
}

// placesToday are where the parts that fly today stand among the candidates.
func (s *space) placesToday(first Selection) (at combo) {
	at[slotFrame] = int32(slices.Index(s.Frames, first.Frame))
	at[slotMotor] = int32(slices.Index(s.Motors, first.Motor))
	at[slotProp] = int32(slices.Index(s.Props, first.Prop))
	at[slotBoard] = int32(slices.Index(s.Boards, first.Board))
	at[slotGear] = int32(slices.IndexFunc(s.choices, func(g []*catalog.Gear) bool { return slices.Equal(g, first.Gear) }))
	at[slotPack] = int32(slices.IndexFunc(s.Packs, func(p *Pack) bool { return p.ID == first.Pack.ID }))
	return at
}

// suggest looks at all single changes and at all pairs.
func (s *space) suggest(ctx context.Context, today combo) (*Suggestions, error) {
	out := &Suggestions{Plan: s.plan, Priced: s.priced}
	a := s.plan.Assess(s.Packs[today[slotPack]])
	out.Today = &a
	out.Broken = slices.Concat(s.plan.Conflicts, a.Against())
	if a.Warns(BoardCurrent) {
		s.bearsBoard = s.plan.Board
	}
	if a.Warns(MotorCurrent) {
		s.bearsMotor = s.plan.Motor
	}
	out.Suits = len(out.Broken) == 0
	was := math.NaN()
	if a.Flies() && a.PunchRatio() > 0 {
		was = s.raw(figures3{float64(a.Duration()), a.PunchRatio(), s.priceOf(s.plan.Selection)})
	}
	try := func(changed ...int) (*Suggestion, error) {
		best, err := s.bestOf(ctx, out, today, changed)
		if best == nil || err != nil {
			return nil, err
		}
		f, err := s.buildOf(best.parts)
		if err != nil {
			return nil, err
		}
		g := &Suggestion{Changes: s.changes(today, best.parts)}
		if !math.IsNaN(was) {
			v := math.Exp(best.raw - was)
			g.Times = &v
		}
		// A score is to that of today's build or, where that does not fly, on a scale of its own.
		f.Score = math.Exp(best.raw)
		if g.Times != nil {
			f.Score = *g.Times
		}
		g.Build, g.raw = f, best.raw
		return g, nil
	}
	for i := range slots {
		g, err := try(i)
		if err != nil {
			return nil, err
		}
		if g != nil {
			out.Singles = append(out.Singles, *g)
		}
	}
	slices.SortStableFunc(out.Singles, func(a, b Suggestion) int { return cmp.Compare(b.raw, a.raw) })
	for i := range slots {
		for j := i + 1; j < slots; j++ {
			g, err := try(i, j)
			if err != nil {
				return nil, err
			}
			if g != nil && (out.Pair == nil || g.raw > out.Pair.raw) {
				out.Pair = g
			}
		}
	}
	return out, nil
}

// overdrivenRules are the cautions of a current that a part does not carry.
func overdrivenRules() ruleSet {
	return only(packCautions, BoardCurrent) | only(packCautions, MotorCurrent)
}

// changes are the slots in which two builds differ; of gear each place that does.
func (s *space) changes(was, now combo) (out []SlotChange) {
	before, _ := s.selection(was)
	after, _ := s.selection(now)
	add := func(slot catalog.Kind, was, now string) {
		if was != now {
			out = append(out, SlotChange{slot, was, now})
		}
	}
	add(catalog.KindFrame, before.Frame.ID, after.Frame.ID)
	add(catalog.KindMotor, before.Motor.ID, after.Motor.ID)
	add(catalog.KindProp, before.Prop.ID, after.Prop.ID)
	add(catalog.KindBoard, before.Board.ID, after.Board.ID)
	for i := range before.Gear {
		add(catalog.KindGear, before.Gear[i].ID, after.Gear[i].ID)
	}
	add(catalog.KindPack, before.Pack.ID, after.Pack.ID)
	return out
}

// bestOf is the best build in which some slots, and no others, have another part than today; nil where none suits.
func (s *space) bestOf(ctx context.Context, out *Suggestions, today combo, changed []int) (*member, error) {
	only := s.only(func(slot int, place int32) bool {
		if !slices.Contains(changed, slot) {
			return place == today[slot]
		}
		return place != today[slot] && (slot != slotGear || s.oneOther(today[slot], place))
	})
	if only == nil {
		return nil, nil
	}
	h := newHunt(only, 1)
	if err := h.everything(ctx, nil); err != nil {
		return nil, err
	}
	if h.stopped {
		return nil, errors.New("stopped before every change was looked at")
	}
	out.Tried += h.tried
	out.Looked += only.size()
	if len(h.best.members) == 0 {
		return nil, nil
	}
	return &h.best.members[0], nil
}

// oneOther reports whether two choices of gear differ in one place.
func (s *space) oneOther(a, b int32) bool {
	n := 0
	for i, g := range s.choices[a] {
		if s.choices[b][i] != g {
			n++
		}
	}
	return n == 1
}

// only is the space of some of the candidates, whose prices and goal stay those of all; nil where a slot has none left.
func (s *space) only(takes func(slot int, place int32) bool) *space {
	c := *s
	keep := func(slot int, k kind) (kind, bool) {
		var places []int32
		for _, p := range k.places {
			if takes(slot, p) {
				places = append(places, p)
			}
		}
		k.places = places
		return k, len(places) > 0
	}
	c.frames, c.motors, c.props, c.boards, c.gears, c.packs, c.groups = nil, nil, nil, nil, nil, nil, nil
	var ok bool
	for _, k := range s.frames {
		if k.kind, ok = keep(slotFrame, k.kind); ok {
			c.frames = append(c.frames, k)
		}
	}
	for _, k := range s.motors {
		if k.kind, ok = keep(slotMotor, k.kind); ok {
			k.Motor = s.Motors[k.places[0]]
			c.motors = append(c.motors, k)
		}
	}
	for _, k := range s.props {
		if k.kind, ok = keep(slotProp, k.kind); ok {
			c.props = append(c.props, k)
		}
	}
	for _, k := range s.boards {
		if k.kind, ok = keep(slotBoard, k.kind); ok {
			k.Board = s.Boards[k.places[0]]
			c.boards = append(c.boards, k)
		}
	}
	for _, k := range s.gears {
		if k.kind, ok = keep(slotGear, k.kind); ok {
			c.gears = append(c.gears, k)
		}
	}
	for _, k := range s.packs {
		if k.kind, ok = keep(slotPack, k.kind); ok {
			c.packs = append(c.packs, k)
		}
	}
	if min(len(c.frames), len(c.motors), len(c.props), len(c.boards), len(c.gears), len(c.packs)) == 0 {
		return nil
	}
	c.group()
	return &c
}
