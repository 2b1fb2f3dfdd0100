package catalog_test

import (
	"bytes"
	"cmp"
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"

	"allup/catalog"
	"allup/catalog/csvlog"
	"allup/model"
)

// TestBrokenBenches is a golden test, as its neighbours for records and builds are.
func TestBrokenBenches(t *testing.T) {
	brokenFiles(t, "benches", func(name string, data []byte) error {
		_, _, err := catalog.ReadBench(name, bytes.NewReader(data))
		return err
	})
}

func TestReadBench(t *testing.T) {
	got, warnings, err := catalog.ReadBench("bench.toml", strings.NewReader(`
date = 2026-05-31
ambient_c = 21
columns = { time = "t", voltage = 4, current = "i" }
[protocol]
discharge_current_c = 3
discharge_end_v_per_cell = 3.0
conditioning_s = 30
[pack.heath-650]
name = "Heath 650"
chemistry = "lihv"
cells = 4
rated_mah = 650
mass_g = 74.2
weighed = true
plug = "xt30"
discharge = ["a.csv", "b.csv"]
burst = "c.csv"
ambient_c = 15
columns = { time = "Zeit" }
[pack.heath-450]
chemistry = "lipo"
cells = 1
rated_mah = 450
mass_g = 12
burst = "d.csv"
`))
	if err != nil || len(warnings) > 0 {
		t.Fatalf("%v, warnings %v", err, warnings)
	}
	source := catalog.Source{Layer: "bench", File: "bench.toml"}
	want := []catalog.BenchPack{
		{
			Pack: catalog.Pack{
				Common:    catalog.Common{ID: "heath-450", Name: "heath-450", Mass: 12 * model.Gram, Date: "2026-05-31", Source: source},
				Chemistry: model.LiPo, Cells: 1, Rated: 450 * model.MilliAmpH,
			},
			Burst: "d.csv", Columns: csvlog.Columns{Time: csvlog.Column{Name: "t"}, Voltage: csvlog.Column{Number: 4}, Current: csvlog.Column{Name: "i"}}, Ambient: model.Celsius(21),
		},
		{
			Pack: catalog.Pack{
				Common:    catalog.Common{ID: "heath-650", Name: "Heath 650", Mass: 74.2 * model.Gram, Weighed: true, Date: "2026-05-31", Source: source},
				Chemistry: model.LiHV, Cells: 4, Rated: 650 * model.MilliAmpH, Plug: "xt30",
			},
			Discharge: []string{"a.csv", "b.csv"}, Burst: "c.csv", Columns: csvlog.Columns{Time: csvlog.Column{Name: "Zeit"}}, Ambient: model.Celsius(15),
		},
	}
	if diff := gocmp.Diff(want, got.Packs, sameValues()); diff != "" {
		t.Errorf("packs (-want +got):\n%s", diff)
	}
	// 3 C of 650 mAh is 1.95 A; conditioning and ramp stay the usual 15 C and 2 C per second.
	protocol := model.Protocol{
		DischargeCurrent: 1.95, DischargeEndPerCell: 3.0, BurstEndPerCell: 3.3,
		ConditioningCurrent: 9.75, ConditioningTime: 30, Ramp: 1.3,
	}
	if diff := gocmp.Diff(protocol, got.Protocol.For(650*model.MilliAmpH, 4), sameValues()); diff != "" {
		t.Errorf("protocol (-want +got):\n%s", diff)
	}
}

// TestUsualBenchProtocol: a bench file that says nothing means the usual protocol.
func TestUsualBenchProtocol(t *testing.T) {
	b, _, err := catalog.ReadBench("b.toml", strings.NewReader("[pack.a]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 650\nmass_g = 74\nburst = \"a.csv\"\n"))
	if err != nil {
		t.Fatal(err)
	}
	if diff := gocmp.Diff(model.UsualProtocol(650*model.MilliAmpH, 4), b.Protocol.For(650*model.MilliAmpH, 4), sameValues()); diff != "" {
		t.Errorf("protocol (-want +got):\n%s", diff)
	}
}

// TestRecordRoundTrip: what FormatPack writes, Load reads back to the same numbers.
func TestRecordRoundTrip(t *testing.T) {
	curve, err := model.CurveOf(model.LiPo)
	if err != nil {
		t.Fatal(err)
	}
	own, err := model.EvenCurve([]model.Voltage{3.0123, 3.5, 3.7215, 3.8, 4.1907})
	if err != nil {
		t.Fatal(err)
	}
	price := 22.9
	for name, p := range map[string]*catalog.Pack{
		"everything": {
			Common:    catalog.Common{ID: "heath-650", Name: `Heath "650" \ 4S`, Mass: 74.2 * model.Gram, Weighed: true, Price: &price, Currency: "EUR", Note: "a note", URL: "https://heath.example", Tolerance: ptr(0.2 * model.Gram)},
			Chemistry: model.LiPo, Cells: 4, Rated: 650 * model.MilliAmpH, Plug: "xt30", MaxCurrent: ptr(model.Current(60)),
			Size: &catalog.Box{L: 60 * model.Millimetre, W: 30 * model.Millimetre, H: 24.5 * model.Millimetre},
			Tested: &model.TestedMetrics{
				Protocol: model.Protocol{
					DischargePower: 144.3127, DischargeEndPerCell: 3.1, BurstEndPerCell: 3.3,
					ConditioningCurrent: 9.750123, ConditioningTime: 47.98, Ramp: 1.298765,
				},
				Capacity: 641.2345 * model.MilliAmpH, Energy: 9.543211 * model.WattHour, MidVoltage: 14.69123,
				BurstPower: 627.4321, BurstCurrent: 47.53274, Ambient: model.Celsius(22),
			},
			TestDate: "2026-05-31", TestSource: "logs/a.csv sha256 0123",
			Circuit: &model.Circuit{Cells: 4, Curve: curve, Capacity: 652.1234 * model.MilliAmpH, R0: 30.51234 * model.MilliOhm, R1: 16.01234 * model.MilliOhm, Tau: 20.98765, Shift: 0.001987654, K: 0.6123456, Temperature: model.Celsius(22)},

			CircuitSigmaQ: 19.55835 * model.MilliAmpH, CircuitSigmaR: 4.649061 * model.MilliOhm, CircuitSigmaK: 0.1234567,
		},
		"a circuit with a curve of its own": {
			Common:    catalog.Common{ID: "heath-450", Name: "heath-450", Mass: 12.3 * model.Gram, Date: "2026-05-31", Note: "logs: a.csv"},
			Chemistry: model.LiPo, Cells: 1, Rated: 450 * model.MilliAmpH,
			Circuit: &model.Circuit{Cells: 1, Curve: own, Capacity: 441 * model.MilliAmpH, R0: 12 * model.MilliOhm, R1: 6 * model.MilliOhm, Tau: 20, K: 0},
		},
	} {
		// A pack's heat is that of its mass: 1080 J/(kg K) for nine tenths of it, and 400 s.
		p.Circuit.HeatCapacity, p.Circuit.CoolingTime = 1080*0.9*float64(p.Mass), 400
		text := catalog.FormatPack(p, []string{"a comment\nwith a break"})
		read, _, err := catalog.Load(memoryLayer("parts", map[string][]byte{"r.toml": text}))
		if err != nil {
			t.Errorf("%s: %v\n%s", name, err, text)
			continue
		}
		got := *read.Packs[p.ID]
		got.Source = catalog.Source{}
		if diff := gocmp.Diff(*p, got, sameValues()); diff != "" {
			t.Errorf("%s (-written +read):\n%s\n%s", name, diff, text)
		}
	}
}

func TestRoundForRecord(t *testing.T) {
	for _, c := range []struct{ v, want float64 }{{641.23456789, 641.2346}, {0.001987654321, 0.001987654}, {-12345678, -12345680}, {0, 0}} {
		if got := catalog.RoundForRecord(c.v); math.Abs(got-c.want) > 1e-12*math.Abs(c.want) {
			t.Errorf("RoundForRecord(%v) = %v, want %v", c.v, got, c.want)
		}
	}
}

// TestWriteRecords: one file or one a pack, and never over what is there.
func TestWriteRecords(t *testing.T) {
	dir := t.TempDir()
	records := []catalog.Record{{ID: "a", Text: []byte("[pack.a]\n")}, {ID: "b", Text: []byte("[pack.b]\n")}}
	write := func(name string, records []catalog.Record, force bool) error {
		folder, files := catalog.RecordFiles(name, records)
		if err := catalog.CheckRecords(files, force); err != nil {
			return err
		}
		if err := os.MkdirAll(cmp.Or(folder, dir), 0o755); err != nil {
			return err
		}
		return catalog.WriteFiles(files, force)
	}
	one := filepath.Join(dir, "all.toml")
	if err := write(one, records, false); err != nil {
		t.Fatal(err)
	}
	if text, err := os.ReadFile(one); err != nil || string(text) != "[pack.a]\n\n[pack.b]\n" {
		t.Errorf("one file: %q, %v", text, err)
	}
	folder := filepath.Join(dir, "packs") + "/"
	if err := write(folder, records[1:], false); err != nil {
		t.Fatal(err)
	}
	// b is there: a must not appear either.
	if err := write(folder, records, false); !errors.Is(err, fs.ErrExist) {
		t.Errorf("over a file that is there: %v", err)
	}
	if _, err := os.Stat(filepath.Join(dir, "packs", "a.toml")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("half of the records were written: %v", err)
	}
	if err := write(folder, records, true); err != nil {
		t.Error(err)
	}
}
