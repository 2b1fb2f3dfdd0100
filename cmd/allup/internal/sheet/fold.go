package sheet

import (
	"slices"
	"strings"

	"github.com/clipperhouse/displaywidth"
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
	for _, word := range unbreakable(text) {
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

// unbreakable splits text at spaces and joins each number with its unit again.
func unbreakable(text string) []string {
	units := []string{"g", "mm", "in", "m", "V", "A", "W", "Wh", "mAh", "min", "s", "%", "C", "g0", "rpm"}
	var out []string
	for _, w := range strings.Fields(text) {
		if n := len(out); n > 0 && endsInDigit(out[n-1]) && slices.Contains(units, strings.TrimRight(w, ".,;:)")) {
			out[n-1] += " " + w
			continue
		}
		out = append(out, w)
	}
	return out
}

func endsInDigit(s string) bool {
	last := s[len(s)-1]
	return last >= '0' && last <= '9'
}
