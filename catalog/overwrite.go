package catalog

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"

	"allup/model/words"
)

// CheckWrite is the error that [WriteFile] would give for the name alone, before there is anything to write.
func CheckWrite(name string, force bool) error {
	_, _, err := writeTarget(name, force)
	return err
}

// checkRecords refuses to replace by records a file that holds something else: a build, a bench file, a log. A
// file that is not there, or is empty, is none of these.
func checkRecords(name string) error {
	if info, err := os.Stat(name); err == nil && !info.Mode().IsRegular() {
		return nil // writing it says what it is
	}
	f, err := os.Open(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	defer f.Close()
	data, err := readAll(name, f, maxRecords)
	if err == nil {
		d, shape, openErr := open(name, data)
		if openErr == nil && onlyRecords(pieces(d.data, shape.cuts)) {
			return nil
		}
	}
	return fmt.Errorf("writing %s: it is there and is not a file of records; --force replaces only those", words.Printable(name))
}

// onlyRecords reports whether the pieces of a file are tables of records and nothing else. A bench file has
// packs with logs.
func onlyRecords(list [][]byte) bool {
	for _, piece := range parsePieces(list) {
		if piece.err != nil {
			return false
		}
		for key, value := range piece.tree {
			if !slices.Contains(kindNames(), key) {
				return false
			}
			records, isTable := value.(map[string]any)
			if !isTable {
				return false
			}
			for _, record := range records {
				fields, isTable := record.(map[string]any)
				if !isTable || fields["discharge"] != nil || fields["burst"] != nil {
					return false
				}
			}
		}
	}
	return true
}
