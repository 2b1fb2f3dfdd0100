package sheet

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"reflect"
	"unicode/utf16"

	"allup/model/words"
)

// List is a JSON array whose elements are made as they are written: all at once a large catalogue's
// would fill the memory.
type List struct {
	Len int
	At  func(i int) any
}

// MarshalJSON makes all elements.
func (l List) MarshalJSON() ([]byte, error) {
	all := make([]any, l.Len)
	for i := range all {
		all[i] = l.At(i)
	}
	return marshal(all)
}

// WriteJSON writes an answer as indented JSON, as [json.Encoder] would, but piece by piece. Names
// may hold <, > and &; they stay readable. An error is that of a value which JSON has no form for,
// or the writer's.
func WriteJSON(w io.Writer, v any) error {
	if err := writeJSON(w, reflect.ValueOf(v), "\n"); err != nil {
		return err
	}
	_, err := io.WriteString(w, "\n")
	return err
}

const jsonIndent = "  "

// writeJSON writes a value; each line after the first begins with next.
func writeJSON(w io.Writer, v reflect.Value, next string) error {
	if v.Kind() == reflect.Interface && !v.IsNil() {
		v = v.Elem()
	}
	if v.IsValid() && v.CanInterface() {
		if l, ok := v.Interface().(List); ok {
			return writeArray(w, l.Len, func(i int) reflect.Value { return reflect.ValueOf(l.At(i)) }, next)
		}
	}
	switch {
	case !v.IsValid() || v.Type().Implements(reflect.TypeFor[json.Marshaler]()):
	case v.Kind() == reflect.Slice && !v.IsNil() && v.Type().Elem().Kind() == reflect.Struct:
		return writeArray(w, v.Len(), v.Index, next)
	case v.Kind() == reflect.Struct && plainFields(v.Type()):
		return writeObject(w, v, next)
	}
	return writeWhole(w, v, next)
}

// writeWhole writes a value that is not large.
func writeWhole(w io.Writer, v reflect.Value, next string) error {
	var value any
	if v.IsValid() {
		value = v.Interface()
	}
	compact, err := marshal(value)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := json.Indent(&b, compact, next[1:], jsonIndent); err != nil {
		return err
	}
	_, err = w.Write(b.Bytes())
	return err
}

func writeArray(w io.Writer, n int, at func(int) reflect.Value, next string) error {
	if n == 0 {
		_, err := io.WriteString(w, "[]")
		return err
	}
	for i := range n {
		before := ","
		if i == 0 {
			before = "["
		}
		if _, err := io.WriteString(w, before+next+jsonIndent); err != nil {
			return err
		}
		if err := writeJSON(w, at(i), next+jsonIndent); err != nil {
			return err
		}
	}
	_, err := io.WriteString(w, next+"]")
	return err
}

func writeObject(w io.Writer, v reflect.Value, next string) error {
	for i := range v.NumField() {
		before := ","
		if i == 0 {
			before = "{"
		}
		name, err := marshal(v.Type().Field(i).Tag.Get("json"))
		if err != nil {
			return err
		}
		if _, err := io.WriteString(w, before+next+jsonIndent+string(name)+": "); err != nil {
			return err
		}
		if err := writeJSON(w, v.Field(i), next+jsonIndent); err != nil {
			return err
		}
	}
	_, err := io.WriteString(w, next+"}")
	return err
}

// plainFields reports whether every field of a type has a key and nothing else in its tag.
func plainFields(t reflect.Type) bool {
	for i := range t.NumField() {
		f := t.Field(i)
		if key := f.Tag.Get("json"); !f.IsExported() || f.Anonymous || key == "" || bytes.ContainsAny([]byte(key), ",-") {
			return false
		}
	}
	return t.NumField() > 0
}

// marshal is a value in compact JSON.
func marshal(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return unsteered(bytes.TrimRight(b.Bytes(), "\n")), nil
}

// unsteered is JSON in which what [words.Steers] is written by its number: the same text for a
// program, and nothing that a terminal obeys.
func unsteered(text []byte) []byte {
	if !bytes.ContainsFunc(text, words.Steers) {
		return text
	}
	var b bytes.Buffer
	for _, r := range string(text) {
		if !words.Steers(r) {
			b.WriteRune(r)
			continue
		}
		for _, u := range utf16.Encode([]rune{r}) {
			fmt.Fprintf(&b, `\u%04x`, u)
		}
	}
	return b.Bytes()
}
