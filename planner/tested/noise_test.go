package tested_test

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"allup/model"
	"allup/model/bench"
)

// TestNoiseIsNoOutlier: of logs with Gaussian noise of 0.5 % on voltage and current, or of 0.8 % on few
// rows, no rows are dropped, and no end lies 0 s behind the last row; a row that is really off is dropped.
func TestNoiseIsNoOutlier(t *testing.T) {
	c := packOf650(t, model.LiPo, 1)
	protocol := model.UsualProtocol(650*model.MilliAmpH, 4)
	reduce := func(discharge, burst []bench.Sample) string {
		logs := fstest.MapFS{"d.csv": logOf(discharge), "b.csv": logOf(burst)}
		got := reducedOf(t, logs, benchOfOne+"discharge = \"d.csv\"\nburst = \"b.csv\"\n")
		if len(got.Failed) > 0 {
			t.Fatalf("refused: %v", got.Failed)
		}
		var said []string
		for _, r := range slices.Concat(got.Remarks, got.Doubts) {
			said = append(said, r.Text)
		}
		return strings.Join(said, "\n")
	}
	for seed := range uint64(12) {
		interval, noise := []model.Time{0.02, 0.1, 0.5}[seed%3], 0.005
		if interval == 0.5 {
			noise = 0.008
		}
		run := bench.Run{
			Interval:     interval,
			VoltageNoise: model.Voltage(noise * 4 * 3.7), CurrentNoise: noise, Source: rand.NewPCG(seed, 21),
		}
		discharge := run.Discharge(c, model.ConstantPower(protocol.DischargePower), 3.1)
		burst := run.Burst(c, protocol)
		said := reduce(discharge, burst)
		for _, never := range []string{"outlier", "dropout", "by 0 s", "\n0 s"} {
			if strings.Contains("\n"+said, never) {
				t.Errorf("seed %d: of noise alone it says %q:\n%s", seed, never, said)
			}
		}
		discharge[len(discharge)/2].Voltage *= 0.8
		if said := reduce(discharge, burst); !strings.Contains(said, "1 outlier row dropped") {
			t.Errorf("seed %d: a row of 0.8 times the voltage is not named:\n%s", seed, said)
		}
	}
}
