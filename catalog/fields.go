package catalog

import (
	_ "embed"
	"fmt"

	"github.com/BurntSushi/toml"
)

// FieldTable documents one table of a file that allup reads.
type FieldTable struct {
	Head   string  `toml:"head"` // as it stands in a file, "[pack.ID.tested]", or what it is
	Of     string  `toml:"of"`   // "records", "build" or "bench": the file that it stands in
	Text   string  `toml:"text"`
	Fields []Field `toml:"fields"`
}

// Field documents one field of a table.
type Field struct {
	Name   string `toml:"name"`
	Holds  string `toml:"holds"` // the range with its unit, or what else it may be
	Needed bool   `toml:"needed"`
	Text   string `toml:"text"`
}

//go:embed fields.toml
var fieldsFile string

// Fields documents every field of records, builds and bench files, in the order in which people need them. The list is
// the caller's own.
func Fields() []FieldTable {
	var file struct {
		Tables []FieldTable `toml:"table"`
	}
	meta, err := toml.Decode(fieldsFile, &file)
	if err == nil && len(meta.Undecoded()) > 0 {
		err = fmt.Errorf("unknown field %s", meta.Undecoded()[0])
	}
	if err != nil {
		panic("catalog: the embedded list of fields cannot be read: " + err.Error())
	}
	return file.Tables
}
