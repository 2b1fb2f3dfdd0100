package planner_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"allup/catalog"
	"allup/planner"
)

// TestSpaceOf: candidates are those that a build lists, by id; packs are all of the catalogue, or those that it asks
// for.
func TestSpaceOf(t *testing.T) {
	const more = "[frame.a1]\nmass_g = 25\nrotors = 4\n[motor.a2]\nmass_g = 9\nkv = 3600\n[prop.a3]\nmass_g = 1.4\ndiameter_in = 3\npitch_in = 2\nblades = 3\n" +
		"[board.a4]\nmass_g = 8\n[gear.a5]\nmass_g = 10\n"
	list := strings.NewReplacer(`frame = "f"`, `frame = ["f", "a1"]`, `motor = "m"`, `motor = ["m", "a2"]`, `prop = "p"`, `prop = ["p", "a3"]`, `board = "b"`, `board = ["b", "a4"]`, `gear = ["g"]`, `gear = ["g", "a5"]`)
	cat := parts(t, example, more, logged("z", "lipo", 4, 500, ""), logged("a6", "lipo", 4, 600, ""))
	for _, c := range []struct {
		pack, packs string
	}{{`pack = "k"`, "a6 k z"}, {`pack = ["z", "k"]`, "k z"}} {
		b := readBuild(t, cat, strings.Replace(list.Replace(exampleBuild), `pack = "k"`, c.pack, 1))
		s := planner.SpaceOf(b, packSet(t, cat), nil)
		var got []string
		for _, p := range s.Packs {
			got = append(got, p.ID)
		}
		if strings.Join(got, " ") != c.packs {
			t.Errorf("%s: packs %v, want %s", c.pack, got, c.packs)
		}
		var ids []string
		for _, f := range s.Frames {
			ids = append(ids, f.ID)
		}
		for _, m := range s.Motors {
			ids = append(ids, m.ID)
		}
		for _, p := range s.Props {
			ids = append(ids, p.ID)
		}
		for _, x := range s.Boards {
			ids = append(ids, x.ID)
		}
		for _, place := range s.Gear {
			for _, g := range place {
				ids = append(ids, g.ID)
			}
		}
		if want := strings.Fields("a1 f a2 m a3 p a4 b g a5"); !slices.Equal(ids, want) {
			t.Errorf("parts %v, want %v", ids, want)
		}
	}
}

// TestSearchOfTooMany: more choices of gear than a search takes, or more combinations than can be counted, are refused
// before anything is worked out.
func TestSearchOfTooMany(t *testing.T) {
	b := readBuild(t, parts(t, example), exampleBuild)
	from := planner.SpaceOf(b, packSet(t, b.Parts), nil)
	gear := from
	gear.Gear = slices.Repeat([][]*catalog.Gear{slices.Repeat(from.Gear[0], 2)}, 17) // 2^17
	all := from
	// 2^(13 + 13 + 12 + 12 + 11) of the parts, each with two choices of gear: 2^62.
	all.Frames, all.Motors = slices.Repeat(from.Frames, 1<<13), slices.Repeat(from.Motors, 1<<13)
	all.Props, all.Boards, all.Packs = slices.Repeat(from.Props, 1<<12), slices.Repeat(from.Boards, 1<<12), slices.Repeat(from.Packs, 1<<11)
	all.Gear = [][]*catalog.Gear{slices.Repeat(from.Gear[0], 2)}
	for want, space := range map[string]planner.SearchSpace{
		"the gear makes 131072 choices, more than the 65536 that a search takes": gear,
		"the candidates make 4.6e+18 combinations, more than can be counted":     all,
	} {
		if _, err := planner.Search(context.Background(), b, space, planner.Conditions{}, planner.SearchOptions{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}
