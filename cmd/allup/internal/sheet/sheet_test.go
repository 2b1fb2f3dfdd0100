package sheet

import (
	"encoding/csv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// demo is a screen with what goes wrong easily: wide and combining characters, what steers a terminal, what a
// spreadsheet would run, and a column that wraps.
func demo() Screen {
	t := &Table{Title: "Packs", Columns: []Column{
		{Head: "pack", Key: "pack", Left: true},
		{Head: "all-up g", Key: "all_up_g"},
		{Head: "price", Key: "price", Keep: 2},
		{Head: "score", Key: "score", Keep: 1},
		{Head: "why", Key: "why", Left: true, Wrap: true},
	}}
	t.Add(Word("電池550"), Number(239.04, 1), Number(21.5, 2), Number(1.26, 2), Word("it suits"))
	t.Add(Word("e\u0301te\u0301\x1b[2J"), Grown(0.0004, 1), Unknown(), Number(-0.001, 2), Word("=1+1 makes 250.8 g all-up, 0.8 g over"))
	return Screen{Verdict: []string{"Two packs.", "One *suits*."}, Tables: []*Table{t, {}}, Notes: []string{"A note."}}
}

func TestText(t *testing.T) {
	for columns, want := range map[int]string{
		0: `Two packs.
One *suits*.

Packs
pack     all-up g  price  score  why
電池550     239.0  21.50   1.26  it suits
été[2J     0.0004      -   0.00  =1+1 makes 250.8 g all-up, 0.8 g over

- A note.
`,
		52: `Two packs.
One *suits*.

Packs
pack     all-up g  score  why
電池550     239.0   1.26  it suits
été[2J     0.0004   0.00  =1+1 makes 250.8 g all-up,
                          0.8 g over
(price: on a wider screen)

- A note.
`,
	} {
		got, err := Viewer{Width: columns}.Text(demo())
		if err != nil {
			t.Fatal(err)
		}
		want = strings.ReplaceAll(want, "été", "e\u0301te\u0301")
		if diff := cmp.Diff(want, string(got)); diff != "" {
			t.Errorf("%d columns (-want +got):\n%s", columns, diff)
		}
	}
}

func TestColour(t *testing.T) {
	got, err := Viewer{Width: 40, Colour: true}.Text(demo())
	if err != nil || !strings.HasPrefix(string(got), "\x1b[1mTwo packs.\x1b[0m\nOne *suits*.\n") {
		t.Errorf("the first line alone is bold, got %q, %v", got, err)
	}
}

func TestMarkdown(t *testing.T) {
	got, err := demo().Markdown()
	if err != nil {
		t.Fatal(err)
	}
	text := string(got)
	for _, want := range []string{"**Two packs.**\n", "One \\*suits\\*.\n", "| 電池550 |", "- A note.\n"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	if strings.ContainsRune(text, '\x1b') {
		t.Errorf("a control character is left in %q", text)
	}
	s := Screen{Tables: []*Table{{Columns: []Column{{Head: "a|b"}}, Rows: [][]Cell{{Word("<b>|x")}}}}}
	got, err = s.Markdown()
	if err != nil || !strings.Contains(string(got), `a\|b`) || !strings.Contains(string(got), `&lt;b>\|x`) {
		t.Errorf("not escaped: %s, %v", got, err)
	}
}

func TestCSV(t *testing.T) {
	got, err := demo().CSV()
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(strings.NewReader(string(got))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	want := [][]string{
		{"pack", "all_up_g", "price", "score", "why"},
		{"電池550", "239.04", "21.5", "1.26", "it suits"},
		{"e\u0301te\u0301[2J", "0.0004", "", "-0.001", "'=1+1 makes 250.8 g all-up, 0.8 g over"},
	}
	if diff := cmp.Diff(want, rows); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	if got, err := (Screen{}).CSV(); err != nil || len(got) != 0 {
		t.Errorf("a screen without a table: %q, %v", got, err)
	}
	s := Screen{Tables: demo().Tables, Sheet: &Table{Columns: []Column{{Key: "other"}}}}
	if got, err := s.CSV(); err != nil || string(got) != "other\n" {
		t.Errorf("the sheet goes before the first table: %q, %v", got, err)
	}
}

// TestFold: no line is wider than asked for, nothing gets lost, and no character is torn from its accents.
func TestFold(t *testing.T) {
	for _, c := range []struct {
		text    string
		columns int
		want    []string
	}{
		{"a pack of 250 g weighs", 10, []string{"a pack of", "250 g", "weighs"}},
		{"no limit at all", 0, []string{"no limit at all"}},
		{"日本の電池", 4, []string{"日本", "の電", "池"}},
		{"日本の電池", 5, []string{"日本", "の電", "池"}},
		{"e\u0301e\u0301e\u0301", 2, []string{"e\u0301e\u0301", "e\u0301"}},
		{"日", 1, []string{"日"}},
		{"ab", 1, []string{"a", "b"}},
		{"a b", -1, []string{"a b"}},
		{"abcdef gh", 4, []string{"abcd", "ef", "gh"}},
	} {
		if diff := cmp.Diff(c.want, fold(c.text, c.columns)); diff != "" {
			t.Errorf("fold(%q, %d) (-want +got):\n%s", c.text, c.columns, diff)
		}
	}
}

// TestWidth: widths of UAX 11 (W and F take two columns) and of combining marks (none).
func TestWidth(t *testing.T) {
	for text, want := range map[string]int{"": 0, "pack": 4, "電池": 4, "e\u0301": 1, "ﾊﾟ": 2, "Ω±°": 3, "ＡＢ": 4, "한국": 4} {
		if got := width(text); got != want {
			t.Errorf("width(%q) = %d, want %d", text, got, want)
		}
	}
}

func TestRowThatDoesNotFit(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("a row of two cells under one column passes")
		}
	}()
	(&Table{Columns: []Column{{Head: "one"}}}).Add(Word("a"), Word("b"))
}

// TestChoose: columns by key or heading, in the order asked for, at any width.
func TestChoose(t *testing.T) {
	s := demo()
	chosen, err := s.Choose([]string{"Price", "pack"})
	if err != nil {
		t.Fatal(err)
	}
	got, err := Viewer{Width: 20}.Text(chosen)
	want := "Two packs.\nOne *suits*.\n\nPacks\nprice  pack\n21.50  電池550\n    -  e\u0301te\u0301[2J\n\n- A note.\n"
	if diff := cmp.Diff(want, string(got)); diff != "" || err != nil {
		t.Errorf("text (-want +got):\n%s%v", diff, err)
	}
	sheet, err := s.ChooseSheet([]string{"score", "pack"})
	if err != nil {
		t.Fatal(err)
	}
	if got, err := sheet.CSV(); err != nil || !strings.HasPrefix(string(got), "score,pack\n1.26,") {
		t.Errorf("CSV: %s, %v", got, err)
	}
	_, err = s.Choose([]string{"pack", "colour"})
	if err == nil || err.Error() != `there is no column "colour"; there are pack, all_up_g, price, score, why` {
		t.Errorf("Choose = %v", err)
	}
}

// TestParts: what a terminal has no room for side by side stands below each other, with the column that says
// what each row is of; nothing is lost, and what has room stays in one part.
func TestParts(t *testing.T) {
	wide := &Table{Columns: []Column{
		{Head: "kind", Key: "kind", Left: true},
		{Head: "id", Key: "id", Left: true},
		{Head: "mass g", Key: "mass_g"},
		{Head: "what it is", Key: "what", Left: true, Wrap: true, Least: 12},
		{Head: "seldom asked for", Key: "seldom", Keep: 1},
	}}
	wide.Add(Word("motor"), Word("wick-1404"), Number(9.8, 1), Word("3800 rpm/V, no constants"), Number(1, 0))
	got, err := Viewer{Width: 27}.Text(Screen{Tables: []*Table{wide}})
	if err != nil {
		t.Fatal(err)
	}
	want := `
kind   id         mass g
motor  wick-1404     9.8

id         what it is
wick-1404  3800 rpm/V, no
           constants
(seldom asked for: on a
wider screen)
`
	if diff := cmp.Diff(want, string(got)); diff != "" {
		t.Errorf("a table with no room (-want +got):\n%s", diff)
	}
	got, err = Viewer{Width: 40}.Text(Screen{Tables: []*Table{wide}})
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(got), "wick-1404"); n != 1 {
		t.Errorf("%d parts where there is room for one:\n%s", n, got)
	}
}
