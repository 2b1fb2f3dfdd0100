// Benchlogs writes the demo bench of allup: bench.toml and the logs of seven invented packs,
// made of circuits and noise from fixed seeds. Their resistance depends on charge, and they warm themselves.
//
//	go run ./cmd/benchlogs testdata/bench
//
// The packs stand for what a real bench brings: two noisy logs, one with a dropout, one
// lihv pack, one test that was interrupted and must be refused, and a logger that writes
// decimal commas, clock times and negative current.
package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"

	"allup/model"
	"allup/model/bench"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: benchlogs FOLDER")
		os.Exit(2)
	}
	if err := write(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, "benchlogs:", err)
		os.Exit(1)
	}
}

func write(dir string) error {
	files, err := demo()
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Join(dir, "logs"), 0o755); err != nil {
		return err
	}
	for name, data := range files {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o644); err != nil {
			return err
		}
	}
	return nil
}

// ambientC is how warm the bench and the packs on it are before a test.
const ambientC = 22

// demoPack is a pack on the demo bench: its label and what is inside.
type demoPack struct {
	id        string
	chemistry model.Chemistry
	rated     model.Charge
	massG     float64
	capacity  model.Charge
	r0, r1    model.Resistance
	tau       model.Time
	k         float64
	shift     model.Voltage
	voltNoise model.Voltage
	ampNoise  float64
	form      func([]bench.Sample) []byte
	spoil     func(discharge []bench.Sample) []bench.Sample
	comment   string
}

func demoPacks() []demoPack {
	const mAh, mOhm = model.MilliAmpH, model.MilliOhm
	quiet, loud := model.Voltage(0.003), model.Voltage(0.015)
	return []demoPack{
		{
			id: "sedge-650", chemistry: model.LiPo, rated: 650 * mAh, massG: 74.2, capacity: 652 * mAh, r0: 36.6 * mOhm, r1: 19.2 * mOhm, tau: 21, k: 0.45, shift: 0.002,
			voltNoise: quiet, ampNoise: 0.002, form: plain,
		},
		{
			id: "bracken-600", chemistry: model.LiPo, rated: 600 * mAh, massG: 69.3, capacity: 584 * mAh, r0: 45.6 * mOhm, r1: 25.2 * mOhm, tau: 19, k: 0.6, shift: 0.001,
			voltNoise: loud, ampNoise: 0.01, form: plain, comment: "noisy",
		},
		{
			id: "marl-550", chemistry: model.LiPo, rated: 550 * mAh, massG: 62.1, capacity: 451 * mAh, r0: 92.4 * mOhm, r1: 50.4 * mOhm, tau: 26, k: 0.8, shift: 0.004,
			voltNoise: loud, ampNoise: 0.01, form: plain, comment: "noisy, and poor: it delivers four fifths of its label",
		},
		{
			id: "fescue-560", chemistry: model.LiHV, rated: 560 * mAh, massG: 65.2, capacity: 557 * mAh, r0: 48 * mOhm, r1: 26.4 * mOhm, tau: 17, k: 0.5, shift: 0.003,
			voltNoise: quiet, ampNoise: 0.002, form: plain,
		},
		{
			id: "oxbow-550", chemistry: model.LiPo, rated: 550 * mAh, massG: 65.0, capacity: 538 * mAh, r0: 51.6 * mOhm, r1: 28.8 * mOhm, tau: 20, k: 0.4, shift: -0.001,
			voltNoise: quiet, ampNoise: 0.002, form: plain, spoil: dropout, comment: "its discharge log has a dropout of 1.2 s",
		},
		{
			id: "oxbow-650", chemistry: model.LiPo, rated: 650 * mAh, massG: 75.5, capacity: 640 * mAh, r0: 45.6 * mOhm, r1: 25.2 * mOhm, tau: 20, k: 0.5,
			voltNoise: quiet, ampNoise: 0.002, form: plain, spoil: interrupted, comment: "its discharge was interrupted: refused",
		},
		{
			id: "gorse-700", chemistry: model.LiPo, rated: 700 * mAh, massG: 71.5, capacity: 596 * mAh, r0: 68.4 * mOhm, r1: 37.2 * mOhm, tau: 22, k: 0.7, shift: -0.004,
			voltNoise: quiet, ampNoise: 0.002, form: continental, comment: "a logger with decimal commas, clock times and negative current",
		},
	}
}

// demo is the bench file and its logs by name.
func demo() (map[string][]byte, error) {
	files := map[string][]byte{}
	var file bytes.Buffer
	file.WriteString(`# The demo bench: invented packs, logs made of circuits and noise by cmd/benchlogs.
date      = 2026-05-31
ambient_c = 22

[protocol]                      # the usual one, written out
discharge_c = 15                # as power, at 3.7 V per cell
discharge_end_v_per_cell = 3.1
burst_end_v_per_cell = 3.3
conditioning_c = 15
conditioning_s = 48
ramp_c_per_s = 2
`)
	for n, p := range demoPacks() {
		curve, err := model.CurveOf(p.chemistry)
		if err != nil {
			return nil, err
		}
		const cells = 4
		c := model.NewCircuit(cells, curve, model.Mass(p.massG)*model.Gram)
		c.Capacity, c.R0, c.R1, c.Tau, c.Shift, c.K = p.capacity, p.r0, p.r1, p.tau, p.shift, p.k
		c.Temperature, c.Air = model.Celsius(ambientC), model.Celsius(ambientC)
		protocol := model.UsualProtocol(p.rated, cells)
		run := bench.Run{VoltageNoise: p.voltNoise, CurrentNoise: p.ampNoise, Source: rand.NewPCG(2026, uint64(n))}
		discharge := run.Discharge(c, model.ConstantPower(protocol.DischargePower), protocol.DischargeEndPerCell)
		if p.spoil != nil {
			discharge = p.spoil(discharge)
		}
		d, b := "logs/"+p.id+"-discharge.csv", "logs/"+p.id+"-burst.csv"
		files[d], files[b] = p.form(discharge), p.form(run.Burst(c, protocol))

		fmt.Fprintf(&file, "\n[pack.%s]", p.id)
		if p.comment != "" {
			file.WriteString(" # " + p.comment)
		}
		fmt.Fprintf(&file, "\nchemistry = %q\ncells = %d\nrated_mah = %.0f\nmass_g = %.1f\nweighed = true\ndischarge = %q\nburst     = %q\n",
			p.chemistry, cells, p.rated.MilliAmpHours(), p.massG, d, b)
	}
	files["bench.toml"] = file.Bytes()
	return files, nil
}

// plain is a log with points and seconds.
func plain(rows []bench.Sample) []byte {
	var b bytes.Buffer
	b.WriteString("time_s,voltage_v,current_a\n")
	for _, s := range rows {
		fmt.Fprintf(&b, "%.1f,%.3f,%.2f\n", float64(s.Time), float64(s.Voltage), float64(s.Current)+0)
	}
	return b.Bytes()
}

// continental is a log with decimal commas, clock times and discharge below zero.
func continental(rows []bench.Sample) []byte {
	var b bytes.Buffer
	b.WriteString("Time (h:mm:ss);Voltage (V);Current (A)\n")
	for _, s := range rows {
		t := float64(s.Time)
		minutes := int(t) / 60
		line := fmt.Sprintf("0:%02d:%04.1f;%.3f;%.2f\n", minutes, t-60*float64(minutes), float64(s.Voltage), 0-float64(s.Current))
		b.WriteString(strings.ReplaceAll(line, ".", ","))
	}
	return b.Bytes()
}

// dropout loses 1.2 s of both readings in the middle.
func dropout(rows []bench.Sample) []bench.Sample {
	for k := len(rows) / 2; k < len(rows)/2+12; k++ {
		rows[k].Voltage, rows[k].Current = 0, 0
	}
	return rows
}

// interrupted stops the log at two thirds.
func interrupted(rows []bench.Sample) []bench.Sample { return rows[:len(rows)*2/3] }
