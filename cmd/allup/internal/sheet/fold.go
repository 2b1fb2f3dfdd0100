package sheet

import (
	"github.com/clipperhouse/displaywidth"

	"allup/model/words"
)

// width is how many columns of a terminal a text takes: two for a wide character, none for a combining one. It is
// the sum that the table library pads by, on any machine: what is wide only in East Asian fonts counts as narrow.
func width(text string) (columns int) {
	for _, r := range text {
		columns += displaywidth.Options{}.Rune(r)
	}
	return columns
}

// cut splits a text behind as many whole characters as fit in the given columns, and behind one at least.
func cut(text string, columns int) (head, tail string) {
	at := 0
	for characters := (displaywidth.Options{}).StringGraphemes(text); characters.Next(); {
		next := characters.Value()
		if at > 0 && width(text[:at+len(next)]) > columns {
			break
		}
		at += len(next)
	}
	return text[:at], text[at:]
}

// Fold breaks text into lines of at most the given columns; see [Viewer.Text], which folds the same way.
func Fold(text string, columns int) []string { return fold(text, columns) }

// fold breaks text into lines of at most the given columns, at spaces where it can, but not between a number and
// its unit. Columns of 0 do not break.
func fold(text string, columns int) []string {
	if columns <= 0 || width(text) <= columns {
		return []string{text}
	}
	var lines []string
	line := ""
	for _, word := range words.Unbroken(text, " ") {
		switch {
		case line == "":
			line = word
		case width(line)+1+width(word) > columns:
			lines = append(lines, line)
			line = word
		default:
			line += " " + word
		}
		for width(line) > columns {
			head, tail := cut(line, columns)
			if tail == "" {
				break
			}
			lines = append(lines, head)
			line = tail
		}
	}
	return append(lines, line)
}

// foldCommand breaks the words of a command into lines of at most the given columns, of which a shell reads the next
// where one ends: each but the last ends with a backslash. A word is never broken, however long. Columns of 0 do not
// break.
func foldCommand(said []string, columns int) []string {
	const more = ` \`
	var lines []string
	line := ""
	for i, word := range said {
		room := columns
		if i < len(said)-1 {
			room -= len(more)
		}
		switch {
		case line == "":
			line = word
		case columns > 0 && width(line)+1+width(word) > room:
			lines = append(lines, line+more)
			line = word
		default:
			line += " " + word
		}
	}
	if line == "" {
		return lines
	}
	return append(lines, line)
}
