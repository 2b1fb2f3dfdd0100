package catalog

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/BurntSushi/toml"

	"allup/model/words"
)

const (
	// maxRecords is the largest file of records, far above any catalogue and below what would fill the memory.
	maxRecords = 64 << 20
	// maxWhole is the largest build, bench file or stand's table, and the largest text that is parsed in one go.
	maxWhole = 4 << 20
	// maxValues is how many values may stand in a text that is parsed in one go: the parser takes long for each.
	maxValues = 100_000
	// maxTables is how many tables may have a header in one: the parser keeps a kilobyte for each.
	maxTables = 20_000
	// maxNesting bounds the recursion of the TOML parser. No field of allup is half as deep.
	maxNesting = 16
	// probeBudget bounds the bytes that the parser may read over to find lines of faults.
	probeBudget = 1 << 26
	// maxKept is how many faults, and how many oddities, are kept of one text: more are only counted.
	maxKept = 1000
	// maxHints bounds the guesses at what was meant, each of which looks at all ids.
	maxHints = 200
)

// document is one file being read, with the faults and oddities found in it so far.
type document struct {
	file     string
	data     []byte
	before   int // lines of the file before data, where that is a piece of it
	faults   []located[InputError]
	more     int // faults beyond those kept
	warnings []located[Warning]
	moreOdd  int        // oddities beyond those kept
	spare    [][]string // key lists of finished tables, for the next ones
	hints    int

	// For the lines of faults; empty until the first is asked for.
	meta   toml.MetaData
	top    map[string]toml.Primitive
	opened map[string]map[string]toml.Primitive // tables already opened
	budget *int                                 // bytes that finding lines may still read over; shared by the pieces of a file
}

// located is something to report whose line is still to be found.
type located[T InputError | Warning] struct {
	what T
	path []string // of the key that it is about
}

// readAll reads a file of at most a number of bytes. A larger one is an [InputErrors];
// other errors are the reader's.
func readAll(file string, r io.Reader, most int) ([]byte, error) {
	var data bytes.Buffer
	if f, is := r.(interface{ Stat() (fs.FileInfo, error) }); is {
		if info, err := f.Stat(); err == nil && info.Mode().IsRegular() {
			// Room for all of it at once, and for finding its end.
			data.Grow(int(min(max(info.Size(), 0), int64(most))) + bytes.MinRead)
		}
	}
	if _, err := data.ReadFrom(io.LimitReader(r, int64(most)+1)); err != nil {
		return nil, err
	}
	if data.Len() > most {
		return nil, InputErrors{{File: file, Msg: fmt.Sprintf("the file is larger than %d MB", most>>20)}}
	}
	return data.Bytes(), nil
}

// parse makes a tree of a TOML text. Its error is the one fault that kept the text
// from being TOML.
func parse(file string, data []byte) (*document, *table, error) {
	d, shape, err := open(file, data)
	if err != nil {
		return nil, nil, err
	}
	if shape.parted {
		return nil, nil, d.refuse(InputError{Line: 1, Msg: fmt.Sprintf("the file has more than %d values or %d tables, or is larger than %d MB", maxValues, maxTables, maxWhole>>20)})
	}
	root, err := d.parse()
	return d, root, err
}

// open looks at a text without parsing it: what the parser would report badly is a fault, and a
// large text can be cut.
func open(file string, data []byte) (d *document, s shape, err error) {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	budget := probeBudget
	d = &document{file: file, data: data, budget: &budget}
	if fault, ok := unreadable(data); ok {
		return nil, shape{}, d.refuse(fault)
	}
	s = outline(data)
	switch {
	case s.tooDeep > 0:
		return nil, s, d.refuse(InputError{Line: s.tooDeep, Msg: fmt.Sprintf("lists and tables are nested more than %d deep", maxNesting)})
	case s.tooMany > 0:
		return nil, s, d.refuse(InputError{
			Line: s.tooMany, Msg: fmt.Sprintf("more than %d values or %d tables in one piece", maxValues, maxTables), Allowed: largeFiles,
		})
	case s.tooLong > 0:
		return nil, s, d.refuse(InputError{
			Line: s.tooLong, Msg: fmt.Sprintf("more than %d MB in one piece", maxWhole>>20), Allowed: largeFiles, Hint: "is a quote not closed?",
		})
	}
	return d, s, nil
}

// largeFiles says how a file is written that may have any number of records.
const largeFiles = "a large file is one of records, each under its own header, [pack.ID]"

// piece is a part of the text as a document of its own; before is how many lines are before it.
func (d *document) piece(data []byte, before int) *document {
	return &document{file: d.file, data: data, before: before, budget: d.budget}
}

// parse makes a tree of the whole text.
func (d *document) parse() (*table, error) {
	values, err := parseWhole(d.data)
	if err != nil {
		return nil, d.refuse(d.syntaxFault(err))
	}
	return &table{doc: d, values: values}, nil
}

// refuse is the one fault that keeps a text from being read.
func (d *document) refuse(fault InputError) error {
	fault.File = d.file
	if fault.Line > 0 {
		fault.Line += d.before
	}
	return InputErrors{fault}
}

// parseWhole runs the parser, which panics on what it takes for its own mistakes.
// Decoding into an interface leaves the parser's tree as it is, without a copy.
func parseWhole(data []byte) (values map[string]any, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("%v", r)
		}
	}()
	var tree any
	if _, err := toml.NewDecoder(bytes.NewReader(data)).Decode(&tree); err != nil {
		return nil, err
	}
	values, _ = tree.(map[string]any)
	return values, nil
}

// index parses the text once more, keeping what the search for lines needs. It
// reports whether there is anything to search in.
func (d *document) index() bool {
	if d.opened == nil {
		d.opened = map[string]map[string]toml.Primitive{}
		meta, err := toml.NewDecoder(bytes.NewReader(d.data)).Decode(&d.top)
		if err != nil {
			d.top = nil
		}
		d.meta = meta
	}
	return d.top != nil
}

// probe is a value that refuses to be decoded, which makes the parser say where it stands.
type probe struct{}

var errProbe = errors.New("here")

// UnmarshalTOML implements [toml.Unmarshaler].
func (*probe) UnmarshalTOML(any) error { return errProbe }

// line is the line of a key, 0 where it is not known. Without a path it is the first; for a table
// without a header of its own it is the line of the first key in it.
func (d *document) line(path []string) int {
	if len(path) == 0 {
		return d.before + 1
	}
	if line := findLines([][]byte{d.data}, [][]string{path})[0]; line > 0 {
		return d.before + line
	}
	return d.probedLine(path)
}

// probedLine is line by the parser alone.
func (d *document) probedLine(path []string) int {
	if *d.budget -= len(d.data) + 1; *d.budget < 0 || !d.index() {
		return 0
	}
	line := d.position(path)
	if line == 0 {
		for _, key := range d.meta.Keys() {
			if len(key) > len(path) && slices.Equal(key[:len(path)], path) {
				line = d.position(key)
				break
			}
		}
	}
	if line == 0 {
		return 0
	}
	return d.before + line
}

// position is the line of a key in data, 0 where it is not known.
func (d *document) position(path []string) int {
	prims := d.top
	for i, key := range path {
		prim, ok := prims[key]
		if !ok {
			return 0
		}
		if i == len(path)-1 {
			err := d.meta.PrimitiveDecode(prim, new(probe))
			parsed, _ := errors.AsType[toml.ParseError](err)
			return parsed.Position.Line
		}
		name := toml.Key(path[:i+1]).String()
		next, ok := d.opened[name]
		if !ok {
			if err := d.meta.PrimitiveDecode(prim, &next); err != nil {
				return 0
			}
			d.opened[name] = next
		}
		prims = next
	}
	return 0
}

// result ends the reading of a file: its warnings and, as an error, its faults, by line.
func (d *document) result() ([]Warning, error) {
	var faults InputErrors
	lines := linesOf(d, d.faults)
	for i, f := range d.faults {
		f.what.Line = lines[i]
		faults = append(faults, f.what)
	}
	slices.SortStableFunc(faults, byLine)
	if d.more > 0 {
		faults = append(faults, InputError{File: d.file, Msg: words.Count(d.more, "more error", "more errors"), Count: d.more})
	}
	var warnings []Warning
	lines = linesOf(d, d.warnings)
	for i, w := range d.warnings {
		w.what.Line = lines[i]
		warnings = append(warnings, w.what)
	}
	slices.SortStableFunc(warnings, warningsByLine)
	if d.moreOdd > 0 {
		warnings = append(warnings, Warning{Code: "more-odd", File: d.file, Text: words.Count(d.moreOdd, "more odd value", "more odd values"), Count: d.moreOdd})
	}
	if len(faults) == 0 {
		return warnings, nil
	}
	return warnings, faults
}

// linesOf are the lines of what there is to report.
func linesOf[T InputError | Warning](d *document, list []located[T]) []int {
	if len(list) == 0 {
		return nil
	}
	paths := make([][]string, len(list))
	for i := range list {
		paths[i] = list[i].path
	}
	lines := findLines([][]byte{d.data}, paths)
	for i, path := range paths {
		switch {
		case len(path) == 0:
			lines[i] = d.before + 1
		case lines[i] > 0:
			lines[i] += d.before
		default:
			lines[i] = d.probedLine(path)
		}
	}
	return lines
}

// didYouMean is a guess at what a misspelt word means. The candidates are asked for only if a guess
// is still allowed.
func (d *document) didYouMean(word string, candidates func() []string) string {
	if d.hints++; d.hints > maxHints {
		return ""
	}
	return didYouMean(word, candidates())
}

// unreadable finds what the parser reports badly, or would die of.
func unreadable(data []byte) (InputError, bool) {
	switch {
	case bytes.HasPrefix(data, []byte("\xff\xfe")), bytes.HasPrefix(data, []byte("\xfe\xff")), bytes.IndexByte(data[:min(len(data), 64)], 0) >= 0:
		return InputError{Line: 1, Msg: "the file is not UTF-8 text (it looks like UTF-16 or a binary file); save it as UTF-8"}, true
	case bytes.IndexByte(data, '\r') >= 0 && bytes.IndexByte(data, '\n') < 0:
		return InputError{Line: 1, Msg: "the lines of the file end in a carriage return alone; save it with usual line ends"}, true
	case !utf8.Valid(data):
		at := 0
		for {
			r, size := utf8.DecodeRune(data[at:])
			if r == utf8.RuneError && size == 1 {
				break
			}
			at += size
		}
		return InputError{
			Line: 1 + bytes.Count(data[:at], []byte("\n")), Value: fmt.Sprintf("byte 0x%02x", data[at]),
			Msg: "is not UTF-8; save the file as UTF-8",
		}, true
	}
	return InputError{}, false
}

// syntaxFault says in a pilot's words what keeps a text from being TOML. Its line is that in the
// document's data.
func (d *document) syntaxFault(err error) InputError {
	data := d.data
	parsed, ok := errors.AsType[toml.ParseError](err)
	if !ok {
		return InputError{Msg: "not valid TOML", Hint: words.Printable(err.Error())}
	}
	fault := InputError{Line: max(1, parsed.Position.Line)}
	if key, twice := strings.CutSuffix(parsed.Message, "' has already been defined."); twice {
		return d.duplicateFault(fault, strings.TrimPrefix(key, "Key '"))
	}
	if f, foreign := foreignFormat(data); foreign {
		f.Line = fault.Line
		return f
	}
	if strings.Contains(parsed.Message, "end table name") && strings.HasSuffix(parsed.Message, `'\n' instead`) && fault.Line > 1 {
		fault.Line-- // the parser has taken the line break already
	}
	fault.Msg = "not valid TOML: " + words.Printable(shortened(parsed.Message))
	fault.Hint = syntaxHint(parsed.Message, lineText(data, fault.Line))
	return fault
}

// shortened is the beginning of a message that quotes a very long value.
func shortened(message string) string {
	const most = 200
	if utf8.RuneCountInString(message) <= most {
		return message
	}
	return string([]rune(message)[:most]) + "..."
}

// duplicateFault says that a key or an id is there twice, and where it is first.
func (d *document) duplicateFault(fault InputError, key string) InputError {
	fault.Field = words.Printable(key)
	first := ""
	if line := d.firstLine(key, lineStart(d.data, fault.Line)); line > 0 {
		first = fmt.Sprintf(" (first in line %d)", d.before+line)
	}
	fault.Msg = "is here a second time" + first
	switch strings.Count(key, ".") {
	case 0:
		fault.Hint = "write it once"
	default:
		if strings.HasPrefix(lineText(d.data, fault.Line), "[") {
			fault.Hint = "an id is a key, so a second record with the same id in one file is an error: give it another id or remove it"
		} else {
			fault.Hint = "a field is given once: remove one of the two"
		}
	}
	return fault
}

// firstLine is the line of data on which a key stands that the parser names, before a place; 0 where it is not known.
func (d *document) firstLine(key string, before int) int {
	above := d.piece(d.data[:before], 0)
	if !strings.Contains(key, `"`) {
		if line := findLines([][]byte{above.data}, [][]string{strings.Split(key, ".")})[0]; line > 0 {
			return line
		}
	}
	if _, err := parseWhole(above.data); err == nil && above.index() {
		for _, k := range above.meta.Keys() {
			if k.String() == key {
				return above.position(k)
			}
		}
	}
	return 0
}

const tomlHint = "the file should have lines of [table] and field = value; `allup new` writes an example"

// foreignFormat recognises files that are no TOML at all.
func foreignFormat(data []byte) (InputError, bool) {
	text := bytes.TrimSpace(data)
	first, _, _ := bytes.Cut(text, []byte("\n"))
	switch {
	case bytes.HasPrefix(text, []byte("{")), bytes.HasPrefix(text, []byte(`[{`)), bytes.HasPrefix(text, []byte("[\n")):
		return InputError{Msg: "not valid TOML: this looks like JSON", Hint: tomlHint}, true
	case bytes.HasPrefix(text, []byte("<")):
		return InputError{Msg: "not valid TOML: this looks like HTML or XML", Hint: tomlHint}, true
	case !bytes.ContainsAny(first, "=[#") && (bytes.Count(first, []byte(",")) > 1 || bytes.Count(first, []byte(";")) > 1 || bytes.Count(first, []byte("\t")) > 1):
		return InputError{Msg: "not valid TOML: this looks like a CSV table", Hint: tomlHint}, true
	}
	return InputError{}, false
}

// syntaxHint guesses the slip behind a syntax fault from its text and its line.
func syntaxHint(message, line string) string {
	_, value, assigned := strings.Cut(line, "=")
	value = strings.TrimSpace(value)
	switch {
	case strings.Contains(message, "is out of range for"):
		return "no number of an aircraft is that large"
	case strings.Contains(message, "control characters"):
		return "remove the character, which most editors do not show"
	case strings.Contains(message, "end table name"):
		return "a table name stands in brackets: [gear.buzzer]"
	case strings.Contains(message, "array terminator"):
		return "a list is not closed, or a comma is missing in it"
	case strings.Contains(message, "hexadecimal digits"), strings.Contains(message, "invalid escape"):
		return `a \ in a text begins a code: write \\ for it`
	case strings.Contains(message, "but got ','") && assigned:
		return "write decimals with a point: 31.9, not 31,9"
	case strings.Contains(message, "unexpected EOF"), strings.Contains(message, "unterminated"), strings.Contains(message, "strings cannot contain newlines"):
		return "a quote or a bracket is not closed"
	case assigned && value == "":
		return "a value is missing behind the ="
	case assigned && (value[0] == '.' || strings.HasPrefix(value, "-.")):
		return "write a digit before the point: 0.5, not .5"
	case assigned && (value[0] >= 'a' && value[0] <= 'z' || value[0] >= 'A' && value[0] <= 'Z'):
		return `texts and ids stand in quotes: "lark-35"`
	case assigned && value[0] >= '0' && value[0] <= '9':
		return "a number stands alone: the unit is in the name of the field"
	case !assigned && !strings.HasPrefix(line, "["):
		return "a line is a [table], or a field with = and its value"
	}
	return ""
}

// lineStart is the offset of a line, counted from 1.
func lineStart(data []byte, line int) int {
	at := 0
	for ; line > 1; line-- {
		end := bytes.IndexByte(data[at:], '\n')
		if end < 0 {
			return len(data)
		}
		at += end + 1
	}
	return at
}

// lineText is a line without the blanks around it.
func lineText(data []byte, line int) string {
	text, _, _ := bytes.Cut(data[lineStart(data, line):], []byte("\n"))
	return string(bytes.TrimSpace(text))
}
