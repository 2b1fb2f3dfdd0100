package catalog

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"allup/model/words"
)

// Layer is a set of files with records. Layers lie one over the other, see [Load].
type Layer struct {
	Name  string // "built-in", "user" or "parts": what [Source] says
	Files []File // in reading order; an id may be in one of them only
}

// File is one file to read.
type File struct {
	Name string // as people should see it
	FS   fs.FS
	Path string // inside FS
}

// read is the file's content. A file of more than the given number of bytes is an [InputErrors].
func (f File) read(most int) ([]byte, error) {
	r, err := f.open()
	if err != nil {
		return nil, underName(f.Name, err)
	}
	defer r.Close()
	return readAll(f.Name, r, most)
}

// open opens the file, as [OpenFile] does.
func (f File) open() (fs.File, error) {
	info, err := fs.Stat(f.FS, f.Path)
	if err != nil || !isPipe(info) {
		return f.FS.Open(f.Path)
	}
	return openPipe(f.Path, pipePatience, func() (fs.File, error) { return f.FS.Open(f.Path) })
}

// underName is a file system's error with the name that people know the file by: that
// inside an [fs.FS] says nothing of the folder.
func underName(name string, err error) error {
	if inside, ok := errors.AsType[*fs.PathError](err); ok {
		return &fs.PathError{Op: inside.Op, Path: words.Printable(name), Err: inside.Err}
	}
	return err
}

//go:embed builtin/*.toml
var builtin embed.FS

// Builtin is the layer of the catalogue that comes with the program.
func Builtin() Layer {
	files, err := folderFiles(builtin, "builtin", "builtin")
	if err != nil {
		panic("catalog: the embedded catalogue cannot be listed: " + err.Error())
	}
	return Layer{Name: builtinLayer, Files: files}
}

// UserLayer is the layer of all *.toml files in the user's own folder. A folder that
// does not exist is an empty layer; other errors are the file system's.
func UserLayer(dir string) (Layer, error) {
	files, err := folderFiles(os.DirFS(dir), ".", dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return Layer{}, fmt.Errorf("reading the user's records: %w", err)
	}
	return Layer{Name: "user", Files: files}, nil
}

// PathLayer is the layer of one file, or of all *.toml files in a folder, that the
// user names. A path that does not exist, or a folder without such files, is an error.
func PathLayer(name string) (Layer, error) {
	info, err := os.Stat(name)
	if err != nil {
		return Layer{}, fmt.Errorf("reading records: %w", err)
	}
	layer := Layer{Name: "parts"}
	if !info.IsDir() {
		layer.Files = []File{{Name: name, FS: os.DirFS(filepath.Dir(name)), Path: filepath.Base(name)}}
		return layer, nil
	}
	if layer.Files, err = folderFiles(os.DirFS(name), ".", name); err != nil {
		return Layer{}, fmt.Errorf("reading records: %w", err)
	}
	if len(layer.Files) == 0 {
		return Layer{}, fmt.Errorf("reading records: %w", &fs.PathError{Op: "open", Path: name, Err: errors.New("the folder has no .toml files")})
	}
	return layer, nil
}

// folderFiles lists the *.toml files of a folder, sorted by name; people see them
// under the name shown. Hidden files are left out: editors and archives leave some.
func folderFiles(fsys fs.FS, dir, shown string) ([]File, error) {
	entries, err := fs.ReadDir(fsys, dir)
	if err != nil {
		return nil, underName(shown, err)
	}
	var files []File
	for _, e := range entries {
		if e.IsDir() || strings.HasPrefix(e.Name(), ".") || path.Ext(e.Name()) != ".toml" {
			continue
		}
		// A pipe or a device would wait for ever, behind a link, too. What a link to nowhere is, opening it says.
		t := e.Type()
		if info, err := fs.Stat(fsys, path.Join(dir, e.Name())); err == nil {
			t = info.Mode().Type()
		}
		if !t.IsRegular() && t&fs.ModeSymlink == 0 {
			continue
		}
		files = append(files, File{Name: path.Join(filepath.ToSlash(shown), e.Name()), FS: fsys, Path: path.Join(dir, e.Name())})
	}
	slices.SortFunc(files, func(a, b File) int { return strings.Compare(a.Name, b.Name) })
	return files, nil
}

// distinct are the layers without files of the user's that a later layer has again: a file that is named
// twice, by a build and on the command line, counts once.
func distinct(layers []Layer) []Layer {
	type print struct {
		size     int64
		modified time.Time
	}
	later := map[print][]fs.FileInfo{} // by what is cheap to compare
	out := slices.Clone(layers)
	for i, layer := range slices.Backward(layers) {
		if layer.Name == builtinLayer {
			continue
		}
		here := map[print][]fs.FileInfo{}
		out[i].Files = nil
		for _, f := range layer.Files {
			info, err := fs.Stat(f.FS, f.Path)
			if err != nil { // reading it will say why
				out[i].Files = append(out[i].Files, f)
				continue
			}
			key := print{info.Size(), info.ModTime()}
			if slices.ContainsFunc(later[key], func(other fs.FileInfo) bool { return os.SameFile(info, other) }) {
				continue
			}
			out[i].Files = append(out[i].Files, f)
			here[key] = append(here[key], info)
		}
		for key, infos := range here {
			later[key] = append(later[key], infos...)
		}
	}
	return out
}
