package csvlog_test

import (
	"errors"
	"io/fs"
	"testing"
	"testing/fstest"

	"allup/catalog/csvlog"
)

// TestOpen checks the hash against that of sha256sum: printf 't,v,i\n1,2,3\n' | sha256sum.
func TestOpen(t *testing.T) {
	logs := fstest.MapFS{"logs/a.csv": {Data: []byte("t,v,i\n1,2,3\n")}, "bad.csv": {Data: []byte("1,2,3\n")}}
	l, err := csvlog.Open(logs, "./logs/a.csv", csvlog.Columns{})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	for l.Scan() {
	}
	if got := l.Hash(); l.Err() != nil || got != "f5fdb3e6aedbb6f2f80d3a7116a52b359210cd4e889db4e7c0968b202d9b4dee" {
		t.Errorf("hash %s, error %v", got, l.Err())
	}
	if _, err := csvlog.Open(logs, "missing.csv", csvlog.Columns{}); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("missing log: %v", err)
	}
	if _, err := csvlog.Open(logs, "bad.csv", csvlog.Columns{}); err == nil {
		t.Error("a log without a header opens")
	}
}
