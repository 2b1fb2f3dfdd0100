package csvlog_test

import (
	"math"
	"strings"
	"testing"

	"allup/catalog/csvlog"
)

// FuzzStand: any table is an error in words or rows of numbers in the order of their lines, and reads the same twice.
func FuzzStand(f *testing.F) {
	for _, text := range []string{
		"throttle,voltage_v,current_a,thrust_g\n0.3,15.8,1.0,80\n0.6,15.4,4.1,220\n",
		"Throttle (%);Voltage (V);Current (mA);Thrust (N);RPM\n30;15,8;1000;0,78;9000\n60;15,4;4100;-2,2;15000\n",
		"\ufeff# stand\n\nthrottle\tV\tA\tthrust_kgf\n10\t16\t0.2\t0.02\n",
		"throttle,voltage_v,current_a,thrust_g\n0.3,nan,1e999,\x1b[2J\n",
		"throttle,thrust_g\n",
	} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		rows, err := csvlog.ReadStand(data)
		again, second := csvlog.ReadStand(data)
		if (err == nil) != (second == nil) || len(rows) != len(again) {
			t.Fatalf("first %v, %d rows; then %v, %d rows", err, len(rows), second, len(again))
		}
		if err != nil {
			if err.Error() == "" || len(err.Error()) > 2000 {
				t.Errorf("an error of %d characters", len(err.Error()))
			}
			return
		}
		if len(rows) == 0 {
			t.Error("neither rows nor an error")
		}
		line := 0
		for _, r := range rows {
			for _, x := range []float64{r.Throttle, r.VoltageV, r.CurrentA, r.ThrustG, r.RPM} {
				if math.IsNaN(x) || math.IsInf(x, 0) {
					t.Errorf("line %d: %+v", r.Line, r)
				}
			}
			if r.Line <= line || r.Line > strings.Count(string(data), "\n")+strings.Count(string(data), "\r")+1 {
				t.Errorf("line %d after line %d", r.Line, line)
			}
			line = r.Line
		}
	})
}
