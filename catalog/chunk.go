package catalog

import (
	"bytes"
	"runtime"
	"sync"
)

// The parser keeps several entries for every key of a file, which makes large files
// slow and heavy. A large file of records is therefore parsed in pieces, each of
// whole records, side by side.

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

// parseChunks parses the pieces of a text and puts their tables together. ok is false
// where there are no pieces, where one has a fault, or where a record is in two of
// them: the parser has to see the text as a whole then.
func parseChunks(data []byte, cuts []int) (values map[string]any, ok bool) {
	if len(cuts) == 0 {
		return nil, false
	}
	pieces := make([][]byte, 0, len(cuts)+1)
	start := 0
	for _, cut := range append(cuts, len(data)) {
		pieces = append(pieces, data[start:cut])
		start = cut
	}
	trees := make([]map[string]any, len(pieces))
	work := make(chan int)
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(pieces)) {
		wait.Go(func() {
			for i := range work {
				if tree, err := parseWhole(pieces[i]); err == nil {
					trees[i] = tree
				}
			}
		})
	}
	for i := range pieces {
		work <- i
	}
	close(work)
	wait.Wait()
	return merge(trees)
}

// merge puts the records of several trees into one; ok is false where two have the same.
func merge(trees []map[string]any) (values map[string]any, ok bool) {
	values = map[string]any{}
	for _, tree := range trees {
		if tree == nil {
			return nil, false
		}
		for kind, value := range tree {
			into, there := values[kind].(map[string]any)
			if !there {
				values[kind] = value
				continue
			}
			records, isTable := value.(map[string]any)
			if !isTable {
				return nil, false
			}
			for id, record := range records {
				if _, twice := into[id]; twice {
					return nil, false
				}
				into[id] = record
			}
		}
	}
	return values, true
}
