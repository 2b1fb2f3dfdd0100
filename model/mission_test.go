package model_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"allup/model"
)

// An answer is the flight, the punch-out and the phases that each gives alone, and lasts as long as what is flown.
func TestAnswerIsItsParts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pack := drawCircuit(t)
		drive := drawCraft(t, pack.Cells)
		m := drawDry(t) + 70*model.Gram
		mission := model.Mission{Landing: usualLanding(), PunchCharge: rapid.Float64Range(0.3, 1).Draw(t, "punch charge")}
		hover := drive.Answer(pack, m, mission)
		flight := drive.Fly(pack, m, usualLanding())
		punch := drive.PunchOut(pack, mission.PunchCharge)
		if hover.Cycle != nil || hover.Flight != flight || hover.Punch != punch {
			t.Errorf("an answer without phases differs from its parts")
		}
		if hover.Duration() != flight.Duration || hover.Usable() != flight.Usable || hover.ChargeLeft() != flight.ChargeLeft || hover.EndedBy() != flight.EndedBy {
			t.Errorf("a hover's answer does not last as the hover does")
		}
		mission.Phases = []model.Phase{{Duration: 10, Thrust: 1.3}, {Duration: 2, Full: true}}
		flown := drive.Answer(pack, m, mission)
		cycle := drive.FlyPhases(pack, m, usualLanding(), mission.Phases)
		if flown.Cycle == nil || !cmp.Equal(*flown.Cycle, cycle) {
			t.Errorf("an answer's phases differ from the phases alone")
		}
		if flown.Duration() != cycle.Duration || flown.Usable() != cycle.Usable || flown.ChargeLeft() != cycle.ChargeLeft || flown.EndedBy() != cycle.EndedBy {
			t.Errorf("an answer with phases does not last as the phases do")
		}
	})
}
