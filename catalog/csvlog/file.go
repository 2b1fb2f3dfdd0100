package csvlog

import (
	"crypto/sha256"
	"encoding/hex"
	"hash"
	"io"
	"io/fs"
	"path"
	"path/filepath"
	"time"
)

// File is a log that is open.
type File struct {
	*Reader
	file fs.File
	sum  hash.Hash
}

// Open opens a bench log and reads its header. fsys holds the names as bench files have them.
// Its error is a [bench.LogError] where the log is at fault, and else the file system's.
func Open(fsys fs.FS, name string, columns Columns) (*File, error) {
	f, err := fsys.Open(path.Clean(filepath.ToSlash(name)))
	if err != nil {
		return nil, err
	}
	sum := sha256.New()
	r, err := NewReader(io.TeeReader(f, sum), columns)
	if err != nil {
		f.Close()
		return nil, err
	}
	return &File{Reader: r, file: f, sum: sum}, nil
}

// Hash is the SHA-256 of the log in hexadecimal. It is of the whole file after the
// last Scan.
func (l *File) Hash() string { return hex.EncodeToString(l.sum.Sum(nil)) }

// Date is the day on which the file was last changed, "" where that is not known.
func (l *File) Date() string {
	info, err := l.file.Stat()
	if err != nil || info.ModTime().IsZero() {
		return ""
	}
	return info.ModTime().UTC().Format(time.DateOnly)
}

// Close closes the file.
func (l *File) Close() error { return l.file.Close() }
