package catalog

import (
	"bytes"
	"iter"
	"runtime"
	"slices"
)

// The parser keeps several entries for every key of a file, which makes large files
// slow and heavy. A large file of records is therefore parsed in pieces, each of
// whole records, side by side, and each is read and dropped before all are parsed.

// chunkSize is the least size of a piece, far above any build or usual catalogue, where its tables are not many.
const chunkSize = 256 << 10

// chunkTables is how many tables make a smaller piece: the parser takes a kilobyte for each, however short.
const chunkTables = 5000

// shape is what a walk over the brackets of a TOML text tells.
type shape struct {
	tooDeep int   // the first line that nests deeper than maxNesting, or 0
	tooMany int   // the first line of a piece with more than maxValues or maxTables, or 0
	tooLong int   // the first line of a piece longer than maxWhole, or 0
	parted  bool  // it has to be read in pieces: as a whole it is too long, or has too many values or tables
	cuts    []int // where pieces begin; none where the text cannot be cut
}

// outline walks over a TOML text, knowing just enough of it to leave out strings and
// comments. A text can be cut before a [kind.id] header as long as all its headers
// have two names or more and no key stands before the first of them.
func outline(data []byte) shape { return outlineEvery(data, chunkSize) }

// outlineEvery is outline with pieces of at least a size.
func outlineEvery(data []byte, size int) shape {
	var s shape
	depth, dots, line := 0, 0, 1
	fresh := true // only blanks so far in this line
	begun := false
	whole := false
	last, lastLine := 0, 1    // where the piece begins
	values, allValues := 0, 0 // in the piece, and before it
	tables, allTables := 0, 0 // the same, those with a header
	endPiece := func(end int) {
		if s.tooMany == 0 && (values > maxValues || tables > maxTables) {
			s.tooMany = lastLine
		}
		if s.tooLong == 0 && end-last > maxWhole {
			s.tooLong = lastLine
		}
		allValues += values
		allTables += tables
		last, lastLine, values, tables = end, line, 0, 0
	}
	for i := 0; i < len(data); i++ {
		c := data[i]
		if c == '[' && depth == 0 && fresh {
			pieces := headerPieces(data[i:])
			whole = whole || pieces < 2 && pieces != noHeader
			if pieces == 2 && (i-last >= size || tables >= chunkTables) {
				s.cuts = append(s.cuts, i)
				endPiece(i)
			}
			begun = true
			tables++
			values += max(0, pieces-3) // of a deep one, beside the bracket
		} else if fresh && !begun && c != '#' && c != ' ' && c != '\t' && c != '\r' && c != '\n' {
			whole, begun = true, true
		}
		switch c {
		case '\n':
			line++
			dots = 0
			fresh = true
			continue
		case ' ', '\t', '\r':
			continue
		case '#':
			end := bytes.IndexByte(data[i:], '\n')
			if end < 0 {
				end = len(data) - i
			}
			i += end - 1
		case '"', '\'':
			end := stringEnd(data, i)
			line += bytes.Count(data[i:end], []byte("\n"))
			i = end - 1
		case '[', '{':
			depth++
			values++
		case ']', '}':
			depth = max(0, depth-1)
		case '.':
			dots++
		case '=':
			values += 1 + dots
			dots = 0
		case ',':
			values++
			dots = 0
		}
		fresh = false
		if depth > maxNesting || dots > maxNesting {
			return shape{tooDeep: line}
		}
	}
	endPiece(len(data))
	many := allValues > maxValues || allTables > maxTables
	if whole {
		s.cuts = nil
		if many {
			s.tooMany = 1
		}
		if len(data) > maxWhole {
			s.tooLong = 1
		}
	}
	s.parted = many || len(data) > maxWhole
	return s
}

// noHeader is a bracket that is not closed in its line: the parser will say so.
const noHeader = -1

// headerPieces is how many names the [a.b] header at the start of text has; 0 for an
// [[a.b]] header.
func headerPieces(text []byte) int {
	if len(text) > 1 && text[1] == '[' {
		return 0
	}
	pieces := 1
	for i := 1; i < len(text); i++ {
		switch text[i] {
		case '.':
			pieces++
		case '"', '\'':
			i = stringEnd(text, i) - 1
		case ']':
			return pieces
		case '\n':
			return noHeader
		}
	}
	return noHeader
}

// stringEnd is the index behind the string that begins at start.
func stringEnd(data []byte, start int) int {
	mark := data[start : start+1]
	if start+2 < len(data) && data[start+1] == mark[0] && data[start+2] == mark[0] {
		mark = data[start : start+3]
	}
	for i := start + len(mark); i < len(data); i++ {
		switch c := data[i]; {
		case c == '\\' && mark[0] == '"':
			i++
		case c == mark[0] && bytes.HasPrefix(data[i:], mark):
			return i + len(mark)
		case c == '\n' && len(mark) == 1:
			return i // an unclosed string: the parser will say so
		}
	}
	return len(data)
}

// pieces are a text cut into pieces.
func pieces(data []byte, cuts []int) [][]byte {
	var list [][]byte
	start := 0
	for _, cut := range append(slices.Clone(cuts), len(data)) {
		list = append(list, data[start:cut])
		start = cut
	}
	return list
}

// parsed is the tree of a piece, or why there is none.
type parsed struct {
	tree map[string]any
	err  error
}

// parsePieces parses pieces of a text side by side and yields their trees in order. No more of them
// than there are processors wait to be taken, so that a large file is never in memory as trees
// alone.
func parsePieces(list [][]byte) iter.Seq2[int, parsed] {
	return func(yield func(int, parsed) bool) {
		trees := make([]chan parsed, len(list))
		begin := func(i int) {
			if i >= len(list) {
				return
			}
			trees[i] = make(chan parsed, 1)
			go func() {
				tree, err := parseWhole(list[i])
				trees[i] <- parsed{tree, err}
			}()
		}
		ahead := runtime.GOMAXPROCS(0)
		for i := range ahead {
			begin(i)
		}
		for i := range list {
			p := <-trees[i]
			begin(i + ahead)
			if !yield(i, p) {
				return
			}
		}
	}
}
