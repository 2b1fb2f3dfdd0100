package sheet

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// drawn is a table on a terminal of a width, line by line.
func drawn(t *testing.T, width int, table *Table) []string {
	t.Helper()
	got, err := Viewer{Width: width}.Text(Screen{Tables: []*Table{table}})
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(strings.Trim(string(got), "\n"), "\n")
}

// A column leaves when the table is wider than the terminal by one, not when it just fits: that with the greatest
// number first and, of equal ones, the last. Those with none never do.
func TestColumnsLeaveInOrder(t *testing.T) {
	table := &Table{Columns: []Column{
		{Head: "aaaa", Key: "a"}, {Head: "bbbb", Key: "b", Keep: 1}, {Head: "cccc", Key: "c", Keep: 2}, {Head: "dddd", Key: "d", Keep: 2}, {Head: "", Key: "e", Keep: 3, Left: true},
	}}
	table.Add(Integer(1), Integer(2), Integer(3), Integer(4), Word("mark"))
	// Five of four characters and four gaps of two: 28.
	for width, want := range map[int][]string{
		28: {"aaaa  bbbb  cccc  dddd", "   1     2     3     4  mark"},
		27: {"aaaa  bbbb  cccc  dddd", "   1     2     3     4"},
		22: {"aaaa  bbbb  cccc  dddd", "   1     2     3     4"},
		21: {"aaaa  bbbb  cccc", "   1     2     3", "(dddd: on a wider", "screen)"},
		16: {"aaaa  bbbb  cccc", "   1     2     3", "(dddd: on a", "wider screen)"},
		15: {"aaaa  bbbb", "   1     2", "(cccc, dddd: on", "a wider screen)"},
		9:  {"aaaa", "   1", "(bbbb,", "cccc,", "dddd: on", "a wider", "screen)"},
		0:  {"aaaa  bbbb  cccc  dddd", "   1     2     3     4  mark"},
	} {
		if diff := cmp.Diff(want, drawn(t, width, table)); diff != "" {
			t.Errorf("%d columns (-want +got):\n%s", width, diff)
		}
	}
	// Two columns of one heading are named once.
	table.Columns[3].Head = "cccc"
	if got := drawn(t, 10, table); !slices.Equal(got[2:], []string{"(cccc: on", "a wider", "screen)"}) {
		t.Errorf("%q", got)
	}
}

// Text that wraps is counted with what it needs at the least: what it has, or what its column asks for, or its heading.
func TestLeastOfAColumnThatWraps(t *testing.T) {
	table := func(least int, head, text string) *Table {
		out := &Table{Columns: []Column{{Head: "id", Key: "id", Left: true}, {Head: "g", Key: "g", Keep: 1}, {Head: head, Key: "why", Left: true, Wrap: true, Least: least}}}
		out.Add(Word("a"), Integer(1), Word(text))
		return out
	}
	words := strings.TrimSpace(strings.Repeat("word ", 12))
	for _, c := range []struct {
		name       string
		table      *Table
		fits, rows int // the narrowest that has all columns, and its lines with the heading
	}{
		{"24 where nothing is said", table(0, "why", words), 2 + 2 + 1 + 2 + 24, 1 + 3}, // four words of 24
		{"what is said", table(9, "why", words), 2 + 2 + 1 + 2 + 9, 1 + 6},
		{"its heading", table(4, "which is wide", words), 2 + 2 + 1 + 2 + 13, 1 + 6}, // two words of 13
		{"no more than its text", table(9, "why", "word"), 2 + 2 + 1 + 2 + 4, 1 + 1},
	} {
		at, below := drawn(t, c.fits, c.table), drawn(t, c.fits-1, c.table)
		if len(at) != c.rows || !strings.HasPrefix(at[0], "id  g  ") {
			t.Errorf("%s: %q, want %d lines", c.name, at, c.rows)
		}
		if strings.HasPrefix(below[0], "id  g") || !strings.Contains(strings.Join(below, " "), "(g: on a wider screen)") {
			t.Errorf("%s, one column less: %q", c.name, below)
		}
		for _, line := range slices.Concat(at, below) {
			if width(line) > c.fits {
				t.Errorf("%s: %q is wider than %d", c.name, line, c.fits)
			}
		}
	}
}

// Of two columns that wrap the other has its least as soon as room is short, and the last takes what there is then.
func TestTwoColumnsThatWrap(t *testing.T) {
	table := &Table{Columns: []Column{{Head: "where", Key: "where", Left: true, Wrap: true, Least: 8}, {Head: "g", Key: "g"}, {Head: "why", Key: "why", Left: true, Wrap: true, Least: 10}}}
	table.Add(Word("here and there"), Integer(1), Word("one two three four five"))
	for width, want := range map[int][]string{
		42: {"where           g  why", "here and there  1  one two three four five"},
		41: {"where     g  why", "here and  1  one two three four five", "there"},
		28: {"where     g  why", "here and  1  one two three", "there        four five"},
		23: {"where     g  why", "here and  1  one two", "there        three four", "             five"},
	} {
		if diff := cmp.Diff(want, drawn(t, width, table)); diff != "" {
			t.Errorf("%d columns (-want +got):\n%s", width, diff)
		}
	}
}

// Parts of a table that has no room begin with the id, or with the first column where there is none; each other column
// stands in one part, and one that is wider than the terminal in a part of its own with the id.
func TestPartsBeginWithWhatRowsAreOf(t *testing.T) {
	for _, c := range []struct {
		name  string
		keys  string // a letter a column of ten characters, i for the id
		width int
		want  []string
	}{
		{"the first where there is no id", "abcd", 22, []string{"ab", "ac", "ad"}},
		{"two beside it", "abcde", 34, []string{"abc", "ade"}},
		{"all have room", "abcd", 46, []string{"abcd"}},
		{"one has none", "abcd", 45, []string{"abc", "ad"}},
		{"the id first", "iabc", 22, []string{"ia", "ib", "ic"}},
		{"the id second", "aibc", 34, []string{"aib", "ic"}},
		{"the id in a later part", "abic", 10, []string{"a", "ib", "ic"}},
		{"no room for two", "iab", 12, []string{"ia", "ib"}},
		{"no room for one", "ab", 5, []string{"ab"}},
		{"the id alone", "i", 5, []string{"i"}},
	} {
		table := &Table{}
		var cells []Cell
		for _, r := range c.keys {
			key := string(r)
			if r == 'i' {
				key = "id"
			}
			table.Columns = append(table.Columns, Column{Head: strings.Repeat(string(r), 10), Key: key, Left: true})
			cells = append(cells, Word(string(r)))
		}
		table.Add(cells...)
		var got []string
		for _, part := range (Viewer{Width: c.width}).parts(table) {
			text := ""
			for i, head := range part.Columns {
				text += head.Head[:1]
				if part.Rows[0][i].Text != head.Head[:1] {
					t.Errorf("%s: %q stands under %q", c.name, part.Rows[0][i].Text, head.Head)
				}
			}
			got = append(got, text)
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}

// Numbers stand to the right and words to the left, with two blanks between columns and none at the end of a line, also
// where cells are empty or end in blanks.
func TestPlainTable(t *testing.T) {
	table := &Table{Columns: []Column{{Head: "name", Left: true}, {Head: "g"}, {Head: "", Left: true}, {Head: "W"}}}
	table.Add(Word("ab"), Number(1.25, 2), Word("X"), Integer(10))
	table.Add(Word(""), Word("7   "), Word(""), Word(""))
	table.Add(Word("電池電池"), Word(""), Word(""), Integer(3))
	want := []string{
		"name         g      W",
		"ab        1.25  X  10",
		"          7",
		"電池電池            3",
	}
	if diff := cmp.Diff(want, drawn(t, 0, table)); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

// Notes and verdicts are folded at the terminal's width, notes behind their mark; a terminal of two columns has none
// left for them.
func TestNotesAreFolded(t *testing.T) {
	s := Screen{Verdict: []string{"one two three"}, Picture: []string{"#", "##"}, Notes: []string{"four five six"}}
	for width, want := range map[int]string{
		0:  "one two three\n\n#\n##\n\n- four five six\n",
		15: "one two three\n\n#\n##\n\n- four five six\n",
		14: "one two three\n\n#\n##\n\n- four five\n  six\n",
		12: "one two\nthree\n\n#\n##\n\n- four five\n  six\n",
		2:  "on\ne\ntw\no\nth\nre\ne\n\n#\n##\n\n- four five six\n",
	} {
		got, err := Viewer{Width: width}.Text(s)
		if diff := cmp.Diff(want, string(got)); diff != "" || err != nil {
			t.Errorf("%d columns (-want +got):\n%s%v", width, diff, err)
		}
	}
	if got, err := (Viewer{}).Text(Screen{Picture: []string{"#"}}); string(got) != "\n#\n" || err != nil {
		t.Errorf("a picture of one line: %q, %v", got, err)
	}
	if got, err := (Viewer{}).Text(Screen{Tables: []*Table{{Columns: []Column{{Head: "a"}}}}}); len(got) != 0 || err != nil {
		t.Errorf("a table without rows: %q, %v", got, err)
	}
}

// One column alone may be chosen, one that no table has is named, and names are of keys before headings.
func TestChooseOne(t *testing.T) {
	s := demo()
	s.Tables = append(s.Tables, &Table{Columns: []Column{{Head: "price", Key: "other"}, {Head: "", Key: "pack"}}})
	for _, c := range []struct {
		names []string
		want  [][]string
	}{
		{[]string{"pack"}, [][]string{{"pack"}, {"pack"}}},
		{[]string{"other"}, [][]string{{"other"}}},
		{[]string{"price"}, [][]string{{"price"}, {"other"}}},
		{[]string{"ALL-UP G", "pack"}, [][]string{{"all_up_g", "pack"}, {"pack"}}},
	} {
		chosen, err := s.Choose(c.names)
		if err != nil {
			t.Fatal(err)
		}
		var got [][]string
		for _, table := range chosen.Tables {
			var keys []string
			for _, column := range table.Columns {
				keys = append(keys, column.Key)
				if column.Keep != 0 {
					t.Errorf("%s may leave", column.Key)
				}
			}
			got = append(got, keys)
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%q (-want +got):\n%s", c.names, diff)
		}
	}
	if _, err := s.Choose([]string{""}); err == nil || !strings.HasPrefix(err.Error(), `there is no column ""; there are pack, `) {
		t.Errorf("%v", err)
	}
	if _, err := s.Choose([]string{"x", "pack", "y"}); err == nil || !strings.HasPrefix(err.Error(), `there is no column "x" or "y"; there are pack, all_up_g, price, score, why, other`) {
		t.Errorf("%v", err)
	}
	if _, err := (Screen{}).ChooseSheet([]string{"pack"}); err == nil || err.Error() != `there is no column "pack"; there are ` {
		t.Errorf("%v", err)
	}
	if _, err := (Screen{Tables: []*Table{{Columns: []Column{{Key: "a"}}}, {Columns: []Column{{Key: "b"}}}}}).ChooseSheet([]string{"b"}); err == nil || err.Error() != `there is no column "b"; there are a` {
		t.Errorf("%v", err)
	}
}

// A cell for programs is its whole number, or its text in quotes where a spreadsheet would run it.
func TestPlainCells(t *testing.T) {
	for _, c := range []struct {
		cell Cell
		want string
	}{
		{Number(1.0/3, 1), "0.3333333333"},
		{Number(-0.0004, 1), "-0.0004"},
		{Number(1e21, 0), "1e+21"},
		{Unknown(), ""},
		{Word(""), ""},
		{Word("pack"), "pack"},
		{Word("=1+1"), "'=1+1"},
		{Word("@x"), "'@x"},
		{Word("+x"), "'+x"},
		{Word("-x"), "'-x"},
		{Word("-1.5"), "-1.5"},
		{Word("+1.5"), "+1.5"},
		{Word("--"), "'--"},
	} {
		if got := c.cell.plain(); got != c.want {
			t.Errorf("%q is %q, want %q", c.cell.Text, got, c.want)
		}
	}
}

// A table knows its columns by their keys, and an object that is none is null.
func TestColumnsAndObjects(t *testing.T) {
	var cols Columns[int]
	cols.Add(Column{Key: "a", Head: "b"}, func(int) Cell { return Integer(1) })
	if !cols.Has("a") || cols.Has("b") || (&Columns[int]{}).Has("a") {
		t.Error("a column is known by another name than its key")
	}
	for want, o := range map[string]Object{"null": nil, "{}": {}, "{\"a\"\n:1\n,\"b<\"\n:null\n}": Object{}.With("a", 1).With("b<", nil)} {
		if got, err := o.MarshalJSON(); err != nil || string(got) != want {
			t.Errorf("%q, %v, want %q", got, err, want)
		}
	}
	if _, err := (Object{}).With("a", func() {}).MarshalJSON(); err == nil {
		t.Error("a function is written")
	}
	if got, err := (List{Len: 2, At: func(i int) any { return fmt.Sprint("<", i) }}).MarshalJSON(); err != nil || string(got) != `["<0","<1"]` {
		t.Errorf("%s, %v", got, err)
	}
}

// A command is folded so that a shell reads on, and no word of it is broken.
func TestCommandsAreFolded(t *testing.T) {
	said := []string{"allup swap", "'my build.toml'", "--sure", "95%", "pack=sedge-650"} // 10, 15, 6, 3 and 14 wide
	for _, c := range []struct {
		columns int
		want    []string
	}{
		{0, []string{"Look closer: allup swap 'my build.toml' --sure 95% pack=sedge-650"}},
		{65, []string{"Look closer: allup swap 'my build.toml' --sure 95% pack=sedge-650"}},
		{64, []string{`Look closer: allup swap 'my build.toml' --sure 95% \`, "pack=sedge-650"}},
		{48, []string{`Look closer: allup swap 'my build.toml' --sure \`, "95% pack=sedge-650"}},
		{47, []string{`Look closer: allup swap 'my build.toml' \`, "--sure 95% pack=sedge-650"}},
		{12, []string{`Look closer: \`, `allup swap \`, `'my build.toml' \`, `--sure 95% \`, "pack=sedge-650"}},
	} {
		text, err := Viewer{Width: c.columns}.Text(Screen{Closer: said})
		if got := strings.Split(strings.TrimSuffix(string(text), "\n"), "\n"); err != nil || !slices.Equal(got, c.want) {
			t.Errorf("%d columns: %q, %v", c.columns, got, err)
		}
	}
	text, err := Screen{Verdict: []string{"Yes."}, Closer: said}.Markdown()
	if want := "**Yes.**\n\nLook closer: allup swap 'my build.toml' --sure 95% pack=sedge-650\n\n"; err != nil || string(text) != want {
		t.Errorf("%q, %v", text, err)
	}
	if text, err := (Viewer{Width: 40}).Text(Screen{Verdict: []string{"Yes."}}); err != nil || string(text) != "Yes.\n" {
		t.Errorf("%q, %v", text, err)
	}
}

// A column of bands is one of text for people and two of numbers in CSV; the names of both are understood in either.
func TestBandColumns(t *testing.T) {
	table := &Table{Columns: []Column{{Head: "id", Key: "id"}, {Head: "min 5-95 %", Key: "flight_min_5_95"}, {Head: "g", Key: "all_up_g"}}}
	table.Add(Word("a"), Interval("-0.5 to +0.8", -0.512, 0.803), Number(239, 1))
	table.Add(Word("b"), Unknown(), Number(240, 1))
	s := Screen{Tables: []*Table{table}}
	got, err := s.CSV()
	if want := "id,flight_min_p5,flight_min_p95,all_up_g\na,-0.512,0.803,239\nb,,,240\n"; string(got) != want || err != nil {
		t.Errorf("%s, %v; want %s", got, err, want)
	}
	chosen, err := s.ChooseSheet([]string{"flight_min_p95", "id"})
	if err != nil {
		t.Fatal(err)
	}
	if got, err := chosen.CSV(); string(got) != "flight_min_p95,id\n0.803,a\n,b\n" || err != nil {
		t.Errorf("%s, %v", got, err)
	}
	for _, names := range [][]string{{"flight_min_5_95"}, {"flight_min_p5"}, {"flight_min_p5", "flight_min_p95"}, {"min 5-95 %"}} {
		chosen, err := s.Choose(names)
		if err != nil {
			t.Fatal(err)
		}
		if c := chosen.Tables[0].Columns; len(c) != 1 || c[0].Head != "min 5-95 %" || chosen.Tables[0].Rows[0][0].Text != "-0.5 to +0.8" {
			t.Errorf("%v: %v", names, c)
		}
	}
	for _, name := range []string{"all_up_p5", "flight_min", "all_up_g_p5"} {
		if _, err := s.Choose([]string{name}); err == nil {
			t.Errorf("%s is a column", name)
		}
	}
}
