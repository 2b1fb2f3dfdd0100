package sheet

import (
	"bytes"
	"encoding/json"
	"testing"

	"github.com/google/go-cmp/cmp"
)

type flight struct {
	seconds float64
	known   bool
	margin  float64 // g
}

func flightFigures() (minutes, margin Figure[flight]) {
	minutes = Figure[flight]{
		Key: "flight_s", SheetKey: "flight_min", Head: "time", Unit: "min", Digits: 1, Keep: 2, Per: 60,
		Of: func(f flight) (float64, bool) { return f.seconds, f.known },
	}
	margin = Figure[flight]{Key: "margin_g", Head: "under", Unit: "g", Digits: 1, Grows: true, Of: func(f flight) (float64, bool) { return f.margin, true }}
	return minutes, margin
}

// TestFigureFeedsEveryForm: one declaration, its unit and digits on screens, its value in CSV and JSON.
func TestFigureFeedsEveryForm(t *testing.T) {
	minutes, margin := flightFigures()
	subjects := []flight{{534, true, 0.004}, {0, false, -2.76}}
	var shown, exact Columns[flight]
	name := Words[flight]{Key: "what", Head: "flight", Of: func(f flight) string { return map[bool]string{true: "flies\x1b", false: "stays"}[f.known] }}
	shown.Add(name.Shown())
	for _, f := range []Figure[flight]{minutes, margin} {
		shown.Add(f.Shown())
		exact.Add(f.Exact())
	}
	text, err := Viewer{}.Text(Screen{Tables: []*Table{shown.Table("Flights", subjects)}})
	if err != nil {
		t.Fatal(err)
	}
	wantText := `
Flights
flight  time min  under g
flies        8.9    0.004
stays          -     -2.8
`
	if diff := cmp.Diff(wantText, string(text)); diff != "" {
		t.Errorf("text (-want +got):\n%s", diff)
	}
	sheet, err := Screen{Sheet: exact.Table("", subjects)}.CSV()
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff("flight_min,margin_g\n8.9,0.004\n,-2.76\n", string(sheet)); diff != "" {
		t.Errorf("CSV (-want +got):\n%s", diff)
	}
	for i, want := range []string{
		`{"flight_s":534,"margin_g":0.004,"name":"a<b"}`,
		`{"flight_s":null,"margin_g":-2.76,"name":"a<b"}`,
	} {
		o := Members([]Figure[flight]{minutes, margin}, subjects[i]).With("name", "a<b")
		got, err := o.MarshalJSON()
		var compact bytes.Buffer
		if err != nil || json.Compact(&compact, got) != nil {
			t.Fatalf("%s: %v", got, err)
		}
		if diff := cmp.Diff(want, compact.String()); diff != "" {
			t.Errorf("JSON (-want +got):\n%s", diff)
		}
	}
}

func TestFigureInWords(t *testing.T) {
	minutes, margin := flightFigures()
	for _, c := range []struct{ got, want string }{
		{minutes.Range(498, 582, " to "), "8.3 to 9.7"},
		{minutes.Difference(6).Text, "+0.1"},
		{minutes.Difference(-1).Text, "0.0"},
		{margin.Difference(-0.004).Text, "-0.004"},
		{margin.Cell(0).Text, "0.0"},
		{minutes.ExactCell(90).plain(), "1.5"},
		{margin.ExactCell(-0.25).plain(), "-0.25"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
	if d := minutes.Difference(6); *d.Value != 0.1 {
		t.Errorf("the value of a difference is in the unit of its heading, got %v", *d.Value)
	}
}
