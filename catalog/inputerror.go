package catalog

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"allup/model/words"
)

// InputError is one fault in what the user wrote: where, what was found and what is
// allowed. Its texts may hold what a file had; Error escapes what a screen may not show.
type InputError struct {
	File string // as the user named it; "" for an argument of the command line
	Line int    // 1 is the first; 0 where it is not known

	// Field is the dotted path of the field, "motor.wick.kv". Elements of a list
	// count from 1: "flight.phases[2].seconds" is in the second phase.
	Field   string
	Value   string // what was found, as it would be written in the file; "" where nothing was
	Msg     string // what is wrong with it
	Allowed string // what would be right; "" where Msg says all
	Hint    string // what was probably meant; "" where there is no guess
	Count   int    // of faults that this one stands for, where it is several; 0 for one
}

// missing is what is wrong with a required field that is not there.
const missing = "missing"

// Error is the fault in one line: file:line: field: value msg; allowed: ...; hint.
func (e InputError) Error() string {
	var b strings.Builder
	if e.File != "" {
		b.WriteString(e.File)
		if e.Line > 0 {
			b.WriteString(":" + strconv.Itoa(e.Line))
		}
		b.WriteString(": ")
	}
	if e.Field != "" {
		b.WriteString(e.Field + ": ")
	}
	if e.Value != "" {
		b.WriteString(e.Value + " ")
	}
	b.WriteString(e.Msg)
	next := "; "
	if strings.HasSuffix(e.Msg, "?") {
		next = " "
	}
	switch {
	case e.Allowed != "" && e.Msg == missing:
		b.WriteString(next + "needed: " + e.Allowed)
	case e.Allowed != "":
		b.WriteString(next + "allowed: " + e.Allowed)
	}
	if e.Hint != "" {
		b.WriteString("; " + e.Hint)
	}
	return words.Printable(b.String())
}

// InputErrors are all faults found, file by file in reading order, each file's by line. Of a file
// with very many, the last one says how many were left out.
type InputErrors []InputError

// maxListed is how many faults Error lists: more than that and something more
// basic than the fields is wrong.
const maxListed = 50

// Error lists the faults one a line, at most 50 of them, and says how many follow.
func (es InputErrors) Error() string {
	var b strings.Builder
	for i, e := range es {
		if i == maxListed {
			fmt.Fprintf(&b, "\nand %d more", es[i:].Count())
			break
		}
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(e.Error())
	}
	return b.String()
}

// Count is how many faults there are, those that are only counted among them.
func (es InputErrors) Count() int {
	n := 0
	for _, e := range es {
		n += max(1, e.Count)
	}
	return n
}

// Unwrap gives [errors.As] each fault.
func (es InputErrors) Unwrap() []error {
	errs := make([]error, len(es))
	for i, e := range es {
		errs[i] = e
	}
	return errs
}

// Warning is something odd in a file that is still usable, as data to show.
type Warning struct {
	Code  string // "odd-value", "odd-energy", ...: stable, for programs
	File  string
	Line  int // 0 where it is not known
	Field string
	Text  string
	Count int // of oddities that this one stands for, where it is several; 0 for one
}

// CountWarnings is how many oddities there are, those that are only counted among them.
func CountWarnings(list []Warning) int {
	n := 0
	for _, w := range list {
		n += max(1, w.Count)
	}
	return n
}

// String is the warning in one line: file:line: field: text.
func (w Warning) String() string {
	return InputError{File: w.File, Line: w.Line, Field: w.Field, Msg: w.Text}.Error()
}

// byLine orders faults of one file; those whose line is not known come last.
func byLine(a, b InputError) int {
	return cmp.Or(compareLines(a.Line, b.Line), cmp.Compare(a.Field, b.Field), cmp.Compare(a.Msg, b.Msg))
}

func warningsByLine(a, b Warning) int {
	return cmp.Or(compareLines(a.Line, b.Line), cmp.Compare(a.Field, b.Field), cmp.Compare(a.Code, b.Code))
}

func compareLines(a, b int) int {
	// Unsigned, 0-1 is the greatest number there is.
	return cmp.Compare(uint(a)-1, uint(b)-1)
}

// maxShown is how many characters of a value an error quotes.
const maxShown = 60

// show writes a value of the parser as it would stand in a file, on one line.
func show(value any) string {
	switch v := value.(type) {
	case string:
		return quote(v)
	case int64:
		return strconv.FormatInt(v, 10)
	case float64:
		return showNumber(v)
	case bool:
		return strconv.FormatBool(v)
	case time.Time:
		if isLocalDate(v) {
			return v.Format(time.DateOnly)
		}
		return v.Format(time.RFC3339)
	case []any:
		return "a list"
	case []map[string]any:
		return "a list of tables"
	case map[string]any:
		return "a table"
	}
	return "the value"
}

// isLocalDate reports whether the parser read a date without a time: it gives those
// a location of this name.
func isLocalDate(t time.Time) bool { return t.Location().String() == "date-local" }

// quote puts text in quotes, on one line, shortened, with nothing in it that a terminal would obey.
func quote(text string) string {
	if utf8.RuneCountInString(text) <= maxShown {
		return strconv.Quote(text)
	}
	return strconv.Quote(string([]rune(text)[:maxShown])) + "..."
}

func showNumber(v float64) string {
	switch {
	case math.IsNaN(v):
		return "nan"
	case math.IsInf(v, 0):
		return strings.ToLower(strconv.FormatFloat(v, 'g', -1, 64))
	case math.Abs(v) >= 1e9 || v != 0 && math.Abs(v) < 1e-4:
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// showKey is one piece of a field path, quoted where it is not a plain key.
func showKey(key string) string {
	plain := key != "" && len(key) <= maxShown && !strings.ContainsFunc(key, func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '_' || r == '-')
	})
	if plain {
		return key
	}
	return quote(key)
}

// join lists names with commas, sorted; a long list is shortened.
func join(names []string) string {
	const most = 24
	names = slices.Sorted(slices.Values(names))
	if len(names) > most {
		return strings.Join(names[:most], ", ") + ", ..."
	}
	return strings.Join(names, ", ")
}
