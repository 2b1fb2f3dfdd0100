package catalog

import (
	"embed"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"

	"allup/model/words"
)

//go:embed starter
var starters embed.FS

// Starter is a template with comments: a file to start from, which can be read as it is.
type Starter struct {
	Kind  string            // "build", "parts", "bench" or "thrust-test"
	Text  []byte            // of the file itself
	Files map[string][]byte // that it names, by their names relative to it
}

// StarterKinds lists the kinds of templates.
func StarterKinds() []string { return []string{"build", "parts", "bench", "thrust-test"} }

// StarterOf is the template of a kind; ok is false where there is none. The build and the thrust test are of parts of
// the built-in catalogue.
func StarterOf(kind string) (s Starter, ok bool) {
	if !slices.Contains(StarterKinds(), kind) {
		return Starter{}, false
	}
	s = Starter{Kind: kind, Text: starter(kind + ".toml")}
	if kind == "bench" {
		s.Files = map[string][]byte{}
		for _, name := range []string{"logs/my-650-discharge.csv", "logs/my-650-burst.csv"} {
			s.Files[name] = starter(name)
		}
	}
	return s, true
}

func starter(name string) []byte {
	data, err := fs.ReadFile(starters, path.Join("starter", name))
	if err != nil {
		panic("catalog: an embedded template cannot be read: " + err.Error())
	}
	return data
}

// Names are the files that writing the template to a name writes, that one first.
func (s Starter) Names(name string) []string {
	names := []string{name}
	for _, beside := range slices.Sorted(maps.Keys(s.Files)) {
		names = append(names, filepath.Join(filepath.Dir(name), filepath.FromSlash(beside)))
	}
	return names
}

// WriteStarter writes a template to a file and what it names beside it. Without force nothing is written where one of
// the files is there already. It returns the names of all files written.
func WriteStarter(name string, s Starter, force bool) ([]string, error) {
	names := s.Names(name)
	if err := CheckWrite(name, force); err != nil {
		return nil, err
	}
	for _, file := range names[1:] {
		if _, err := os.Lstat(file); err == nil && !force {
			return nil, existsError{file}
		}
	}
	set := []NewFile{{name, s.Text}}
	for beside, data := range s.Files {
		file := filepath.Join(filepath.Dir(name), filepath.FromSlash(beside))
		if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
			return nil, fmt.Errorf("writing %s: %w", words.Printable(file), err)
		}
		set = append(set, NewFile{file, data})
	}
	return names, WriteFiles(set, force)
}
