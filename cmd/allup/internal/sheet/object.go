package sheet

import (
	"bytes"
	"encoding/json"
)

// Object is a JSON object whose keys keep their order.
type Object []Member

// Member is one key of an [Object] with its value, nil for null.
type Member struct {
	Key   string
	Value any
}

// With appends a member.
func (o Object) With(key string, value any) Object { return append(o, Member{key, value}) }

// Members are the figures of a subject as members of an object: unrounded, null where they are not known.
func Members[T any](figures []Figure[T], of T) Object {
	var o Object
	for _, f := range figures {
		m := Member{Key: f.Key}
		if v, ok := f.Of(of); ok {
			m.Value = v
		}
		o = append(o, m)
	}
	return o
}

// MarshalJSON writes the members in their order, and null for no object. Names may hold <, > and &; they stay readable.
func (o Object) MarshalJSON() ([]byte, error) {
	if o == nil {
		return []byte("null"), nil
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	b.WriteByte('{')
	for i, m := range o {
		if i > 0 {
			b.WriteByte(',')
		}
		if err := e.Encode(m.Key); err != nil {
			return nil, err
		}
		b.WriteByte(':')
		if err := e.Encode(m.Value); err != nil {
			return nil, err
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}
