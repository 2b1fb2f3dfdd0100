package planner

import (
	"errors"
	"testing"

	"allup/catalog"
	"allup/model/bench"
)

// TestUnexpectedErrors: an error whose type is not the expected one refuses a log as well, and is kept.
func TestUnexpectedErrors(t *testing.T) {
	pack := &catalog.BenchPack{Pack: catalog.Pack{Common: catalog.Common{ID: "sedge-650"}}}
	r := &reading{ReducedPack: &ReducedPack{Bench: pack}}
	if r.refused("a.csv", nil) || len(r.Failed) > 0 {
		t.Fatalf("no error refuses a log: %v", r.Failed)
	}
	if !r.refused("a.csv", &bench.LogError{Code: bench.LogEmpty, Line: 3, Msg: "is empty"}) || len(r.Unread) != 0 {
		t.Errorf("a fault of the log: %v, %v", r.Failed, r.Unread)
	}
	odd := errors.New("something else")
	if !r.refused("b.csv", odd) || len(r.Unread) != 1 || !errors.Is(r.Unread[0], odd) {
		t.Errorf("another error is dropped: %v", r.Unread)
	}
	want := []Remark{
		{Code: Code(bench.LogEmpty), Subject: "a.csv:3", Text: "is empty"},
		{Code: LogUnread, Subject: "b.csv", Text: "something else"},
	}
	for i, w := range want {
		if i >= len(r.Failed) || r.Failed[i] != w {
			t.Errorf("Failed = %v, want %v", r.Failed, want)
			break
		}
	}
}
