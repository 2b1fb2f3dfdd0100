package catalog

import "bytes"

// The parser tells the line of a key only by failing at it, which takes a second tree of the text and a
// copy of the text for each. A text that it has taken is simple enough to look for most keys in it
// directly, for all of them at once; what is not found so is left to the parser.

// keyPlace is what a walk over a text finds of a key.
type keyPlace struct {
	at    int  // the line on which it stands, as a header or before its value
	under int  // the line of the first key in it
	list  bool // it is a list of tables with headers of their own
	short bool // its value ends on its line
}

// findLines is the line of each key of a valid TOML text in pieces, by its path; 0 for one that it does not find, as
// in the rest of a piece in which it does not understand a key.
func findLines(text [][]byte, paths [][]string) []int {
	lines := make([]int, len(paths))
	places := make(map[string]*keyPlace, 2*len(paths))
	for _, path := range paths {
		for n := range path {
			places[joinedPath(path[:n+1])] = &keyPlace{}
		}
	}
	line, understood := 1, true
	for _, piece := range text {
		understood = walkKeys(piece, places, line) && understood
		line += bytes.Count(piece, []byte("\n"))
	}
	for i, path := range paths {
		if len(path) == 0 {
			continue
		}
		p := places[joinedPath(path)]
		switch {
		case p.list:
			continue
		case p.at > 0:
			lines[i] = p.at
		case understood: // a header may stand where it was not understood
			lines[i] = p.under
		}
		for n := len(path) - 1; n > 0 && lines[i] == 0; n-- {
			// In a table in braces, on one line.
			if p := places[joinedPath(path[:n])]; p.short {
				lines[i] = p.at
			}
		}
	}
	return lines
}

// endOfPiece ends each piece of a joined path: no key of a file has it unless by an escape.
const endOfPiece = '\x00'

func joinedPath(path []string) string {
	var b []byte
	for _, piece := range path {
		b = append(append(b, piece...), endOfPiece)
	}
	return string(b)
}

// walkKeys notes where the keys of a text stand that places has, which begins at a line. It reports whether it
// understood the whole text.
func walkKeys(data []byte, places map[string]*keyPlace, line int) bool {
	var table, path []byte // joined
	for i := 0; i < len(data); {
		var n int
		var ok bool
		switch data[i] {
		case '\n':
			line++
			i++
		case ' ', '\t', '\r':
			i++
		case '#':
			i = lineEnd(data, i)
		case '[':
			list := bytes.HasPrefix(data[i:], []byte("[["))
			if list {
				i++
			}
			if table, n, ok = dottedKey(data[i+1:], table[:0]); !ok {
				return false
			}
			note(places, table, keyPlace{at: line, list: list})
			i = lineEnd(data, i+1+n)
		default:
			if path, n, ok = dottedKey(data[i:], append(path[:0], table...)); !ok {
				return false
			}
			end := valueEnd(data, i+n)
			breaks := bytes.Count(data[i+n:end], []byte("\n"))
			note(places, path, keyPlace{at: line, short: breaks == 0})
			line += breaks
			i = end
		}
	}
	return true
}

// note notes a key with its place, and that it is in the tables above it.
func note(places map[string]*keyPlace, path []byte, found keyPlace) {
	for end := 0; end < len(path); {
		end += bytes.IndexByte(path[end:], endOfPiece) + 1
		p := places[string(path[:end])]
		switch {
		case p == nil:
		case end < len(path):
			if p.under == 0 {
				p.under = found.at
			}
		default:
			found.under = p.under
			*p = found
		}
	}
}

// dottedKey appends the pieces of the key that begins a text, each with its end, and tells how long the key is.
// It fails at what is no key, and at an escape in one.
func dottedKey(text, path []byte) (joined []byte, length int, ok bool) {
	blanks := func(i int) int {
		for i < len(text) && (text[i] == ' ' || text[i] == '\t') {
			i++
		}
		return i
	}
	for i := 0; ; i++ {
		i = blanks(i)
		start := i
		if i < len(text) && (text[i] == '"' || text[i] == '\'') {
			i = stringEnd(text, i)
			if i < start+2 || text[start] == '"' && bytes.IndexByte(text[start:i], '\\') >= 0 {
				return path, 0, false
			}
			path = append(path, text[start+1:i-1]...)
		} else {
			for i < len(text) && bytes.IndexByte([]byte(" \t\r\n.=[]\"'#{},"), text[i]) < 0 {
				i++
			}
			if i == start {
				return path, 0, false
			}
			path = append(path, text[start:i]...)
		}
		path = append(path, endOfPiece)
		if i = blanks(i); i >= len(text) || text[i] != '.' {
			return path, i, true
		}
	}
}

// valueEnd is where the line ends on which a value does.
func valueEnd(data []byte, i int) int {
	depth := 0
	for i < len(data) {
		switch data[i] {
		case '\n':
			if depth <= 0 {
				return i
			}
		case '#':
			i = lineEnd(data, i)
			continue
		case '"', '\'':
			i = stringEnd(data, i)
			continue
		case '[', '{':
			depth++
		case ']', '}':
			depth--
		}
		i++
	}
	return i
}

// lineEnd is where the line ends that a place is on.
func lineEnd(data []byte, i int) int {
	if n := bytes.IndexByte(data[i:], '\n'); n >= 0 {
		return i + n
	}
	return len(data)
}
