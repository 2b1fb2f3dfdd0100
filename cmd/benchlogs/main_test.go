package main

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

// TestDemoIsWritten holds that the demo bench is what this program writes.
func TestDemoIsWritten(t *testing.T) {
	files, err := demo()
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join("..", "..", "testdata", "bench")
	for name, want := range files {
		got, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Error(err)
		} else if !bytes.Equal(got, want) {
			t.Errorf("testdata/bench/%s is not what this program writes: go run ./cmd/benchlogs testdata/bench", name)
		}
	}
	logs, err := os.ReadDir(filepath.Join(dir, "logs"))
	if err != nil || len(logs) != len(files)-1 {
		t.Errorf("%d logs in testdata/bench, want %d: %v", len(logs), len(files)-1, err)
	}
}
