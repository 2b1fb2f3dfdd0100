package planner

import (
	"fmt"
	"slices"

	"allup/catalog"
	"allup/model"
)

// Selection is the parts of a build: for every slot one of its candidates, or any other record.
type Selection struct {
	Frame *catalog.Frame
	Motor *catalog.Motor
	Prop  *catalog.Prop
	Board *catalog.Board
	Gear  []*catalog.Gear
	Pack  *catalog.Pack // what flies today; nil for none
}

// SelectionOf is the first candidate of every slot of a build. The error is that of a slot without a part.
func SelectionOf(b *catalog.Build) (Selection, error) {
	first := func(ids []string) string {
		if len(ids) == 0 {
			return ""
		}
		return ids[0]
	}
	cat := b.Parts
	s := Selection{
		Frame: cat.Frames[first(b.Slots.Frame)], Motor: cat.Motors[first(b.Slots.Motor)], Prop: cat.Props[first(b.Slots.Prop)],
		Board: cat.Boards[first(b.Slots.Board)], Pack: cat.Packs[first(b.Slots.Pack)],
	}
	if s.Frame == nil || s.Motor == nil || s.Prop == nil || s.Board == nil {
		return Selection{}, fmt.Errorf("build %q has an empty slot", b.Name)
	}
	for _, id := range b.Slots.Gear {
		s.Gear = append(s.Gear, cat.Gear[id])
	}
	return s, nil
}

// severalCandidates says which slots of a build list more than the part that is taken.
func severalCandidates(b *catalog.Build) (told []Remark) {
	for _, slot := range []struct {
		name string
		ids  []string
	}{{"frame", b.Slots.Frame}, {"motor", b.Slots.Motor}, {"prop", b.Slots.Prop}, {"board", b.Slots.Board}, {"pack", b.Slots.Pack}} {
		if n := len(slot.ids); n > 1 {
			told = append(told, remark(SeveralCandidate, "", "slot %s lists %d candidates; %s, the first, is taken", slot.name, n, slot.ids[0]))
		}
	}
	for place := range b.Slots.Gear {
		if n := len(b.Slots.GearChoice(place)); n > 1 {
			told = append(told, remark(SeveralCandidate, "", "slot gear lists a choice of %d; %s, the first, is taken", n, b.Slots.Gear[place]))
		}
	}
	return told
}

// Resolve makes a plan of a checked build with these parts in its slots, under conditions. Neither the build
// nor another plan is changed. Hovers that the build states were flown in its own air, with these parts. rotors
// is of the build's catalogue.
func (s Selection) Resolve(b *catalog.Build, c Conditions, rotors *RotorCache) (*Plan, error) {
	return request{build: b, selection: s, conditions: c, rotors: rotors}.plan()
}

// Resolve makes a plan of a checked build as its file has it. Of a slot that lists candidates it takes the
// first, and says so.
func Resolve(b *catalog.Build) (*Plan, error) {
	r, err := requestOf(b)
	if err != nil {
		return nil, err
	}
	return r.plan()
}

// request is everything that a plan is made of.
type request struct {
	build      *catalog.Build // as its file has it
	selection  Selection
	conditions Conditions
	rotors     *RotorCache

	only        model.Knowledge // of the rotors, that counts; "" for the best there is
	hovers      hovers
	calibration *model.Calibration // by hovers of another build with the same rotors; nil for those of build

	told []Remark // of the selection
}

// hovers says what becomes of the hovers that a build states.
type hovers int

const (
	hoversCount     hovers = iota
	hoversLeftOut          // predicted without them
	hoversOfOthers         // the same, and said: they are of other rotors
	hoversElsewhere        // those of another build count, whose calibration is at hand
)

func requestOf(b *catalog.Build) (request, error) {
	s, err := SelectionOf(b)
	return request{build: b, selection: s, rotors: NewRotorCache(b.Parts), told: severalCandidates(b)}, err
}

func (r request) plan() (*Plan, error) {
	build := *r.build
	build.Air = r.conditions.of(r.build.Air)
	p := &Plan{Build: &build, Selection: r.selection, Warnings: slices.Clone(r.told), request: r}
	p.addItems()
	if err := p.readScale(); err != nil {
		return nil, err
	}
	p.readMission()
	if err := p.makeDrive(); err != nil {
		return nil, err
	}
	p.temperatures()
	p.warnPrices()
	if r.hovers == hoversOfOthers {
		p.warn(HoverOther, "", "the hovers were flown with other rotors than after the change: both sides are predicted without them, and compare with each other")
	}
	c := Candidate{Plan: p}
	p.Conflicts = brokenBy(&c, partConflicts).remarks(&c, partConflicts)
	return p, nil
}
