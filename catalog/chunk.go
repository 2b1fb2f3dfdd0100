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

// chunkSize is the least size of a piece, far above any build or usual catalogue.
const chunkSize = 256 << 10

// shape is what a walk over the brackets of a TOML text tells.
type shape struct {
	tooDeep int   // the first line that nests deeper than maxNesting, or 0
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
	last := 0
	for i := 0; i < len(data); i++ {
		c := data[i]
		if c == '[' && depth == 0 && fresh {
			pieces := headerPieces(data[i:])
			whole = whole || pieces < 2
			if pieces == 2 && i-last >= size {
				s.cuts = append(s.cuts, i)
				last = i
			}
			begun = true
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
		case ']', '}':
			depth = max(0, depth-1)
		case '.':
			dots++
		case '=', ',':
			dots = 0
		}
		fresh = false
		if depth > maxNesting || dots > maxNesting {
			return shape{tooDeep: line}
		}
	}
	if whole {
		s.cuts = nil
	}
	return s
}

// headerPieces is how many names the [a.b] header at the start of text has; 0 for an
// [[a.b]] header and for one that is not closed in its line.
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
			return 0
		}
	}
	return 0
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

// parsePieces parses the pieces of a text side by side and yields their trees in order, nil for one with a fault: the parser
// has to see the text as a whole then. No more of them than there are processors wait to be taken, so that a large file
// is never in memory as trees alone.
func parsePieces(data []byte, cuts []int) iter.Seq[map[string]any] {
	return func(yield func(map[string]any) bool) {
		list := pieces(data, cuts)
		trees := make([]chan map[string]any, len(list))
		begin := func(i int) {
			if i >= len(list) {
				return
			}
			trees[i] = make(chan map[string]any, 1)
			go func() {
				tree, err := parseWhole(list[i])
				if err != nil {
					tree = nil
				}
				trees[i] <- tree
			}()
		}
		ahead := runtime.GOMAXPROCS(0)
		for i := range ahead {
			begin(i)
		}
		for i := range list {
			tree := <-trees[i]
			begin(i + ahead)
			if !yield(tree) {
				return
			}
		}
	}
}
