package catalog_test

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"allup/catalog"
)

// unheard is a field that no table has, and none has a name near it.
const unheard = "zzqqzzqqzz"

// fieldProbes holds, for each table of the documentation, a file in which %s stands where one more field of that table
// goes, and how the file is read.
func fieldProbes() map[string]struct {
	text string
	read func(text string) error
} {
	records := func(text string) error {
		_, _, err := catalog.Load(memoryLayer("parts", map[string][]byte{"p.toml": []byte(text)}))
		return err
	}
	build := func(text string) error {
		_, _, err := catalog.ReadBuild("b.toml", strings.NewReader(text), nil)
		return err
	}
	bench := func(text string) error {
		_, _, err := catalog.ReadBench("bench.toml", strings.NewReader(text))
		return err
	}
	type probe = struct {
		text string
		read func(text string) error
	}
	probes := map[string]probe{}
	for _, kind := range catalog.Kinds() {
		probes["["+string(kind)+".ID]"] = probe{"[" + string(kind) + ".x]\n%s\n", records}
	}
	for head, text := range map[string]string{
		"[prop.ID] static":              "[prop.x]\nstatic = [{ %s }]\n",
		"[pack.ID.tested]":              "[pack.x.tested]\n%s\n",
		"[pack.ID.tested] conditioning": "[pack.x.tested.conditioning]\n%s\n",
		"[pack.ID.circuit]":             "[pack.x.circuit]\n%s\n",
		"[thrust_test.ID] rows":         "[thrust_test.x]\nrows = [{ %s }]\n",
	} {
		probes[head] = probe{text, records}
	}
	for head, text := range map[string]string{
		"a build":         "%s\n",
		"[limit]":         "[limit]\n%s\n",
		"[slots]":         "[slots]\n%s\n",
		"[extra.ID]":      "[extra.x]\n%s\n",
		"[weighed] ID":    "[weighed]\nx = { %s }\n",
		"[scale]":         "[scale]\n%s\n",
		"[air]":           "[air]\n%s\n",
		"[flight]":        "[flight]\n%s\n",
		"[flight] phases": "[flight]\nphases = [{ %s }]\n",
		"[hover]":         "[hover]\n%s\n",
		"[hover] flown":   "[hover]\nflown = [{ %s }]\n",
		"[packs]":         "[packs]\n%s\n",
		"[goal]":          "[goal]\n%s\n",
	} {
		probes[head] = probe{text, build}
	}
	for head, text := range map[string]string{
		"a bench":              "%s\n",
		"[protocol]":           "[protocol]\n%s\n",
		"columns":              "columns = { %s }\n",
		"[pack.ID] of a bench": "[pack.x]\n%s\n",
	} {
		probes[head] = probe{text, bench}
	}
	return probes
}

// faultsOf are the faults of a probe with a line in it.
func faultsOf(t *testing.T, read func(string) error, text, line string) catalog.InputErrors {
	t.Helper()
	err := read(fmt.Sprintf(text, line))
	faults, ok := errors.AsType[catalog.InputErrors](err)
	if !ok {
		t.Fatalf("%q: %v", line, err)
	}
	return faults
}

// relative are fields whose range hangs on another field.
var relative = []string{"capacity_sigma_mah", "r_sigma_mohm"}

// TestFieldsAreDocumented holds that the documentation has every field that the readers know, says of each number what
// they allow and of each field whether it is needed, and has no other field.
func TestFieldsAreDocumented(t *testing.T) {
	probes := fieldProbes()
	tables := catalog.Fields()
	var common []catalog.Field
	for _, doc := range tables {
		if doc.Head == "every record" {
			common = doc.Fields
		}
	}
	for _, doc := range tables {
		if doc.Head == "every record" {
			continue
		}
		p, ok := probes[doc.Head]
		if !ok {
			t.Errorf("%s is documented, and no reader knows it", doc.Head)
			continue
		}
		delete(probes, doc.Head)
		fields := map[string]catalog.Field{}
		if regexp.MustCompile(`^\[[a-z_]+\.ID\]( of a bench)?$`).MatchString(doc.Head) && doc.Of != "build" {
			for _, f := range common {
				if f.Name != "mass_g" || doc.Head != "[thrust_test.ID]" {
					fields[f.Name] = f
				}
			}
		}
		for _, f := range doc.Fields {
			if _, twice := fields[f.Name]; twice {
				t.Errorf("%s %s is documented twice", doc.Head, f.Name)
			}
			fields[f.Name] = f
		}
		about := func(f catalog.InputError, name string) bool {
			return f.Field == name || strings.HasSuffix(f.Field, "."+name)
		}
		var known []string
		missing := map[string]bool{}
		for _, f := range faultsOf(t, p.read, p.text, unheard+" = 1") {
			if about(f, unheard) {
				known = strings.Split(f.Allowed, ", ")
			}
			if f.Msg == "missing" {
				missing[f.Field[strings.LastIndexByte(f.Field, '.')+1:]] = true
			}
		}
		if len(known) == 0 {
			t.Errorf("%s: the reader does not say which fields it knows", doc.Head)
		}
		for _, name := range known {
			if _, ok := fields[name]; !ok {
				t.Errorf("%s %s is not documented", doc.Head, name)
			}
		}
		for _, name := range sortedKeys(fields) {
			f := fields[name]
			if f.Text == "" || f.Holds == "" {
				t.Errorf("%s %s: says nothing", doc.Head, name)
			}
			if f.Needed != missing[name] {
				t.Errorf("%s %s: documented as needed = %v, the reader says %v", doc.Head, name, f.Needed, missing[name])
			}
			allowed := ""
			for _, fault := range faultsOf(t, p.read, p.text, name+" = 1e300") {
				switch {
				case !about(fault, name):
				case fault.Msg == "unknown field" || fault.Msg == "unknown table":
					t.Errorf("%s %s is documented, and the reader does not know it", doc.Head, name)
				case fault.Msg == "is out of range":
					allowed = fault.Allowed
				}
			}
			if allowed != "" && allowed != f.Holds && !slices.Contains(relative, name) {
				t.Errorf("%s %s holds %q, the reader allows %q", doc.Head, name, f.Holds, allowed)
			}
		}
	}
	for _, head := range sortedKeys(probes) {
		t.Errorf("%s is not documented", head)
	}
}
