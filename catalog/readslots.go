package catalog

import (
	"slices"
	"strconv"
	"strings"
)

// readSlots reads what stands in the slots: ids of the catalogue, or records of the
// build's own, which go into its catalogue as "inline-frame" or "inline-gear-2".
func (b *builder) readSlots(t *table, file string) Slots {
	slots := Slots{
		Frame: b.readSlot(t, KindFrame, file),
		Motor: b.readSlot(t, KindMotor, file),
		Prop:  b.readSlot(t, KindProp, file),
		Board: b.readSlot(t, KindBoard, file),
		Gear:  b.readSlot(t, KindGear, file),
		Pack:  b.readSlot(t, KindPack, file),
	}
	for _, kind := range []Kind{KindFrame, KindMotor, KindProp, KindBoard} {
		if key := string(kind); !t.has(key) {
			t.lack(key, "the id of a "+key+", a list of ids, or a table with its fields")
		}
	}
	return slots
}

// readSlot reads one slot as a list of ids.
func (b *builder) readSlot(t *table, kind Kind, file string) []string {
	key := string(kind)
	value, there := t.take(key)
	if !there {
		return nil
	}
	items, isList := asList(value)
	if !isList {
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
	for i, item := range items {
		id := b.readEntry(t, kind, i+1, item, file)
		switch {
		case id == "":
		case kind != KindGear && slices.Contains(ids, id):
			t.faultAt(key, i+1, InputError{Value: quote(id), Msg: "is listed twice", Allowed: "each candidate once"})
		default:
			ids = append(ids, id)
		}
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
