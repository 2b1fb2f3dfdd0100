package catalog

import (
	"io/fs"
	"os"
	"path/filepath"
)

// BenchFS is the file system in which the logs of a bench file are found: the
// folder of the file. "-", standard input, is in the working folder. Names that lead out of
// the folder, or are absolute, work as well.
func BenchFS(file string) fs.FS {
	if file == "-" || file == "" {
		return logFolder(".")
	}
	return logFolder(filepath.Dir(file))
}

// logFolder opens files as a shell in that folder would: unlike [os.DirFS], also those
// above it and absolute ones. A bench file is the user's own, as its logs are.
type logFolder string

// Open implements [fs.FS].
func (dir logFolder) Open(name string) (fs.File, error) {
	if !filepath.IsAbs(name) {
		name = filepath.Join(string(dir), name)
	}
	info, err := os.Stat(name)
	if err := onlyOrdinary(name, info, err); err != nil {
		return nil, err
	}
	return os.Open(name)
}
