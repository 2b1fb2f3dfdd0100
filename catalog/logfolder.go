package catalog

import (
	"io/fs"
	"os"
	"path/filepath"
)

// logFolder opens files as a shell in that folder would: unlike [os.DirFS], also those
// above it and absolute ones. A bench file is the user's own, as its logs are.
type logFolder string

// Open implements [fs.FS].
func (dir logFolder) Open(name string) (fs.File, error) {
	if !filepath.IsAbs(name) {
		name = filepath.Join(string(dir), name)
	}
	return os.Open(name)
}
