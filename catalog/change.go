package catalog

import (
	"maps"
	"slices"
	"strconv"
	"strings"

	"allup/model"
	"allup/model/words"
)

// Op is what a [Change] does.
type Op string

// The operations.
const (
	OpReplace Op = "replace" // slot=ID
	OpAdd     Op = "add"     // with=ID or with=NAME:MASS
	OpRemove  Op = "remove"  // without=ID
)

// Change is one change of a build, as the command line gives it.
type Change struct {
	Op   Op
	Text string     // as given
	Slot Kind       // of OpReplace
	ID   string     // of a record, or of what is removed; "" for an addition by name
	Name string     // of an addition by name
	Mass model.Mass // of an addition by name
}

// AppliedChange is a change with what it met.
type AppliedChange struct {
	Change
	Was string // the id that the change took off; "" where it took none
	Now string // the id that the change put on; "" where it put none
}

// changeGrammar says what a change may be.
const changeGrammar = `slot=ID (frame, motor, prop, board or pack), with=ID of gear, with="camera:12.5g", without=ID`

func replaceable() []string {
	return []string{string(KindFrame), string(KindMotor), string(KindProp), string(KindBoard), string(KindPack)}
}

// ParseChange reads a change: frame=ID, motor=ID, prop=ID, board=ID or pack=ID, with=ID,
// with=NAME:12.5g, without=ID. A mass needs its unit. Whether the ids exist is found
// by [Build.Apply]. Its error is an [InputErrors].
func ParseChange(text string) (Change, error) {
	refuse := func(e InputError) (Change, error) {
		e.Field = "change " + quote(text)
		return Change{}, InputErrors{e}
	}
	left, right, assigned := strings.Cut(text, "=")
	left, right = strings.TrimSpace(left), strings.TrimSpace(right)
	c := Change{Text: text}
	switch {
	case !assigned:
		return refuse(InputError{Msg: "has no =", Allowed: changeGrammar})
	case left == "without":
		c.Op, c.ID = OpRemove, right
	case left == "with":
		c.Op, c.ID = OpAdd, right
		if colon := strings.LastIndexByte(right, ':'); colon >= 0 {
			return parseAddition(c, right[:colon], right[colon+1:], refuse)
		}
	case left == "gear":
		return refuse(InputError{Msg: "gear is added and removed one by one", Allowed: "with=ID, without=ID"})
	case slices.Contains(replaceable(), left):
		c.Op, c.Slot, c.ID = OpReplace, Kind(left), right
	default:
		return refuse(InputError{
			Value: quote(left), Msg: "is not a slot", Allowed: changeGrammar,
			Hint: didYouMean(left, append(replaceable(), "with", "without")),
		})
	}
	switch {
	case c.ID == "":
		return refuse(InputError{Msg: "has no id behind the =", Allowed: changeGrammar})
	case len(c.ID) > maxID || strings.ContainsFunc(c.ID, func(r rune) bool { return r <= ' ' || words.Steers(r) || r == '=' || r == ':' }):
		return refuse(InputError{Value: quote(c.ID), Msg: "cannot be an id", Allowed: changeGrammar})
	}
	return c, nil
}

// parseAddition reads the name and the mass of with=NAME:MASS.
func parseAddition(c Change, name, grams string, refuse func(InputError) (Change, error)) (Change, error) {
	c.ID, c.Name = "", strings.TrimSpace(name)
	mass, err := model.ParseMass(grams)
	switch {
	case c.Name == "" || len(c.Name) > 2*maxID || strings.ContainsFunc(c.Name, words.Steers):
		return refuse(InputError{Value: quote(name), Msg: "cannot be a name", Allowed: `with="camera:12.5g", a name on one line and a mass`})
	case err != nil:
		hint := ""
		if strings.Contains(grams, ",") {
			hint = "decimals have a point"
		}
		return refuse(InputError{Msg: words.Printable(err.Error()), Allowed: `a mass with its unit, with="camera:12.5g"`, Hint: hint})
	case !(mass > 0) || mass > 5:
		return refuse(InputError{Value: quote(grams), Msg: "is out of range", Allowed: "above 0, up to 5 kg"})
	}
	c.Mass = mass
	return c, nil
}

// Apply is the build with changes made to it from left to right; b stays as it is.
// All faults come together as [InputErrors].
func (b *Build) Apply(changes []Change) (*Build, []AppliedChange, error) {
	changed := b.clone()
	if s := b.Scale; s != nil && s.Of == nil {
		weighed := *s
		weighed.Of = b // what was on the scale does not change
		changed.Scale = &weighed
	}
	var faults InputErrors
	var applied []AppliedChange
	for _, c := range changes {
		done, fault := changed.apply(c)
		if fault != nil {
			fault.Field = "change " + quote(c.Text)
			faults = append(faults, *fault)
			continue
		}
		applied = append(applied, done)
	}
	if len(faults) > 0 {
		return nil, nil, faults
	}
	return changed, applied, nil
}

// clone is a copy that shares nothing that Apply changes.
func (b *Build) clone() *Build {
	c := *b
	c.Limit.Rules = slices.Clone(b.Limit.Rules)
	c.Slots = Slots{
		Frame: slices.Clone(b.Slots.Frame), Motor: slices.Clone(b.Slots.Motor), Prop: slices.Clone(b.Slots.Prop),
		Board: slices.Clone(b.Slots.Board), Pack: slices.Clone(b.Slots.Pack), Gear: slices.Clone(b.Slots.Gear),
		GearElse: maps.Clone(b.Slots.GearElse), Unnamed: slices.Clone(b.Slots.Unnamed),
	}
	c.Extras = slices.Clone(b.Extras)
	c.Weighed = maps.Clone(b.Weighed)
	c.Flight.Phases = slices.Clone(b.Flight.Phases)
	c.Flown = slices.Clone(b.Flown)
	c.Packs.Cells = slices.Clone(b.Packs.Cells)
	c.Packs.Chemistries = slices.Clone(b.Packs.Chemistries)
	c.Packs.Plugs = slices.Clone(b.Packs.Plugs)
	c.Packs.Only = slices.Clone(b.Packs.Only)
	return &c
}

func (b *Build) apply(c Change) (AppliedChange, *InputError) {
	switch c.Op {
	case OpReplace:
		return b.replace(c)
	case OpAdd:
		return b.add(c)
	case OpRemove:
		return b.remove(c)
	}
	return AppliedChange{}, &InputError{Msg: "does nothing", Allowed: changeGrammar}
}

// slot is the list of ids of a slot, nil for a kind that has no slot.
func (b *Build) slot(kind Kind) *[]string {
	switch kind {
	case KindFrame:
		return &b.Slots.Frame
	case KindMotor:
		return &b.Slots.Motor
	case KindProp:
		return &b.Slots.Prop
	case KindBoard:
		return &b.Slots.Board
	case KindPack:
		return &b.Slots.Pack
	case KindGear:
		return &b.Slots.Gear
	}
	return nil
}

func (b *Build) replace(c Change) (AppliedChange, *InputError) {
	slot := b.slot(c.Slot)
	if kind, ok := b.Parts.Lookup(c.ID); !ok || kind != c.Slot || slot == nil {
		fault := &InputError{}
		fault.Value, fault.Msg, fault.Hint = b.Parts.unknown(c.Slot, c.ID)
		if ok && b.slot(kind) != nil && kind != KindGear {
			fault.Hint = "did you mean " + string(kind) + "=" + c.ID + "?"
		}
		return AppliedChange{}, fault
	}
	if frame := b.Parts.Frames[c.ID]; c.Slot == KindFrame && frame.Rotors != b.Rotors {
		return AppliedChange{}, &InputError{
			Value: quote(c.ID), Msg: "has " + strconv.Itoa(frame.Rotors) + " rotors, the build has " + strconv.Itoa(b.Rotors),
		}
	}
	applied := AppliedChange{Change: c, Now: c.ID}
	if len(*slot) > 0 {
		applied.Was = (*slot)[0]
	}
	*slot = []string{c.ID}
	b.Slots.Unnamed = slices.DeleteFunc(b.Slots.Unnamed, func(k Kind) bool { return k == c.Slot })
	return applied, nil
}

func (b *Build) add(c Change) (AppliedChange, *InputError) {
	if c.Name != "" {
		e := Extra{ID: b.freeID(c.Name), Name: c.Name, Mass: c.Mass}
		at, _ := slices.BinarySearchFunc(b.Extras, e.ID, func(x Extra, id string) int { return strings.Compare(x.ID, id) })
		b.Extras = slices.Insert(b.Extras, at, e)
		return AppliedChange{Change: c, Now: e.ID}, nil
	}
	if kind, ok := b.Parts.Lookup(c.ID); !ok || kind != KindGear {
		fault := &InputError{}
		fault.Value, fault.Msg, fault.Hint = b.Parts.unknown(KindGear, c.ID)
		if ok && slices.Contains(replaceable(), string(kind)) {
			fault.Hint = "did you mean " + string(kind) + "=" + c.ID + "?"
		} else if !ok {
			fault.Hint = strings.TrimPrefix(fault.Hint+`; what is not in the catalogue is added by mass, with="camera:12.5g"`, "; ")
		}
		return AppliedChange{}, fault
	}
	b.Slots.Gear = append(b.Slots.Gear, c.ID)
	return AppliedChange{Change: c, Now: c.ID}, nil
}

// remove takes off one piece of gear or an extra; the last one where an id is there twice.
func (b *Build) remove(c Change) (AppliedChange, *InputError) {
	applied := AppliedChange{Change: c, Was: c.ID}
	for i, id := range slices.Backward(b.Slots.Gear) {
		if id == c.ID {
			b.Slots.Gear = slices.Delete(b.Slots.Gear, i, i+1)
			b.Slots.dropChoice(i)
			return applied, nil
		}
	}
	for i, e := range b.Extras {
		if e.ID == c.ID {
			b.Extras = slices.Delete(b.Extras, i, i+1)
			return applied, nil
		}
	}
	fault := &InputError{Value: quote(c.ID), Msg: "is not among the gear and extras on board"}
	if kind, ok := b.Parts.Lookup(c.ID); ok && kind != KindGear && b.slot(kind) != nil && slices.Contains(*b.slot(kind), c.ID) {
		fault.Msg = "is the " + string(kind) + ", which the build needs"
		fault.Hint = "replace it with " + string(kind) + "=ID"
		return AppliedChange{}, fault
	}
	aboard := slices.Clone(b.Slots.Gear)
	for _, e := range b.Extras {
		aboard = append(aboard, e.ID)
	}
	slices.Sort(aboard)
	aboard = slices.Compact(aboard)
	fault.Hint = didYouMean(c.ID, aboard)
	fault.Allowed = join(aboard)
	if len(aboard) == 0 {
		fault.Hint = "there is nothing to take off"
	}
	return AppliedChange{}, fault
}

// dropChoice takes away the choice of a place of gear; those behind it move up.
func (s *Slots) dropChoice(place int) {
	moved := map[int][]string{}
	for i, choice := range s.GearElse {
		switch {
		case i < place:
			moved[i] = choice
		case i > place:
			moved[i-1] = choice
		}
	}
	s.GearElse = moved
	if len(moved) == 0 {
		s.GearElse = nil
	}
}

// freeID makes an id of a name that neither a part nor an extra has.
func (b *Build) freeID(name string) string {
	id := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			return r
		case r >= 'A' && r <= 'Z':
			return r - 'A' + 'a'
		}
		return '-'
	}, name)
	id = strings.Trim(id[:min(len(id), maxID-8)], "-")
	if id == "" {
		id = "extra"
	}
	taken := func(id string) bool {
		_, part := b.Parts.Lookup(id)
		return part || slices.ContainsFunc(b.Extras, func(e Extra) bool { return e.ID == id })
	}
	free := id
	for n := 2; taken(free); n++ {
		free = id + "-" + strconv.Itoa(n)
	}
	return free
}
