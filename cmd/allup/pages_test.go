package main

import (
	"bytes"
	"errors"
	"slices"
	"testing"
)

// TestPages: what is written comes out whole and in order, and no more than a bound of it is kept where it can
// be sent on.
func TestPages(t *testing.T) {
	var want, out bytes.Buffer
	kept, sent := pages{}, pages{over: &out}
	for i := range 300 {
		text := bytes.Repeat([]byte{byte('a' + i%26)}, 700_000+i)
		want.Write(text)
		for _, p := range []*pages{&kept, &sent} {
			if n, err := p.Write(text); n != len(text) || err != nil {
				t.Fatalf("Write = %d, %v, want %d", n, err, len(text))
			}
		}
		if len(sent.list) > mostPages {
			t.Fatalf("%d pages are kept, want %d at most", len(sent.list), mostPages)
		}
		if i < 60 && out.Len() > 0 {
			t.Fatalf("an answer of %d bytes is sent on before it is whole", want.Len())
		}
	}
	if err := sent.flush(); err != nil || !bytes.Equal(out.Bytes(), want.Bytes()) {
		t.Errorf("%d bytes of %d came out, or others: %v", out.Len(), want.Len(), err)
	}
	if got := slices.Concat(kept.list...); !bytes.Equal(got, want.Bytes()) {
		t.Errorf("%d bytes of %d are kept, or others", len(got), want.Len())
	}
	full := errors.New("the disk is full")
	failing := pages{over: writerFunc(func([]byte) (int, error) { return 0, full })}
	var err error
	for i := 0; err == nil && i < 200; i++ {
		_, err = failing.Write(make([]byte, pageSize))
	}
	if !errors.Is(err, full) {
		t.Errorf("a write that fails gives %v", err)
	}
}

type writerFunc func([]byte) (int, error)

func (f writerFunc) Write(p []byte) (int, error) { return f(p) }
