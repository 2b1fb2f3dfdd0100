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

// Locate is the sources of records with their lines, by id; one that the catalogue does not have is left out. The lines
// are looked up in the files now, each read once: loading does not need them. A line is 0 where the file has changed or
// gone.
func (c *Catalogue) Locate(ids ...string) map[string]Source {
	sources := make(map[string]Source, len(ids))
	paths := map[fileKey][][]string{}
	for _, id := range ids {
		common, kind, ok := c.Record(id)
		if _, done := sources[id]; !ok || done {
			continue
		}
		sources[id] = common.Source
		if common.Source.Line == 0 {
			key := fileKey{common.Source.Layer, common.Source.File}
			paths[key] = append(paths[key], []string{string(kind), id})
		}
	}
	for key, list := range paths {
		for i, line := range c.lines(key, list) {
			id := list[i][1]
			source := sources[id]
			source.Line = line
			sources[id] = source
		}
	}
	return sources
}

// mostSought is how many records of a file are looked for with the parser, which reads the piece over again for each,
// where a quick look does not find them.
const mostSought = 200

// lines are the lines of keys in a file that records were read from, 0 where that cannot be told.
func (c *Catalogue) lines(key fileKey, paths [][]string) []int {
	none := make([]int, len(paths))
	file, ok := c.files[key]
	if !ok {
		return none
	}
	if info, err := fs.Stat(file.FS, file.Path); err != nil || !info.Mode().IsRegular() {
		return none // a pipe cannot be read twice
	}
	data, err := file.read(maxRecords)
	if err != nil {
		return none
	}
	d, shape, err := open(key.name, data)
	if err != nil {
		return none
	}
	text := pieces(d.data, shape.cuts)
	lines := findLines(text, paths)
	sought := 0
	for i, path := range paths {
		if lines[i] > 0 {
			continue
		}
		if sought++; sought > mostSought {
			break
		}
		before := 0
		for _, piece := range text {
			if bytes.Contains(piece, []byte(path[1])) {
				if lines[i] = d.piece(piece, before).line(path); lines[i] > 0 {
					break
				}
			}
			before += bytes.Count(piece, []byte("\n"))
		}
	}
	return lines
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
