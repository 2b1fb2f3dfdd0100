package catalog

import (
	"errors"
	"io/fs"
	"testing"
	"testing/fstest"
	"time"
)

// A pipe that is opened in time is a file like any other, and one that nobody opens is an error.
func TestOpenPipe(t *testing.T) {
	files := fstest.MapFS{"pipe": {Data: []byte("x"), Mode: fs.ModeNamedPipe}}
	f, err := openPipe("pipe", time.Hour, func() (fs.File, error) { return files.Open("pipe") })
	if err != nil {
		t.Fatal(err)
	}
	f.Close()
	_, err = openPipe("pi\x1bpe", time.Millisecond, func() (fs.File, error) { select {} })
	if !errors.Is(err, errNoWriter) || err.Error() != `open pi\x1bpe: it is a pipe to which nobody writes` {
		t.Errorf("error = %v, want %v", err, errNoWriter)
	}
}
