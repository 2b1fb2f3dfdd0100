package csvlog_test

import (
	"bufio"
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"allup/catalog/csvlog"
	"allup/model"
	"allup/model/bench"
)

// longLog writes a log of two million rows, 4 minutes at 8 kHz, and opens it.
func longLog(b *testing.B) *os.File {
	b.Helper()
	const rows = 2_000_000
	name := filepath.Join(b.TempDir(), "long.csv")
	out, err := os.Create(name)
	if err != nil {
		b.Fatal(err)
	}
	w := bufio.NewWriter(out)
	fmt.Fprintln(w, "time_s,voltage_v,current_a")
	for k := range rows {
		v := 16.4 - 4.2*float64(k)/rows + 0.001*float64(k%7)
		fmt.Fprintf(w, "%.4f,%.3f,%.3f\n", float64(k)*1.2e-4, v, 144.3/v)
	}
	if err := w.Flush(); err != nil {
		b.Fatal(err)
	}
	if err := out.Close(); err != nil {
		b.Fatal(err)
	}
	f, err := os.Open(name)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { f.Close() })
	info, err := f.Stat()
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(info.Size())
	b.ReportAllocs()
	return f
}

func rewind(b *testing.B, f *os.File) {
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		b.Fatal(err)
	}
}

// The three below read one file of two million rows in one run: the reader may take
// ten times what wc takes, and less than the standard library's reader.

func BenchmarkLongLogReader(b *testing.B) {
	f := longLog(b)
	for b.Loop() {
		rewind(b, f)
		r, err := csvlog.NewReader(f, csvlog.Columns{})
		if err != nil {
			b.Fatal(err)
		}
		n := 0
		for r.Scan() {
			n++
		}
		if err := r.Err(); err != nil || n != 2_000_000 {
			b.Fatal(n, err)
		}
	}
}

func BenchmarkLongLogWC(b *testing.B) {
	f := longLog(b)
	if _, err := exec.LookPath("wc"); err != nil {
		b.Skip("there is no wc here")
	}
	for b.Loop() {
		if err := exec.Command("wc", "-l", f.Name()).Run(); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLongLogCSV(b *testing.B) {
	f := longLog(b)
	for b.Loop() {
		rewind(b, f)
		r := csv.NewReader(bufio.NewReaderSize(f, 256<<10))
		r.ReuseRecord = true
		for {
			if _, err := r.Read(); err == io.EOF {
				break
			} else if err != nil {
				b.Fatal(err)
			}
		}
	}
}

// BenchmarkLongLogReduce is reading and reduction.
func BenchmarkLongLogReduce(b *testing.B) {
	f := longLog(b)
	pack := bench.TestedPack{Cells: 4, Chemistry: model.LiPo, Rated: 650 * model.MilliAmpH}
	for b.Loop() {
		rewind(b, f)
		r, err := csvlog.NewReader(f, csvlog.Columns{})
		if err != nil {
			b.Fatal(err)
		}
		d := bench.NewDischargeReducer(pack, model.UsualProtocol(pack.Rated, pack.Cells), bench.ReduceSettings{})
		for r.Scan() {
			d.Add(r.Sample())
		}
		if _, err := d.Finish(); err != nil {
			b.Fatal(err)
		}
	}
}
