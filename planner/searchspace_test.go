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

// TestSearchKeepsDoubtsApart: parts alike but for how surely their mass is known are not one part to a limit that asks
// for a chance.
func TestSearchKeepsDoubtsApart(t *testing.T) {
	for slot, twin := range map[string]string{
		`frame = ["f", "f2"]`:  "[frame.f2]\nmass_g = 31.0\nrotors = 4\nthrust_loss = 0.0196078431372549\nmax_prop_in = 3.5\nbay_mm = [70, 35, 30]\nmount_mm = 9\ntolerance_g = 9\n",
		`motor = ["m", "m2"]`:  "[motor.m2]\nmass_g = 9.2\nkv = 3600\nr_mohm = 120\nno_load_a = 0.60\ncells = [3, 4]\nmount_mm = 9\nshaft_mm = 1.5\ntolerance_g = 2\n",
		`prop = ["p", "p2"]`:   "[prop.p2]\nmass_g = 1.4\ndiameter_in = 3.5\npitch_in = 2.5\nblades = 3\nct = 0.150\ncp = 0.080\nshaft_mm = 1.5\ntolerance_g = 1.3\n",
		`board = ["b", "b2"]`:  "[board.b2]\nmass_g = 9.0\nefficiency = 0.95\npower_w = 1.0\ncells = [3, 6]\ntolerance_g = 8.5\n",
		`gear = [["g", "g2"]]`: "[gear.g2]\nmass_g = 22.0\npower_w = 6.0\ntolerance_g = 9\n",
	} {
		kind, _, _ := strings.Cut(slot, " ")
		for chance, most := range map[string]int{"": 2, "sure = 0.95": 1} {
			cat := parts(t, example, twin)
			var lines []string
			for _, line := range strings.Split(strings.Replace(exampleBuild, "mass_g = 250", "mass_g = 242.5\n"+chance, 1), "\n") {
				if strings.HasPrefix(line, kind+" ") {
					line = slot
				}
				lines = append(lines, line)
			}
			b := readBuild(t, cat, strings.Join(lines, "\n"))
			set := packSet(t, cat)
			space := planner.SpaceOf(b, set, nil)
			found, err := planner.Search(context.Background(), b, space, planner.Conditions{}, planner.SearchOptions{Top: 10})
			if err != nil {
				t.Fatal(err)
			}
			if len(found.Best) != most {
				t.Errorf("%s, %q: %d builds suit, want %d", slot, chance, len(found.Best), most)
			}
			all, combinations := bruteForce(t, b, space, set)
			checkFound(t, b, found, all, combinations, 10)
		}
	}
}
