package catalog_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"unicode"

	"allup/catalog"
	"allup/catalog/csvlog"
	"allup/model"
	"allup/model/bench"
)

// steering are characters that a screen may not get from a file: an escape sequence, a bell, a
// C1 control, direction marks and overrides, zero width, a soft hyphen, a byte-order mark, line separators.
var steering = []string{
	"\x1b[31m", "\a", "\u0085", "\u009b", "\u200e", "\u202e", "\u2066", "\u200b", "\u200d", "\u00ad", "\ufeff", "\u2028", "\u2029",
	"\U000e0041",
}

// plain fails where a printed text would steer a terminal; line breaks part one fault from the next.
func plain(t *testing.T, what, text string) {
	t.Helper()
	for _, r := range text {
		if unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) {
			t.Errorf("%s prints %U: %q", what, r, text)
			return
		}
	}
}

func TestNothingSteersTheScreen(t *testing.T) {
	for _, s := range steering {
		name := fmt.Sprintf("%+q", s)
		fault := catalog.InputError{File: "a" + s, Line: 1, Field: "b" + s, Value: "c" + s, Msg: "d" + s, Allowed: "e" + s, Hint: "f" + s}
		plain(t, name+" in a fault", fault.Error())
		plain(t, name+" in a warning", catalog.Warning{File: "a" + s, Field: "b" + s, Text: "c" + s}.String())

		// A thrust table whose header does not name what is needed is quoted in the error.
		const record = "[motor.m]\nmass_g = 10\nkv = 3800\n[prop.p]\nmass_g = 1.7\ndiameter_in = 3.5\npitch_in = 2.5\nblades = 3\n" +
			"[thrust_test.t]\nmotor = \"m\"\nprop = \"p\"\ncsv = \"stand.csv\"\n"
		_, _, err := catalog.Load(memoryLayer("parts", map[string][]byte{"parts.toml": []byte(record), "stand.csv": []byte("throttle,volt" + s + "x,amps\n1,2,3\n")}))
		if err == nil {
			t.Errorf("%s: a table without thrust is read", name)
		} else {
			plain(t, name+" in a thrust table", strings.ReplaceAll(err.Error(), "\n", " "))
		}

		_, err = csvlog.NewReader(strings.NewReader("time_s,volt"+s+"x,strange\n0,16,1\n"), csvlog.Columns{})
		if logErr, ok := errors.AsType[*bench.LogError](err); !ok {
			t.Errorf("%s: a log without voltage gives %v", name, err)
		} else {
			plain(t, name+" in a log's header", logErr.Error())
		}

		if s == "\ufeff" {
			continue
		}
		for _, key := range []string{"name", "note"} {
			text := fmt.Sprintf("[gear.g]\nmass_g = 1\n%s = \"a\\U%08xb\"\n", key, []rune(s)[0])
			if _, _, err := catalog.Load(memoryLayer("parts", map[string][]byte{"parts.toml": []byte(text)})); err == nil {
				t.Errorf("%s in a %s is read", name, key)
			} else {
				plain(t, name+" in a "+key, err.Error())
			}
		}
	}
	// What is no steering stays: quotes, backslashes and letters of any script.
	if got := (catalog.InputError{Field: "name", Value: `"Grünfink \"4\""`, Msg: "is taken"}).Error(); got != `name: "Grünfink \"4\"" is taken` {
		t.Errorf("printed as %s", got)
	}
}

// An id may have a dot wherever an id stands, and a record written of it reads back.
func TestIDWithADot(t *testing.T) {
	const text = "[pack.\"sedge.v2-650\"]\nmass_g = 74\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 650\nplug = \"XT30\"\nburst = \"b.csv\"\n"
	b, _, err := catalog.ReadBench("bench.toml", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	p := b.Packs[0].Pack
	if p.Plug != "xt30" {
		t.Errorf("plug %q, want it in lower case as records have it", p.Plug)
	}
	p.Tested = &model.TestedMetrics{Capacity: 600 * model.MilliAmpH, BurstPower: 500}
	cat, _ := load(t, string(catalog.FormatPack(&p, nil)))
	if got := cat.Packs["sedge.v2-650"]; got == nil || got.Tested == nil {
		t.Errorf("read back as %+v", got)
	}
	// Without quotes it is two tables, in a bench file as in records.
	bare := strings.Replace(text, `"sedge.v2-650"`, "sedge.v2-650", 1)
	if _, _, err := catalog.ReadBench("bench.toml", strings.NewReader(bare)); err == nil || !strings.Contains(err.Error(), `[pack."sedge.v2-650"]`) {
		t.Errorf("without quotes: %v, want the quotes shown", err)
	}
}
