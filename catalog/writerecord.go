package catalog

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"allup/model"
	"allup/model/words"
)

// recordDigits is how many digits the numbers of a written record have: more than any
// bench measures, few enough to read.
const recordDigits = 7

// RoundForRecord is a number with the digits that a written record keeps. Figures
// that are rounded by it before they are shown are the same everywhere.
func RoundForRecord(v float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', recordDigits, 64), 64)
	if err != nil {
		return v
	}
	return r
}

// FormatPack writes a pack as a record that [Load] reads back to the same numbers,
// within their seven digits. Comments go above it, a line each.
func FormatPack(p *Pack, comments []string) []byte {
	w := recordWriter{}
	for _, c := range comments {
		w.comment(c)
	}
	w.line("[pack." + tomlKey(p.ID) + "]")
	if p.Name != p.ID {
		w.text("name", p.Name)
	}
	w.text("chemistry", string(p.Chemistry))
	w.number("cells", float64(p.Cells))
	w.number("rated_mah", p.Rated.MilliAmpHours())
	w.number("mass_g", p.Mass.Grams())
	if p.Weighed {
		w.line("weighed = true")
	}
	if p.Tolerance != nil {
		w.number("tolerance_g", p.Tolerance.Grams())
	}
	if b := p.Size; b != nil {
		w.numbers("size_mm", b.L.Millimetres(), b.W.Millimetres(), b.H.Millimetres())
	}
	w.text("plug", p.Plug)
	if p.MaxCurrent != nil {
		w.number("max_current_a", float64(*p.MaxCurrent))
	}
	w.measured("label_c", p.LabelC)
	if p.Price != nil {
		w.number("price", *p.Price)
		w.text("currency", p.Currency)
	}
	w.text("url", p.URL)
	w.text("note", p.Note)
	if p.Date != "" {
		w.line("date = " + p.Date)
	}
	if p.Tested != nil {
		w.line("")
		w.line("[pack." + tomlKey(p.ID) + ".tested]")
		w.tested(p)
	}
	if p.Circuit != nil {
		w.line("")
		w.line("[pack." + tomlKey(p.ID) + ".circuit]")
		w.circuit(p)
	}
	return []byte(w.String())
}

// recordWriter writes fields of a record, leaving out what is not known.
type recordWriter struct{ strings.Builder }

func (w *recordWriter) line(s string) { w.WriteString(s + "\n") }

func (w *recordWriter) comment(s string) { w.line("# " + words.Printable(s)) }

func (w *recordWriter) text(key, s string) {
	if s != "" {
		w.line(key + " = " + tomlText(s))
	}
}

// tomlKey is an id as a key: one with a dot in it stands in quotes.
func tomlKey(id string) string {
	if strings.Contains(id, ".") {
		return tomlText(id)
	}
	return id
}

// tomlText is a basic string: TOML has the escapes that are needed here in common with JSON.
func tomlText(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case words.Steers(r):
			fmt.Fprintf(&b, `\U%08x`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

func tomlNumber(v float64) string { return showNumber(RoundForRecord(v)) }

func (w *recordWriter) number(key string, v float64) { w.line(key + " = " + tomlNumber(v)) }

// measured leaves out a zero, which stands for a figure that was not measured.
func (w *recordWriter) measured(key string, v float64) {
	if v != 0 && !math.IsNaN(v) {
		w.number(key, v)
	}
}

func (w *recordWriter) numbers(key string, values ...float64) {
	texts := make([]string, len(values))
	for i, v := range values {
		texts[i] = tomlNumber(v)
	}
	w.line(key + " = [" + strings.Join(texts, ", ") + "]")
}

func (w *recordWriter) circuit(p *Pack) {
	c := p.Circuit
	w.number("capacity_mah", c.Capacity.MilliAmpHours())
	w.number("r0_mohm", c.R0.MilliOhms())
	w.number("r1_mohm", c.R1.MilliOhms())
	w.number("tau_s", float64(c.Tau))
	w.number("charge_dependence", c.K)
	w.measured("charge_dependence_sigma", p.CircuitSigmaK)
	w.measured("capacity_sigma_mah", p.CircuitSigmaQ.MilliAmpHours())
	w.measured("r_sigma_mohm", p.CircuitSigmaR.MilliOhms())
	charges, volts := c.Curve.Knots()
	if usual, err := model.CurveOf(p.Chemistry); err == nil && sameCurve(usual, charges, volts) {
		w.number("shift_mv", 1e3*float64(c.Shift))
		return
	}
	values := make([]float64, len(volts))
	for i, v := range volts {
		values[i] = float64(v + c.Shift)
	}
	w.numbers("curve_v", values...)
}

// sameCurve reports whether knots are those of a curve.
func sameCurve(curve model.Curve, charges []float64, volts []model.Voltage) bool {
	s, v := curve.Knots()
	if len(s) != len(charges) {
		return false
	}
	for i := range s {
		if s[i] != charges[i] || v[i] != volts[i] {
			return false
		}
	}
	return true
}

// Record is one record to write: the text of [FormatPack] and its id.
type Record struct {
	ID   string
	Text []byte
}

// RecordFiles are the files that hold records: the one of that name or, where name is a folder or ends in a slash, a
// file ID.toml in it for each. The folder, which may have to be made, is "" where there is none.
func RecordFiles(name string, records []Record) (folder string, files []NewFile) {
	info, err := os.Stat(name)
	inFolder := err == nil && info.IsDir()
	if name != "" && (name[len(name)-1] == '/' || os.IsPathSeparator(name[len(name)-1])) {
		inFolder = true
	}
	if inFolder {
		for _, r := range records {
			files = append(files, NewFile{filepath.Join(name, r.ID+".toml"), r.Text})
		}
		return name, files
	}
	var all []byte
	for i, r := range records {
		if i > 0 {
			all = append(all, '\n')
		}
		all = append(all, r.Text...)
	}
	return "", []NewFile{{name, all}}
}

// CheckRecords is the error that keeps records from their files, before anything is written: a file that is there is
// replaced only by force, and only if it holds records.
func CheckRecords(files []NewFile, force bool) error {
	for _, f := range files {
		if _, err := os.Lstat(f.Name); err == nil && !force {
			return existsError{f.Name}
		}
		if err := checkRecords(f.Name); err != nil {
			return err
		}
	}
	return nil
}
