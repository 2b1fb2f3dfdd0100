package catalog_test

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
)

// folder is what stands in a folder: the content of its files, or what else they are.
func folder(t *testing.T, dir string) map[string]string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	content := map[string]string{}
	for _, e := range entries {
		switch {
		case e.IsDir():
			content[e.Name()] = "(folder)"
		case e.Type()&fs.ModeSymlink != 0:
			target, err := os.Readlink(filepath.Join(dir, e.Name()))
			if err != nil {
				t.Fatal(err)
			}
			content[e.Name()] = "-> " + target
		default:
			data, err := os.ReadFile(filepath.Join(dir, e.Name()))
			if err != nil {
				t.Fatal(err)
			}
			content[e.Name()] = string(data)
		}
	}
	return content
}

func TestWriteFile(t *testing.T) {
	for _, test := range []struct {
		name, file string
		force      bool
		want       map[string]string // what differs from the start
		err        string            // in the error; "" for none
		exists     bool              // the error is fs.ErrExist
	}{
		{name: "new", file: "new.toml", want: map[string]string{"new.toml": "data"}},
		{name: "new with force", file: "new.toml", force: true, want: map[string]string{"new.toml": "data"}},
		{name: "there", file: "old.toml", err: "--force", exists: true},
		{name: "there with force", file: "old.toml", force: true, want: map[string]string{"old.toml": "data"}},
		{name: "link", file: "link", err: "--force", exists: true},
		{name: "link with force", file: "link", force: true, want: map[string]string{"old.toml": "data"}},
		{name: "link to nowhere", file: "lost", err: "nowhere"},
		{name: "link to nowhere with force", file: "lost", force: true, err: "nowhere"},
		{name: "folder", file: "dir", force: true, err: "folder"},
		{name: "no such folder", file: "none/new.toml", err: "no such file"},
		{name: "no name", file: "new/", err: "not the name of a file"},
		{name: "file as folder", file: "old.toml/new.toml", err: "not a directory"},
	} {
		t.Run(test.name, func(t *testing.T) {
			dir := t.TempDir()
			if err := errors.Join(
				os.WriteFile(filepath.Join(dir, "old.toml"), []byte("old"), 0o600),
				os.Mkdir(filepath.Join(dir, "dir"), 0o755),
				os.Symlink("old.toml", filepath.Join(dir, "link")),
				os.Symlink("nothing", filepath.Join(dir, "lost")),
			); err != nil {
				t.Fatal(err)
			}
			want := folder(t, dir)
			for name, content := range test.want {
				want[name] = content
			}
			err := catalog.WriteFile(dir+"/"+test.file, []byte("data"), test.force)
			switch {
			case test.err == "" && err != nil:
				t.Errorf("WriteFile error = %v", err)
			case test.err != "" && (err == nil || !strings.Contains(err.Error(), test.err)):
				t.Errorf("WriteFile error = %v, want one with %q", err, test.err)
			case errors.Is(err, fs.ErrExist) != test.exists:
				t.Errorf("errors.Is(%v, fs.ErrExist) = %v", err, !test.exists)
			}
			if diff := cmp.Diff(want, folder(t, dir)); diff != "" {
				t.Errorf("folder differs (-want +got):\n%s", diff)
			}
			if info, err := os.Stat(filepath.Join(dir, "old.toml")); err != nil || info.Mode().Perm() != 0o600 {
				t.Errorf("mode of the old file = %v, %v, want 0600", info.Mode(), err)
			}
		})
	}
	if err := catalog.WriteFile("", nil, true); err == nil {
		t.Error("WriteFile without a name has no error")
	}
	if err := catalog.WriteFile(os.DevNull, []byte("data"), true); err == nil {
		t.Error("WriteFile to a device has no error")
	}
}

func TestWriteFileReadOnly(t *testing.T) {
	if os.Geteuid() == 0 {
		t.Skip("root may write anywhere")
	}
	dir := t.TempDir()
	if err := os.Chmod(dir, 0o555); err != nil {
		t.Fatal(err)
	}
	if err := catalog.WriteFile(filepath.Join(dir, "x"), []byte("data"), false); !errors.Is(err, fs.ErrPermission) {
		t.Errorf("WriteFile error = %v, want no permission", err)
	}
}
