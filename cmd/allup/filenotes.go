package main

import (
	"bytes"
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
		switch {
		case slices.Contains(a.odd, w):
		case len(a.odd) < most:
			a.odd = append(a.odd, w)
		default:
			a.moreOdd += max(1, w.Count)
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
			notes = append(notes, a.moreThan(i)+".")
			break
		}
		notes = append(notes, "Odd in a file: "+words.Clean(w.String()))
	}
	return notes
}

// moreThan counts what is odd in the files beyond the first few.
func (a *app) moreThan(few int) string {
	return words.Count(a.moreOdd+catalog.CountWarnings(a.odd[few:]), "more odd value in the files", "more odd values in the files")
}

// warningsKey is the column of CSV with the warnings about a row.
const warningsKey = "warnings"

// withWarnings is a screen whose sheet says what there is to warn of, in a column of warnings and, where
// something is odd in the files, in one of that. What is about no row in particular stands on the first.
func (a *app) withWarnings(s sheet.Screen) sheet.Screen {
	t := s.Sheet
	if t == nil && len(s.Tables) > 0 {
		t = s.Tables[0]
	}
	if t == nil || len(t.Rows) == 0 {
		return s
	}
	if s.Warnings != nil {
		texts := make([]string, len(t.Rows))
		texts[0] = strings.Join(s.Warnings, "; ")
		t = withTexts(t, warningsKey, texts)
	}
	if len(a.odd) > 0 {
		t = withTexts(t, "file_notes", a.oddByRow(t))
	}
	s.Sheet = t
	return s
}

// withTexts is a table with a text more on each row, in a column that it has or gets.
func withTexts(t *sheet.Table, key string, texts []string) *sheet.Table {
	at := slices.IndexFunc(t.Columns, func(c sheet.Column) bool { return c.Key == key })
	out := &sheet.Table{Title: t.Title, Columns: slices.Clone(t.Columns)}
	if at < 0 {
		at = len(out.Columns)
		out.Columns = append(out.Columns, sheet.Column{Head: strings.ReplaceAll(key, "_", " "), Key: key, Left: true})
	}
	out.Rows = slices.Clone(t.Rows)
	for i, row := range t.Rows {
		switch {
		case len(row) < len(out.Columns):
			out.Rows[i] = append(row[:len(row):len(row)], sheet.Word(texts[i]))
		case texts[i] != "": // of very many rows few have one
			row = slices.Clone(row)
			both := []string{texts[i], row[at].Text}
			row[at] = sheet.Word(strings.Join(slices.DeleteFunc(both, func(s string) bool { return s == "" || s == "-" }), "; "))
			out.Rows[i] = row
		}
	}
	return out
}

// oddByRow is what is odd in the files about the parts that each row names.
func (a *app) oddByRow(t *sheet.Table) []string {
	named := []string{"id", "pack", "frame", "motor", "prop", "board", "gear", "refused"}
	about := make([][]string, len(t.Rows))
	for i, w := range a.odd {
		if i == mostWarnings {
			about[0] = append(about[0], a.moreThan(i))
			break
		}
		placed := false
		for n, row := range t.Rows {
			for k, c := range t.Columns {
				if !slices.Contains(named, c.Key) {
					continue
				}
				if slices.ContainsFunc(strings.Fields(row[k].Text), func(id string) bool { return strings.Contains(w.Field+".", "."+id+".") }) {
					about[n], placed = append(about[n], w.String()), true
					break
				}
			}
		}
		if !placed {
			about[0] = append(about[0], w.String())
		}
	}
	texts := make([]string, len(about))
	for n := range about {
		texts[n] = strings.Join(about[n], "; ")
	}
	return texts
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
	if a.moreOdd > 0 {
		list = append(list, jsonFileWarning{Code: "more-odd", Text: words.Count(a.moreOdd, "more odd value", "more odd values")})
	}
	var more bytes.Buffer
	if err := sheet.WriteJSON(&more, map[string]any{"file_warnings": list}); err != nil {
		return err
	}
	_, err := t.over.Write(append([]byte(","), bytes.TrimPrefix(more.Bytes(), []byte("{"))...))
	return err
}
