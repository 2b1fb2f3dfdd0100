package catalog

import (
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// keyTexts are the files of the repository, and texts with what files seldom have.
func keyTexts(t testing.TB) []string {
	texts := []string{
		"a.b.c = 1\na.b.d = 2\n[t]\na.b = 1\na.c.d = [1,\n2]\ne = 2\n",
		"[a.b]\nx = 1\n[a]\ny = 2\n[a.c.d]\n",
		"[ \"a b\" . 'c.d' ]\n\"x\" = '''\n[no]\n'''\n'y' = \"\"\"\nk = 1\\\"\"\"\"\nz = 1 # [no]\n",
		"a = { b = 1, c = { d = 2 } }\ne = 1\n",
		"a = { b = [1,\n2], c = 3 }\ne = 1\n",
		"[[l]]\nx = 1\n[[l]]\nx = 2\n[l.m]\ny = 1\n[n]\nx = 3\n",
		"\"a\\u0062\" = 1\nc = 2\n",
		"\r\n[a]\r\nb = 1\r\n",
		"\"\" = 1\n[x.\"\"]\ny = 2",
		"a=[\n# ]\n'#',\n]\nb=1\n[c]#[d]\ne=1",
	}
	err := filepath.WalkDir("..", func(path string, e fs.DirEntry, err error) error {
		if err == nil && strings.HasSuffix(path, ".toml") && !e.IsDir() {
			data, readErr := os.ReadFile(path)
			texts = append(texts, string(data))
			err = readErr
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return texts
}

// sameLines compares what a walk over a text finds with what the parser says of each key. Of a key with a text
// over several lines the parser tells the last.
func sameLines(t *testing.T, text string) (keys, found int) {
	t.Helper()
	d, _, err := open("f.toml", []byte(text))
	if err != nil || !d.index() {
		return 0, 0
	}
	lines := strings.Split(text, "\n")
	var paths [][]string
	for _, key := range d.meta.Keys() {
		for n := range key {
			paths = append(paths, key[:n+1])
		}
	}
	for i, line := range findLines([][]byte{d.data}, paths) {
		want := d.probedLine(paths[i])
		if want == 0 || line > 0 && (strings.Contains(lines[line-1], `"""`) || strings.Contains(lines[line-1], "'''")) {
			continue // in a list of tables; or see above
		}
		if line != 0 && line != want {
			t.Errorf("%q is in line %d, the parser says %d, of\n%s", paths[i], line, want, text)
		}
		keys++
		if line > 0 {
			found++
		}
	}
	return keys, found
}

// TestFindLines holds that keys are found where the parser has them, or not at all, and that few are not.
func TestFindLines(t *testing.T) {
	keys, found := 0, 0
	for _, text := range keyTexts(t) {
		k, f := sameLines(t, text)
		keys, found = keys+k, found+f
	}
	if keys < 1000 || found < keys*9/10 {
		t.Errorf("%d of %d keys found", found, keys)
	}
	t.Logf("%d of %d keys found", found, keys)
}

// FuzzFindLines tries it on any text that the parser takes.
func FuzzFindLines(f *testing.F) {
	for _, text := range keyTexts(f) {
		if len(text) < 2000 {
			f.Add(text)
		}
	}
	f.Fuzz(func(t *testing.T, text string) {
		if !strings.Contains(text, `""`) && !strings.Contains(text, "''") { // the parser puts what is around an empty key elsewhere
			sameLines(t, text)
		}
	})
}
