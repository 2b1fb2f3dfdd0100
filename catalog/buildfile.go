package catalog

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"allup/model"
	"allup/model/words"
)

// BuildFile is a build file whose text has been read but not its fields: those are checked against the
// records, some of which the file may name itself.
type BuildFile struct {
	// Layers are the files and folders of records that the file names, parts = ["my-parts.toml"], in
	// that order; their names are relative to the build's folder.
	Layers []Layer

	file string
	doc  *document
	root *table
}

// OpenBuild parses a build file and finds the records that it names. file is the name that errors carry.
// A text that is no build, and records that are not there, are [InputErrors]; an error of another type
// is the reader's.
func OpenBuild(file string, r io.Reader) (*BuildFile, error) {
	data, err := readAll(file, r, maxWhole)
	if _, tooLarge := errors.AsType[InputErrors](err); tooLarge {
		return nil, err
	}
	if err != nil {
		return nil, fmt.Errorf("reading build %s: %w", words.Printable(file), err)
	}
	d, root, err := parse(file, data)
	if err != nil {
		return nil, err
	}
	if len(root.values) == 0 {
		return nil, InputErrors{{File: file, Line: 1, Msg: "the build is empty", Hint: "`allup new` writes one to start from"}}
	}
	if !root.has("slots") && slices.ContainsFunc(kindNames(), root.has) {
		return nil, InputErrors{{File: file, Line: 1, Msg: "these are records of parts, not a build", Hint: "give the file with --parts, or name it in a build: parts = [\"" + words.Printable(filepath.Base(file)) + "\"]"}}
	}
	f := &BuildFile{file: file, doc: d, root: root}
	f.findParts()
	if len(d.faults) > 0 {
		_, err := d.result()
		return nil, err
	}
	return f, nil
}

// findParts looks for the files and folders of records that the build names.
func (f *BuildFile) findParts() {
	const most = 1000 // a folder is one of them, whatever is in it
	named := f.root.placedTexts("parts")
	if len(named) > most {
		f.root.fault("parts", InputError{Msg: fmt.Sprintf("names %d files and folders", len(named)), Allowed: fmt.Sprintf("up to %d; a folder is one of them", most)})
		return
	}
	for _, p := range named {
		full := p.text
		if !filepath.IsAbs(full) {
			full = filepath.Join(filepath.Dir(f.file), full)
		}
		layer, err := PathLayer(full)
		if info, statErr := os.Stat(full); err == nil && (statErr != nil || !info.IsDir()) {
			err = onlyOrdinary(full, info, statErr)
		}
		if err == nil {
			f.Layers = append(f.Layers, layer)
			continue
		}
		fault := InputError{Value: quote(p.text), Msg: "cannot be read: " + err.Error()}
		if inside, ok := errors.AsType[*fs.PathError](err); ok {
			fault.Msg = "cannot be read: " + inside.Err.Error()
			if errors.Is(err, fs.ErrNotExist) {
				fault.Msg = "is not there"
				fault.Allowed = "a file or folder of records, its name relative to the build's folder"
			}
		}
		f.root.faultAt("parts", p.place, fault)
	}
}

// Read checks the build against a catalogue, which is not changed; Layers should be in it. Faults of
// the file come together as [InputErrors]. It is called once.
func (f *BuildFile) Read(parts *Catalogue) (*Build, []Warning, error) {
	if parts == nil {
		parts = New()
	}
	b := builder{parts: parts, records: records{curves: map[model.Chemistry]model.Curve{}}}
	build := b.read(f.root, f.file)
	f.root.done()
	warnings, err := f.doc.result()
	if faults, ok := errors.AsType[InputErrors](err); ok {
		b.hintOnce(faults)
		return nil, warnings, faults
	}
	build.doc = f.doc
	return build, warnings, nil
}

// ReadBuild reads a build file against a catalogue, which is not changed and has the records that the
// build names. file is the name that errors carry. Faults of the file come together as [InputErrors]; an
// error of another type is the reader's.
func ReadBuild(file string, r io.Reader, parts *Catalogue) (*Build, []Warning, error) {
	f, err := OpenBuild(file, r)
	if err != nil {
		return nil, nil, err
	}
	return f.Read(parts)
}

// hintOnce gives one hint where several ids are unknown: a list of all known ids with each would bury
// the likeliest reason, that the file with the records was not given.
func (b *builder) hintOnce(faults InputErrors) {
	if len(b.unknown) < 2 {
		return
	}
	last := -1
	for i := range faults {
		if b.unknown[faults[i].Field] && !strings.HasPrefix(faults[i].Hint, "did you mean") {
			faults[i].Hint = ""
			last = i
		}
	}
	if last >= 0 {
		faults[last].Hint = "no record has these ids: name the file that has them in the build, parts = [\"my-parts.toml\"], or give it with --parts"
	}
}
