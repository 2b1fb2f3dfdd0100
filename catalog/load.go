package catalog

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"allup/model"
	"allup/model/words"
)

// Load reads layers of records, each over the ones before: a record replaces the one of the same
// kind and id in an earlier layer, with a [Warning] where both are the user's; a file that is in
// two layers counts in the later one. Faults of all files come together as [InputErrors]; an error
// of another type is a file that could not be read.
func Load(layers ...Layer) (*Catalogue, []Warning, error) {
	layers = distinct(layers)
	whole := map[fileKey][]byte{}
	for {
		cat, warnings, err := load(layers, whole)
		scattered, ok := errors.AsType[scatteredError](err)
		if !ok {
			return cat, warnings, err
		}
		whole[scattered.file] = scattered.data
	}
}

// scatteredError is a file whose pieces do not stand for themselves: a record is in two of them. It
// is read again as a whole.
type scatteredError struct {
	file fileKey
	data []byte
}

func (scatteredError) Error() string { return "records are scattered over a large file" }

// load reads layers; whole are files that are not to be read in pieces, with their content.
func load(layers []Layer, whole map[fileKey][]byte) (*Catalogue, []Warning, error) {
	l := loader{
		cat: New(), records: records{curves: map[model.Chemistry]model.Curve{}},
		whole: whole, owner: map[string]int{}, order: map[string]int{},
	}
	for i, layer := range layers {
		l.layer = i
		for _, file := range layer.Files {
			if err := l.load(layer.Name, file); err != nil {
				return nil, nil, err
			}
		}
	}
	l.checkThrustTests()
	if len(l.faults) > 0 {
		slices.SortStableFunc(l.faults, func(a, b InputError) int {
			return cmp.Or(cmp.Compare(l.order[a.File], l.order[b.File]), byLine(a, b))
		})
		return nil, l.warnings, l.faults
	}
	return l.cat, l.warnings, nil
}

// loader is a load under way.
type loader struct {
	cat      *Catalogue
	records  records
	whole    map[fileKey][]byte
	layer    int            // the number of the layer being read
	owner    map[string]int // the layer of each id
	order    map[string]int // the number of each file, by name
	faults   InputErrors
	warnings []Warning
}

// load reads one file. Its error is a failure to read it, or a [scatteredError]; faults are kept.
func (l *loader) load(layer string, file File) error {
	key := fileKey{layer, file.Name}
	l.cat.files[key] = file
	if _, seen := l.order[file.Name]; !seen {
		l.order[file.Name] = len(l.order)
	}
	l.records.file = file
	data, again := l.whole[key]
	if !again {
		var err error
		if data, err = file.read(maxRecords); err != nil {
			return l.keep(err)
		}
	}
	d, shape, err := open(file.Name, data)
	if err != nil {
		return l.keep(err)
	}
	source := Source{Layer: layer, File: file.Name}
	if len(shape.cuts) > 0 && !again {
		scattered, err := l.loadPieces(d, shape, source)
		if scattered {
			return scatteredError{key, data}
		}
		return err
	}
	root, err := d.parse()
	if err != nil {
		return l.keep(err)
	}
	if isTable(root.values["slots"]) && len(kindTables(root)) == 0 {
		return l.keep(InputErrors{{File: file.Name, Line: 1, Msg: "this is a build, not records of parts", Hint: "name it as the BUILD of a command, without --parts"}})
	}
	l.loadTables(root, source)
	if len(root.values) == 0 {
		// An empty file is a catalogue of nothing; so is one of comments only.
		root.odd("no-records", "", 0, "the file has no records")
	}
	return l.end(d)
}

// end ends the reading of a text: what it has to say is kept.
func (l *loader) end(d *document) error {
	warnings, err := d.result()
	l.warnings = append(l.warnings, warnings...)
	return l.keep(err)
}

// kindTables are the kinds of records that a file has tables of; a build has texts and lists of
// these names at most.
func kindTables(root *table) (kinds []string) {
	for _, kind := range kindNames() {
		if isTable(root.values[kind]) {
			kinds = append(kinds, kind)
		}
	}
	return kinds
}

func isTable(v any) bool {
	_, is := v.(map[string]any)
	return is
}

// loadPieces reads a large file piece by piece, each as a text of its own. It reports where a
// record stands in two of them and the file is to be read as a whole, for it might be meant so; a
// file that is too large for that must keep what belongs together in one place.
func (l *loader) loadPieces(d *document, s shape, source Source) (scattered bool, err error) {
	told := map[string]bool{} // tables that are no kind of record
	list, before := pieces(d.data, s.cuts), 0
	for i, p := range parsePieces(list) {
		part := d.piece(list[i], before)
		before += bytes.Count(list[i], []byte("\n"))
		if p.err != nil {
			if err := l.keep(part.refuse(part.syntaxFault(p.err))); err != nil {
				return false, err
			}
			continue
		}
		root := &table{doc: part, values: p.tree}
		for key, value := range p.tree {
			if !slices.Contains(Kinds(), Kind(key)) {
				if told[key] {
					delete(p.tree, key)
				}
				told[key] = true
				continue
			}
			records, _ := value.(map[string]any)
			for id := range records {
				other, kind, ok := l.cat.Record(id)
				if !ok || kind != Kind(key) || other.Source != source {
					continue
				}
				if !s.parted {
					return true, nil
				}
				delete(records, id)
				(&table{doc: part, parent: root, key: key, values: records}).fault(id, InputError{
					Msg: "is here a second time, far from the first", Hint: "in a file this large all that belongs to a record stands in one place",
				})
			}
		}
		l.loadTables(root, source)
		if err := l.end(part); err != nil {
			return false, err
		}
	}
	return false, nil
}

// loadTables reads the records of every kind of a file, or of a piece of it.
func (l *loader) loadTables(root *table, source Source) {
	for _, kind := range Kinds() {
		if t := root.child(string(kind)); t != nil {
			l.loadKind(kind, t, source)
		}
	}
	root.done()
}

// keep keeps the faults of a file for the end; any other error is a failure to read it.
func (l *loader) keep(err error) error {
	if faults, ok := errors.AsType[InputErrors](err); ok {
		l.faults = append(l.faults, faults...)
		return nil
	}
	if err != nil {
		return fmt.Errorf("reading records: %w", err)
	}
	return nil
}

// loadKind reads the records of one kind of a file, by id so that the order of
// faults and warnings without a line does not change from run to run.
func (l *loader) loadKind(kind Kind, t *table, source Source) {
	for _, id := range slices.Sorted(maps.Keys(t.values)) {
		record := t.child(id)
		if record == nil {
			continue
		}
		if faultOfDots(t, kind, id, record) {
			continue
		}
		if fault, bad := checkID(id); bad {
			record.fault("", fault)
		} else {
			l.checkOwner(kind, id, t, source)
		}
		l.owner[id] = l.layer
		l.records.read(l.cat, kind, id, record, source)
	}
	t.done()
}

// faultOfDots reports a record whose id has a dot outside quotes, which makes two tables of it.
func faultOfDots(t *table, kind Kind, id string, record *table) bool {
	inner, ok := onlyTable(record)
	if ok {
		t.fault(id, InputError{
			Msg:  "holds nothing but a table of the name " + showKey(inner),
			Hint: "an id with a dot in it stands in quotes: [" + string(kind) + "." + showKey(id+"."+inner) + "]",
		})
	}
	return ok
}

// onlyTable is the name of the table that is all there is in a record, other than
// those that records have: the sign of an id with a dot in it.
func onlyTable(record *table) (name string, ok bool) {
	if len(record.values) != 1 {
		return "", false
	}
	for key, value := range record.values {
		_, isTable := value.(map[string]any)
		return key, isTable && key != "tested" && key != "circuit"
	}
	return "", false
}

// checkOwner refuses an id that another record has already.
func (l *loader) checkOwner(kind Kind, id string, t *table, source Source) {
	other, otherKind, taken := l.cat.Record(id)
	if !taken {
		return
	}
	where := words.Printable(other.Source.File)
	if other.Demo() {
		where = "the built-in catalogue"
	} else if other.Source == source {
		where = "this file"
	}
	switch {
	case otherKind != kind:
		t.fault(id, InputError{Msg: "is also the id of " + otherKind.noun() + " in " + where, Hint: "an id names one record, whatever its kind: choose another"})
	case l.owner[id] == l.layer:
		t.fault(id, InputError{Msg: "is here a second time (first in " + where + ")", Hint: "an id is a key, so a second record with the same id beside it is an error: give it another id or remove it"})
	case !other.Demo():
		t.odd("record-replaced", id, 0, "replaces the record of this id in "+where+": the last that is given counts")
	}
}

// checkThrustTests refuses thrust tests of parts that no layer has.
func (l *loader) checkThrustTests() {
	var faults InputErrors
	files := map[fileKey][]int{} // of faults
	paths := map[fileKey][][]string{}
	check := func(test *ThrustTest, field string, kind Kind, id string) {
		found, ok := l.cat.Lookup(id)
		if id == "" || ok && found == kind {
			return
		}
		fault := InputError{File: test.Source.File, Field: strings.Join([]string{string(KindThrustTest), showKey(test.ID), field}, ".")}
		fault.Value, fault.Msg, fault.Hint = l.cat.unknown(kind, id)
		key := fileKey{test.Source.Layer, test.Source.File}
		files[key] = append(files[key], len(faults))
		paths[key] = append(paths[key], []string{string(KindThrustTest), test.ID, field})
		faults = append(faults, fault)
	}
	for _, id := range l.cat.IDs(KindThrustTest) {
		test := l.cat.ThrustTests[id]
		check(test, "motor", KindMotor, test.Motor)
		check(test, "prop", KindProp, test.Prop)
	}
	for key, list := range files {
		for i, line := range l.cat.lines(key, paths[key]) {
			faults[list[i]].Line = line
		}
	}
	l.faults = append(l.faults, faults...)
}

// maxID is the longest id.
const maxID = 64

// reserved begins the ids of records that stand in a build file itself.
const reserved = "inline-"

// checkID refuses ids that could not be typed in a command or told apart.
func checkID(id string) (InputError, bool) {
	const allowed = "lower-case letters, digits and - _ . with a letter or digit first, up to 64 characters"
	odd := func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '-' || r == '_' || r == '.')
	}
	switch {
	case id == "" || len(id) > maxID || strings.ContainsFunc(id, odd) || strings.ContainsRune("-_.", rune(id[0])):
		fault := InputError{Value: quote(id), Msg: "cannot be an id", Allowed: allowed}
		if lower := strings.ToLower(id); lower != id && len(id) <= maxID && !strings.ContainsFunc(lower, odd) {
			fault.Hint = `did you mean "` + lower + `"?`
		}
		return fault, true
	case strings.HasPrefix(id, reserved):
		return InputError{Value: quote(id), Msg: "cannot be an id: the names from \"inline-\" on are those of records inside build files"}, true
	}
	return InputError{}, false
}
