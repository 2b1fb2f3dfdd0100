package tested

import (
	"fmt"

	"allup/model/words"
	"allup/planner"
)

// SameLog is the code of a doubt: what is one log stands for two tests.
const SameLog planner.Code = "same-log"

// logUse is a log of a bench: the place of its pack, and its own among the logs of that pack.
type logUse struct{ pack, log int }

// doubtSameLogs doubts packs with a log that stands elsewhere in the bench, too, byte for byte, under that name
// or another one. A log is of one test of one pack, so one of the two is another's.
func doubtSameLogs(packs []ReducedPack) {
	uses := map[string][]logUse{}
	for i := range packs {
		for k, s := range packs[i].sources {
			uses[s.hash] = append(uses[s.hash], logUse{i, k})
		}
	}
	for i := range packs {
		p := &packs[i]
		for k, s := range p.sources {
			if same := uses[s.hash]; len(same) > 1 && p.Record != nil {
				other := same[0]
				if other == (logUse{i, k}) {
					other = same[1]
				}
				said := remark(SameLog, s.name, "%s%s: one of them is the log of another test or pack", sameAs(packs, logUse{i, k}, other), more(len(same)-2))
				p.Remarks, p.Doubts = append(p.Remarks, said), append(p.Doubts, said)
			}
		}
	}
}

// sameAs says where else a log stands.
func sameAs(packs []ReducedPack, here, other logUse) string {
	name, otherName := packs[here.pack].sources[here.log].name, packs[other.pack].sources[other.log].name
	switch {
	case here.pack == other.pack && name == otherName:
		return "stands twice with this pack"
	case here.pack == other.pack:
		return fmt.Sprintf("has the same rows as %s of this pack", otherName)
	case name == otherName:
		return fmt.Sprintf("stands with %s, too", packs[other.pack].Bench.ID)
	}
	return fmt.Sprintf("has the same rows as %s of %s", otherName, packs[other.pack].Bench.ID)
}

// more tells of n further places, if there are any.
func more(n int) string {
	if n <= 0 {
		return ""
	}
	return ", and in " + words.Count(n, "more place", "more places")
}
