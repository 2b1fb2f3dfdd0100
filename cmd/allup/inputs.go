package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"allup/catalog"
)

// inputs opens every file that an answer is made from and knows them all, so that nothing is written over one.
type inputs struct {
	in     io.Reader // standard input
	opened []fs.FileInfo
	seen   []sight // of the same files, and of those that were not there
}

// sight is what a file was like before it was opened: what comes later is a change, also while it is read.
type sight struct {
	look func() (fs.FileInfo, error)
	was  string
}

// now tells what the file is like.
func (s sight) now() string {
	info, err := s.look()
	if err != nil {
		return "-"
	}
	return fmt.Sprintf("%d,%d", info.ModTime().UnixNano(), info.Size())
}

// see takes sight of a file or a folder.
func (i *inputs) see(look func() (fs.FileInfo, error)) {
	s := sight{look: look}
	s.was = s.now()
	i.seen = append(i.seen, s)
}

// open opens a file, or standard input for "-"; shown is its name in errors. what is the kind of file.
func (i *inputs) open(what, name string) (file io.ReadCloser, shown string, err error) {
	switch name {
	case "":
		return nil, "", usagef("the name of the %s file is empty", what)
	case "-":
		if f, ok := i.in.(*os.File); ok { // a file may stand behind it
			i.note(f)
		}
		return io.NopCloser(i.in), "standard input", nil
	}
	i.see(func() (fs.FileInfo, error) { return os.Stat(name) })
	f, err := catalog.OpenFile(name)
	if err != nil {
		return nil, "", err
	}
	i.note(f)
	return f, name, nil
}

// note remembers an open file.
func (i *inputs) note(f interface{ Stat() (fs.FileInfo, error) }) {
	// What cannot be told of a file that is open cannot be told of the one to be written either.
	if info, err := f.Stat(); err == nil {
		i.opened = append(i.opened, info)
	}
}

// name remembers a file that the command line gives as an input, whether it is read or not.
func (i *inputs) name(file string) {
	if info, err := os.Stat(file); err == nil && !info.IsDir() {
		i.opened = append(i.opened, info)
	}
}

// watch is a folder of which every file that is opened is an input.
func (i *inputs) watch(folder fs.FS) fs.FS { return watchedFS{folder, i} }

// watchLayer makes inputs of a layer's files and of all that they name.
func (i *inputs) watchLayer(l catalog.Layer) catalog.Layer {
	for n := range l.Files {
		l.Files[n].FS = i.watch(l.Files[n].FS)
	}
	return l
}

type watchedFS struct {
	fs.FS
	inputs *inputs
}

// Stat implements [fs.StatFS]: a pipe is not opened for it.
func (w watchedFS) Stat(name string) (fs.FileInfo, error) { return fs.Stat(w.FS, name) }

// Open implements [fs.FS].
func (w watchedFS) Open(name string) (fs.File, error) {
	w.inputs.see(func() (fs.FileInfo, error) { return fs.Stat(w.FS, name) })
	f, err := w.FS.Open(name)
	if err == nil {
		w.inputs.note(f)
	}
	return f, err
}

// keep refuses to write over a file that the answer was made from.
func (i *inputs) keep(flag, file string) error {
	out, err := os.Stat(file)
	if err != nil {
		return nil // nothing there to lose
	}
	for _, in := range i.opened {
		if os.SameFile(in, out) {
			return usagef("%s %s is a file that this answer was made from; write to another", flag, file)
		}
	}
	return nil
}

// sameTarget reports whether two names are of one file, there already or yet to be written.
func sameTarget(a, b string) bool {
	x, errX := os.Stat(a)
	y, errY := os.Stat(b)
	if errX == nil && errY == nil {
		return os.SameFile(x, y)
	}
	if !errors.Is(errX, fs.ErrNotExist) || !errors.Is(errY, fs.ErrNotExist) || filepath.Base(a) != filepath.Base(b) {
		return false
	}
	return filepath.Clean(a) == filepath.Clean(b) || sameTarget(filepath.Dir(a), filepath.Dir(b))
}
