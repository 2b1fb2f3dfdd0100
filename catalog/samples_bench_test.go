package catalog

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"testing"

	"allup/model"
)

// longLog is a log of n rows.
func longLog(n int) []byte {
	var b bytes.Buffer
	w := bufio.NewWriter(&b)
	fmt.Fprintln(w, "time_s,voltage_v,current_a")
	for k := range n {
		v := 16.4 - 3.9*float64(k)/float64(n) + 0.001*float64(k%7)
		fmt.Fprintf(w, "%.4f,%.3f,%.3f\n", float64(k)*1.2e-4, v, 144.3/v)
	}
	w.Flush()
	return b.Bytes()
}

func BenchmarkLogReader(b *testing.B) {
	log := longLog(2_000_000)
	b.SetBytes(int64(len(log)))
	b.ReportAllocs()
	for b.Loop() {
		r, err := NewLogReader(bytes.NewReader(log), LogColumns{})
		if err != nil {
			b.Fatal(err)
		}
		n := 0
		for r.Scan() {
			n++
		}
		if err := r.Err(); err != nil || n < 1_000_000 {
			b.Fatal(n, err)
		}
	}
}

func BenchmarkLogReduce(b *testing.B) {
	log := longLog(2_000_000)
	b.SetBytes(int64(len(log)))
	pack := model.TestedPack{Cells: 4, Chemistry: model.LiPo, Rated: 650 * model.MilliAmpH}
	for b.Loop() {
		r, err := NewLogReader(bytes.NewReader(log), LogColumns{})
		if err != nil {
			b.Fatal(err)
		}
		d := model.NewDischargeReducer(pack, model.UsualProtocol(pack.Rated, pack.Cells), model.ReduceSettings{})
		for r.Scan() {
			d.Add(r.Sample())
		}
	}
}

// BenchmarkCSVReader is the standard library's reader on the same log, numbers left as text.
func BenchmarkCSVReader(b *testing.B) {
	log := longLog(2_000_000)
	b.SetBytes(int64(len(log)))
	for b.Loop() {
		r := csv.NewReader(bytes.NewReader(log))
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

// BenchmarkCountLines is what wc -l does, without the start of a process.
func BenchmarkCountLines(b *testing.B) {
	log := longLog(2_000_000)
	b.SetBytes(int64(len(log)))
	for b.Loop() {
		bytes.Count(log, []byte{'\n'})
	}
}
