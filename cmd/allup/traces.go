package main

import (
	"strconv"
	"strings"

	"allup/catalog"
	"allup/cmd/allup/internal/draw"
	"allup/model"
	"allup/model/words"
	"allup/planner/tested"
)

// traces makes files of the traces of reduced packs as CSV: what is left of a log when what is wrong in it is
// left out, with time from load on. Long logs are thinned to the means of neighbouring rows, as the fit takes them.
func (a *app) traces(folder string, packs []tested.ReducedPack) (artefacts, error) {
	if folder == "" {
		return artefacts{}, nil
	}
	var files []catalog.NewFile
	for i := range packs {
		p := &packs[i]
		if d := p.Discharge; d != nil {
			t := d.Trace
			t.Points = append(t.Points[:len(t.Points):len(t.Points)], t.End)
			files = append(files, catalog.NewFile{Name: draw.FileName(p.Bench.ID, "discharge") + ".csv", Data: traceCSV(t)})
		}
		if b := p.Burst; b != nil {
			files = append(files, catalog.NewFile{Name: draw.FileName(p.Bench.ID, "burst") + ".csv", Data: traceCSV(b.Trace)})
		}
	}
	set, err := inFolder(folder, files)
	if err != nil {
		return artefacts{}, err
	}
	return set, a.checkFolder("--traces", set)
}

func traceCSV(t model.Trace) []byte {
	var b strings.Builder
	b.WriteString("time_s,voltage_v,current_a,delivered_mah\n")
	figure := func(v float64, digits int) string { return words.Trimmed(v, digits) }
	for _, p := range t.Points {
		b.WriteString(figure(float64(p.Time), 4) + "," + figure(float64(p.Voltage), 5) + "," + figure(float64(p.Current), 5) + "," +
			strconv.FormatFloat(p.Delivered.MilliAmpHours(), 'f', 3, 64) + "\n")
	}
	return []byte(b.String())
}
