package main

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"

	"allup/catalog"
	"allup/cmd/allup/internal/sheet"
	"allup/model/words"
)

// mostWarnings is as many of what is odd in files as anybody reads.
const mostWarnings = 20

// keepOdd keeps what is odd in the files for the answer, each once: a page that follows its files reads them often.
func (a *app) keepOdd(warnings []catalog.Warning) {
	const most = 1000 // a file with more has one mistake throughout
	for _, w := range warnings {
		if len(a.odd) < most && !slices.Contains(a.odd, w) {
			a.odd = append(a.odd, w)
		}
	}
}

// shownInAnswer reports whether a reader of standard error sees the answer and its notes as well.
func (a *app) shownInAnswer() bool {
	return a.format == formatTable && a.outFile == "" && a.outTerminal
}

// oddNotes are what is odd in the files that the answer is made from.
func (a *app) oddNotes() []string {
	var notes []string
	for i, w := range a.odd {
		if i == mostWarnings {
			notes = append(notes, fmt.Sprintf("%d more odd values in the files.", len(a.odd)-mostWarnings))
			break
		}
		notes = append(notes, "Odd in a file: "+words.Clean(w.String()))
	}
	return notes
}

// withFileNotes is a screen whose sheet has a column of what is odd in the files about the pack or part of each row.
func (a *app) withFileNotes(s sheet.Screen) sheet.Screen {
	t := s.Sheet
	if t == nil && len(s.Tables) > 0 {
		t = s.Tables[0]
	}
	if t == nil || len(a.odd) == 0 {
		return s
	}
	at := slices.IndexFunc(t.Columns, func(c sheet.Column) bool { return c.Key == "pack" || c.Key == "id" })
	if at < 0 {
		return s
	}
	noted := &sheet.Table{Title: t.Title, Columns: append(slices.Clone(t.Columns), sheet.Column{Head: "file notes", Key: "file_notes", Left: true})}
	for _, row := range t.Rows {
		var about []string
		for _, w := range a.odd {
			if strings.Contains(w.Field+".", "."+row[at].Text+".") {
				about = append(about, w.String())
			}
		}
		noted.Add(append(slices.Clone(row), sheet.Word(strings.Join(about, "; ")))...)
	}
	s.Sheet = noted
	return s
}

type jsonFileWarning struct {
	Code  string `json:"code"`
	File  string `json:"file"`
	Line  int    `json:"line"`
	Field string `json:"field"`
	Text  string `json:"text"`
}

// endOfObject is how an answer in JSON ends that is an object.
const endOfObject = "\n}\n"

// tail sends on what is written to it but for the last few bytes.
type tail struct {
	over io.Writer
	held []byte
}

func (t *tail) Write(p []byte) (int, error) {
	t.held = append(t.held, p...)
	if n := len(t.held) - len(endOfObject); n > 0 {
		if _, err := t.over.Write(t.held[:n]); err != nil {
			return 0, err
		}
		t.held = append(t.held[:0], t.held[n:]...)
	}
	return len(p), nil
}

// endJSON adds what is odd in the files to an answer that is an object, and ends it.
func (a *app) endJSON(t *tail) error {
	if len(a.odd) == 0 || string(t.held) != endOfObject {
		_, err := t.over.Write(t.held)
		return err
	}
	list := []jsonFileWarning{}
	for _, w := range a.odd {
		list = append(list, jsonFileWarning{w.Code, w.File, w.Line, w.Field, w.Text})
	}
	var more bytes.Buffer
	if err := sheet.WriteJSON(&more, map[string]any{"file_warnings": list}); err != nil {
		return err
	}
	_, err := t.over.Write(append([]byte(","), bytes.TrimPrefix(more.Bytes(), []byte("{"))...))
	return err
}
