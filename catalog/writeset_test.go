package catalog_test

import (
	"errors"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
)

// TestWriteFilesAllOrNone: where one of a set cannot be written, none of the new ones is, and no temporary file stays.
func TestWriteFilesAllOrNone(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{"old.csv": "before", "z.csv": "before"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	file := func(name string) catalog.NewFile {
		return catalog.NewFile{Name: filepath.Join(dir, name), Data: []byte("data")}
	}
	before := map[string]string{"old.csv": "before", "z.csv": "before"}
	for _, set := range [][]catalog.NewFile{
		{file("a.csv"), file("z.csv")},
		{file("a.csv"), file(filepath.Join("nowhere", "b.csv"))},
		{file("a.csv"), file("b.csv"), file("a.csv")}, // the second a.csv is found only when it is put in place
	} {
		err := catalog.WriteFiles(set, false)
		if err == nil {
			t.Errorf("%v: no error", set)
		}
		if diff := cmp.Diff(before, folder(t, dir)); diff != "" {
			t.Errorf("after the error %v (-want +got):\n%s", err, diff)
		}
	}
	if err := catalog.WriteFiles([]catalog.NewFile{file("a.csv"), file("z.csv")}, false); !errors.Is(err, fs.ErrExist) {
		t.Errorf("over a file that is there: %v, want one that is fs.ErrExist", err)
	}
	if err := catalog.WriteFiles([]catalog.NewFile{file("a.csv"), file("z.csv")}, true); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(map[string]string{"old.csv": "before", "a.csv": "data", "z.csv": "data"}, folder(t, dir)); diff != "" {
		t.Errorf("with force (-want +got):\n%s", diff)
	}
}

// TestWriteThroughSignals: signals that come while files are written leave them whole and reach the program
// afterwards.
func TestWriteThroughSignals(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("no signals to oneself here")
	}
	// Without this the signal, sent anew after the files are whole, would end the test. One may still be under way when
	// the test is over: it is heard to the end.
	heard := make(chan os.Signal, 1000)
	signal.Notify(heard, syscall.SIGTERM)
	self, err := os.FindProcess(os.Getpid())
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	stop, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		for {
			select {
			case <-stop:
				return
			case <-time.After(200 * time.Microsecond):
				self.Signal(syscall.SIGTERM)
			}
		}
	}()
	want := map[string]string{}
	for i := range 20 {
		var set []catalog.NewFile
		for _, letter := range "abc" {
			name := string(letter) + string(rune('a'+i))
			want[name] = "data"
			set = append(set, catalog.NewFile{Name: filepath.Join(dir, name), Data: []byte("data")})
		}
		if err := catalog.WriteFiles(set, false); err != nil {
			t.Error(err)
		}
	}
	close(stop)
	<-stopped
	if len(heard) == 0 {
		t.Error("no signal arrived")
	}
	if diff := cmp.Diff(want, folder(t, dir)); diff != "" {
		t.Errorf("folder (-want +got):\n%s", diff)
	}
}

// TestKilledRunsAreSwept: temporary files of runs that were killed long ago go when a folder is next written to; those
// that may be in use, and files that only look alike, stay.
func TestKilledRunsAreSwept(t *testing.T) {
	dir := t.TempDir()
	long := time.Now().Add(-2 * time.Hour)
	for _, name := range []string{".allup-2abc9", ".allup-fresh", ".allup-notes.txt", ".allup-", ".other-2abc9", "allup-2abc9"} {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte("half"), 0o600); err != nil {
			t.Fatal(err)
		}
		if name != ".allup-fresh" {
			if err := os.Chtimes(path, long, long); err != nil {
				t.Fatal(err)
			}
		}
	}
	below := filepath.Join(dir, ".allup-1f")
	if err := os.Mkdir(below, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.Chtimes(below, long, long); err != nil {
		t.Fatal(err)
	}
	if err := catalog.WriteFile(filepath.Join(dir, "a.csv"), []byte("data"), false); err != nil {
		t.Fatal(err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	want := []string{".allup-", ".allup-1f", ".allup-fresh", ".allup-notes.txt", ".other-2abc9", "a.csv", "allup-2abc9"}
	if diff := cmp.Diff(want, names); diff != "" {
		t.Errorf("the folder has (-want +got)\n%s", diff)
	}
}
