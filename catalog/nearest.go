package catalog

import (
	"strings"
	"unicode/utf8"
)

// nearest is the candidate that word most likely means, or "": the one with the
// fewest edits, ties to the first. A candidate that only adds a unit or a size ("mass"
// for "mass_g", "lark" for "lark-35") is near however long that is.
func nearest(word string, candidates []string) string {
	if word == "" || len(word) > 2*maxShown {
		return ""
	}
	lower := strings.ToLower(word)
	within := max(1, utf8.RuneCountInString(word)/3) // more edits than that make another word
	best, fewest := "", within+1
	for _, c := range candidates {
		if c == lower {
			return c
		}
		if rest, ok := strings.CutPrefix(c, lower); ok && fewest > 1 && (rest[0] == '_' || rest[0] == '-') {
			best, fewest = c, 1
			continue
		}
		if len(c)-len(lower) >= fewest {
			continue
		}
		if d := editDistance(lower, c); d < fewest {
			best, fewest = c, d
		}
	}
	return best
}

// editDistance is the number of insertions, deletions, substitutions and swaps of
// neighbours that turn a into b (optimal string alignment distance).
func editDistance(a, b string) int {
	s, t := []rune(a), []rune(b)
	older, last, row := make([]int, len(t)+1), make([]int, len(t)+1), make([]int, len(t)+1)
	for j := range row {
		last[j] = j
	}
	for i := 1; i <= len(s); i++ {
		row[0] = i
		for j := 1; j <= len(t); j++ {
			cost := 1
			if s[i-1] == t[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && s[i-1] == t[j-2] && s[i-2] == t[j-1] {
				row[j] = min(row[j], older[j-2]+1)
			}
		}
		older, last, row = last, row, older
	}
	return last[len(t)]
}

// didYouMean is the hint for a misspelt word, "" where nothing is near.
func didYouMean(word string, candidates []string) string {
	if n := nearest(word, candidates); n != "" {
		return `did you mean "` + n + `"?`
	}
	return ""
}
