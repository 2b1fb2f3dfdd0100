package planner

import (
	"cmp"
	"math"
	"slices"
	"sort"
)

// find is a build that was tried and suits: kinds of parts, and what they do.
type find struct {
	kinds combo
	figures3
	raw float64
}

// frontier is the builds that no other beats in everything that counts, as [markFront] has it: equal figures
// beat nobody.
type frontier struct {
	priced  bool
	points  []find    // the longest flight first, and of one time the hardest punch
	hardest []float64 // the hardest punch of the points down to each
}

// longer is how many points fly longer.
func (f *frontier) longer(time float64) int {
	return sort.Search(len(f.points), func(i int) bool { return f.points[i].time <= time })
}

// beaten reports whether a point is better in everything.
func (f *frontier) beaten(x figures3) bool {
	n := f.longer(x.time)
	if n == 0 || f.hardest[n-1] <= x.punch {
		return false
	}
	if !f.priced {
		return true
	}
	// The last ones before n are the nearest, and the likeliest to be better.
	for i := n - 1; i >= 0; i-- {
		if p := &f.points[i]; p.punch > x.punch && p.price < x.price {
			return true
		}
	}
	return false
}

// add takes a point in, and out those that it beats. It reports whether the point is on the front.
func (f *frontier) add(x find) bool {
	if f.beaten(x.figures3) {
		return false
	}
	at := sort.Search(len(f.points), func(i int) bool {
		p := &f.points[i]
		return p.time < x.time || p.time == x.time && p.punch <= x.punch
	})
	kept := at
	for i := at; i < len(f.points); i++ {
		p := &f.points[i]
		if p.time < x.time && p.punch < x.punch && (!f.priced || p.price > x.price) {
			continue
		}
		f.points[kept] = *p
		kept++
	}
	f.points = slices.Insert(f.points[:kept], at, x)
	f.hardest = f.hardest[:min(at, len(f.hardest))]
	before := math.Inf(-1)
	if at > 0 {
		before = f.hardest[at-1]
	}
	for i := at; i < len(f.points); i++ {
		before = max(before, f.points[i].punch)
		f.hardest = append(f.hardest, before)
	}
	return true
}

// member is one build of a find.
type member struct {
	parts combo // places of candidates
	figures3
	raw float64
}

func compareMembers(a, b member) int {
	return cmp.Or(cmp.Compare(b.raw, a.raw), compareCombos(a.parts, b.parts))
}

// list is the best builds, by score and then by the ids of their parts.
type list struct {
	most    int
	members []member
}

// worst is the score that a build must reach to come on a full list.
func (l *list) worst() float64 {
	if len(l.members) < l.most {
		return math.Inf(-1)
	}
	return l.members[len(l.members)-1].raw
}

// add takes in as many builds of a find as belong on the list.
func (l *list) add(s *space, x find) {
	if x.raw < l.worst() {
		return
	}
	s.members(x, l.most, func(parts combo) bool {
		m := member{parts, x.figures3, x.raw}
		at, _ := slices.BinarySearchFunc(l.members, m, compareMembers)
		if at >= l.most {
			return false
		}
		l.members = slices.Insert(l.members, at, m)
		l.members = l.members[:min(len(l.members), l.most)]
		return true
	})
}

// placesOf are the places of the candidates that a find's kinds stand for.
func (s *space) placesOf(kinds combo) [slots][]int32 {
	return [slots][]int32{
		s.frames[kinds[slotFrame]].places, s.motors[kinds[slotMotor]].places, s.props[kinds[slotProp]].places,
		s.boards[kinds[slotBoard]].places, s.gears[kinds[slotGear]].places, s.packs[kinds[slotPack]].places,
	}
}

// countOf is how many builds a find stands for.
func (s *space) countOf(kinds combo) int64 {
	n := int64(1)
	for _, places := range s.placesOf(kinds) {
		n *= int64(len(places))
	}
	return n
}

// members tells the builds that a find stands for in order of ids, until most were told or told wants no more.
func (s *space) members(x find, most int, told func(combo) bool) {
	places := s.placesOf(x.kinds)
	var at combo
	for range most {
		var parts combo
		for i := range parts {
			parts[i] = places[i][at[i]]
		}
		if !told(parts) {
			return
		}
		i := slots - 1
		for ; i >= 0; i-- {
			if at[i]++; int(at[i]) < len(places[i]) {
				break
			}
			at[i] = 0
		}
		if i < 0 {
			return
		}
	}
}
