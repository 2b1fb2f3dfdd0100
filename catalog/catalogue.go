package catalog

import (
	"bytes"
	"io/fs"
	"maps"
	"slices"
)

// Kind is a kind of record, by the name that files have for it.
type Kind string

// The kinds of records.
const (
	KindFrame      Kind = "frame"
	KindMotor      Kind = "motor"
	KindProp       Kind = "prop"
	KindBoard      Kind = "board"
	KindGear       Kind = "gear"
	KindPack       Kind = "pack"
	KindThrustTest Kind = "thrust_test"
)

// Kinds lists every kind in the order of a build sheet.
func Kinds() []Kind {
	return []Kind{KindFrame, KindMotor, KindProp, KindBoard, KindGear, KindPack, KindThrustTest}
}

// noun is the kind in a sentence.
func (k Kind) noun() string {
	switch k {
	case KindGear:
		return "a piece of gear"
	case KindThrustTest:
		return "a thrust test"
	}
	return "a " + string(k)
}

func kindNames() []string {
	names := make([]string, len(Kinds()))
	for i, k := range Kinds() {
		names[i] = string(k)
	}
	return names
}

// Catalogue holds checked records by id. An id names one record, whatever its kind.
// A loaded catalogue is not changed any more and may be read from several goroutines.
type Catalogue struct {
	Frames      map[string]*Frame
	Motors      map[string]*Motor
	Props       map[string]*Prop
	Boards      map[string]*Board
	Gear        map[string]*Gear
	Packs       map[string]*Pack
	ThrustTests map[string]*ThrustTest

	files     map[fileKey]File // where records were read, for Locate
	demoPacks bool             // demo packs are chosen from beside the user's own
}

// fileKey names a file of a layer as a [Source] does.
type fileKey struct{ layer, name string }

// New is an empty catalogue.
func New() *Catalogue {
	return &Catalogue{
		Frames:      map[string]*Frame{},
		Motors:      map[string]*Motor{},
		Props:       map[string]*Prop{},
		Boards:      map[string]*Board{},
		Gear:        map[string]*Gear{},
		Packs:       map[string]*Pack{},
		ThrustTests: map[string]*ThrustTest{},
		files:       map[fileKey]File{},
	}
}

// IDs lists the ids of a kind, sorted.
func (c *Catalogue) IDs(kind Kind) []string {
	switch kind {
	case KindFrame:
		return slices.Sorted(maps.Keys(c.Frames))
	case KindMotor:
		return slices.Sorted(maps.Keys(c.Motors))
	case KindProp:
		return slices.Sorted(maps.Keys(c.Props))
	case KindBoard:
		return slices.Sorted(maps.Keys(c.Boards))
	case KindGear:
		return slices.Sorted(maps.Keys(c.Gear))
	case KindPack:
		return slices.Sorted(maps.Keys(c.Packs))
	case KindThrustTest:
		return slices.Sorted(maps.Keys(c.ThrustTests))
	}
	return nil
}

// Lookup is the kind of the record that has an id.
func (c *Catalogue) Lookup(id string) (Kind, bool) {
	_, kind, ok := c.Record(id)
	return kind, ok
}

// Record is what the record of an id shares with all others, and its kind.
func (c *Catalogue) Record(id string) (*Common, Kind, bool) {
	if r, ok := c.Packs[id]; ok {
		return &r.Common, KindPack, true
	}
	if r, ok := c.Motors[id]; ok {
		return &r.Common, KindMotor, true
	}
	if r, ok := c.Props[id]; ok {
		return &r.Common, KindProp, true
	}
	if r, ok := c.Frames[id]; ok {
		return &r.Common, KindFrame, true
	}
	if r, ok := c.Boards[id]; ok {
		return &r.Common, KindBoard, true
	}
	if r, ok := c.Gear[id]; ok {
		return &r.Common, KindGear, true
	}
	if r, ok := c.ThrustTests[id]; ok {
		return &r.Common, KindThrustTest, true
	}
	return nil, "", false
}

// Nearest is the id of a kind that a misspelt id most likely means, "" where none is near.
func (c *Catalogue) Nearest(kind Kind, id string) string {
	return nearest(id, c.IDs(kind))
}

// allIDs lists the ids of every part, kind by kind.
func (c *Catalogue) allIDs() []string {
	var ids []string
	for _, k := range Kinds() {
		if k != KindThrustTest {
			ids = append(ids, c.IDs(k)...)
		}
	}
	return ids
}

// Locate is the source of a record with its line, which is looked up in its file
// now: loading does not need it. The line is 0 where the file has changed or gone.
func (c *Catalogue) Locate(id string) (Source, bool) {
	common, kind, ok := c.Record(id)
	if !ok {
		return Source{}, false
	}
	source := common.Source
	if source.Line == 0 {
		source.Line = c.line(source, string(kind), id)
	}
	return source, true
}

// line is the line of a key in the file of a source, 0 where it cannot be told.
func (c *Catalogue) line(source Source, path ...string) int {
	file, ok := c.files[fileKey{source.Layer, source.File}]
	if !ok {
		return 0
	}
	if info, err := fs.Stat(file.FS, file.Path); err != nil || !info.Mode().IsRegular() {
		return 0 // a pipe cannot be read twice
	}
	data, err := file.read(maxRecords)
	if err != nil {
		return 0
	}
	d, shape, err := open(source.File, data)
	if err != nil {
		return 0
	}
	// The parser is slow with a large file: the piece that has the id will do.
	before := 0
	for _, piece := range pieces(d.data, shape.cuts) {
		if bytes.Contains(piece, []byte(path[1])) {
			if line := d.piece(piece, before).line(path); line > 0 {
				return line
			}
		}
		before += bytes.Count(piece, []byte("\n"))
	}
	return 0
}

// with is a catalogue of the same records that takes more of one kind without
// changing c; the maps of the other kinds are shared.
func (c *Catalogue) with(kind Kind) *Catalogue {
	copied := *c
	switch kind {
	case KindFrame:
		copied.Frames = maps.Clone(c.Frames)
	case KindMotor:
		copied.Motors = maps.Clone(c.Motors)
	case KindProp:
		copied.Props = maps.Clone(c.Props)
	case KindBoard:
		copied.Boards = maps.Clone(c.Boards)
	case KindGear:
		copied.Gear = maps.Clone(c.Gear)
	case KindPack:
		copied.Packs = maps.Clone(c.Packs)
	}
	return &copied
}

// unknown says in the parts of an [InputError] that a kind has no such id.
func (c *Catalogue) unknown(kind Kind, id string) (value, msg, hint string) {
	value, msg = quote(id), "is no known "+string(kind)
	if other, ok := c.Lookup(id); ok {
		return value, "is " + other.noun() + ", not " + kind.noun(), ""
	}
	if near := c.Nearest(kind, id); near != "" {
		return value, msg, `did you mean "` + near + `"?`
	}
	ids := c.IDs(kind)
	if kind == KindPack {
		ids, _ = c.PackChoice()
	}
	if len(ids) == 0 {
		return value, msg, "the catalogue has none"
	}
	return value, msg, "known: " + join(ids)
}
