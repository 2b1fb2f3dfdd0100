package catalog

import (
	"slices"
	"strconv"
	"strings"
)

// readSlots reads what stands in the slots: ids of the catalogue, or records of the
// build's own, which go into its catalogue as "inline-frame" or "inline-gear-2".
func (b *builder) readSlots(t *table, file string) Slots {
	choices := map[int][]string{}
	slots := Slots{
		Frame: b.readSlot(t, KindFrame, file, nil),
		Motor: b.readSlot(t, KindMotor, file, nil),
		Prop:  b.readSlot(t, KindProp, file, nil),
		Board: b.readSlot(t, KindBoard, file, nil),
		Gear:  b.readSlot(t, KindGear, file, choices),
		Pack:  b.readSlot(t, KindPack, file, nil),
	}
	if len(choices) > 0 {
		slots.GearElse = choices
	}
	slots.Unnamed = b.unnamed
	for _, kind := range []Kind{KindFrame, KindMotor, KindProp, KindBoard} {
		if key := string(kind); !t.has(key) {
			t.lack(key, "the id of a "+key+", a list of ids, or a table with its fields")
		}
	}
	return slots
}

// anyRecord stands in a slot for every record that there is to choose from.
const anyRecord = "any"

// readSlot reads one slot as a list of ids. choices takes what may stand in the place of a piece of gear.
func (b *builder) readSlot(t *table, kind Kind, file string, choices map[int][]string) []string {
	key := string(kind)
	value, there := t.lookUp(key)
	if !there {
		return nil
	}
	items, isList := asList(value)
	if !isList {
		if value == anyRecord && kind != KindGear {
			return b.anyOf(t, kind, 0, nil)
		}
		if id := b.readEntry(t, kind, 0, value, file); id != "" {
			return []string{id}
		}
		return nil
	}
	if len(items) == 0 && kind != KindGear {
		hint := "name a " + key
		if kind == KindPack {
			hint = "leave the field out, or name a pack"
		}
		t.fault(key, InputError{Value: "[]", Msg: "is an empty list", Hint: hint})
	}
	var ids []string
	all := false
	for i, item := range items {
		if inner, isChoice := asList(item); isChoice && kind == KindGear {
			if choice := b.readChoice(t, i+1, inner, file); len(choice) > 0 {
				if len(choice) > 1 {
					choices[len(ids)] = choice[1:]
				}
				ids = append(ids, choice[0])
			}
			continue
		}
		if item == anyRecord && kind != KindGear {
			if all {
				t.faultAt(key, i+1, InputError{Value: quote(anyRecord), Msg: "is listed twice"})
			}
			all = true
			continue
		}
		id := b.readEntry(t, kind, i+1, item, file)
		switch {
		case id == "":
		case kind != KindGear && slices.Contains(ids, id):
			t.faultAt(key, i+1, InputError{Value: quote(id), Msg: "is listed twice", Allowed: "each candidate once"})
		default:
			ids = append(ids, id)
		}
	}
	if all {
		return b.anyOf(t, kind, len(items), ids)
	}
	return ids
}

// anyOf is some ids with every other record of a kind that there is to choose from behind them.
func (b *builder) anyOf(t *table, kind Kind, index int, ids []string) []string {
	if len(ids) == 0 {
		b.unnamed = append(b.unnamed, kind)
	}
	out := b.parts.others(kind, ids, b.rotors)
	if len(out) == 0 {
		t.faultAt(string(kind), index, InputError{Value: quote(anyRecord), Msg: "finds no " + string(kind) + " in the catalogue", Hint: "give records with --parts"})
	}
	return out
}

// readChoice reads the candidates of one place of gear, a list in the list.
func (b *builder) readChoice(t *table, index int, items []any, file string) []string {
	var ids []string
	for _, item := range items {
		if _, isText := item.(string); !isText {
			t.faultAt(string(KindGear), index, InputError{Value: show(item), Msg: "is not the id of a piece of gear", Allowed: "a choice lists ids in quotes"})
			return nil
		}
		id := b.readEntry(t, KindGear, index, item, file)
		switch {
		case id == "":
		case slices.Contains(ids, id):
			t.faultAt(string(KindGear), index, InputError{Value: quote(id), Msg: "is listed twice", Allowed: "each candidate once"})
		default:
			ids = append(ids, id)
		}
	}
	if len(items) == 0 {
		t.faultAt(string(KindGear), index, InputError{Value: "[]", Msg: "is an empty choice", Hint: "name pieces of gear of which one flies"})
	}
	return ids
}

// readEntry is the id of one thing in a slot, "" where there is none that can be used.
func (b *builder) readEntry(t *table, kind Kind, index int, value any, file string) string {
	key := string(kind)
	switch v := value.(type) {
	case string:
		if found, ok := b.parts.Lookup(v); ok && found == kind {
			return v
		}
		b.faultUnknown(t, key, index, kind, v)
		return ""
	case map[string]any:
		id := reserved + key
		if index > 0 {
			id += "-" + strconv.Itoa(index)
		}
		if !b.cloned[kind] {
			if b.cloned == nil {
				b.cloned = map[Kind]bool{}
			}
			b.cloned[kind] = true
			b.parts = b.parts.with(kind)
		}
		record := &table{doc: t.doc, parent: t, key: key, index: index, values: v}
		b.records.read(b.parts, kind, id, record, Source{Layer: "build", File: file})
		return id
	}
	t.faultAt(key, index, InputError{
		Value: show(value), Msg: "is not " + kind.noun(), Allowed: "the id of " + kind.noun() + " in quotes, a list of ids, or a table with its fields",
	})
	return ""
}

// faultUnknown says that a field names an id that no record of a kind has.
func (b *builder) faultUnknown(t *table, key string, index int, kind Kind, id string) {
	fault := InputError{Value: quote(id), Msg: "is no known " + string(kind)}
	other, known := b.parts.Lookup(id)
	if known || t.doc.hints < maxHints {
		t.doc.hints++
		fault.Value, fault.Msg, fault.Hint = b.parts.unknown(kind, id)
	}
	switch {
	case known && other == KindThrustTest:
		fault.Hint = "a thrust test needs no slot"
	case known:
		fault.Hint = "it belongs in slots." + string(other)
	case !strings.HasPrefix(fault.Hint, "did you mean"):
		b.noSuch(t.field(key, index))
	}
	t.faultAt(key, index, fault)
}

// checkRotors refuses frames with another number of rotors than the build.
func (b *builder) checkRotors(root, slots *table, build *Build) {
	if build.Rotors == 0 {
		return
	}
	for i, id := range build.Slots.Frame {
		frame := b.parts.Frames[id]
		if frame == nil || frame.Rotors == 0 || frame.Rotors == build.Rotors {
			continue
		}
		index := 0
		if _, isList := asList(slots.values["frame"]); isList {
			index = i + 1
		}
		slots.faultAt("frame", index, InputError{
			Value: quote(id), Msg: "has " + strconv.Itoa(frame.Rotors) + " rotors, but the build says rotors = " + strconv.Itoa(build.Rotors),
			Hint: "change one of the two",
		})
	}
}
