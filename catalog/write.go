package catalog

import (
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"

	"allup/model/words"
)

// NewFile is a file to write: its name and what it is to have inside.
type NewFile struct {
	Name string
	Data []byte
}

// WriteFile writes a file whole or not at all. A file that is there already is
// replaced only by force and is otherwise an error for which errors.Is(err,
// [fs.ErrExist]) holds; a symbolic link keeps pointing to what is then replaced.
// After an error the folder is as it was before. What a run that was killed long ago left half written goes.
func WriteFile(name string, data []byte, force bool) error {
	return WriteFiles([]NewFile{{name, data}}, force)
}

// WriteFiles writes a set of files as [WriteFile] does one: all of them, or none of those that are
// new. A signal that would end the program waits until they are whole; a second one does not.
func WriteFiles(files []NewFile, force bool) (err error) {
	defer untilWhole()()
	type step struct {
		temp, target string
		isNew        bool
	}
	var steps []step
	placed := 0
	defer func() {
		if err == nil {
			return
		}
		for i, s := range steps {
			switch {
			case i >= placed:
				os.Remove(s.temp)
			case s.isNew:
				os.Remove(s.target)
			}
		}
	}()
	for _, f := range files {
		target, mode, err := writeTarget(f.Name, force)
		if err != nil {
			return err
		}
		temp, err := writeTemp(filepath.Dir(target), f.Data, mode)
		if err != nil {
			return writeError(f.Name, err)
		}
		steps = append(steps, step{temp, target, mode == 0})
	}
	for i, s := range steps {
		if err := place(s.temp, s.target, force); err != nil {
			if errors.Is(err, fs.ErrExist) {
				return existsError{files[i].Name}
			}
			return writeError(files[i].Name, err)
		}
		placed++
	}
	folders := map[string]bool{}
	for _, s := range steps {
		if dir := filepath.Dir(s.target); !folders[dir] {
			folders[dir] = true
			syncFolder(dir)
			sweep(dir)
		}
	}
	return nil
}

// writeError says what kept a file from being written, without the name of the one that was to take
// its place.
func writeError(name string, err error) error {
	if path, ok := errors.AsType[*fs.PathError](err); ok {
		err = path.Err
	}
	if link, ok := errors.AsType[*os.LinkError](err); ok {
		err = link.Err
	}
	return fmt.Errorf("writing %s: %w", words.Printable(name), err)
}

// untilWhole keeps the first signal that would end the program for the function that it returns, so
// that no file is left half done beside its target.
func untilWhole() (done func()) {
	signals := make(chan os.Signal, 1)
	kept := make(chan os.Signal, 1)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	over := make(chan struct{})
	go func() {
		defer close(kept)
		select {
		case s := <-signals:
			signal.Stop(signals)
			kept <- s
		case <-over:
		}
	}()
	return func() {
		signal.Stop(signals)
		close(over)
		s, came := <-kept
		if !came {
			return
		}
		if self, err := os.FindProcess(os.Getpid()); err == nil {
			// Where a system cannot send itself a signal, the command ends by itself soon.
			_ = self.Signal(s)
		}
	}
}

// existsError says that a file would have to be overwritten.
type existsError struct{ name string }

func (e existsError) Error() string {
	return words.Printable(e.name) + " exists already; --force replaces it"
}

// Is makes it a [fs.ErrExist].
func (e existsError) Is(target error) bool { return target == fs.ErrExist }

// writeTarget is the path to write to, behind symbolic links, and the file mode to
// give it: that of a file to be replaced, or 0 for a new one.
func writeTarget(name string, force bool) (string, fs.FileMode, error) {
	info, err := os.Lstat(name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if name == "" || os.IsPathSeparator(name[len(name)-1]) {
			return "", 0, fmt.Errorf("writing %q: not the name of a file", name)
		}
		if _, err := os.Stat(filepath.Dir(name)); err != nil {
			return "", 0, fmt.Errorf("writing %s: %w", words.Printable(name), err)
		}
		return name, 0, nil
	case err != nil:
		return "", 0, fmt.Errorf("writing %s: %w", words.Printable(name), err)
	}
	target := name
	if info.Mode()&fs.ModeSymlink != 0 {
		if target, err = filepath.EvalSymlinks(name); err == nil {
			info, err = os.Stat(target)
		}
		if err != nil {
			return "", 0, fmt.Errorf("writing %s: it is a link to nowhere: %w", words.Printable(name), err)
		}
	}
	switch {
	case info.IsDir():
		return "", 0, fmt.Errorf("writing %s: it is a folder", words.Printable(name))
	case !info.Mode().IsRegular():
		return "", 0, fmt.Errorf("writing %s: it is not an ordinary file", words.Printable(name))
	case !force:
		return "", 0, existsError{name}
	}
	return target, info.Mode().Perm(), nil
}

// writeTemp writes data to a new file in a folder and on to the disk. A mode of 0 is
// that of any new file. After an error there is no file.
func writeTemp(dir string, data []byte, mode fs.FileMode) (name string, err error) {
	f, err := createTemp(dir)
	if err != nil {
		return "", err
	}
	defer func() {
		if closeErr := f.Close(); err == nil {
			err = closeErr
		}
		if err != nil {
			os.Remove(f.Name())
		}
	}()
	if mode != 0 {
		if err := f.Chmod(mode); err != nil {
			return "", err
		}
	}
	if _, err := f.Write(data); err != nil {
		return "", err
	}
	return f.Name(), f.Sync()
}

// tempName begins the names of temporary files.
const tempName = ".allup-"

// leftBehind is the age of a temporary file that no run is writing any more: each lives for moments.
const leftBehind = time.Hour

// sweep removes temporary files that runs which were killed left in a folder. What cannot be removed stays.
func sweep(dir string) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, e := range entries {
		number, is := strings.CutPrefix(e.Name(), tempName)
		if _, err := strconv.ParseUint(number, 36, 64); !is || err != nil || !e.Type().IsRegular() {
			continue
		}
		if info, err := e.Info(); err == nil && time.Since(info.ModTime()) > leftBehind {
			os.Remove(filepath.Join(dir, e.Name()))
		}
	}
}

// createTemp is os.CreateTemp with the mode of an ordinary new file.
func createTemp(dir string) (*os.File, error) {
	for range 100 {
		name := filepath.Join(dir, tempName+strconv.FormatUint(rand.Uint64(), 36))
		f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		if !errors.Is(err, fs.ErrExist) {
			return f, err
		}
	}
	return nil, errors.New("no free name for a temporary file")
}

// place puts the finished file under its name. Without force it must not replace a
// file, not even one that has just appeared: a link fails where a rename would not.
func place(temp, target string, force bool) error {
	if force {
		return os.Rename(temp, target)
	}
	err := os.Link(temp, target)
	if err == nil {
		return os.Remove(temp)
	}
	if errors.Is(err, fs.ErrExist) {
		return err
	}
	// The file system has no links: hold the name with an empty file, then replace that.
	held, err := os.OpenFile(target, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	err = held.Close()
	if err == nil {
		err = os.Rename(temp, target)
	}
	if err != nil {
		os.Remove(target)
	}
	return err
}

// syncFolder asks for the new name to reach the disk. The file itself is safe there,
// and not every system lets a folder be synced: a failure changes nothing.
func syncFolder(dir string) {
	if d, err := os.Open(dir); err == nil {
		d.Sync()
		d.Close()
	}
}
