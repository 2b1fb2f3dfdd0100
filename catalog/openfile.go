package catalog

import (
	"errors"
	"io/fs"
	"os"
	"time"

	"allup/model/words"
)

// pipePatience is how long a pipe may have no writer. A shell opens both of its ends at once.
const pipePatience = 5 * time.Second

var (
	errNoWriter = errors.New("it is a pipe to which nobody writes")
	errNoFile   = errors.New("it is not an ordinary file")
	errFolder   = errors.New("it is a folder")
)

// OpenFile opens a file that the user names, as [os.Open] does. A pipe to which nobody writes,
// where that would wait for ever, is an error after a few seconds.
func OpenFile(name string) (*os.File, error) {
	info, err := os.Stat(name)
	if err != nil || !isPipe(info) {
		return os.Open(name)
	}
	return openPipe(name, pipePatience, func() (*os.File, error) { return os.Open(name) })
}

func isPipe(info fs.FileInfo) bool { return info.Mode()&fs.ModeNamedPipe != 0 }

// openPipe waits for a pipe to be opened, for a while.
func openPipe[F fs.File](name string, patience time.Duration, open func() (F, error)) (F, error) {
	type opened struct {
		file F
		err  error
	}
	done := make(chan opened, 1)
	go func() { // it ends with the program where nobody ever writes
		f, err := open()
		done <- opened{f, err}
	}()
	select {
	case o := <-done:
		return o.file, o.err
	case <-time.After(patience):
		var none F
		return none, &fs.PathError{Op: "open", Path: words.Printable(name), Err: errNoWriter}
	}
}

// onlyOrdinary refuses what a file names and is no ordinary file: a folder has no rows, and a pipe
// or a device no end. What is not there is for opening it to say.
func onlyOrdinary(name string, info fs.FileInfo, err error) error {
	switch {
	case err != nil || info.Mode().IsRegular():
		return nil
	case info.IsDir():
		return &fs.PathError{Op: "open", Path: name, Err: errFolder}
	}
	return &fs.PathError{Op: "open", Path: name, Err: errNoFile}
}
