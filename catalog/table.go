package catalog

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"allup/model/words"
)

// table is one table of a file while it is being read. A reader asks for every
// field that the table may have and then calls done, which reports the fields that
// were not asked for. Values that are missing or refused read as zero.
type table struct {
	doc    *document
	parent *table
	key    string // the name that the parent has it under
	index  int    // its place in the parent's list of that name, from 1; 0 where there is no list
	values map[string]any

	asked   []string
	found   int
	missing []InputError // of required fields, by name in Field
}

// lookUp is the value of a field, which it marks as known.
func (t *table) lookUp(key string) (any, bool) {
	if t.asked == nil {
		if n := len(t.doc.spare); n > 0 {
			t.asked, t.doc.spare = t.doc.spare[n-1][:0], t.doc.spare[:n-1]
		} else {
			t.asked = make([]string, 0, 32)
		}
	}
	t.asked = append(t.asked, key)
	v, ok := t.values[key]
	if ok {
		t.found++
	}
	return v, ok
}

// has reports whether the file gives a field, without asking for it.
func (t *table) has(key string) bool {
	_, ok := t.values[key]
	return ok
}

// done reports every field that nobody asked for, and every required one that is
// not there unless it is only misspelt.
func (t *table) done() {
	if t.found < len(t.values) {
		t.reportUnknown()
	}
	for _, m := range t.missing {
		t.faultOf("", m.Field, 0, m)
	}
	t.doc.spare = append(t.doc.spare, t.asked)
	t.asked, t.missing = nil, nil
}

// maxUnknown is how many unknown fields of one table are reported each by itself, with a guess at what was
// meant: a table with more of them is of something else.
const maxUnknown = 20

func (t *table) reportUnknown() {
	var unknown []string
	for key := range t.values {
		if !slices.Contains(t.asked, key) {
			unknown = append(unknown, key)
		}
	}
	slices.Sort(unknown) // the same ones are reported each time
	for i, key := range unknown {
		if i == maxUnknown && len(unknown) > maxUnknown+1 {
			n := len(unknown) - i
			t.faultOf(key, "", 0, InputError{Msg: strconv.Itoa(n) + " more unknown fields", Count: n})
			break
		}
		t.reportUnknownField(key)
	}
}

func (t *table) reportUnknownField(key string) {
	fault := InputError{Msg: "unknown field"}
	if isTable(t.values[key]) {
		fault.Msg = "unknown table"
	}
	near := cmp.Or(nearest(key, t.unused()), nearest(key, t.asked))
	switch near {
	case "":
		fault.Allowed = join(t.asked)
	case strings.ToLower(key):
		fault.Hint = `names of fields are lower case: did you mean "` + near + `"?`
	default:
		fault.Hint = `did you mean "` + near + `"?`
	}
	if near != "" {
		t.missing = slices.DeleteFunc(t.missing, func(m InputError) bool { return m.Field == near })
	}
	t.fault(key, fault)
}

// unused lists the known fields that the file does not give.
func (t *table) unused() []string {
	return slices.DeleteFunc(slices.Clone(t.asked), t.has)
}

// lack reports a required field that is not there; text says what it should be.
func (t *table) lack(key, text string) {
	t.missing = append(t.missing, InputError{Field: key, Msg: missing, Allowed: text})
}

// fault reports what is wrong with a field, or with the table itself where key is "".
func (t *table) fault(key string, e InputError) { t.faultAt(key, 0, e) }

// faultAt is fault for an element of a list, counted from 1.
func (t *table) faultAt(key string, index int, e InputError) { t.faultOf(key, key, index, e) }

// faultOf is faultAt where the place in the file is that of another key than the one that is named.
func (t *table) faultOf(at, key string, index int, e InputError) {
	if len(t.doc.faults) >= maxKept {
		t.doc.more += max(1, e.Count)
		return
	}
	e.File = t.doc.file
	e.Field = t.field(key, index)
	t.doc.faults = append(t.doc.faults, located[InputError]{what: e, path: t.path(at)})
}

// odd reports a value that is usable but strange.
func (t *table) odd(code, key string, index int, text string) {
	if len(t.doc.warnings) >= maxKept {
		t.doc.moreOdd++
		return
	}
	w := Warning{Code: code, File: t.doc.file, Field: t.field(key, index), Text: text}
	t.doc.warnings = append(t.doc.warnings, located[Warning]{what: w, path: t.path(key)})
}

// field is the dotted name of a field for people.
func (t *table) field(key string, index int) string {
	var b strings.Builder
	if t.parent != nil {
		b.WriteString(t.parent.field(t.key, t.index))
	}
	if key != "" {
		if b.Len() > 0 {
			b.WriteByte('.')
		}
		b.WriteString(showKey(key))
	}
	if index > 0 {
		b.WriteString("[" + strconv.Itoa(index) + "]")
	}
	return b.String()
}

// path is the way to a field for the parser, which knows no positions inside lists:
// it ends at the first one.
func (t *table) path(key string) []string {
	var path []string
	if key != "" {
		path = append(path, key)
	}
	for ; t.parent != nil; t = t.parent {
		if t.index > 0 {
			path = path[:0]
		}
		path = append(path, t.key)
	}
	slices.Reverse(path)
	return path
}

// number reads a number; ok is false where there is none that can be used.
func (t *table) number(key string, w want) (v float64, ok bool) {
	value, there := t.lookUp(key)
	if !there {
		if w.needed {
			t.lack(key, w.kind()+", "+w.String())
		}
		return 0, false
	}
	return t.checkNumber(key, 0, value, w)
}

func (t *table) checkNumber(key string, index int, value any, w want) (v float64, ok bool) {
	switch n := value.(type) {
	case int64:
		v = float64(n)
	case float64:
		v = n
	default:
		hint := ""
		if text, isText := value.(string); isText {
			if _, err := strconv.ParseFloat(text, 64); err == nil {
				hint = "write it without quotes"
			}
		}
		t.faultAt(key, index, InputError{Value: show(value), Msg: "is not " + w.kind(), Allowed: w.String(), Hint: hint})
		return 0, false
	}
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		t.faultAt(key, index, InputError{Value: showNumber(v), Msg: "is not a number to work with", Allowed: w.String()})
		return 0, false
	case w.whole && v != math.Trunc(v):
		t.faultAt(key, index, InputError{Value: showNumber(v), Msg: "is not a whole number", Allowed: w.String()})
		return 0, false
	case !w.allows(v):
		t.faultAt(key, index, InputError{Value: show(value), Msg: "is out of range", Allowed: w.String(), Hint: w.slip(v)})
		return 0, false
	case w.high > 0 && (v < w.low || v > w.high):
		t.oddNumber(key, index, v, w)
	}
	return v, true
}

func (t *table) oddNumber(key string, index int, v float64, w want) {
	text := showNumber(v)
	if w.unit != "" {
		text += " " + w.unit
	}
	text += " is unusual (" + showNumber(w.low) + " to " + showNumber(w.high) + " is usual)"
	if guess := w.slip(v); guess != "" {
		text += ": " + guess
	}
	t.odd("odd-value", key, index, text)
}

// count reads a whole number.
func (t *table) count(key string, w want) int {
	w.whole = true
	v, _ := t.number(key, w)
	return int(v)
}

// scaled reads a number in a unit as a quantity.
func scaled[T ~float64](t *table, key string, unit T, w want) T {
	v, _ := t.number(key, w)
	return T(v) * unit
}

// optional reads a number in a unit as a quantity, nil where the file has none.
func optional[T ~float64](t *table, key string, unit T, w want) *T {
	v, ok := t.number(key, w)
	if !ok {
		return nil
	}
	q := T(v) * unit
	return &q
}

// maxText is the longest text that a field may have, in characters.
const maxText = 500

// text reads a text without control characters; "" where there is none that can be used.
func (t *table) text(key string) string {
	value, there := t.lookUp(key)
	if !there {
		return ""
	}
	s, _ := t.checkText(key, 0, value)
	return s
}

// mustText is text for a required field; what says what it should be.
func (t *table) mustText(key, what string) string {
	if !t.has(key) {
		t.lack(key, what)
	}
	return t.text(key)
}

func (t *table) checkText(key string, index int, value any) (string, bool) {
	s, isText := value.(string)
	fault := InputError{Value: show(value)}
	switch {
	case !isText:
		fault.Msg, fault.Allowed = "is not a text", "a text in quotes"
	case strings.TrimSpace(s) == "":
		fault.Msg, fault.Allowed = "is empty", "a text of one character or more"
	case strings.ContainsFunc(s, words.Steers):
		fault.Msg, fault.Allowed = "holds a line break or another control character", "plain text on one line"
	case utf8.RuneCountInString(s) > maxText:
		fault.Msg, fault.Allowed = "is too long", "up to "+strconv.Itoa(maxText)+" characters"
	default:
		return s, true
	}
	t.faultAt(key, index, fault)
	return "", false
}

// flag reads true or false; false where the file has neither.
func (t *table) flag(key string) bool {
	value, there := t.lookUp(key)
	if !there {
		return false
	}
	b, ok := value.(bool)
	if !ok {
		hint := ""
		if s, isText := value.(string); isText && (s == "true" || s == "false") {
			hint = "write it without quotes"
		}
		t.fault(key, InputError{Value: show(value), Msg: "is not true or false", Allowed: "true or false", Hint: hint})
	}
	return b
}

// date reads a day, as TOML writes it or as a text, in the form YYYY-MM-DD.
func (t *table) date(key string) string {
	value, there := t.lookUp(key)
	if !there {
		return ""
	}
	switch v := value.(type) {
	case string:
		if _, err := time.Parse(time.DateOnly, v); err == nil {
			return v
		}
	case time.Time:
		if isLocalDate(v) {
			return v.Format(time.DateOnly)
		}
	}
	t.fault(key, InputError{Value: show(value), Msg: "is not a date", Allowed: "a day of the calendar as YYYY-MM-DD, 2026-05-31"})
	return ""
}

// list reads a list; ok is false where there is none. what says what it should hold.
func (t *table) list(key, what string) (items []any, ok bool) {
	value, there := t.lookUp(key)
	if !there {
		return nil, false
	}
	if items, ok = asList(value); !ok {
		t.fault(key, InputError{Value: show(value), Msg: "is not a list", Allowed: what})
	}
	return items, ok
}

// asList is the parser's list of values or of tables as one type.
func asList(value any) ([]any, bool) {
	switch v := value.(type) {
	case []any:
		return v, true
	case []map[string]any:
		items := make([]any, len(v))
		for i := range v {
			items[i] = v[i]
		}
		return items, true
	}
	return nil, false
}

// child opens a table inside this one; nil where there is none. The reader ends it with done.
func (t *table) child(key string) *table {
	value, there := t.lookUp(key)
	if !there {
		return nil
	}
	return t.open(key, 0, value)
}

// open makes a table of a value; what is no table is a fault and nil.
func (t *table) open(key string, index int, value any) *table {
	m, ok := value.(map[string]any)
	if !ok {
		t.faultAt(key, index, InputError{Value: show(value), Msg: "is not a table", Allowed: "a table [" + t.field(key, 0) + "] or { field = value, ... }"})
		return nil
	}
	return &table{doc: t.doc, parent: t, key: key, index: index, values: m}
}

// children opens each table of a list; what says what one looks like.
func (t *table) children(key, what string) []*table {
	items, _ := t.list(key, "a list of "+what)
	var tables []*table
	for i, item := range items {
		m, ok := item.(map[string]any)
		if !ok {
			t.faultAt(key, i+1, InputError{Value: show(item), Msg: "is not a table", Allowed: what})
			continue
		}
		tables = append(tables, &table{doc: t.doc, parent: t, key: key, index: i + 1, values: m})
	}
	return tables
}

// numbers reads a list of numbers that all have the same range; nil where one of
// them cannot be used.
func (t *table) numbers(key string, w want, what string) []float64 {
	items, ok := t.list(key, what)
	if !ok {
		return nil
	}
	values := make([]float64, len(items))
	good := true
	for i, item := range items {
		v, ok := t.checkNumber(key, i+1, item, w)
		values[i], good = v, good && ok
	}
	if !good {
		return nil
	}
	return values
}

// texts reads one text or a list of them.
func (t *table) texts(key string) []string {
	var texts []string
	for _, p := range t.placedTexts(key) {
		texts = append(texts, p.text)
	}
	return texts
}

// placedText is a text of a list with its place in it, from 1; 0 for a text that stands alone.
type placedText struct {
	text  string
	place int
}

// placedTexts is texts for a reader that has more to say of each.
func (t *table) placedTexts(key string) []placedText {
	value, there := t.lookUp(key)
	if !there {
		return nil
	}
	items, isList := asList(value)
	if !isList {
		if s, ok := t.checkText(key, 0, value); ok {
			return []placedText{{s, 0}}
		}
		return nil
	}
	if len(items) == 0 {
		t.fault(key, InputError{Value: "[]", Msg: "is an empty list", Hint: "leave the field out or name something"})
	}
	var texts []placedText
	for i, item := range items {
		if s, ok := t.checkText(key, i+1, item); ok {
			texts = append(texts, placedText{s, i + 1})
		}
	}
	return texts
}
