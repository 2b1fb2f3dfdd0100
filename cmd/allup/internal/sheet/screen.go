package sheet

// Screen is an answer before it takes a form: the verdict in words first, tables, notes last.
type Screen struct {
	Verdict []string // the first says the whole answer; a reader may stop there
	Closer  []string // the words of a command that looks closer, as a shell takes them, under the verdict; nil for none
	Picture []string // lines of a small drawing, on a terminal that is wide enough for them
	Tables  []*Table
	Sheet   *Table // what CSV holds; nil for the first table
	Notes   []string

	// Warnings are those of the notes that go with an answer wherever it is read: they stand in CSV, too, on the first
	// row. Nil is a screen that has none to give, and no column for them.
	Warnings []string
}

// closer is the words of the command that looks closer, after what it is for.
func (s Screen) closer() []string {
	if s.Closer == nil {
		return nil
	}
	return append([]string{"Look closer:"}, s.Closer...)
}

// Table is rows of cells under columns.
type Table struct {
	Title   string
	Columns []Column
	Rows    [][]Cell
}

// Column heads the cells below it.
type Column struct {
	Head  string // with its unit, for people
	Key   string // with its unit, for CSV; the column of a band has one that ends in BandKey
	Keep  int    // on a narrow terminal the columns with the greatest leave first, those with 0 never do
	Left  bool   // text is set to the left, numbers to the right
	Wrap  bool   // text that may go on in further lines; the last such column takes all the room there is
	Least int    // columns that text which wraps has at least; 0 for 24
}

// Add appends a row, which must have a cell for every column.
func (t *Table) Add(cells ...Cell) {
	if len(cells) != len(t.Columns) {
		panic("sheet: a row does not fit its table")
	}
	t.Rows = append(t.Rows, cells)
}
