package model_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"allup/model"
)

// The watched moments are those of the flight that is answered: the charge that their currents add up to is the
// charge delivered, time only rises, and the voltages obey the circuit's end.
func TestTraceIsTheFlight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pack := drawCircuit(t)
		drive := drawCraft(t, pack.Cells)
		m := drawDry(t) + 70*model.Gram
		mission := model.Mission{Landing: usualLanding(), PunchCharge: 0.8}
		if rapid.Bool().Draw(t, "phases") {
			mission.Phases = []model.Phase{{Duration: 20, Thrust: 1.2}, {Duration: 3, Full: true}, {Duration: 5, Thrust: 0}}
		}
		var seen []model.Moment
		got := drive.Trace(pack, m, mission, func(p model.Moment) { seen = append(seen, p) })
		if want := drive.Answer(pack, m, mission); !cmp.Equal(got, want) {
			t.Fatalf("the watched answer differs from the other")
		}
		if got.Flight.Duration <= 0 || len(seen) < 3 {
			return
		}
		var out float64
		for i := range seen[1:] {
			a, b := seen[i], seen[i+1]
			if b.Time < a.Time || b.ChargeLeft > a.ChargeLeft {
				t.Fatalf("moment %d is %+v, the next %+v", i, a, b)
			}
			out += float64(a.Current+b.Current) / 2 * float64(b.Time-a.Time)
		}
		first, last := seen[0], seen[len(seen)-1]
		if got.Cycle == nil {
			near(t, "charge", out, float64(pack.Capacity)*(first.ChargeLeft-last.ChargeLeft), 5e-3)
			near(t, "end", last.Time, float64(got.Flight.Duration), 1e-12)
			near(t, "end's current", last.Current, float64(got.Flight.EndCurrent), 1e-12)
			near(t, "power", float64(last.Voltage)*float64(last.Current), float64(drive.Hover(m, last.Voltage).Power), 1e-2)
			return
		}
		near(t, "end of the phases", last.Time, float64(got.Cycle.FirstMet), 1e-9)
		lowest, least := math.Inf(1), math.Inf(1)
		for _, p := range seen {
			lowest = min(lowest, float64(p.Voltage))
		}
		for _, u := range got.Cycle.Phases {
			if u.Runs > 0 {
				least = min(least, float64(u.MinVoltage))
			}
		}
		near(t, "lowest voltage", lowest, least, 1e-12)
	})
}
