package planner

import (
	"slices"
	"testing"

	"allup/catalog"
	"allup/model"
)

// TestKnownOfBoth: two pairs of motor and propeller compare by the best kind that both have, by the best measurement of
// each where they have only size in common, and by size where one of them has nothing else.
func TestKnownOfBoth(t *testing.T) {
	const table, test, one, size = model.FromStaticTable, model.FromThrustTest, model.FromCoefficients, model.FromGeometry
	of := func(kinds ...model.Knowledge) []model.Knowledge { return kinds }
	for _, c := range []struct{ a, b, want []model.Knowledge }{
		{of(table, test, one, size), of(table, test, one, size), of(table, table)},
		{of(test, table, size), of(test, table, size), of(test, test)},
		{of(table, test, one, size), of(test, table, one, size), of(test, test)}, // the motor of one is not stated
		{of(table, one, size), of(one, size), of(one, one)},
		{of(one, size), of(table, one, size), of(one, one)},
		{of(table, test, size), of(test, one, size), of(test, test)},
		{of(one, size), of(one, size), of(one, one)},
		{of(table, size), of(one, size), of(table, one)},
		{of(test, size), of(table, size), of(test, table)},
		{of(table, one, size), of(test, size), of(table, test)},
		{of(table, size), of(size), of(size, size)},
		{of(size), of(test, one, size), of(size, size)},
		{of(size), of(size), of(size, size)},
	} {
		if got := knownOfBoth(c.a, c.b); !slices.Equal(got[:], c.want) {
			t.Errorf("%v and %v compare by %v, want %v", c.a, c.b, got, c.want)
		}
		if got := knownOfBoth(c.b, c.a); got[0] != c.want[1] || got[1] != c.want[0] {
			t.Errorf("%v and %v, the way back, compare by %v, want the same", c.b, c.a, got)
		}
	}
}

// TestSplit: a limit is the whole build's, whatever pack breaks it; any other rule is another one for another part.
func TestSplit(t *testing.T) {
	for _, c := range []struct {
		a, b   Remark
		shared bool
	}{
		{Remark{Code: OverLimit, Subject: "one"}, Remark{Code: OverLimit, Subject: "other"}, true},
		{Remark{Code: UnderSpare, Subject: "one"}, Remark{Code: UnderSpare, Subject: ""}, true},
		{Remark{Code: UnsureLimit, Subject: "one"}, Remark{Code: UnsureLimit, Subject: "other"}, true},
		{Remark{Code: OverLimit, Subject: "one"}, Remark{Code: UnderSpare, Subject: "one"}, false},
		{Remark{Code: WrongPlug, Subject: "one"}, Remark{Code: WrongPlug, Subject: "other"}, false},
		{Remark{Code: WrongPlug, Subject: "one"}, Remark{Code: WrongPlug, Subject: "one", Text: "in other words"}, true},
		{Remark{Code: WrongPlug, Subject: "one"}, Remark{Code: WrongCells, Subject: "one"}, false},
	} {
		missing, shared := split([]Remark{c.a}, []Remark{c.b})
		if len(shared) == 1 != c.shared || len(missing) == 1 == c.shared {
			t.Errorf("%s of %q beside %s of %q: missing %v, shared %v", c.a.Code, c.a.Subject, c.b.Code, c.b.Subject, missing, shared)
		}
	}
}

// TestSameRotors: hovers hold for another build where its number of rotors and everything that draws and loses their
// power are the same, whatever else it carries.
func TestSameRotors(t *testing.T) {
	motor, prop, board, frame := &catalog.Motor{}, &catalog.Prop{}, &catalog.Board{}, &catalog.Frame{}
	of := func(change func(*request)) request {
		r := request{build: &catalog.Build{Rotors: 4}, selection: Selection{Motor: motor, Prop: prop, Board: board, Frame: frame}}
		change(&r)
		return r
	}
	is := of(func(*request) {})
	for _, c := range []struct {
		what   string
		change func(*request)
		want   bool
	}{
		{"nothing", func(*request) {}, true},
		{"gear and pack", func(r *request) { r.selection.Gear, r.selection.Pack = []*catalog.Gear{{}}, &catalog.Pack{} }, true},
		{"rotors", func(r *request) { r.build = &catalog.Build{Rotors: 6} }, false},
		{"motor", func(r *request) { r.selection.Motor = &catalog.Motor{Kv: 1} }, false},
		{"propeller", func(r *request) { r.selection.Prop = &catalog.Prop{Blades: 2} }, false},
		{"board", func(r *request) { r.selection.Board = &catalog.Board{Power: 1} }, false},
		{"frame", func(r *request) { r.selection.Frame = &catalog.Frame{ThrustLoss: 0.1} }, false},
		{"all of them", func(r *request) {
			r.selection = Selection{Motor: &catalog.Motor{}, Prop: &catalog.Prop{Blades: 2}, Board: &catalog.Board{Power: 1}, Frame: &catalog.Frame{Rotors: 6}}
		}, false},
	} {
		if other := of(c.change); sameRotors(is, other) != c.want || sameRotors(other, is) != c.want {
			t.Errorf("where %s differs the rotors are the same: %v", c.what, !c.want)
		}
	}
}
