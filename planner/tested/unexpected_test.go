package tested

import (
	"errors"
	"strings"
	"testing"

	"allup/catalog"
	"allup/model/bench"
	"allup/planner"
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
	want := []planner.Remark{
		{Code: planner.Code(bench.LogEmpty), Subject: "a.csv:3", Text: "is empty"},
		{Code: LogUnread, Subject: "b.csv", Text: "something else"},
	}
	for i, w := range want {
		if i >= len(r.Failed) || r.Failed[i] != w {
			t.Errorf("Failed = %v, want %v", r.Failed, want)
			break
		}
	}
}

// TestSource names each log with its hash and, where there are too many for a record, fewer digits of it, and
// at last only how many there are.
func TestSource(t *testing.T) {
	logs := func(n int) *reading {
		r := &reading{ReducedPack: &ReducedPack{}}
		for range n {
			r.sources = append(r.sources, logSource{"logs/some-pack-of-a-name.csv", strings.Repeat("0123456789abcdef", 4)})
		}
		return r
	}
	for n, want := range map[int]string{1: strings.Repeat("0123456789abcdef", 4), 6: " sha256 0123456789abcdef0123456789abcdef; ", 9: " sha256 01234567; "} {
		got := logs(n).source()
		if !strings.Contains(got, want) || len(got) > 450 || strings.Count(got, "logs/") != n {
			t.Errorf("source of %d logs: %q", n, got)
		}
	}
	if got := logs(40).source(); !strings.HasPrefix(got, "40 logs, sha256 of the first 0123") {
		t.Errorf("source of 40 logs: %q", got)
	}
}
